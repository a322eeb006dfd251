"""Bridges that are not made, as somebody said so."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from limner.errors import GeometryError
from limner.model.arrays import Floats
from limner.model.regionmap import LineGraph
from limner.regions.edits import join_edges

__all__ = ["without_bridges"]

# A bridge that lies farther than this from the point is not meant: a hand does not miss by more.
_FAR_LINE_WIDTHS = 6.0


def without_bridges(graph: LineGraph, points: Sequence[Floats]) -> LineGraph:
    """Take the bridge nearest to each point out of a graph, one after the other.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    points : sequence of ndarray of float64, shape (2,)
        In millimetres.

    Returns
    -------
    LineGraph
        Lines that were cut for these bridges are whole again.

    Raises
    ------
    GeometryError
        No bridge is near; the error is about the number of the point.
    """
    for number, point in enumerate(points):
        bridges = [k for k, edge in enumerate(graph.edges) if edge.kind == "bridge"]
        away = [_distance(graph.edges[k].points, point) for k in bridges]
        if not bridges:
            raise GeometryError("opens nothing: no gap is bridged in this drawing.", ("open", number))
        best = int(np.argmin(away))
        if away[best] > _FAR_LINE_WIDTHS * graph.line_width_mm:
            raise GeometryError(
                f"opens nothing: the nearest bridge is {away[best]:.2f} mm away; take a point on it.",
                ("open", number),
            )
        edges = tuple(edge for k, edge in enumerate(graph.edges) if k != bridges[best])
        graph = join_edges(replace(graph, edges=edges))
    return graph


def _distance(line: Floats, point: Floats) -> float:
    return float(shapely.distance(shapely.linestrings(line), shapely.points(point)))
