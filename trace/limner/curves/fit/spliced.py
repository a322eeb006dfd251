"""A fit changed where a mark lies, and nowhere else.

Method: the line is fitted as it was drawn. Around the mark the path is cut at two of its nodes, the line
between them changed as the mark asks, fitted by itself, and put in: with the path's own directions at its
ends, so that these stay smooth or not as they were. So a mark costs the fit of a short stretch.

Limits: where there are no nodes beyond the mark on both sides, or hardly anything is left, all of the line is
fitted anew.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from limner.curves.fit.polylines import Fit, Polyline
from limner.curves.marks.edit import edited, rim_of
from limner.geometry.courses import Course
from limner.model.arrays import Floats, Indices
from limner.model.geometry import CubicPath
from limner.model.regionmap import CornerMark

__all__ = ["marked_fit"]

Fitter = Callable[[Polyline], Fit]

# Nodes at which a path is cut lie so much farther from the mark than it reaches.
_BEYOND = 1.25

# Of a closed line at least this share stays.
_LEAST_LEFT = 0.25


def marked_fit(line: Polyline, fitted: Fitter) -> Fit:
    """Fit a line with marks.

    Parameters
    ----------
    line : Polyline
        With marks that are asked for.
    fitted : callable
        Fits a line.

    Returns
    -------
    Fit
        As `fitted` without them, but for what lies around the marks.
    """
    fit = fitted(replace(line, asked=line.asked[:-1]))
    whole = replace(line, asked=())
    for one in line.asked:
        whole = _changed(whole, one)
    gap = _gap(fit.path, whole, rim_of(whole.marks[-1]))
    if gap is None:
        return fitted(whole)
    part = fitted(gap.line)
    return Fit(_put_in(fit.path, gap, part.path), max(fit.error_mm, part.error_mm))


def _changed(line: Polyline, mark: CornerMark) -> Polyline:
    made = edited(line.points, line.closed, mark)
    return replace(_taken(line, made.source), points=made.points, marks=(*line.marks, made.mark))


def _taken(line: Polyline, source: Indices) -> Polyline:
    """The line with some of its points, in an order."""
    firm = None if line.firm is None else line.firm[source]
    return replace(line, points=line.points[source], tolerance=line.tolerance[source], firm=firm)


@dataclass(frozen=True, slots=True, eq=False)
class _Gap:
    """Where a path is cut, from the start of one segment to that of another, and what is to be put in."""

    first: int
    last: int
    line: Polyline


def _gap(path: CubicPath, line: Polyline, rim: float) -> _Gap | None:
    course = Course(line.points, line.closed)
    at = course.foot(np.array(line.marks[-1].at_mm))
    nodes = (
        path.segments[:, 0] if line.closed else np.concatenate([path.segments[:, 0], path.segments[-1:, 3]])
    )
    where = np.array([course.foot(node) for node in nodes])
    away = course.away(where, at)
    low, high = np.flatnonzero(away < -_BEYOND * rim), np.flatnonzero(away > _BEYOND * rim)
    if not len(low) or not len(high):
        return None
    first, last = int(low[away[low].argmax()]), int(high[away[high].argmin()])
    if line.closed and away[last] - away[first] > (1.0 - _LEAST_LEFT) * course.total:
        return None
    along = course.away(course.lengths[: len(line.points)], at)
    inside = np.flatnonzero((along > away[first]) & (along < away[last]))
    inside = inside[np.argsort(along[inside], kind="stable")]
    if len(inside) < 3:
        return None
    # Its ends are the nodes; what is allowed there is what is allowed beside them.
    stretch = _taken(line, inside[np.r_[0, : len(inside), -1]])
    points = stretch.points.copy()
    points[0], points[-1] = nodes[first], nodes[last]
    stretch = replace(
        stretch,
        points=points,
        closed=False,
        start_tangent=_direction(path, first, line, at_end=False),
        end_tangent=_direction(path, last, line, at_end=True),
    )
    return _Gap(first, last, stretch)


def _direction(path: CubicPath, node: int, line: Polyline, *, at_end: bool) -> tuple[float, float] | None:
    """Direction of travel at a node at which the path is cut; none where it has a corner."""
    if not line.closed and node in (0, len(path.segments)):
        return line.end_tangent if node else line.start_tangent
    if not path.smooth[node]:
        return None
    segment = path.segments[node] if at_end else path.segments[node - 1]
    way = _way(segment if at_end else segment[::-1])
    x, y = (way if at_end else -way).tolist()
    return x, y


def _way(segment: Floats) -> Floats:
    """Unit direction in which a segment leaves its first point."""
    for point in segment[1:]:
        way = point - segment[0]
        length = float(np.hypot(*way))
        if length > 0.0:
            return np.asarray(way / length)
    return np.array([1.0, 0.0])


def _put_in(path: CubicPath, gap: _Gap, part: CubicPath) -> CubicPath:
    """The path with what it is to be between two of its nodes."""
    count = len(path.segments)
    if path.closed:
        kept = (np.arange(gap.last, gap.last + (gap.first - gap.last) % count)) % count
        before, after = kept, kept[:0]
    else:
        before, after = np.arange(gap.first), np.arange(gap.last, count)
    inner = part.smooth.copy()
    inner[0] = path.smooth[gap.first] if gap.first < count else False
    return CubicPath(
        np.concatenate([path.segments[before], part.segments, path.segments[after]]),
        np.concatenate([path.straight[before], part.straight, path.straight[after]]),
        np.concatenate([path.smooth[before], inner, path.smooth[after]]),
        path.closed,
    )
