"""Chains of edges: what is fitted in one go.

Edges that meet at a node where nothing else ends are one line: fitting them as one spends no node there.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.model.regionmap import Cycle, LineGraph

__all__ = ["Chain", "build_chains", "walk"]


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A maximal row of edges between junctions.

    Parameters
    ----------
    edges : tuple of (int, bool)
        Edges in order, each with whether it is walked from its start to its end.
    points : ndarray of float64, shape (n, 2)
        Their points in a row; a closed chain does not repeat its first point.
    edge_of : ndarray of int, shape (n,)
        The edge that each point belongs to.
    closed : bool
        Whether it returns to where it started without passing a junction.
    """

    edges: tuple[tuple[int, bool], ...]
    points: NDArray[np.float64]
    edge_of: NDArray[np.intp]
    closed: bool


def build_chains(graph: LineGraph, used: set[int]) -> tuple[list[Chain], dict[int, tuple[int, bool]]]:
    """Chains of the edges in `used`, and for each edge its chain and whether both run the same way."""
    at_node: dict[int, list[tuple[int, bool]]] = {}
    for k in sorted(used):
        edge = graph.edges[k]
        at_node.setdefault(edge.start, []).append((k, True))
        at_node.setdefault(edge.end, []).append((k, False))
    chains: list[Chain] = []
    home: dict[int, tuple[int, bool]] = {}
    for k in sorted(used):
        if k in home:
            continue
        row, closed = _grow(graph, at_node, k)
        for member, forward in row:
            home[member] = (len(chains), forward)
        chains.append(_chain(graph, row, closed))
    return chains, home


def _grow(
    graph: LineGraph, at_node: dict[int, list[tuple[int, bool]]], k: int
) -> tuple[list[tuple[int, bool]], bool]:
    ahead = _follow(graph, at_node, k, True)
    if len(ahead) > 1 and ahead[-1][0] == k:
        return ahead[:-1], True
    back = _follow(graph, at_node, k, False)
    return [(edge, not forward) for edge, forward in back[:0:-1]] + ahead, False


def _follow(
    graph: LineGraph, at_node: dict[int, list[tuple[int, bool]]], k: int, forward: bool
) -> list[tuple[int, bool]]:
    """Edges from `k` on; ends with `k` again where the chain is closed."""
    row = [(k, forward)]
    while True:
        edge, onward = row[-1]
        node = graph.edges[edge].end if onward else graph.edges[edge].start
        meeting = at_node[node]
        if len(meeting) != 2:
            return row
        arrived = (edge, not onward)
        following = meeting[1] if meeting[0] == arrived else meeting[0]
        row.append(following)
        if following[0] == k:
            return row


def _chain(graph: LineGraph, row: list[tuple[int, bool]], closed: bool) -> Chain:
    points, edge_of = [], []
    for edge, forward in row:
        run = graph.edges[edge].points
        points.append((run if forward else run[::-1])[:-1])
        edge_of.append(np.full(len(run) - 1, edge))
    if not closed:
        edge, forward = row[-1]
        points.append((graph.edges[edge].points if forward else graph.edges[edge].points[::-1])[-1:])
        edge_of.append(np.full(1, edge))
    return Chain(tuple(row), np.concatenate(points), np.concatenate(edge_of).astype(np.intp), closed)


def walk(cycle: Cycle, home: dict[int, tuple[int, bool]]) -> list[tuple[int, bool]]:
    """The chains along a cycle, each with whether it is walked forwards."""
    steps: list[tuple[int, bool]] = []
    lead: list[tuple[int, bool]] = []
    for edge, forward in cycle:
        chain, same = home[edge]
        step = (chain, forward == same)
        if not lead or lead[-1] != step:
            steps.append(step)
        lead.append(step)
    if len(steps) > 1 and steps[0] == steps[-1]:
        steps.pop()
    return steps
