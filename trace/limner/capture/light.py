"""Even out the light on a page: bare paper becomes white everywhere, drawn things keep their tone.

Method, at a coarse resolution:

1. A grey closing wider than any line removes the lines and leaves the paper under its light. It follows
   shadows and folds exactly, however hard their edge, as an edge between two half-planes is its own
   closing; so no halo is left along them.
2. Solid blacks and coloured fills are wider than the closing and stay in it as dips. A dip is taken as
   drawn where it is far darker than any light explains (against an upper envelope whose slope is
   limited, as light falls off gradually), where it is coloured unlike the paper's surroundings, or
   where it is small and either deep or sharp-edged. There the paper is filled in from around. Dips are
   sought in a picture without its grain, as bright grains in pale graphite would close it.
3. The closing sits on the brightest grains of the paper; the mean of the paper around makes up for it.

At the full resolution the photograph is then multiplied by the inverse of that paper, in strips.

All ratios are taken of gamma-coded samples: under a power law the ratio of ink to paper does not
depend on the light, and faint pencil keeps a visible contrast.

Limits: a wide, smooth, uncoloured grey area (evenly smudged graphite over more than an eighth of the
picture) cannot be told from a shadow and is evened out; a sharp-edged shadow narrower than that and
darker than a fifth can be taken for a drawn tone; where a hard shadow's edge meets the picture's border at
a slant, a pixel or two of it stay.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.capture.surfaces import (
    close,
    envelope,
    filled_in,
    grow,
    highest,
    lowest,
)
from limner.model.arrays import Flags

__all__ = ["Light", "even_light", "measure_light"]

Bytes8 = NDArray[np.uint8]
Floats32 = NDArray[np.float32]

# Lines are narrower than this share of the longest side: a 5 mm marker on A5 is at 0.025.
_LINE_SHARE = 0.03

# Grain is averaged over this share of the longest side (standard deviation) where drawn tones are sought:
# less than a line is wide, and more than a grain.
_GRAIN_SHARE = 0.0025

# Drawn tones up to this share are told from shadows by their edge.
_TONE_SHARE = 0.12

# Light falls off by no more than half over this share of the longest side; hard shadows apart.
_HALVING_SHARE = 0.15

# Colour of the light changes far more slowly than its strength.
_TINT_HALVING_SHARE = 0.8

# Paper in the deepest shadow of a hand indoors keeps about half of its (gamma-coded) level; black ink
# has about a quarter.
_DARKEST_SHADOW = 0.42

# Against light that falls off very slowly, blacks are below this; and at least this share of a wide
# black is seen to be dark at its edge.
_BLACK = 0.45
_SURE_SHARE = 0.1

# Spread of the channels (largest less smallest, over largest) that mixed light does not reach.
_TINT = 0.3

# Coloured pencil: spread of the channels where there is any, how much of a place shows it, and its
# standard deviation, which the noise of a photograph stays below.
_CRAYON_TINT = 0.12
_CRAYON_SHARE = 0.6
_CRAYON_UNEVEN = 0.045

# A small dip is looked at below this level, and is deep below the other.
_DIP = 0.8
_DEEP_DIP = 0.55

# Steepest step over four pixels along a dip's border as a share of its depth: drawn edges are above.
_SHARP = 0.35

# Islands of paper smaller than this share of the picture, enclosed by drawn fills, are filled in too.
_ISLAND_SHARE = 0.02

# A strip of table along the border: at least this share of a side long, at most that share deep.
_STRIP_LENGTH_SHARE = 0.5
_STRIP_DEPTH_SHARE = 0.12

# All channels of the table and of the shade at the paper's edge are below this share of the paper.
_SHADE = 0.75

# Colour counts as ink beyond what the noise in bare paper shows, which is at most this.
_LARGEST_NOISE = 16

# It is measured on one in so many cells of the grid in x and y: a hundred thousand pixels are enough.
_NOISE_CELLS = 2

_STRIP_ROWS_PX = 128

_EPSILON = np.float32(1e-3)


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """The light on a page, on a grid coarser than its pixels.

    Parameters
    ----------
    gain : ndarray of float32, shape (h, w, 3)
        What the page's samples (0 to 255) are multiplied by, so that bare paper becomes 255.
    filled : ndarray of float32, shape (h, w)
        1 in and around wide coloured fills, 0 elsewhere.
    outside : ndarray of float32, shape (h, w)
        1 on strips of table along the border of the picture, 0 on the page.
    covered : tuple of float
        Width and height of the page in cells of the grid: its last cells may be cut by the page's border.
    """

    gain: Floats32
    filled: Floats32
    outside: Floats32
    covered: tuple[float, float]


def measure_light(coarse: Bytes8, covered: tuple[float, float]) -> Light:
    """Measure the light on a small picture of a page.

    Parameters
    ----------
    coarse : ndarray of uint8, shape (h, w, 3)
        The page, sRGB, no larger than a thousand pixels or so.
    covered : tuple of float
        Width and height of the page in pixels of that picture, which may leave out a rest of a pixel.

    Returns
    -------
    Light
    """
    rows, columns = coarse.shape[:2]
    closed = close(coarse, _LINE_SHARE * max(rows, columns))
    tinted, drawn = _drawn(coarse, _closed_tones(coarse))
    paper = filled_in(closed.astype(np.float32), ~drawn)
    paper = np.maximum(paper, 1.0)
    paper *= _bias(coarse, paper, drawn)
    spread = round(_LINE_SHARE * max(rows, columns))
    filled: Any = cv2.blur(grow(tinted, 2 * spread).astype(np.float32), (5, 5))
    shade = highest(coarse / paper) < np.float32(_SHADE)
    outside = grow(_strips(drawn, shade), spread // 3).astype(np.float32)
    return Light(np.float32(255.0) / paper, filled, outside, covered)


def even_light(rgb: Bytes8, light: Light) -> tuple[Floats32, Bytes8]:
    """Apply the inverse of the light.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The page that `light` was measured on.
    light : Light
        Its light.

    Returns
    -------
    grey : ndarray of float32, shape (H, W)
        1 on bare paper. Luminance, less the colour of thin coloured lines: a line is as dark as its
        darkest channel, so that pink or yellow pencil shows as much as graphite does. Wide coloured
        fills keep their luminance, so that lines on them show.
    colour : ndarray of uint8, shape (H, W, 3)
        The page with white paper.
    """
    height, width = rgb.shape[:2]
    grey = np.empty((height, width), np.float32)
    colour = np.empty_like(rgb)
    noise = _colour_noise(rgb, light)
    table, painted = bool(light.outside.any()), bool(light.filled.any())
    for top in range(0, height, _STRIP_ROWS_PX):
        strip = _Strip(slice(top, min(top + _STRIP_ROWS_PX, height)), rgb.shape, light.covered)
        even: Any = cv2.multiply(rgb[strip.rows], strip.enlarged(light.gain), dtype=cv2.CV_8U)
        if table:
            even[strip.enlarged(light.outside) > np.float32(0.5)] = 255
        colour[strip.rows] = even
        grey[strip.rows] = _grey(even, strip.enlarged(light.filled) if painted else None, noise)
    return grey, colour


def _grey(even: Bytes8, filled: Floats32 | None, noise: int) -> Floats32:
    """Luminance less the colour beyond the noise, 0 to 1, where the page is not filled in colour."""
    luminance: Any = cv2.cvtColor(even, cv2.COLOR_RGB2GRAY)
    excess: Any = cv2.subtract(luminance, lowest(even))
    excess = np.maximum(excess, np.uint8(noise)) - np.uint8(noise)
    if filled is not None:
        excess = cv2.multiply(excess, 1.0 - filled, dtype=cv2.CV_8U)
    return np.asarray(cv2.subtract(luminance, excess).astype(np.float32) * np.float32(1.0 / 255.0))


def _colour_noise(rgb: Bytes8, light: Light) -> int:
    """How far the channels differ on bare paper by noise alone, in steps of 1/255."""
    gain = np.ascontiguousarray(light.gain[::_NOISE_CELLS, ::_NOISE_CELLS])
    across, down = rgb.shape[1] / light.covered[0], rgb.shape[0] / light.covered[1]
    row, column = (
        np.minimum(((np.arange(count) * _NOISE_CELLS + 0.5) * size).astype(np.intp), end - 1)
        for count, size, end in zip(gain.shape[:2], (down, across), rgb.shape[:2], strict=True)
    )
    even: Any = cv2.multiply(rgb[np.ix_(row, column)], gain, dtype=cv2.CV_8U)
    luminance: Any = cv2.cvtColor(even, cv2.COLOR_RGB2GRAY)
    excess = cv2.subtract(luminance, lowest(even))[luminance >= 240]
    return min(int(np.percentile(excess, 90)), _LARGEST_NOISE) if excess.size else 0


@dataclass(frozen=True, slots=True)
class _Strip:
    """Some rows of a page of a given shape that covers so many cells of a grid in x and y."""

    rows: slice
    shape: tuple[int, ...]
    covered: tuple[float, float]

    def enlarged(self, grid: Floats32) -> Floats32:
        """Interpolate a grid linearly to the pixels of the rows; beyond its last cells it stays level."""
        height, width = self.shape[:2]
        across, down = self.covered[0] / width, self.covered[1] / height
        # The library counts from the centre of the first pixel and of the first cell.
        matrix = np.array(
            [[across, 0.0, (across - 1.0) / 2.0], [0.0, down, (self.rows.start + 0.5) * down - 0.5]]
        )
        return np.asarray(
            cv2.warpAffine(
                grid,
                matrix,
                (width, self.rows.stop - self.rows.start),
                flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                borderMode=cv2.BORDER_REPLICATE,
            )
        )


def _closed_tones(coarse: Bytes8) -> Bytes8:
    """The page without its lines and without its grain."""
    side = max(coarse.shape[:2])
    even: Any = cv2.GaussianBlur(coarse, (0, 0), max(0.5, _GRAIN_SHARE * side))
    return close(even, _LINE_SHARE * side)


def _drawn(coarse: Bytes8, closed: Bytes8) -> tuple[Flags, Flags]:
    """Where a page shows wide coloured fills, and where anything wide is drawn at all."""
    side = max(closed.shape[:2])
    level = closed.astype(np.float32)
    lit = np.maximum(envelope(level, _TINT_HALVING_SHARE), 1.0)
    dark = highest(level / np.maximum(envelope(level, _HALVING_SHARE), 1.0)) < _DARKEST_SHADOW
    dark = _whole_blacks(dark, highest(level / lit) < _BLACK)
    tinted = _tint(level / lit) > _TINT
    tinted = (tinted & ~dark) | _crayoned(
        (coarse / lit).astype(np.float32, copy=False), round(_LINE_SHARE * side)
    )
    drawn = grow(dark | tinted | _small_tones(closed), max(3, round(0.007 * side)))
    return tinted, _without_islands(drawn)


def _whole_blacks(dark: Flags, black: Flags) -> Flags:
    """Add the middle of blacks so wide that light could have fallen off towards it.

    It counts where a good part of its connected piece is dark beyond doubt, as it is along a sharp
    edge; a picture's dark corner has no such part.
    """
    count, labels = cv2.connectedComponents((dark | black).astype(np.uint8))
    pieces = np.asarray(labels, dtype=np.intp).ravel()
    sizes = np.bincount(pieces, minlength=count)
    sure = np.bincount(pieces, dark.ravel(), minlength=count) >= _SURE_SHARE * sizes
    sure[0] = False
    return np.asarray(dark | sure[labels])


def _crayoned(ratio: Floats32, size_px: int) -> Flags:
    """Fills of coloured pencil, through which the paper's grain shows, so that the closing is pale.

    Colour covers most of such a place, and unevenly: lines cover less, coloured light is even.
    """
    spread = highest(ratio) - lowest(ratio)
    window = (2 * (size_px // 2) + 1,) * 2
    mean = np.asarray(cv2.blur(spread, window))
    square = np.asarray(cv2.blur(spread * spread, window))
    share = np.asarray(cv2.blur((spread > np.float32(_CRAYON_TINT)).astype(np.float32), window))
    uneven = square - mean * mean > np.float32(_CRAYON_UNEVEN**2)
    return np.asarray((share > np.float32(_CRAYON_SHARE)) & uneven)


def _tint(ratio: NDArray[np.floating[Any]]) -> Floats32:
    most = highest(ratio)
    return np.asarray((most - lowest(ratio)) / np.maximum(most, _EPSILON))


def _small_tones(closed: Bytes8) -> Flags:
    """Dips up to `_TONE_SHARE` wide that are deep or sharp-edged."""
    upper = np.maximum(close(closed, _TONE_SHARE * max(closed.shape[:2])), closed).astype(np.float32)
    ratio = lowest(closed / np.maximum(upper, 1.0))
    dips: Flags = ratio < _DIP
    dip = dips.astype(np.uint8)
    count, found = cv2.connectedComponents(dip)
    labels = np.asarray(found, dtype=np.intp)
    if count < 2:
        return dips
    rise = highest(cv2.morphologyEx(closed, cv2.MORPH_GRADIENT, np.ones((5, 5), np.uint8)))
    near = cv2.dilate(labels.astype(np.float32), np.ones((5, 5))).astype(np.intp)
    border = (near > 0) & (cv2.erode(dip, np.ones((3, 3))) == 0)
    length = np.bincount(near[border], minlength=count)
    mean_rise = np.bincount(near[border], rise[border], minlength=count) / np.maximum(length, 1)
    depth = np.zeros(count, np.float32)
    np.maximum.at(depth, labels[dips], highest(upper - closed)[dips])
    faintest = np.ones(count, np.float32)
    np.minimum.at(faintest, labels[dips], ratio[dips])
    drawn: Flags = (mean_rise > _SHARP * np.maximum(depth, 1.0)) | (faintest < _DEEP_DIP)
    drawn[0] = False
    return drawn[labels]


def _without_islands(drawn: Flags) -> Flags:
    """Add small pieces of paper that drawn fills enclose."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats((~drawn).astype(np.uint8))
    if count < 3:
        return drawn
    small = stats[:, cv2.CC_STAT_AREA] < _ISLAND_SHARE * drawn.size
    small[1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))] = False
    return np.asarray(drawn | small[labels])


def _strips(drawn: Flags, shade: Flags) -> Flags:
    """Dark strips along the border of the picture: what lies beyond the edge of the paper.

    `shade` is what is darker than paper at all: it leads into the ends of a strip that tapers.
    """
    outside = np.zeros_like(drawn)
    for turns in range(4):
        turned = np.rot90(outside, turns)
        turned |= _top_strip(np.rot90(drawn, turns), np.rot90(shade, turns))
    return outside


def _top_strip(drawn: Flags, shade: Flags) -> Flags:
    """The strip along the first row, if there is one."""
    deepest = round(_STRIP_DEPTH_SHARE * len(drawn))
    strip = np.zeros_like(drawn)
    if np.count_nonzero(drawn[0]) < _STRIP_LENGTH_SHARE * drawn.shape[1]:
        return strip
    count, labels, stats, _ = cv2.connectedComponentsWithStats(drawn.astype(np.uint8))
    contact = np.bincount(labels[0], minlength=count)
    found = (contact >= _STRIP_LENGTH_SHARE * drawn.shape[1]) & (stats[:, cv2.CC_STAT_HEIGHT] <= deepest)
    found[0] = False
    if found.any():
        strip = found[labels]
        rows = slice(0, deepest + 1)
        _, pieces = cv2.connectedComponents((strip | shade)[rows].astype(np.uint8))
        strip[rows] |= np.isin(pieces, np.unique(pieces[strip[rows]]))
    return np.asarray(strip)


def _bias(coarse: Bytes8, paper: Floats32, drawn: Flags) -> Floats32:
    """Mean of bare paper over its closing: slowly varying, so that shadows' edges stay where they are."""
    ratio = coarse / paper
    bare = (lowest(ratio) > np.float32(0.9)) & ~drawn
    size = 2 * round(0.02 * max(drawn.shape)) + 1
    weight = cv2.blur(bare.astype(np.float32), (size, size))
    total: Any = cv2.blur(ratio * bare[:, :, None], (size, size))
    known = weight > np.float32(0.1)
    return filled_in(total / np.maximum(weight, _EPSILON)[:, :, None], known)
