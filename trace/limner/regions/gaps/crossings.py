"""Which of many short polylines cross each other.

Method: pairs whose bounding boxes overlap are found by a sweep along x; of these all pairs of segments are
tried at once. Polylines that merely meet at their ends do not cross.

Limits: made for polylines of a few points; many that lie side by side along x cost their pairs.
"""

import numpy as np

from limner.model.arrays import Flags, Floats, Indices

__all__ = ["crossing_pairs"]

# Pairs of polylines that are looked at together: bounds the memory.
_TOGETHER = 4096


def crossing_pairs(curves: Floats) -> Indices:
    """Pairs of polylines that cross.

    Parameters
    ----------
    curves : ndarray, shape (n, points, 2)
        Open polylines, all of as many points.

    Returns
    -------
    ndarray of int64, shape (k, 2)
        Numbers of the two, the lower one first, ascending.
    """
    pairs = _overlapping(curves.min(axis=1), curves.max(axis=1))
    crossing = np.zeros(len(pairs), bool)
    for first in range(0, len(pairs), _TOGETHER):
        one, other = pairs[first : first + _TOGETHER].T
        crossing[first : first + _TOGETHER] = _cross(curves[one], curves[other])
    return np.asarray(pairs[crossing])


def _overlapping(low: Floats, high: Floats) -> Indices:
    """Pairs of boxes that overlap or touch, ascending."""
    order = np.argsort(low[:, 0], kind="stable")
    # In the order of their left sides, each box may overlap those that start before it ends.
    stop = np.searchsorted(low[order, 0], high[order, 0], side="right")
    start = np.arange(len(order)) + 1
    count = np.maximum(stop - start, 0)
    one = np.repeat(order, count)
    at = np.repeat(start - (np.cumsum(count) - count), count) + np.arange(count.sum())
    other = order[at]
    beside = (low[one, 1] <= high[other, 1]) & (low[other, 1] <= high[one, 1])
    pairs = np.sort(np.stack([one[beside], other[beside]], axis=1), axis=1)
    return np.asarray(pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))])


def _cross(one: Floats, other: Floats) -> Flags:
    """Whether the polylines of each row cross, shape (rows,)."""
    a, b = one[:, :-1, None], one[:, 1:, None]
    c, d = other[:, None, :-1], other[:, None, 1:]
    apart = _side(a, b, c) * _side(a, b, d)
    across = _side(c, d, a) * _side(c, d, b)
    return np.asarray(((apart <= 0) & (across <= 0) & ((apart < 0) | (across < 0))).any(axis=(1, 2)))


def _side(p: Floats, q: Floats, r: Floats) -> Floats:
    """Twice the area of the triangles, positive where r lies to the right of p to q as seen on the page."""
    return np.asarray(
        (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1]) - (q[..., 1] - p[..., 1]) * (r[..., 0] - p[..., 0])
    )
