"""A stroke as a person draws it: a smooth line through given points.

Method: a natural cubic spline through the points, its parameter growing with the square root of the
distance between them, so that it neither loops nor overshoots where points lie unevenly (centripetal
parameters: Lee, "Choosing nodes in parametric curve interpolation", 1989,
doi:10.1016/0010-4485(89)90003-1).
"""

import numpy as np

from limner.model.arrays import Floats

__all__ = ["smooth_line"]

# Half a pixel between samples.
_SPACING_PX = 0.5

# A line drawn to and fro over the whole page is sampled more widely, so that its time stays bounded.
_MOST_SAMPLES = 400_000


def smooth_line(points: Floats, spacing: float = _SPACING_PX) -> Floats:
    """Sample a smooth line through points.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        What it goes through, pixels.
    spacing : float
        Distance between samples, pixels.

    Returns
    -------
    ndarray of float64, shape (m, 2)
        Its first and last rows are the first and the last point; one row where all points are one.
    """
    points = np.asarray(points, dtype=np.float64)
    gaps = np.hypot(*np.diff(points, axis=0).T)
    apart = np.concatenate([[True], gaps > 1e-6])
    points, gaps = points[apart], gaps[apart[1:]]
    if len(points) < 2:
        return points
    length = float(gaps.sum())
    spacing = max(spacing, length / _MOST_SAMPLES)
    if len(points) == 2:
        steps = max(1, int(np.ceil(length / spacing)))
        return np.asarray(points[0] + np.linspace(0.0, 1.0, steps + 1)[:, None] * (points[1] - points[0]))
    from scipy.interpolate import CubicSpline

    at = np.concatenate([[0.0], np.cumsum(np.sqrt(gaps))])
    counts = np.maximum(1, np.ceil(1.2 * gaps / spacing)).astype(int)
    pieces = [
        np.linspace(low, high, count, endpoint=False)
        for low, high, count in zip(at[:-1], at[1:], counts, strict=True)
    ]
    return np.asarray(CubicSpline(at, points, bc_type="natural")(np.concatenate([*pieces, at[-1:]])))
