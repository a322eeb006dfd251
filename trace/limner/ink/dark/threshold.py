"""What is darker than the paper beside it: thin lines by their contrast, solid blacks by their darkness.

A line has paper on both sides. The closing by a box a few line widths wide fills a line and leaves the
edge of a shadow as it is, so that closing minus picture (the black top-hat) answers to lines of any
direction and not to steps; wide smudges answer to neither. Faint lines are followed from their dark
places (hysteresis; Canny 1986, doi:10.1109/TPAMI.1986.4767851).
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from limner.ink.filters import closing, dilation, odd, paper_grain, quantile
from limner.model.arrays import Flags, Singles

__all__ = ["Levels", "below_ink", "hysteresis", "line_contrast", "measure_levels"]

_BOX_LINES = 2.6
"""Side of the closing's box in line widths: wider than a line of several strokes, narrower than a smudge."""

_SIGMAS_LOW, _SIGMAS_HIGH = 4.0, 8.0
"""Contrast against the paper's grain at which a pixel may belong to a line, and at which it starts one."""

_LEAST_CONTRAST = 0.03
"""Below this contrast nothing is a line even on a noiseless page: 8 levels of 8 bits."""

_SAMPLE = 500_000
"""Pixels, at least (where there are so many), by which the paper's grain is measured: its median is then
known to a hundredth of its spread even where neighbours are alike."""

_DARKEST, _CLEAR_INK = 0.99, 0.3
"""Quantile of contrast that the darkest ink reaches where there is much of it, and contrast from which that
is ink for certain: paper, however grainy, stays below."""

_STRIP_ROWS_PX = 128
"""Rows that are worked through at a time, at least: what is worked out on the way stays in the processor's
cache."""


@dataclass(frozen=True, slots=True)
class Levels:
    """Contrasts of one drawing.

    Parameters
    ----------
    grain : float
        Contrast that the paper's grain reaches, 4 sigma.
    typical : float
        Contrast at the core of the drawing's typical line.
    low, high : float
        Contrast at which a pixel may belong to a line, and at which it is sure.
    """

    grain: float
    typical: float
    low: float
    high: float


def line_contrast(smooth: Singles, line_width: float, tone: Callable[[Singles], Singles]) -> Singles:
    """Contrast of thin dark structures with what lies on both sides of them.

    Parameters
    ----------
    smooth : ndarray of float32, shape (H, W)
        The page without its grain.
    line_width : float
        Typical width of the lines, pixels.
    tone : callable
        Takes some rows of the page to the values in which contrast is judged.

    Returns
    -------
    ndarray of float32, shape (H, W)
        0 for paper, steps and wide areas; up to 1 for black lines on white.
    """
    side = odd(_BOX_LINES * line_width, 5)
    contrast = np.empty_like(smooth)
    rows = max(_STRIP_ROWS_PX, 2 * side)
    for top in range(0, len(smooth), rows):
        # The closing of a row looks at the rows within its box, and these at those within theirs.
        first, last = max(0, top - side), top + rows + side
        values = tone(smooth[first:last])
        around = closing(values, side)
        np.maximum(around, np.float32(0.05), out=around)
        own = slice(top - first, top - first + rows)
        np.divide(values[own], around[own], out=contrast[top : top + rows])
    return np.subtract(1, contrast, out=contrast)


def measure_levels(contrast: Singles, faintest: float) -> Levels:
    """Typical contrast of the drawing, and the thresholds that follow from it and from the grain.

    Parameters
    ----------
    contrast : ndarray of float32, shape (H, W)
        As given by `line_contrast`.
    faintest : float
        Darkest place of the faintest line that counts, as a share of the typical line.

    Returns
    -------
    Levels
        The contrasts.
    """
    # Some rows are a fair sample of the paper.
    sample = contrast[:: max(1, contrast.size // _SAMPLE)]
    middle, spread = paper_grain(sample)
    grain = max(middle + _SIGMAS_LOW * spread, _LEAST_CONTRAST)
    start = max(middle + _SIGMAS_HIGH * spread, 1.5 * _LEAST_CONTRAST)
    grain, start = below_ink(sample, grain, start)
    typical = _core_contrast(contrast, start)
    low = max(grain, 0.5 * faintest * typical)
    return Levels(grain, typical, low, max(start, faintest * typical))


def below_ink(contrast: Singles, *levels: float) -> tuple[float, ...]:
    """Levels above the grain of the paper, lowered where most of what was measured is ink.

    Where meshes, hatching or bold scribbles cover the page, its median and spread tell of ink, and levels
    that are multiples of them lie beyond all contrast. What is drawn then lies clearly apart from the paper.

    Parameters
    ----------
    contrast : ndarray of float32
        Contrast, 0 for paper.
    *levels : float
        Ascending.

    Returns
    -------
    tuple of float
        The same, or all lowered by one factor so that the last one is half the contrast of the darkest ink.
    """
    most = 0.5 * quantile(contrast, _DARKEST)
    if not levels[-1] > most > 0.5 * _CLEAR_INK:
        return levels
    return tuple(level * most / levels[-1] for level in levels)


def _core_contrast(contrast: Singles, start: float) -> float:
    """Typical contrast of the ridges of the drawing; 0 where there is no line.

    The darker ones weigh more: what paper and crayon leave above the threshold is more in number, and what
    was meant is darker.
    """
    ridge = (contrast > start) & (contrast >= dilation(contrast, 3))
    return quantile(contrast, 0.4, ridge, power=2)


def hysteresis(may: Flags, sure: Flags) -> Flags:
    """Connected pieces of `may` that hold at least one pixel of `sure`.

    Parameters
    ----------
    may, sure : ndarray of bool, shape (H, W)
        Candidates, and those among them that are certain.

    Returns
    -------
    ndarray of bool, shape (H, W)
        The pieces kept.
    """
    count, labels = cv2.connectedComponents(may.view(np.uint8), connectivity=8)
    keep = np.zeros(count, np.bool_)
    keep[labels[sure & may]] = True
    keep[0] = False
    return np.asarray(keep[labels])
