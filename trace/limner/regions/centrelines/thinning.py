"""Thin the ink to its skeleton.

Method: the ink is peeled layer by layer. Within a layer, pixels whose removal does not change the topology of
the 3 x 3 neighbourhood (simple points, 8-connected ink, 4-connected paper) and which are no ends are removed
in four subfields of the pixel lattice in turn, so that no two neighbours vanish at once (after Bertrand and
Aktouf's parallel thinning by subfields, 1994, from memory). Whether a neighbourhood may lose its centre is
looked up in a table of its 256 forms, built here from the definition. Only the ink's own pixels are
visited, all of a layer at once.

Limits: the result is 8-connected, one pixel thin and has exactly the topology of the mask, but each layer
is peeled with the metric of the chessboard: positions are good to about a pixel and are refined later.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["NEIGHBOURS", "thin"]

# The eight neighbours (row, column), clockwise from the top left; bit k of a code is neighbour k.
NEIGHBOURS = ((-1, -1), (-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1))

_SIDES = (1, 3, 5, 7)


def thin(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Skeleton of a mask.

    Parameters
    ----------
    mask : ndarray of bool, shape (H, W)
        Ink; its outermost rows and columns count as paper.

    Returns
    -------
    ndarray of bool, shape (H, W)
    """
    width = mask.shape[1]
    work = mask.astype(np.uint8)
    work[[0, -1]] = 0
    work[:, [0, -1]] = 0
    flat = work.ravel()
    offsets = np.array([row * width + column for row, column in NEIGHBOURS])
    removable = _removable()
    left = np.flatnonzero(flat)
    while True:
        inner = flat[left + offsets[_SIDES[0]]].copy()
        for side in _SIDES[1:]:
            inner &= flat[left + offsets[side]]
        rim = left[inner == 0]
        subfield = 2 * ((rim // width) & 1) + ((rim % width) & 1)
        for which in range(4):
            pixels = rim[subfield == which]
            code = flat[pixels + offsets[0]].copy()
            for bit in range(1, 8):
                code |= flat[pixels + offsets[bit]] << bit
            flat[pixels[removable[code]]] = 0
        remaining = left[flat[left] == 1]
        if len(remaining) == len(left):
            return work.astype(bool)
        left = remaining


@cache
def _removable() -> NDArray[np.bool_]:
    """For each of the 256 neighbourhoods, whether its centre is a simple point and no end."""
    table = np.zeros(256, bool)
    for code in range(256):
        ring = [code >> bit & 1 for bit in range(8)]
        # Number of 8-connected pieces of ink around the centre: Yokoi's crossing number for
        # 8-connectivity, the sum over the sides of (1 - x) - (1 - x)(1 - next)(1 - next but one).
        crossings = 0
        for side in _SIDES:
            paper = [1 - ring[side], 1 - ring[(side + 1) % 8], 1 - ring[(side + 2) % 8]]
            crossings += paper[0] - paper[0] * paper[1] * paper[2]
        table[code] = crossings == 1 and sum(ring) >= 2
    table.flags.writeable = False
    return table
