"""Whether a drawing holds a second figure that is half drawn about a line of its own.

Method: lines whose boxes overlap or nearly do are one figure; the axis of a half is sought in each figure
that lies apart from the axis that was found.

Limits: figures whose boxes overlap count as one.
"""

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats
from limner.model.geometry import Axis
from limner.model.raster import ScaledInk
from limner.model.regionmap import LineGraph
from limner.symmetry.find.evidence import Ends, Samples
from limner.symmetry.find.half import SURE_EVIDENCE, half_candidates
from limner.symmetry.frame import frame_of

__all__ = ["another_half", "figure_boxes"]


# A second figure has at least this share of the drawing's size, and so many ends on its line.
LEAST_SIZE, LEAST_ENDS = 0.25, 3

# Boxes nearer than so many slacks are of one figure, and a figure that comes nearer than so many slacks to
# the axis belongs to it.
APART_SLACKS, CLEAR_SLACKS = 1.0, 3.0


def another_half(
    ink: ScaledInk, graph: LineGraph, axis: Axis, samples: Samples, ends: Ends, slack_mm: float
) -> bool:
    """Whether a figure apart from the axis is half drawn about a line of its own.

    Parameters
    ----------
    ink, graph
        The drawing.
    axis : Axis
        The axis of a half that was found.
    samples, ends
        What of the drawing counts.
    slack_mm : float
        How far lines may stop short of an axis.
    """
    if len(ends.tips) < 2 * LEAST_ENDS:
        return False
    frame = frame_of(axis)
    for low, high in figure_boxes(graph, APART_SLACKS * slack_mm):
        part = samples.only(_in_box(samples.points, low, high))
        if float((high - low).max()) < LEAST_SIZE * samples.size or not len(part.points):
            continue
        if float(frame.distance(part.points).min()) < CLEAR_SLACKS * slack_mm:
            continue
        if _is_half(ink, part, ends.only(_in_box(ends.tips, low, high)), slack_mm):
            return True
    return False


def _is_half(ink: ScaledInk, samples: Samples, ends: Ends, slack: float) -> bool:
    for candidate in half_candidates(ink, samples, ends, slack):
        on_it = np.abs(candidate.line.distance(ends.tips)) < slack
        if candidate.evidence > SURE_EVIDENCE and int(on_it.sum()) >= LEAST_ENDS:
            return True
    return False


def _in_box(points: Floats, low: Floats, high: Floats) -> NDArray[np.bool_]:
    return np.asarray(((points >= low) & (points <= high)).all(axis=1))


def figure_boxes(graph: LineGraph, apart_mm: float) -> list[tuple[Floats, Floats]]:
    """Boxes, low and high corner, around the figures of a drawing, grown by `apart_mm` on all sides."""
    low = np.array([edge.points.min(axis=0) for edge in graph.edges]).reshape(-1, 2) - apart_mm
    high = np.array([edge.points.max(axis=0) for edge in graph.edges]).reshape(-1, 2) + apart_mm
    boxes: list[tuple[Floats, Floats]] = []
    while len(low):
        mine = np.zeros(len(low), bool)
        mine[0] = True
        first, last = low[0], high[0]
        while True:
            touching = (low <= last).all(axis=1) & (high >= first).all(axis=1)
            if (touching == mine).all():
                break
            mine = touching
            first, last = low[mine].min(axis=0), high[mine].max(axis=0)
        boxes.append((first, last))
        low, high = low[~mine], high[~mine]
    return boxes
