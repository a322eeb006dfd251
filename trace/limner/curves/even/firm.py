"""Where outlines keep their form under any smoothing: at the ends of strokes, and where a stroke turns.

An outline is calmed by itself, but there it is the line's form: an end stays round or pointed as it was
drawn, and at a turn, which the inner edge makes sharp and the outer one round, both edges go on together.
"""

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from limner.curves.data.corners import find_corners, settled
from limner.curves.data.resampling import sample
from limner.curves.even.strokes import Stroke, find_strokes
from limner.model.arrays import Flags, Floats
from limner.model.regionmap import LineGraph

__all__ = ["firm_parts"]


# Outlines keep their form within so many line widths of an end or a turn.
REACH_LINE_WIDTHS = 1.0
# Strokes turn where they have a corner of more than so many degrees at this share of their line's width.
TURN_LINE_WIDTHS, LEAST_TURN_DEG = 0.25, 35.0
# A stroke of fewer points has no turn.
FEWEST_POINTS = 4


def firm_parts(graph: LineGraph, outlines: Sequence[Floats]) -> list[Flags]:
    """Points of outlines at which these keep their form.

    Parameters
    ----------
    graph : LineGraph
        The centrelines.
    outlines : sequence of ndarray, shape (n, 2)
        Millimetres.

    Returns
    -------
    list of ndarray of bool, shape (n,)
    """
    ends = [k for edge in graph.edges if edge.kind in ("line", "solid") for k in (edge.start, edge.end)]
    degree = np.bincount(np.array(ends, dtype=np.intp), minlength=len(graph.nodes))
    spots = [graph.nodes[degree == 1]]
    spots += [_turns(stroke, TURN_LINE_WIDTHS * graph.line_width_mm) for stroke in find_strokes(graph)]
    found = np.concatenate(spots)
    if not len(found):
        return [np.zeros(len(outline), bool) for outline in outlines]
    tree, reach = cKDTree(found), REACH_LINE_WIDTHS * graph.line_width_mm
    return [tree.query(outline, distance_upper_bound=reach)[0] <= reach for outline in outlines]


def _turns(stroke: Stroke, scale_mm: float) -> Floats:
    """Where a stroke turns, shape (k, 2)."""
    if len(stroke.points) < FEWEST_POINTS:
        return np.zeros((0, 2))
    samples = sample(stroke.points, np.full(len(stroke.points), scale_mm), stroke.closed, 0.0)
    corners = settled(samples, find_corners(samples))
    places = [corner.index for corner in corners if corner.turn_deg > LEAST_TURN_DEG]
    return samples.points[np.array(places, dtype=np.intp)]
