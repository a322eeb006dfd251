"""What a mark does to a line: a bend drawn out into a corner, or a corner smoothed.

Method: for a corner both arms go on straight to where they meet. For none, each point becomes the mean of the
line around it, over a stretch that grows smoothly from nothing to the mark's reach and shrinks again.

Limits: a bend wider than twice the reach keeps a part of its roundness beside the corner.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.curves.marks.places import marks_on
from limner.geometry.courses import Course
from limner.model.arrays import Floats, Indices
from limner.model.regionmap import CornerMark, Edge, LineGraph

__all__ = ["Edited", "edited", "edited_graph", "rim_of"]

# What is changed has so many points to each side: as dense as the drawn lines are.
_POINTS = 20

# A line turns by so little where two arms do not meet in a tip.
_STRAIGHT = 0.02

# A mark reaches over no more than this share of a line, so that something of it stays.
_LARGEST_SHARE = 1.0 / 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Edited:
    """A line as a mark changes it.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Its points; a closed line begins opposite to the mark.
    source : ndarray of int, shape (n,)
        Which point of the line as it was each of them is, or lies nearest to.
    mark : CornerMark
        The mark where it has come to lie.
    """

    points: Floats
    source: Indices
    mark: CornerMark


def rim_of(mark: CornerMark) -> float:
    """How far to both sides a mark changes a line."""
    return mark.reach_mm if mark.sharp else 2.0 * mark.reach_mm


def edited(points: Floats, closed: bool, mark: CornerMark) -> Edited:
    """Change a line as a mark asks.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        The line; a closed one does not repeat its first point.
    closed : bool
        Whether the last point is joined to the first.
    mark : CornerMark
        A place on it.

    Returns
    -------
    Edited
        The same line where the mark lies at its end.
    """
    course = Course(points, closed)
    at = course.foot(np.array(mark.at_mm))
    room = course.total * _LARGEST_SHARE if closed else min(at, course.total - at) / 2.0
    if room <= 0.0:
        return Edited(points, np.arange(len(points)), mark)
    mark = replace(mark, reach_mm=min(mark.reach_mm, room))
    lengths, rim = course.lengths[: len(points)], rim_of(mark)
    away = course.away(lengths, at)
    order = np.argsort(away, kind="stable")
    away, points = away[order], points[order]
    fine = np.linspace(-rim, rim, 2 * _POINTS + 1)
    made = _drawn_out(course, at, fine, rim) if mark.sharp else _smoothed(course, at, fine, mark.reach_mm)
    nearest = np.rint(np.interp(fine, away, np.arange(len(away)))).astype(np.intp)
    before, after = away < -rim, away > rim
    x, y = made[_POINTS].tolist()
    return Edited(
        np.concatenate([points[before], made, points[after]]),
        order[np.concatenate([np.flatnonzero(before), nearest, np.flatnonzero(after)])],
        replace(mark, at_mm=(x, y)),
    )


def edited_graph(graph: LineGraph, marks: Sequence[CornerMark]) -> LineGraph:
    """Change the lines of a graph as marks ask: for those who make ink of them.

    Marks within their reach of a node change less, or nothing: nodes stay where they are.
    """
    if not marks:
        return graph
    return replace(graph, edges=tuple(_edited_edge(edge, marks) for edge in graph.edges))


def _edited_edge(edge: Edge, marks: Sequence[CornerMark]) -> Edge:
    for mark in marks_on(edge.points, False, marks):
        made = edited(edge.points, False, mark)
        edge = replace(edge, points=made.points, width_mm=edge.width_mm[made.source])
    return edge


def _smoothed(course: Course, at: float, away: Floats, reach: float) -> Floats:
    share = np.clip(1.0 - (away / (2.0 * reach)) ** 2, 0.0, None)
    return course.mean_around(at + away, reach * share**2)


def _drawn_out(course: Course, at: float, away: Floats, reach: float) -> Floats:
    low, high = course.of(at + np.array([-reach, reach]))
    tip = _meeting(course, at, reach, low, high)
    ends = np.where(away[:, None] < 0.0, low, high)
    return np.asarray(tip + np.abs(away)[:, None] / reach * (ends - tip))


def _meeting(course: Course, at: float, reach: float, low: Floats, high: Floats) -> Floats:
    """Where both arms meet; the place itself where they hardly turn, or meet far away."""
    before, here, behind = course.of(at + np.array([-2.0 * reach, 0.0, 2.0 * reach]))
    into, back = low - before, high - behind
    turn = into[0] * back[1] - into[1] * back[0]
    if abs(turn) < _STRAIGHT * float(np.hypot(*into) * np.hypot(*back)):
        return np.asarray(here)
    apart = high - low
    share = (apart[0] * back[1] - apart[1] * back[0]) / turn
    tip = low + share * into
    if share <= 0.0 or float(np.hypot(*(tip - here))) > reach:
        return np.asarray(here)
    return np.asarray(tip)
