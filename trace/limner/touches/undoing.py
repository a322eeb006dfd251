"""Lines that were drawn and rubbed out again: neither of the two touches is done.

An eraser that follows a line which she drew herself means that line. What was there before it is known, so it
need not be told from the ink of both, as for a line of the pencil's.
"""

from collections.abc import Sequence

import numpy as np

from limner.model.arrays import Floats
from limner.model.touch import InkTouch
from limner.touches.strokes import smooth_line

__all__ = ["taken_back"]

# An eraser follows a line where both lie within so much of each other, in line widths: a hand wavers by that.
_BESIDE_LINE_WIDTHS = 0.75

# Samples of both lines lie so far apart, in line widths.
_SPACING_LINE_WIDTHS = 0.2


def taken_back(touches: Sequence[InkTouch], line_width_mm: float) -> dict[int, int]:
    """Find touches that rub out what an earlier one drew.

    Parameters
    ----------
    touches : sequence of InkTouch
        In their order.
    line_width_mm : float
        Width of the drawing's lines.

    Returns
    -------
    dict of int to int
        For each touch that rubs out a drawn line and nothing else, which touch drew it: the last one that is
        left there.
    """
    beside, spacing = _BESIDE_LINE_WIDTHS * line_width_mm, _SPACING_LINE_WIDTHS * line_width_mm
    drawn: dict[int, Floats] = {}
    found: dict[int, int] = {}
    for number, touch in enumerate(touches):
        line = smooth_line(touch.points, spacing)
        if touch.adds:
            drawn[number] = line
            continue
        along = [k for k, other in drawn.items() if _are_one(line, other, beside)]
        if along:
            found[number] = along[-1]
            del drawn[along[-1]]
    return found


def _are_one(one: Floats, other: Floats, beside: float) -> bool:
    """Whether two lines lie within a distance of each other all along."""
    low, high = one.min(axis=0) - other.min(axis=0), one.max(axis=0) - other.max(axis=0)
    if max(np.abs(low).max(), np.abs(high).max()) > beside:
        return False
    from scipy.spatial import cKDTree

    return all(float(cKDTree(a).query(b)[0].max()) <= beside for a, b in ((one, other), (other, one)))
