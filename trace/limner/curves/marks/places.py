"""Where marks lie: on which lines, and among which samples."""

from collections.abc import Sequence

import numpy as np

from limner.curves.data.corners import Corner
from limner.curves.data.resampling import Samples
from limner.geometry.courses import Course
from limner.model.arrays import Floats
from limner.model.regionmap import CornerMark

__all__ = ["as_marked", "marks_at", "marks_on", "smooth_marks_near"]

# A place that was on a line may be off it by so much of the mark's reach once both were pulled over: the line
# is straight between its points, what a pull makes of it is not.
_OFF_SHARE = 0.02


def marks_on(points: Floats, closed: bool, marks: Sequence[CornerMark]) -> tuple[CornerMark, ...]:
    """Marks that lie on a line.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        The line.
    closed : bool
        Whether its last point is joined to the first.
    marks : sequence of CornerMark
        All marks of a map.
    """
    if not marks:
        return ()
    low, high = points.min(axis=0), points.max(axis=0)
    course = Course(points, closed)
    found = []
    for mark in marks:
        at, off = np.array(mark.at_mm), _OFF_SHARE * mark.reach_mm
        if (at < low - off).any() or (at > high + off).any():
            continue
        if float(np.hypot(*(course.of(np.array([course.foot(at)]))[0] - at))) <= off:
            found.append(mark)
    return tuple(found)


def marks_at(point: Floats, marks: Sequence[CornerMark]) -> list[CornerMark]:
    """Marks whose place a point is."""
    return [mark for mark in marks if np.hypot(*(point - mark.at_mm)) <= _OFF_SHARE * mark.reach_mm]


def smooth_marks_near(points: Floats, marks: Sequence[CornerMark]) -> tuple[CornerMark, ...]:
    """Marks that ask for no corner, within their reach of a line."""
    return tuple(
        mark for mark in marks if not mark.sharp and np.hypot(*(points - mark.at_mm).T).min() < mark.reach_mm
    )


def as_marked(samples: Samples, found: Sequence[Corner], marks: Sequence[CornerMark]) -> list[Corner]:
    """The corners of a line as its marks say.

    Parameters
    ----------
    samples : Samples
        The line, changed as its marks ask.
    found : sequence of Corner
        Its corners, in order.
    marks : sequence of CornerMark
        As by `limner.curves.marks.edit`.

    Returns
    -------
    list of Corner
        In order: none within reach of a mark but those that marks ask for, which are no weak ones.
    """
    corners = list(found)
    last = len(samples.points) - 1
    for mark in marks:
        away = np.hypot(*(samples.points - mark.at_mm).T)
        corners = [corner for corner in corners if away[corner.index] > mark.reach_mm]
        index = int(away.argmin())
        if mark.sharp and (samples.closed or 0 < index < last):
            corners.append(Corner(index, mark.at_mm, 180.0, 1))
    return sorted(corners, key=lambda corner: corner.index)
