"""Rows of edges that are fitted in one go, as one line."""

import numpy as np

from limner.geometry.courses import Course
from limner.model.regionmap import LineGraph, RegionMap

__all__ = ["bounding_edges", "row_through"]


def row_through(regions: RegionMap, edge: int) -> Course:
    """The row of edges that an edge belongs to, where nothing else bounds an area.

    Parameters
    ----------
    regions : RegionMap
        The map.
    edge : int
        One of its edges.
    """
    graph = regions.graph
    meeting = _meeting(regions, edge)
    ahead = _walked(graph, meeting, edge, True)
    closed = len(ahead) > 1 and ahead[-1][0] == edge
    if closed:
        row = ahead[:-1]
    else:
        back = _walked(graph, meeting, edge, False)
        row = [(k, not forward) for k, forward in back[:0:-1]] + ahead
    parts = []
    for k, forward in row:
        points = graph.edges[k].points
        parts.append((points if forward else points[::-1])[:-1])
    last, forward = row[-1]
    if not closed:
        parts.append(graph.edges[last].points[-1 if forward else 0][None])
    return Course(np.concatenate(parts), closed)


def bounding_edges(regions: RegionMap) -> set[int]:
    """Edges that bound an area or a silhouette: those that become outlines of fills."""
    cycles = [*regions.silhouettes, *regions.openings, *(area.outline for area in regions.areas)]
    return {k for cycle in cycles for k, _ in cycle}


def _meeting(regions: RegionMap, edge: int) -> dict[int, list[tuple[int, bool]]]:
    """Edges at each node, and whether they start there: of those that bound anything, if this one does."""
    used = bounding_edges(regions)
    edges = regions.graph.edges
    meeting: dict[int, list[tuple[int, bool]]] = {}
    for k in sorted(used) if edge in used else range(len(edges)):
        meeting.setdefault(edges[k].start, []).append((k, True))
        meeting.setdefault(edges[k].end, []).append((k, False))
    return meeting


def _walked(
    graph: LineGraph, meeting: dict[int, list[tuple[int, bool]]], edge: int, forward: bool
) -> list[tuple[int, bool]]:
    """Edges from one on; ends with it again where they lead back to it."""
    row = [(edge, forward)]
    while True:
        k, onward = row[-1]
        here = meeting[graph.edges[k].end if onward else graph.edges[k].start]
        if len(here) != 2:
            return row
        arrived = (k, not onward)
        row.append(here[1] if here[0] == arrived else here[0])
        if row[-1][0] == edge:
            return row
