"""Smooth surfaces over a coarse picture: closings, envelopes, and filling in what is not known.

Limits: at the border a closing takes the picture to go on as it ends, which bends an edge that meets
it at a slant.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Flags

__all__ = [
    "averaged",
    "close",
    "disc",
    "envelope",
    "filled_in",
    "grow",
    "highest",
    "interpolated",
    "lowest",
]

Bytes8 = NDArray[np.uint8]
Floats32 = NDArray[np.float32]

# Grid on which the envelopes are found: they are smooth.
_ENVELOPE_SIDE_PX = 96

# A closing costs as its disc's area: larger ones are done on a coarser grid, which they do not notice.
_LARGEST_DISC_PX = 35.0

# Discs up to this radius are put together to a larger one; smaller ones would make a square of it.
_TURN_RADIUS_PX = 5

# Beyond the border the page goes on as it ends.
_LEVEL = cv2.BORDER_REPLICATE

_EPSILON = np.float32(1e-3)


def filled_in(values: Floats32, known: Flags) -> Floats32:
    """Fill what is not known smoothly from around, by averages on ever coarser grids and back.

    Parameters
    ----------
    values : ndarray of float32, shape (H, W, C)
        What is filled.
    known : ndarray of bool, shape (H, W)
        Where `values` holds.

    Returns
    -------
    ndarray of float32, shape (H, W, C)
        `values` where known; elsewhere a smooth continuation, or 255 where nothing is known.

    Notes
    -----
    The pull-push pyramid of Gortler et al., "The lumigraph" (1996), from memory.
    """
    if known.all():
        return values
    height, width = known.shape
    weight = known.astype(np.float32)[:, :, None]
    if min(height, width) <= 2 or not known.any():
        mean = (values * weight).sum(axis=(0, 1)) / max(float(weight.sum()), 1.0)
        mean = mean if known.any() else np.float32(255.0)
        return np.asarray(values * weight + mean * (1.0 - weight), dtype=np.float32)
    half = ((width + 1) // 2, (height + 1) // 2)
    share = averaged(weight[:, :, 0], half)
    coarser = averaged(values * weight, half)
    coarser /= np.maximum(share, _EPSILON)[:, :, None]
    filled = filled_in(coarser, share > np.float32(0.05))
    around = interpolated(filled, (width, height))
    return np.asarray(values * weight + around * (1.0 - weight))


def envelope(level: Floats32, halving_share: float) -> Floats32:
    """Least surface above `level` that falls by no more than half over a share of the longest side.

    Parameters
    ----------
    level : ndarray of float32, shape (H, W, 3)
        Each channel by itself.
    halving_share : float
        Distance over which the surface may fall to a half, as a share of the longest side.

    Returns
    -------
    ndarray of float32, shape (H, W, 3)
        Found on a coarse grid: exact to about a cell of it.
    """
    height, width = level.shape[:2]
    scale = max(1.0, max(height, width) / _ENVELOPE_SIDE_PX)
    size = (max(2, round(width / scale)), max(2, round(height / scale)))
    surface = averaged(level, size)
    along = 0.5 ** (1.0 / (halving_share * max(size)))
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    square = np.ones((3, 3), np.uint8)
    for _ in range(max(size)):
        straight = cv2.dilate(surface, cross) * along
        diagonal = cv2.dilate(surface, square) * along**1.4142
        raised = np.maximum(surface, np.maximum(straight, diagonal))
        if np.array_equal(raised, surface):
            break
        surface = raised
    surface = interpolated(surface.astype(np.float32), (width, height))
    return np.asarray(np.maximum(surface, level))


def close(values: Bytes8, size_px: float) -> Bytes8:
    """Close dark places narrower than `size_px`, by a disc; each channel of (H, W, 3) by itself."""
    height, width = values.shape[:2]
    scale = size_px / _LARGEST_DISC_PX
    if scale <= 1.0:
        return _closed_in_turn(values, size_px)
    small = (max(2, round(width / scale)), max(2, round(height / scale)))
    closed = _closed_in_turn(averaged(values, small), _LARGEST_DISC_PX)
    return np.asarray(interpolated(closed, (width, height)))


def _closed_in_turn(values: Bytes8, size_px: float) -> Bytes8:
    """Close by several small discs in turn, whose sum is the large one: a third of the comparisons."""
    radius = max(1, round(size_px / 2.0))
    count = -(-radius // _TURN_RADIUS_PX)
    discs = [disc(2.0 * (radius // count + (turn < radius % count))) for turn in range(count)]
    for operation in (cv2.dilate, cv2.erode):
        for element in discs:
            values = np.asarray(operation(values, element, borderType=_LEVEL), dtype=np.uint8)
    return values


def highest(values: Any) -> NDArray[Any]:
    """Largest of the three channels; far quicker than a reduction along a short axis."""
    return np.asarray(np.maximum(np.maximum(values[:, :, 0], values[:, :, 1]), values[:, :, 2]))


def lowest(values: Any) -> NDArray[Any]:
    """Smallest of the three channels."""
    return np.asarray(np.minimum(np.minimum(values[:, :, 0], values[:, :, 1]), values[:, :, 2]))


def averaged(values: NDArray[Any], size: tuple[int, int]) -> Any:
    """Reduce to (width, height) by the means of cells."""
    return cv2.resize(values, size, interpolation=cv2.INTER_AREA)


def cells(values: Bytes8, step: int) -> Bytes8:
    """Means of whole cells of `step` by `step` pixels, found much faster than those of fractions of pixels.

    A rest at the right and at the bottom is left out.
    """
    if step == 1:
        return values
    rows, columns = values.shape[0] // step, values.shape[1] // step
    return np.asarray(averaged(values[: rows * step, : columns * step], (columns, rows)), dtype=np.uint8)


def interpolated(values: NDArray[Any], size: tuple[int, int]) -> Any:
    """Enlarge to (width, height) by linear interpolation."""
    return cv2.resize(values, size, interpolation=cv2.INTER_LINEAR)


def disc(size_px: float) -> Bytes8:
    """Structuring element of odd size, about `size_px` across."""
    size = 2 * max(1, round(size_px / 2.0)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), dtype=np.uint8)


def grow(mask: Flags, size_px: int) -> Flags:
    """Widen a mask by about half of `size_px` on every side."""
    if not mask.any():
        return mask
    return np.asarray(cv2.dilate(mask.astype(np.uint8), disc(size_px)) > 0)
