"""The width of the drawn lines, and the raster on which the ink is worked out.

Every size in this stage is a multiple of the line width, so that comes first. It is measured on a
reduced page without knowing it: by the co-area formula the sum of |gradient| of a soft mask is its
perimeter, so that twice its area over its perimeter is the width of the lines in it, at a fraction of a
pixel, however soft they are. Taken in a window around each ridge, a quantile
below the median is the width of a single stroke.

Limits: a drawing of nothing but solid blacks has no line width; that of a usual drawing stands in.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.ink.filters import (
    Bits,
    Floats,
    box_mean,
    closing,
    dilation,
    distance_inside,
    gaussian,
    gradient_size,
    odd,
    quantile,
)

__all__ = ["choose_reduction", "early_reduction", "estimate_line_width", "resample", "soft_width"]

_SMALL_PAGE_PIXELS = 1e6
"""Pages up to this size may be made twice as fine: a picture taken for a screen, not a photograph."""

_TARGET_LINE_PX = 6.0
"""Width of a typical line on the working raster. At 6 px an edge has two soft pixels on each side and
the graphite's grain is averaged away; more pixels cost time and show no more of the line."""

_THIN_PX = 4.0
"""Lines thinner than this on a small page are worked out twice as fine: their outlines would be too few
pixels apart to smooth them."""

_MOST_PIXELS = 6e6
"""Beyond this many pixels the working raster is made coarser as long as lines stay `_COARSEST_LINE_PX` wide:
a soft edge is as well located there, in a fraction of the time."""

_COARSEST_LINE_PX = 3.5

_FEWEST_SIDE_PX = 1200
"""The working raster keeps at least this many pixels on its long side (where the page has them), so
that small details of a drawing made with a broad pen survive."""

_WIDEST_SHARE = 0.04
"""A line is narrower than this share of the page's long side: beyond, it is taken for a solid black."""

_NO_LINES_SHARE = 0.008
"""Line width that stands for a drawing of solid blacks alone, as a share of the page's long side: that of a
usual drawing, so that its smallest parts are kept."""

_MOSTLY = 0.3
"""Share of the ridges wider than any line from which a drawing is one of solid blacks alone: their ridges are
short, so that a few among lines count for little."""

_TYPICAL = 0.35
"""The quantile of width that stands for a single stroke: junctions and strokes that run together only ever
widen, and pull the median up."""


def estimate_line_width(small: Floats) -> float:
    """Typical width of the drawn lines.

    Parameters
    ----------
    small : ndarray of float32, shape (h, w)
        The page reduced to some 1600 px, paper near 1.

    Returns
    -------
    float
        Typical width in pixels of `small`; 0 where nothing is drawn.
    """
    side = odd(max(small.shape) / 16, 31)
    smooth = gaussian(small, 0.8)
    contrast = np.maximum(1 - smooth / np.maximum(closing(smooth, side), np.float32(0.05)), np.float32(0))
    middle = quantile(contrast, 0.5)
    spread = 1.4826 * quantile(np.abs(contrast - np.float32(middle)), 0.5)
    floor = max(middle + 6 * spread, 0.05)
    strong = contrast > floor
    if np.count_nonzero(strong) < 4:
        return 0.0
    level = max(floor, 0.5 * quantile(contrast, 0.75, strong))
    soft = np.clip((contrast - np.float32(0.3 * level)) / np.float32(1.4 * level), 0, 1)
    widths = _widths(soft, contrast > level, odd(2 * side / 3))
    long_side = max(small.shape)
    if len(widths) == 0:
        return 0.0
    if np.mean(widths > _WIDEST_SHARE * long_side) > _MOSTLY:
        return float(_NO_LINES_SHARE * long_side)
    return float(np.quantile(widths, _TYPICAL))


def soft_width(soft: Floats, mask: Bits, side: int) -> float:
    """Typical width of the lines in a soft mask.

    Parameters
    ----------
    soft : ndarray of float32, shape (H, W)
        Coverage, 0 to 1.
    mask : ndarray of bool, shape (H, W)
        Where lines are; others do not count.
    side : int
        Side of the window in which area and perimeter are compared, pixels, odd.

    Returns
    -------
    float
        Width in pixels; 0 where the mask is empty.
    """
    widths = _widths(soft, mask, side)
    return float(np.quantile(widths, _TYPICAL)) if len(widths) else 0.0


def _widths(soft: Floats, mask: Bits, side: int) -> Floats:
    """Width around each pixel of the ridges of a mask, shape (n,)."""
    reach = distance_inside(mask)
    ridge = mask & (reach >= dilation(reach, 3))
    area = box_mean(soft, side)[ridge]
    perimeter = box_mean(gradient_size(soft), side)[ridge]
    return np.asarray(2 * area / np.maximum(perimeter, np.float32(1e-6)), np.float32)


def choose_reduction(line_width: float, shape: tuple[int, int]) -> float:
    """Page pixels per working pixel.

    Parameters
    ----------
    line_width : float
        Typical width of a line in page pixels.
    shape : tuple of int
        Height and width of the page in pixels.

    Returns
    -------
    float
        0.5 (twice as fine, for small pictures), a multiple of 0.5 from 1 to 3, or a whole number beyond.
    """
    if line_width < _THIN_PX and shape[0] * shape[1] <= _SMALL_PAGE_PIXELS:
        return 0.5
    most = max(1.0, max(shape) / _FEWEST_SIDE_PX)
    wanted = min(line_width / _TARGET_LINE_PX, most)
    affordable = min((shape[0] * shape[1] / _MOST_PIXELS) ** 0.5, line_width / _COARSEST_LINE_PX)
    step = max(1.0, wanted, affordable)
    # Blocks of whole pixels are averaged ten times as fast; below 3 a half step still matters.
    return float(np.floor(step) if step >= 3 else np.floor(2 * step) / 2)


def early_reduction(small: Floats, step: float, shape: tuple[int, int]) -> int:
    """How many times fewer pixels a page may have in x and y before its ink is sought.

    Parameters
    ----------
    small : ndarray of float32, shape (h, w)
        The page reduced to some 600 px or more, evenly lit, paper near 1.
    step : float
        Page pixels per pixel of it.
    shape : tuple of int
        Height and width of the page in pixels.

    Returns
    -------
    int
        1 or more: at most what `choose_reduction` will ask for.
    """
    return int(max(1.0, choose_reduction(step * estimate_line_width(small), shape)))


def resample(pixels: Floats | NDArray[np.uint8], step: float) -> Floats:
    """Resample by area averaging (or smoothly, twice as fine), with the same step in x and y.

    Parameters
    ----------
    pixels : ndarray of float32 or uint8, shape (H, W) or (H, W, C)
        Page, or another picture of its size.
    step : float
        As given by `choose_reduction`.

    Returns
    -------
    ndarray of float32
        The picture; bytes become 0 to 1. Its left and top edges are the page's; its last row and column
        may reach beyond the page by less than a pixel.
    """
    if step < 1:
        size = (round(pixels.shape[1] / step), round(pixels.shape[0] / step))
        result = cv2.resize(pixels, size, interpolation=cv2.INTER_CUBIC)
    elif step > 1:
        block = int(step if step == int(step) else 2 * step)
        down, right = -pixels.shape[0] % block, -pixels.shape[1] % block
        padded = cv2.copyMakeBorder(pixels, 0, down, 0, right, cv2.BORDER_REPLICATE)
        size = (round(padded.shape[1] / step), round(padded.shape[0] / step))
        result = cv2.resize(padded, size, interpolation=cv2.INTER_AREA)
    else:
        result = pixels
    if result.dtype == np.uint8:
        return result.astype(np.float32) * np.float32(1 / 255)
    return np.asarray(result, np.float32)
