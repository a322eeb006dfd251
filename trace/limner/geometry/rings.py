"""Points inside closed rings, by the even-odd rule.

Method: a ray from each point to the right is crossed by an odd number of sides where the point lies inside
(the crossing-number test; from memory). Points exactly on a side may fall either way.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats

__all__ = ["inside_rings"]


# Points times sides looked at in one go: keeps the work arrays at some tens of megabytes.
_BLOCK = 1 << 21


def inside_rings(points: Floats, rings: Sequence[Floats]) -> NDArray[np.bool_]:
    """Whether points lie inside closed rings.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Points.
    rings : sequence of ndarray of float64, shape (m, 2)
        Closed polylines, first point not repeated; any orientation, degenerate ones count for nothing.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    sides = [np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings if len(ring)]
    if not sides or not len(points):
        return np.zeros(len(points), dtype=bool)
    x0, y0, x1, y1 = np.concatenate(sides).reshape(-1, 4).T
    level = y0 != y1
    x0, y0, x1, y1 = x0[level], y0[level], x1[level], y1[level]
    slope = (x1 - x0) / (y1 - y0)
    inside = np.zeros(len(points), dtype=bool)
    rows = max(1, _BLOCK // max(1, len(x0)))
    for start in range(0, len(points), rows):
        x, y = points[start : start + rows, 0, None], points[start : start + rows, 1, None]
        crossed = ((y0 > y) != (y1 > y)) & (x0 + (y - y0) * slope > x)
        inside[start : start + rows] = np.count_nonzero(crossed, axis=1) % 2 == 1
    return inside
