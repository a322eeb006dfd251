"""A stroke as a person draws it: a smooth line through given points, and its ink on a raster.

Method: a natural cubic spline through the points, its parameter growing with the square root of the
distance between them, so that it neither loops nor overshoots where points lie unevenly (centripetal
parameters: Lee, "Choosing nodes in parametric curve interpolation", 1989,
doi:10.1016/0010-4485(89)90003-1). A pixel is covered by how far it lies inside of the stroke's edge.

Limits: the edge of a stroke is as exact as half its samples' spacing squared over its width: under a fiftieth
of a pixel for a stroke of one pixel.
"""

import numpy as np

from limner.model.arrays import Floats, Singles

__all__ = ["Window", "ink_of", "ink_of_points", "smooth_line", "window_around"]

Window = tuple[slice, slice]
"""Rows and columns of a raster."""

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


def window_around(points: Floats, margin: float, shape: tuple[int, int]) -> Window:
    """Rows and columns of a raster within a margin of points; empty where they lie outside of it."""
    low = np.floor(points.min(axis=0) - margin).astype(int)
    high = np.ceil(points.max(axis=0) + margin).astype(int) + 1
    (left, top), (right, bottom) = np.maximum(low, 0), np.minimum(high, [shape[1], shape[0]])
    return slice(top, max(top, bottom)), slice(left, max(left, right))


def ink_of(line: Floats, width: float, window: Window) -> Singles:
    """How much of each pixel a round stroke along a line covers.

    Parameters
    ----------
    line : ndarray of float64, shape (n, 2)
        Samples of the line, pixels; pixel centres lie at half-integers.
    width : float
        Its width, pixels.
    window : tuple of slice
        Rows and columns that are wanted.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        0 to 1, falling by one over a pixel across the edge.
    """
    from scipy.spatial import cKDTree

    rows, columns = window
    size = (rows.stop - rows.start, columns.stop - columns.start)
    if 0 in size:
        return np.zeros(size, np.float32)
    y, x = np.mgrid[rows, columns]
    centres = np.stack([x.ravel() + 0.5, y.ravel() + 0.5], axis=1)
    distance, _ = cKDTree(line).query(centres, distance_upper_bound=width / 2 + 1.0)
    return np.asarray(np.clip(width / 2 + 0.5 - distance, 0.0, 1.0).astype(np.float32).reshape(size))


def ink_of_points(points: Floats, radii: Floats, shape: tuple[int, ...]) -> Singles:
    """How much of each pixel of a raster discs around points cover, those of lines whose width changes.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Points of lines, so dense that their discs run into each other, pixels.
    radii : ndarray of float64, shape (n,)
        Radius of the disc around each, pixels.
    shape : tuple of int
        Rows and columns of the raster.

    Returns
    -------
    ndarray of float32, shape (H, W)
    """
    from scipy.spatial import cKDTree

    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    centres = np.stack([x.ravel() + 0.5, y.ravel() + 0.5], axis=1)
    # The nearest few points: where the width changes, a farther disc may reach farther.
    distance, at = cKDTree(points).query(
        centres, k=min(4, len(points)), distance_upper_bound=float(radii.max()) + 1.0
    )
    reach = np.append(radii, 0.0)[at] + 0.5 - distance
    reach = reach.max(axis=1) if reach.ndim > 1 else reach
    return np.asarray(np.clip(reach, 0.0, 1.0).astype(np.float32).reshape(shape))
