"""Points inside closed rings."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["inside_rings"]

Floats = NDArray[np.float64]


def inside_rings(points: Floats, rings: Sequence[Floats]) -> NDArray[np.bool_]:
    """Whether points lie inside closed rings, by the even-odd rule.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Points.
    rings : sequence of ndarray, shape (m, 2)
        Closed polylines, first point not repeated.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    inside = np.zeros(len(points), bool)
    for ring in rings:
        ring = np.asarray(ring, np.float64)
        for (x1, y1), (x2, y2) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            spans = (y1 > points[:, 1]) != (y2 > points[:, 1])
            if spans.any():
                where = x1 + (points[:, 1] - y1) / (y2 - y1) * (x2 - x1)
                inside ^= spans & (where > points[:, 0])
    return inside
