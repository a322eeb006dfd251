"""Edges leave their nodes in the order in which the skeleton's branches do.

Arms that run side by side may come out in the wrong order once they are drawn: such a node gets a tiny star
whose rays have the right one.
"""

import numpy as np

from limner.model.arrays import Floats
from limner.regions.centrelines.edges import DrawnEdge, DrawnGraph

__all__ = ["keep_order"]


# Rays that put arms in order around a node, in line widths: too short to be seen.
_STAR_WIDTHS = 0.02


def keep_order(drawn: DrawnGraph, line_width: float) -> None:
    """Put a star at every node whose edges leave it in another order than they should.

    Parameters
    ----------
    drawn : DrawnGraph
        Its edges are changed in place.
    line_width : float
        Typical width of the lines, in pixels.
    """
    nodes, edges = drawn.nodes, drawn.edges
    for node, halves in enumerate(drawn.around):
        if len(halves) < 3:
            continue
        angles = _angles(edges, halves)
        turns = np.diff(angles, append=angles[0]) % (2.0 * np.pi)
        if turns.min() > 1e-6 and turns.sum() < 2.0 * np.pi + 1e-6:
            continue
        for place, half in enumerate(halves):
            angle = angles[0] + 2.0 * np.pi * place / len(halves)
            ray = nodes[node] + _STAR_WIDTHS * line_width * np.array([np.cos(angle), np.sin(angle)])
            edges[half >> 1] = _through(ray, edges[half >> 1], half % 2 == 0)


def _angles(edges: list[DrawnEdge], halves: list[int]) -> list[float]:
    """Directions in which half-edges leave their node."""
    angles = []
    for half in halves:
        points = edges[half >> 1].points
        x, y = points[1] - points[0] if half % 2 == 0 else points[-2] - points[-1]
        angles.append(float(np.arctan2(y, x)))
    return angles


def _through(ray: Floats, edge: DrawnEdge, at_start: bool) -> DrawnEdge:
    """The edge by way of a point right beside one of its nodes."""
    at = 1 if at_start else len(edge.points) - 1
    return edge._replace(
        points=np.insert(edge.points, at, ray, axis=0),
        width=np.insert(edge.width, at, edge.width[at - 1]),
    )
