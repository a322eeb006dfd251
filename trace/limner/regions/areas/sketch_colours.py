"""Default colours of areas, so that neighbours differ, or those of the sketch itself.

Method: each area asks for the tint that its name hashes to, so that an area keeps its colour when others
come and go; where a neighbour already has it, the next free tint is taken, larger areas choosing first. An
area that was coloured in takes the median of the page's colour over its own pixels.

Limits: a tint repeats between neighbours only where more than the whole palette surrounds one area.
"""

import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from limner.model.colour import screen_of
from limner.model.raster import FlatPage, InkMap

__all__ = ["PALETTE", "SOLID", "is_coloured", "sketch_colours", "tint_areas"]


# Light, soft tints on which a pencil line reads well: sand, seafoam, coral, shell pink, kelp, lagoon, sun,
# lilac, mist.
PALETTE = (
    "#f2dcb8",
    "#bfe3d6",
    "#f4b39d",
    "#f6d3d8",
    "#b9cf95",
    "#a9d4e6",
    "#f7e08f",
    "#cfc3e6",
    "#d9dee2",
)

# Areas that are solid black in the sketch: a soft black, as of a pencil pressed hard.
SOLID = "#3a3735"

# How much colour (chroma in CIELAB) or grey (lightness below paper) makes an area coloured in: twice what
# an even light leaves on bare paper.
_LEAST_CHROMA = 9.0
_LEAST_DEPTH = 12.0

# What is nearly white and nearly grey, 0 to 255, is below both: found out by trying all such colours.
_PAPER_LEAST, _PAPER_SPREAD = 222, 10

# From linear sRGB to the arguments of CIELAB's cube roots, white point D65 (IEC 61966-2-1; ISO/CIE 11664-4).
_TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], dtype=np.float32
)
_WHITE = _TO_XYZ.sum(axis=1)

# Share of the area that must be coloured: hand colouring leaves white gaps.
_LEAST_SHARE = 0.5


def tint_areas(
    names: Sequence[str], sizes: Sequence[float], neighbours: Sequence[set[int]], fills: Sequence[str | None]
) -> list[str]:
    """Give every area without a fill a tint.

    Parameters
    ----------
    names : sequence of str
        Decide which tint an area asks for.
    sizes : sequence of float
        Larger areas choose first.
    neighbours : sequence of set of int
        Areas that touch each one.
    fills : sequence of str or None
        Fills already decided.

    Returns
    -------
    list of str
    """
    chosen = list(fills)
    for area in sorted(range(len(names)), key=lambda number: (-sizes[number], names[number])):
        if chosen[area] is not None:
            continue
        around = {chosen[other] for other in neighbours[area]}
        first = zlib.crc32(names[area].encode()) % len(PALETTE)
        turn = [PALETTE[(first + step) % len(PALETTE)] for step in range(len(PALETTE))]
        chosen[area] = next((tint for tint in turn if tint not in around), turn[0])
    return [fill or PALETTE[0] for fill in chosen]


def sketch_colours(ink: InkMap, page: FlatPage, labels: NDArray[np.int32], count: int) -> list[str | None]:
    """Colours of areas that were coloured in.

    Parameters
    ----------
    ink : InkMap
        Where ink is.
    page : FlatPage
        The page whose colours count.
    labels : ndarray of int32, shape (h, w)
        Area of each pixel of a reduced raster over the page, ink left out; -1 elsewhere.
    count : int
        Number of areas.

    Returns
    -------
    list of (str or None)
        "#rrggbb", or None where the paper is bare.
    """
    height, width = ink.coverage.shape
    scale = np.array([width / labels.shape[1], height / labels.shape[0]])
    rows, columns = np.nonzero(labels >= 0)
    if len(rows) == 0:  # ink on every pixel of so small a raster
        return [None] * count
    area = labels[rows, columns]
    at = (np.stack([columns, rows], axis=1) + 0.5) * scale
    to_page = np.linalg.inv(page.to_photo) @ ink.to_photo
    mapped = np.column_stack([at, np.ones(len(at))]) @ to_page.T
    where = np.floor(mapped[:, :2] / mapped[:, 2:]).astype(int)
    where[:, 0] = np.clip(where[:, 0], 0, page.colour.shape[1] - 1)
    where[:, 1] = np.clip(where[:, 1], 0, page.colour.shape[0] - 1)
    rgb = page.colour[where[:, 1], where[:, 0]]
    coloured = is_coloured(rgb)
    pixels = np.bincount(area, minlength=count)
    share = np.bincount(area[coloured], minlength=count) / np.maximum(pixels, 1)
    fills: list[str | None] = [None] * count
    order = np.argsort(area, kind="stable")
    bounds = np.searchsorted(area[order], np.arange(count + 1))
    for number in np.flatnonzero(share >= _LEAST_SHARE).tolist():
        mine = order[bounds[number] : bounds[number + 1]]
        red, green, blue = np.median(rgb[mine[coloured[mine]]], axis=0).astype(int)
        fills[number] = screen_of((red, green, blue))
    return fills


def is_coloured(rgb: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Which colours stand out from bare paper, by chroma or depth in CIELAB.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (n, 3)
        sRGB.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    lowest = np.minimum(np.minimum(rgb[:, 0], rgb[:, 1]), rgb[:, 2])
    highest = np.maximum(np.maximum(rgb[:, 0], rgb[:, 1]), rgb[:, 2])
    coloured = (lowest < _PAPER_LEAST) | (highest - lowest > _PAPER_SPREAD)
    # Most of a page is paper, and cube roots are slow; the library's are fast, but its tables are not.
    lightness, chroma = _lightness_and_chroma(rgb[coloured])
    coloured[coloured] = (chroma > _LEAST_CHROMA) | (lightness < 100.0 - _LEAST_DEPTH)
    return coloured


def _lightness_and_chroma(rgb: NDArray[np.uint8]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    value = np.arange(256, dtype=np.float32) / np.float32(255.0)
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)
    share = (linear[rgb] @ _TO_XYZ.T) / _WHITE
    root = np.where(share > (6 / 29) ** 3, np.cbrt(share), share * (29 / 6) ** 2 / 3 + 4 / 29)
    lightness = 116 * root[:, 1] - 16
    return lightness, np.hypot(500 * (root[:, 0] - root[:, 1]), 200 * (root[:, 1] - root[:, 2]))
