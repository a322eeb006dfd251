"""The grey in which the drawing shows best, and the small picture on which it is judged as a whole.

The page's grey is already dark where a thin coloured line runs. What is left to decide is whether colour
is line or paint: where the lines are neutral (graphite, black ink) and wide areas are coloured, the
colour was put in afterwards. In its strongest channel a crayon is almost as pale as paper, while graphite
is dark in all three, so that there the pencil shows through the paint.

Limits: a shape that is drawn by its paint alone, without an outline, has no ink; dark paint (brown,
deep blue, violet) is dark in every channel and counts as ink.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from limner.ink.dark.threshold import hysteresis
from limner.ink.filters import closing, gaussian, grow, odd, quantile, shrink
from limner.ink.scale import resample, resample_channels
from limner.model.arrays import Flags, Singles
from limner.model.raster import FlatPage

__all__ = ["Overview", "ink_signal", "overview"]

_SMALL_SIDE_PX = 1600
"""Long side of the overview: a 0.5 mm line on A4 is then 2.7 px wide, enough to be measured by its soft
edges, at a twelfth of a photograph's pixels."""

_COLOURED = 0.14
"""Chroma (largest less smallest channel, 0 to 1) from which a mark is coloured: graphite under warm or cool
light stays below 0.1 once the paper is white, ball-pen blue and crayons lie above 0.2."""

_TINTED = 0.08
"""Average chroma from which a crayon went over the paper; bare paper, once white, has a third of that."""

_BRIGHT = 0.5
"""Level of the strongest channel from which colour is paint rather than ink with a tint."""

_FILL_SHARE = 0.012
"""Colour wider than this share of the long side is a fill, not a line: 3.5 mm on A4."""

_LEAST_PAINT = 0.005
"""Share of the page from which paint is worth a second look."""


@dataclass(frozen=True, slots=True, eq=False)
class Overview:
    """The page, small.

    Parameters
    ----------
    grey : ndarray of float32, shape (h, w)
        Grey in which ink is dark, paper near 1, paint taken out.
    paint : ndarray of bool, shape (h, w), or None
        Where colour is paint.
    step : float
        Page pixels per pixel.
    """

    grey: Singles
    paint: Flags | None
    step: float


def overview(page: FlatPage) -> Overview:
    """Reduce the page to a size at which it can be judged as a whole.

    Parameters
    ----------
    page : FlatPage
        The page.

    Returns
    -------
    Overview
        Some 800 to 1600 px on its long side (less where the page is smaller).
    """
    ratio = max(page.grey.shape) / _SMALL_SIDE_PX
    step = float(max(1.0, np.ceil(ratio) if ratio > 2 else np.ceil(2 * ratio) / 2))
    grey = resample(page.grey, step)
    most, chroma = _most_and_chroma(page, step)
    paint = _find_paint(grey, most, chroma)
    if paint is not None:
        grey = np.where(paint, most, grey)
    return Overview(grey, paint, step)


def ink_signal(page: FlatPage, seen: Overview, step: float) -> Singles:
    """Grey picture on the working raster in which ink is dark and paper is near 1.

    Parameters
    ----------
    page : FlatPage
        The page.
    seen : Overview
        The same page, small.
    step : float
        Page pixels per working pixel.

    Returns
    -------
    ndarray of float32, shape (H, W)
        The signal, 0 to 1.
    """
    grey = resample(page.grey, step)
    if seen.paint is None:
        return grey
    most, _ = _most_and_chroma(page, step)
    height, width = grey.shape
    scale = step / seen.step
    rows = np.minimum(((np.arange(height) + 0.5) * scale).astype(np.intp), seen.paint.shape[0] - 1)
    columns = np.minimum(((np.arange(width) + 0.5) * scale).astype(np.intp), seen.paint.shape[1] - 1)
    return np.where(seen.paint[np.ix_(rows, columns)], most, grey)


def _most_and_chroma(page: FlatPage, step: float) -> tuple[Singles, Singles]:
    """Strongest channel, and its distance from the weakest."""
    red, green, blue = resample_channels(page.colour, step)
    # A picture of two channels instead of three is taken to decimals.
    most, least = (
        np.asarray(of(of(red, green), blue), np.uint8).astype(np.float32) * np.float32(1 / 255)
        for of in (cv2.max, cv2.min)
    )
    return most, most - least


def _find_paint(grey: Singles, most: Singles, chroma: Singles) -> Flags | None:
    """Where wide areas are coloured although the lines are not; None where colour is ink like any other."""
    width = _FILL_SHARE * max(grey.shape)
    # Crayon lets the paper show through: its colour is averaged, its gaps are closed.
    even = gaussian(chroma, 0.25 * width)
    bright = gaussian(most, 0.25 * width) > np.float32(_BRIGHT)
    filled = shrink(grow((even > np.float32(_TINTED)) & bright, 0.5 * width), 0.5 * width)
    wide = grow(shrink(filled, width), width)
    if wide.mean() < _LEAST_PAINT:
        return None
    hat = closing(grey, odd(width)) - grey
    lines = (hat > max(0.15, 0.5 * quantile(hat, 0.995, ~wide))) & ~wide
    if not lines.any() or quantile(chroma, 0.5, lines) > _COLOURED:
        return None
    # The faint rim of the crayon goes with it.
    return grow(wide | hysteresis(even > np.float32(0.5 * _TINTED), wide), width)
