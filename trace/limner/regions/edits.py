"""Take edges without any length out of a graph.

Method: the nodes of an edge that is no longer than a point become one node, at the place of the lowest of
them, and such edges are dropped, loops as well; repeated points of the others go, too. What touches a node
that moved ends there.

Limits: a node moves by at most a thousandth of a line width for each edge that is dropped there.
"""

import numpy as np

from limner.geometry.links import connected_pieces
from limner.model.arrays import Floats
from limner.model.regionmap import Edge, LineGraph

__all__ = ["without_points"]


# An edge that stays within this is a point: far below what a pixel resolves, far above rounding.
_POINT_WIDTHS = 1e-3


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
