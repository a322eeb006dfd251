"""The width of the drawn lines, and the raster on which the ink is worked out.

Every size in this stage is a multiple of the line width, so that comes first. It is measured on a
reduced page without knowing it: by the co-area formula the sum of |gradient| of a soft mask is its
perimeter, so that twice its area over its perimeter is the width of the lines in it, at a fraction of a
pixel, however soft they are. Taken in a window around each ridge, a quantile
below the median is the width of a single stroke. Lines far thinner than that beside them (whiskers, lashes,
the texture within a bold outline) are measured apart, in a window too small for a bold line to lie in.

Limits: a drawing of nothing but solid blacks has no line width; that of a usual drawing stands in. More than
two widths are not told apart: what lies between is worked out like the typical line.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.ink.filters import (
    box_mean,
    closing,
    dilation,
    distance_inside,
    gaussian,
    gradient_size,
    odd,
    paper_grain,
    quantile,
)
from limner.model.arrays import Flags, Singles

__all__ = [
    "Finest",
    "LineWidths",
    "choose_reduction",
    "early_reduction",
    "is_photograph",
    "line_widths",
    "resample",
    "resample_channels",
    "soft_widths",
    "typical_width",
]

_PHOTOGRAPH_PIXELS = 1e6
"""No camera or scanner of the last twenty years makes smaller pictures: those are made for a screen."""

_TARGET_LINE_PX = 6.0
"""Width of a typical line on the working raster. At 6 px an edge has two soft pixels on each side and
the graphite's grain is averaged away; more pixels cost time and show no more of the line."""

_THIN_PX = 4.0
"""Lines thinner than this on a page made for a screen are worked out twice as fine: their outlines would be
too few pixels apart to smooth them."""

_MOST_PIXELS = 6e6
"""Beyond this many pixels the working raster is made coarser as long as lines stay `_COARSEST_LINE_PX` wide:
a soft edge is as well located there, in a fraction of the time."""

_COARSEST_LINE_PX = 3.5

_STRIP_ROWS_PX = 120
"""Rows of the page that are averaged at a time."""

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

_FINE = 0.35
"""Share of the typical width below which a line is a thin one beside it: the strokes of one pencil are never
thinner than 0.4 of their typical one, on any of the sketches in fixtures/."""

_FINE_DARK = 0.4
"""Share of the darker lines' contrast that a thin line has at least: on the small picture its own blur
takes up to half of it, while what a rubber or the print of ruled paper leaves stays below."""

_FINE_LENGTH = 3.0
"""How long thin lines are in all, at least, in typical line widths: a lash or two. Scraps of grain come to
less."""

_FINE_STROKE = 1.5
"""How long each of them is, at least, in typical line widths: the threads of a crayon's grain are shorter."""

_FINE_WINDOW = 1.5
"""Side of the window in which thin lines are measured, in typical widths: a bold line beside them is seen
to be one by what of it lies within."""

_LINES_PER_SMOOTHING = 5.0
"""A line's outline is to be known to a fifth of its width, which is the smoothing that it gets where
nobody asks for another; so a finer smoothing is worked out as the outlines of lines five times as wide as
it are."""


def is_photograph(pixels: float) -> bool:
    """Whether a picture of so many pixels is as the camera or scanner took it, not reduced afterwards."""
    return pixels >= _PHOTOGRAPH_PIXELS


@dataclass(frozen=True, slots=True)
class LineWidths:
    """Widths of the lines of one drawing.

    Parameters
    ----------
    typical : float
        Width of a single stroke in pixels; 0 where nothing is drawn.
    fine : float
        Width of far thinner lines beside those; that of the typical ones where there are none.
    columns : float
        Width of the drawn part in pixels.
    """

    typical: float
    fine: float
    columns: float

    def scaled(self, factor: float) -> "LineWidths":
        """The same in other pixels."""
        return LineWidths(self.typical * factor, self.fine * factor, self.columns * factor)

    def read_alike(self, one: "Finest", other: "Finest") -> bool:
        """Whether a page is read the same for both: they are equal, or ask for no more than its lines."""
        first, second = (min(self.typical, finest.line_width_px(self.columns)) for finest in (one, other))
        return first == second


@dataclass(frozen=True, slots=True)
class Finest:
    """The finest smoothing that is asked for anywhere on a page.

    Parameters
    ----------
    smoothing_mm : float or None
        The smoothing; None: what the width of the lines makes of it.
    mm_per_px : float or None
        Scale of the page.
    drawn_mm : float
        Width of the drawn part, where the page has no scale.
    """

    smoothing_mm: float | None = None
    mm_per_px: float | None = None
    drawn_mm: float = 0.0

    def following_mm(self, widths: "LineWidths") -> float:
        """The smoothing as which lines of these widths are read anyway: a larger one changes nothing."""
        if widths.columns == 0:
            return 0.0
        mm_per_px = self.drawn_mm / widths.columns if self.mm_per_px is None else self.mm_per_px
        return widths.typical * mm_per_px / _LINES_PER_SMOOTHING

    def line_width_px(self, columns: float) -> float:
        """Width in page pixels of a line whose outline is known as well as is asked; infinite where none is.

        `columns` is the width of the drawn part in page pixels.
        """
        if self.smoothing_mm is None or columns == 0:
            return math.inf
        mm_per_px = self.drawn_mm / columns if self.mm_per_px is None else self.mm_per_px
        return _LINES_PER_SMOOTHING * self.smoothing_mm / mm_per_px


def line_widths(small: Singles) -> LineWidths:
    """Widths of the drawn lines.

    Parameters
    ----------
    small : ndarray of float32, shape (h, w)
        The page reduced to some 1600 px, paper near 1.

    Returns
    -------
    LineWidths
        In pixels of `small`.
    """
    side = odd(max(small.shape) / 16, 31)
    smooth = gaussian(small, 0.8)
    contrast = np.maximum(1 - smooth / np.maximum(closing(smooth, side), np.float32(0.05)), np.float32(0))
    middle, spread = paper_grain(contrast)
    floor = max(middle + 6 * spread, 0.05)
    strong = contrast > floor
    if np.count_nonzero(strong) < 4:
        return LineWidths(0.0, 0.0, 0.0)
    dark = quantile(contrast, 0.75, strong)
    level = max(floor, 0.5 * dark)
    typical = _typical_on(contrast, level, odd(2 * side / 3))
    drawn = np.flatnonzero((contrast > level).any(axis=0))
    columns = float(drawn[-1] - drawn[0] + 1) if len(drawn) else 0.0
    return LineWidths(typical, _fine_on(contrast, floor, dark, typical), columns)


def _typical_on(contrast: Singles, level: float, side: int) -> float:
    soft = np.clip((contrast - np.float32(0.3 * level)) / np.float32(1.4 * level), 0, 1)
    widths = soft_widths(soft, contrast > level, side)
    long_side = max(contrast.shape)
    if len(widths) == 0:
        return 0.0
    if np.mean(widths > _WIDEST_SHARE * long_side) > _MOSTLY:
        return float(_NO_LINES_SHARE * long_side)
    return typical_width([widths])


def _fine_on(contrast: Singles, floor: float, dark: float, typical: float) -> float:
    """Width of the lines that are far thinner than the typical one; that one's where there are none.

    Twice the area over the perimeter holds for a line of any darkness, and for one as thin as a pixel.
    """
    ridge = (contrast > max(floor, _FINE_DARK * dark)) & (contrast >= dilation(contrast, 3))
    side = odd(_FINE_WINDOW * typical, 5)
    above = np.maximum(contrast - np.float32(0.5 * floor), np.float32(0))
    area, perimeter = box_mean(above, side)[ridge], box_mean(gradient_size(above), side)[ridge]
    widths = 2 * area / np.maximum(perimeter, np.float32(1e-6))
    thin = ridge.copy()
    thin[ridge] = widths < _FINE * typical
    fine = widths[_in_strokes(thin, _FINE_STROKE * typical)[ridge]]
    return float(np.median(fine)) if len(fine) > _FINE_LENGTH * typical else typical


def _in_strokes(ridge: Flags, length: float) -> Flags:
    """Those pixels of ridges that belong to a piece of at least a length; grain comes in shorter ones.

    A ridge is a row of loose pixels: those within a third of the length of each other are one piece.
    """
    joined = dilation(ridge.astype(np.float32), odd(length / 3.0)) > 0
    _, labels, stats, _ = cv2.connectedComponentsWithStats(joined.view(np.uint8), connectivity=8)
    long = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) >= length
    long[0] = False
    return np.asarray(ridge & long[labels])


def typical_width(widths: Sequence[NDArray[np.float32]]) -> float:
    """The width that stands for a single stroke; 0 where there is none."""
    every = np.concatenate([np.zeros(0, np.float32), *widths])
    return float(np.quantile(every, _TYPICAL)) if len(every) else 0.0


def soft_widths(soft: Singles, mask: Flags, side: int, within: tuple[slice, slice] | None = None) -> Singles:
    """Widths of the lines in a soft mask, as they are around each pixel of their ridges.

    Parameters
    ----------
    soft : ndarray of float32, shape (H, W)
        Coverage, 0 to 1.
    mask : ndarray of bool, shape (H, W)
        Where lines are; others do not count.
    side : int
        Side of the window in which area and perimeter are compared, pixels, odd.
    within : tuple of slice or None
        Rows and columns whose ridges count; None: all.

    Returns
    -------
    ndarray of float32, shape (n,)
        Widths in pixels.
    """
    reach = distance_inside(mask)
    ridge = mask & (reach >= dilation(reach, 3))
    area, perimeter = box_mean(soft, side), box_mean(gradient_size(soft), side)
    if within is not None:
        area, perimeter, ridge = area[within], perimeter[within], ridge[within]
    return np.asarray(2 * area[ridge] / np.maximum(perimeter[ridge], np.float32(1e-6)), np.float32)


def choose_reduction(line_width: float, shape: tuple[int, int]) -> float:
    """Page pixels per working pixel.

    Parameters
    ----------
    line_width : float
        Width in page pixels of the thinnest lines whose outlines are to be well known.
    shape : tuple of int
        Height and width of the page in pixels.

    Returns
    -------
    float
        0.5 (twice as fine, for pictures made for a screen), a multiple of 0.5 from 1 to 3, or a whole number
        beyond.
    """
    if line_width < _THIN_PX and not is_photograph(shape[0] * shape[1]):
        return 0.5
    most = max(1.0, max(shape) / _FEWEST_SIDE_PX)
    wanted = min(line_width / _TARGET_LINE_PX, most)
    affordable = min((shape[0] * shape[1] / _MOST_PIXELS) ** 0.5, line_width / _COARSEST_LINE_PX)
    step = max(1.0, wanted, affordable)
    # Blocks of whole pixels are averaged ten times as fast; below 3 a half step still matters.
    return float(np.floor(step) if step >= 3 else np.floor(2 * step) / 2)


def early_reduction(widths: LineWidths, shape: tuple[int, int], finest: Finest) -> int:
    """How many times fewer pixels a page may have in x and y before its ink is sought.

    Parameters
    ----------
    widths : LineWidths
        Widths of its lines in pixels of the page.
    shape : tuple of int
        Height and width of the page in pixels.
    finest : Finest
        The finest smoothing that is asked for; its scale is that of the page's pixels.

    Returns
    -------
    int
        1 or more: at most what `choose_reduction` will ask for.
    """
    return int(max(1.0, choose_reduction(min(widths.fine, finest.line_width_px(widths.columns)), shape)))


def resample(pixels: Singles, step: float) -> Singles:
    """Resample by area averaging (or smoothly, twice as fine), with the same step in x and y.

    Parameters
    ----------
    pixels : ndarray of float32, shape (H, W)
        Page, or another picture of its size.
    step : float
        As given by `choose_reduction`.

    Returns
    -------
    ndarray of float32
        The picture. Its left and top edges are the page's; its last row and column may reach beyond the
        page by less than a pixel.
    """
    return np.asarray(_resampled(pixels, step), np.float32)


def resample_channels(colour: NDArray[np.uint8], step: float) -> list[NDArray[np.uint8]]:
    """Red, green and blue of a picture in colour, each resampled like the page."""
    return [np.asarray(channel, np.uint8) for channel in cv2.split(_resampled(colour, step))]


def _resampled(pixels: Singles | NDArray[np.uint8], step: float) -> Any:
    if step > 1:
        return _averaged(pixels, step)
    if step == 1:
        return pixels
    size = (round(pixels.shape[1] / step), round(pixels.shape[0] / step))
    finer = cv2.resize(pixels, size, interpolation=cv2.INTER_CUBIC)
    # Beside a hard edge a cubic overshoots: what is darker than black has no logarithm and no root.
    return np.clip(finer, 0, 1) if pixels.dtype == np.float32 else finer


def _averaged(pixels: Singles | NDArray[np.uint8], step: float) -> Singles | NDArray[np.uint8]:
    """Means of blocks, some rows at a time: to pad a copy of all would cost more than the means."""
    block = int(step if step == int(step) else 2 * step)
    height, width = pixels.shape[:2]
    right = -width % block
    across = round((width + right) / step)
    result = np.empty((round((height + -height % block) / step), across, *pixels.shape[2:]), pixels.dtype)
    rows = block * max(1, _STRIP_ROWS_PX // block)
    for top in range(0, height, rows):
        strip: Any = pixels[top : top + rows]
        down = -len(strip) % block
        if down or right:
            strip = cv2.copyMakeBorder(strip, 0, down, 0, right, cv2.BORDER_REPLICATE)
        first, count = round(top / step), round(len(strip) / step)
        result[first : first + count] = cv2.resize(strip, (across, count), interpolation=cv2.INTER_AREA)
    return result
