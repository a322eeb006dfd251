"""Filters on rasters, with types, and robust statistics that are linear in time.

Thin wrappers: every one takes and returns (H, W) arrays and is separable or a histogram, so that its
cost does not depend on its size (or hardly). Sides and radii are in pixels.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Flags, Singles

__all__ = [
    "box_mean",
    "closing",
    "dilation",
    "distance_inside",
    "doubled",
    "erosion",
    "gaussian",
    "gradient_size",
    "grow",
    "halved",
    "masked_mean",
    "odd",
    "paper_grain",
    "quantile",
    "shrink",
]


_BINS = 2048
"""A quantile of values between 0 and 1 is then known to 0.0005, below one level of 8 bits."""

_INKED = 0.1
"""Contrast that no paper's grain has in the median: that of every page in fixtures/ is below a tenth of
it."""

_BARE = 0.1
"""Share of a densely engraved page that is surely paper, half of it paler than the middle of paper."""

_LARGEST_DISC_PX = 10
"""A disc costs as its area, distances cost the same whatever the radius: less than it from about here on."""


def odd(size: float, least: int = 3) -> int:
    """Nearest odd whole number that is at least `least`: the side of a centred box."""
    return max(least, 2 * round((size - 1) / 2) + 1)


def _box(side: int) -> NDArray[np.uint8]:
    return np.ones((side, side), np.uint8)


def gaussian(values: Singles, sigma: float) -> Singles:
    """Gaussian blur."""
    return np.asarray(cv2.GaussianBlur(values, (0, 0), sigma), np.float32)


def box_mean(values: Singles, side: int) -> Singles:
    """Mean in a box."""
    return np.asarray(cv2.blur(values, (side, side)), np.float32)


def closing(values: Singles, side: int) -> Singles:
    """Grey closing by a box: what is darker than its surroundings and narrower than the box is filled."""
    return np.asarray(cv2.morphologyEx(values, cv2.MORPH_CLOSE, _box(side)), np.float32)


def dilation(values: Singles, side: int) -> Singles:
    """Largest value in a box."""
    return np.asarray(cv2.dilate(values, _box(side)), np.float32)


def erosion(values: Singles, side: int) -> Singles:
    """Smallest value in a box."""
    return np.asarray(cv2.erode(values, _box(side)), np.float32)


def _disc(radius: float) -> NDArray[np.uint8]:
    reach = int(radius)
    y, x = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    return np.asarray(x * x + y * y <= radius * radius, np.uint8)


def grow(mask: Flags, radius: float) -> Flags:
    """Pixels within `radius` of the mask (by a disc for small radii, by distance for large ones)."""
    if radius <= _LARGEST_DISC_PX:
        return np.asarray(cv2.dilate(mask.view(np.uint8), _disc(radius)) > 0)
    return np.asarray(distance_inside(~mask) <= radius)


def shrink(mask: Flags, radius: float) -> Flags:
    """Pixels farther than `radius` from what is not in the mask; beyond the raster the mask goes on."""
    return ~grow(~mask, radius)


def distance_inside(mask: Flags) -> Singles:
    """Distance from each pixel of the mask to the nearest pixel outside it; beyond the raster it goes on."""
    return np.asarray(cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5), np.float32)


def gradient_size(values: Singles) -> Singles:
    """Length of the gradient by central differences, per pixel."""
    dx = cv2.Sobel(values, cv2.CV_32F, 1, 0, ksize=1, scale=0.5, borderType=cv2.BORDER_REPLICATE)
    dy = cv2.Sobel(values, cv2.CV_32F, 0, 1, ksize=1, scale=0.5, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.magnitude(dx, dy), np.float32)


def quantile(values: Singles, share: float, mask: Flags | None = None, power: int = 0) -> float:
    """Quantile of values from 0 to 1 (others are not counted), each weighing value ** power.

    0 where nothing counts.
    """
    inside = None if mask is None else mask.view(np.uint8)
    counts = cv2.calcHist([values], [0], inside, [_BINS], [0.0, 1.0 + 1e-6]).ravel()
    if power:
        counts = counts * ((np.arange(_BINS) + 0.5) / _BINS) ** power
    total = float(counts.sum())
    if total == 0.0:
        return 0.0
    return float(np.searchsorted(np.cumsum(counts), share * total) + 0.5) / _BINS


def paper_grain(contrast: Singles) -> tuple[float, float]:
    """Contrast of bare paper with its surroundings, and its spread (standard deviation).

    Paper is most of a page, so these are the median and 1.4826 times the median deviation from it. Where the
    median itself has the contrast of ink (a dense engraving), paper is the paler half of the paler half,
    measured likewise.
    """
    middle = quantile(contrast, 0.5)
    if middle < _INKED:
        return middle, 1.4826 * quantile(np.abs(contrast - np.float32(middle)), 0.5)
    middle = quantile(contrast, _BARE)
    # The lower half of a normal distribution: its median lies 0.6745 deviations below.
    return middle, 1.4826 * (middle - quantile(contrast, 0.5 * _BARE))


def halved(values: Singles) -> Singles:
    """Every two by two pixels averaged to one; an odd last row or column is repeated."""
    height, width = values.shape
    if height % 2 or width % 2:
        padded = cv2.copyMakeBorder(values, 0, height % 2, 0, width % 2, cv2.BORDER_REPLICATE)
        values = np.asarray(padded, np.float32)
    size = (values.shape[1] // 2, values.shape[0] // 2)
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA), np.float32)


def doubled(values: Singles, shape: tuple[int, int]) -> Singles:
    """The way back from `halved`, linear between pixels, cut to the shape asked for."""
    size = (2 * values.shape[1], 2 * values.shape[0])
    full = cv2.resize(values, size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(full[: shape[0], : shape[1]], np.float32)


def masked_mean(values: Singles, weight: Singles, side: float) -> tuple[Singles, Singles]:
    """Weighted mean around each pixel in a window that falls off linearly (a box, twice).

    Worked out at half the resolution, as what it gives is smooth.

    Returns
    -------
    mean : ndarray of float32, shape (H, W)
        The mean; 0 where no weight lies within reach.
    reach : ndarray of float32, shape (H, W)
        Mean weight in the same window: 0 where `mean` is unknown.
    """
    shape = (values.shape[0], values.shape[1])
    half = odd(side / 2)
    total = box_mean(box_mean(halved(values * weight), half), half)
    reach = box_mean(box_mean(halved(weight), half), half)
    mean = np.asarray(total / np.maximum(reach, np.float32(1e-6)), np.float32)
    return doubled(mean, shape), doubled(reach, shape)
