"""Polylines by their arc length: how far along each point lies, places in between, headings of ends."""

import numpy as np

from limner.model.arrays import Floats

__all__ = ["arc_lengths", "heading", "points_at"]


def arc_lengths(points: Floats) -> Floats:
    """Length of the way along a polyline from its first point to each.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        n >= 1; of a closed polyline, with its first point repeated at the end.

    Returns
    -------
    ndarray of float64, shape (n,)
        Zero first, ascending, in the unit of the points.
    """
    step_x, step_y = np.diff(points, axis=0).T
    return np.concatenate([[0.0], np.cumsum(np.hypot(step_x, step_y))])


def points_at(points: Floats, lengths: Floats, at: Floats) -> Floats:
    """Places at given arc lengths along a polyline.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
    lengths : ndarray of float64, shape (n,)
        Its `arc_lengths`.
    at : ndarray of float64, shape (k,)
        Arc lengths; beyond the ends, the ends themselves are meant.

    Returns
    -------
    ndarray of float64, shape (k, 2)
    """
    return np.stack([np.interp(at, lengths, points[:, axis]) for axis in (0, 1)], axis=1)


def heading(points: Floats, reach: float) -> Floats:
    """Unit direction in which a polyline leaves its first point: that of the chord over so long a way.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        From the end in question inwards.
    reach : float
        Arc length of the stretch that is looked at; all of a shorter polyline.

    Returns
    -------
    ndarray of float64, shape (2,)
        Zero where the stretch ends where it began.
    """
    lengths = arc_lengths(points)
    chord = points_at(points, lengths, np.array([min(reach, float(lengths[-1]))]))[0] - points[0]
    return np.asarray(chord / max(float(np.hypot(chord[0], chord[1])), 1e-300))
