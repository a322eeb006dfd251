"""Edges joined and dropped in a graph without changing its shape.

`join_edges` makes one edge of two that run on through a node where nothing else meets them. `without_points`
takes out edges without any length: the nodes of an edge that is no longer than a point become one node, at
the place of the lowest of them, and such edges are dropped, loops as well; repeated points of the others go,
too. What touches a node that moved ends there.

Limits: a node moves by at most a thousandth of a line width for each edge that is dropped there.
"""

from dataclasses import replace

import numpy as np

from limner.geometry.links import connected_pieces
from limner.model.arrays import Floats
from limner.model.regionmap import Edge, LineGraph

__all__ = ["join_edges", "without_points"]


# An edge that stays within this is a point: far below what a pixel resolves, far above rounding.
_POINT_WIDTHS = 1e-3


def join_edges(graph: LineGraph) -> LineGraph:
    """Join edges of the same kind at every node that only the two of them touch.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.

    Returns
    -------
    LineGraph
        Fewer, longer edges of the same shape; nodes keep their numbers, those in between go unused.
    """
    edges: dict[int, Edge] = dict(enumerate(graph.edges))
    touching: dict[int, list[int]] = {}
    for number, edge in edges.items():
        touching.setdefault(edge.start, []).append(number)
        touching.setdefault(edge.end, []).append(number)
    for node in sorted(touching):
        here = touching[node]
        if len(here) != 2 or here[0] == here[1]:
            continue
        kept, lost = sorted(here)
        if edges[kept].kind != edges[lost].kind:
            continue
        joined = _through(edges[kept], edges[lost], node)
        far = joined.end
        touching[far][touching[far].index(lost)] = kept
        edges[kept] = joined
        del edges[lost]
        touching[node] = []
    return LineGraph(graph.nodes, tuple(edges[number] for number in sorted(edges)), graph.line_width_mm)


def _reversed(edge: Edge) -> Edge:
    return replace(
        edge, points=edge.points[::-1], width_mm=edge.width_mm[::-1], start=edge.end, end=edge.start
    )


def _through(first: Edge, second: Edge, node: int) -> Edge:
    """`first` up to `node` and `second` from there on."""
    first = first if first.end == node else _reversed(first)
    second = second if second.start == node else _reversed(second)
    return Edge(
        np.concatenate([first.points, second.points[1:]]),
        np.concatenate([first.width_mm, second.width_mm[1:]]),
        first.start,
        second.end,
        first.kind,
    )


def without_points(graph: LineGraph) -> LineGraph:
    """The same graph without edges that no curve could follow.

    Parameters
    ----------
    graph : LineGraph
        Any graph.

    Returns
    -------
    LineGraph
        Every edge spans more than a thousandth of a line width, and no two neighbouring points of an edge
        are the same. Nodes keep their numbers; those that were merged away go unused.
    """
    smallest = _POINT_WIDTHS * graph.line_width_mm
    edges = [_without_repeats(edge) for edge in graph.edges]
    is_point = [_span(edge.points) <= smallest for edge in edges]
    while any(is_point):
        root = _merged(edges, is_point, len(graph.nodes))
        edges = [
            _without_repeats(_moved(edge, root, graph.nodes))
            for edge, point in zip(edges, is_point, strict=True)
            if not point
        ]
        is_point = [_span(edge.points) <= smallest for edge in edges]
    return LineGraph(graph.nodes, tuple(edges), graph.line_width_mm)


def _span(points: Floats) -> float:
    return float((points.max(axis=0) - points.min(axis=0)).max())


def _merged(edges: list[Edge], is_point: list[bool], count: int) -> list[int]:
    """For each node the one that it becomes."""
    links = [[edge.start, edge.end] for edge, point in zip(edges, is_point, strict=True) if point]
    _, piece = connected_pieces(np.array(links), count)
    _, lowest = np.unique(piece, return_index=True)
    return [int(node) for node in lowest[piece]]


def _moved(edge: Edge, root: list[int], nodes: Floats) -> Edge:
    start, end = root[edge.start], root[edge.end]
    if (start, end) == (edge.start, edge.end):
        return edge
    points = edge.points.copy()
    points[0], points[-1] = nodes[start], nodes[end]
    return Edge(points, edge.width_mm, start, end, edge.kind)


def _without_repeats(edge: Edge) -> Edge:
    """Without points that repeat the one before; the first and the last point stay."""
    new = np.any(edge.points[1:] != edge.points[:-1], axis=1)
    if new.all():
        return edge
    keep = np.concatenate([[True], new])
    # The node at the end must be kept, rather than the repeated point before it.
    last = int(np.flatnonzero(keep)[-1])
    keep[last] = last == 0
    keep[-1] = True
    return Edge(edge.points[keep], edge.width_mm[keep], edge.start, edge.end, edge.kind)
