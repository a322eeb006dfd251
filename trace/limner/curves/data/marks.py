"""Corners that somebody asked for, or asked away."""

from collections.abc import Sequence

import numpy as np

from limner.curves.data.corners import Corner
from limner.curves.data.resampling import Samples
from limner.model.arrays import Floats
from limner.model.regionmap import CornerMark

__all__ = ["as_marked", "marks_on"]

# A line has a marked place among its points, to rounding.
_SAME_MM = 1e-6


def marks_on(points: Floats, marks: Sequence[CornerMark]) -> tuple[CornerMark, ...]:
    """Marks of which a line has the place among its points.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        The line.
    marks : sequence of CornerMark
        All marks of a map.
    """
    return tuple(mark for mark in marks if np.hypot(*(points - mark.at_mm).T).min() <= _SAME_MM)


def as_marked(samples: Samples, found: Sequence[Corner], marks: Sequence[CornerMark]) -> list[Corner]:
    """The corners of a line as its marks say.

    Parameters
    ----------
    samples : Samples
        The line.
    found : sequence of Corner
        Its corners, in order.
    marks : sequence of CornerMark
        As by `marks_on`.

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
