"""Ink of round strokes on a raster: how much of each pixel a line of some width covers.

Method: a pixel is covered by how far its centre lies inside of the stroke's edge.

Limits: the edge of a stroke is as exact as half its samples' spacing squared over its width: under a fiftieth
of a pixel for a stroke of one pixel that is sampled every half pixel.
"""

import numpy as np
from scipy.spatial import cKDTree

from limner.model.arrays import Floats, Singles

__all__ = ["Window", "ink_of", "ink_of_points", "window_around"]

Window = tuple[slice, slice]
"""Rows and columns of a raster."""


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
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    centres = np.stack([x.ravel() + 0.5, y.ravel() + 0.5], axis=1)
    # The nearest few points: where the width changes, a farther disc may reach farther.
    distance, at = cKDTree(points).query(
        centres, k=min(4, len(points)), distance_upper_bound=float(radii.max()) + 1.0
    )
    reach = np.append(radii, 0.0)[at] + 0.5 - distance
    reach = reach.max(axis=1) if reach.ndim > 1 else reach
    return np.asarray(np.clip(reach, 0.0, 1.0).astype(np.float32).reshape(shape))
