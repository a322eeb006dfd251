"""A raster worked through tile by tile, where something is drawn.

What is worked out for a tile stays in the processor's cache, and most of a page is bare paper. Each tile
comes with a margin, so that what looks at the surroundings of a pixel sees them.

Limits: averages by running sums round differently in a tile, at the seventh digit.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from limner.model.arrays import Flags

__all__ = ["Tile", "tiles"]

Window = tuple[slice, slice]

_SIDE_PX = 1000
"""Largest side of a tile without its margin: smaller ones would be worked through more than once for their
margins, larger ones fit into no cache."""


@dataclass(frozen=True, slots=True)
class Tile:
    """A part of a raster.

    Parameters
    ----------
    around : tuple of slice
        Its rows and columns with the margin, as far as the raster goes; they start at even ones, as some
        steps work on blocks of two by two.
    own : tuple of slice
        Its rows and columns.
    within : tuple of slice
        The same, counted from the first of `around`.
    """

    around: Window
    own: Window
    within: Window


def tiles(mask: Flags, margin: int) -> Iterator[Tile]:
    """The tiles that hold something, or lie within the margin of it.

    Parameters
    ----------
    mask : ndarray of bool, shape (H, W)
        Where something is drawn.
    margin : int
        Pixels on every side.

    Yields
    ------
    Tile
        Row by row.
    """
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if len(rows) == 0:
        return
    for own_rows in _parts(max(0, int(rows[0]) - margin), min(int(rows[-1]) + margin + 1, mask.shape[0])):
        for own_columns in _parts(
            max(0, int(columns[0]) - margin), min(int(columns[-1]) + margin + 1, mask.shape[1])
        ):
            tile = _tile((own_rows, own_columns), (mask.shape[0], mask.shape[1]), margin + margin % 2)
            if cv2.hasNonZero(mask.view(np.uint8)[tile.around]):
                yield tile


def _parts(first: int, end: int) -> list[slice]:
    """A range in parts of about the same size, each from an even number on."""
    first -= first % 2
    count = -(-(end - first) // _SIDE_PX)
    bounds = [first + (end - first) * part // count // 2 * 2 for part in range(count)] + [end]
    return [slice(low, high) for low, high in pairwise(bounds)]


def _tile(own: Window, shape: tuple[int, int], margin: int) -> Tile:
    around, within = [], []
    for part, end in zip(own, shape, strict=True):
        first = max(0, part.start - margin)
        around.append(slice(first, min(part.stop + margin, end)))
        within.append(slice(part.start - first, part.stop - first))
    return Tile((around[0], around[1]), own, (within[0], within[1]))
