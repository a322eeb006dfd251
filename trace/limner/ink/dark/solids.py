"""Solid blacks: dark places wider than a line.

Darkness is judged against the drawing's own lines: a smudge or a shadow is wide but pale, a solid black
is wide and about as dark as the lines. Graphite is patchy, so it is the darkness averaged over a good
part of a line's width that counts.
"""

import cv2
import numpy as np

from limner.ink.dark.threshold import Levels, hysteresis
from limner.ink.filters import distance_inside, grow
from limner.model.arrays import Flags, Singles

__all__ = ["find_solids"]

_DARK = 0.42
"""Share of the typical line's contrast from which a wide place is solid: shading by the side of a pencil
stays under 0.4 of what its point leaves."""

_LEAST_DARK = 0.15
"""However pale the lines, what is darker than paper by less than this is shading, not a solid black."""

_NARROWEST = 0.6
"""A solid black runs on into parts down to this share of the width that it needs somewhere; without the
two widths a thick line would become a string of beads."""

_BOX_IN_DISC = 0.65
"""Half the side of a box within a disc, as a share of its radius: the root of a half is the largest."""


def find_solids(tone: Singles, levels: Levels, line_width: float, wider_than: float) -> Flags:
    """Pixels of solid blacks.

    Parameters
    ----------
    tone : ndarray of float32, shape (H, W)
        Encoded grey, averaged over patches, paper near 1.
    levels : Levels
        Contrasts of the drawing.
    line_width : float
        Typical width of the lines, pixels.
    wider_than : float
        Width in lines from which a dark place is solid.

    Returns
    -------
    ndarray of bool, shape (H, W)
        The solid blacks, without the lines that lead out of them.
    """
    level = 1 - max(_DARK * levels.typical, _LEAST_DARK)
    dark = tone < np.float32(level)
    deepest, least = (0.5 * share * wider_than * line_width for share in (1.0, _NARROWEST))
    solid = np.zeros(dark.shape, np.bool_)
    window = _where_deep(dark, deepest, least)
    if window is not None:
        inside = np.ascontiguousarray(dark[window])
        depth = distance_inside(inside)
        around = hysteresis(depth > least, depth > deepest)
        solid[window] = inside & grow(around, least)
    return solid


def _where_deep(dark: Flags, deepest: float, least: float) -> tuple[slice, slice] | None:
    """Rows and columns around all places that hold one deeper than `deepest` and are deeper than `least`.

    None where there are none. Told by boxes that fit into the discs of those radii, in a tenth of the time
    that distances take.
    """
    core, wide = (
        cv2.erode(dark.view(np.uint8), np.ones((2 * int(_BOX_IN_DISC * radius) + 1,) * 2, np.uint8))
        for radius in (deepest, least)
    )
    if not cv2.hasNonZero(core):
        return None
    count, labels, stats, _ = cv2.connectedComponentsWithStats(wide, connectivity=8)
    found = np.zeros(count, np.bool_)
    found[labels[core > 0]] = True
    margin = int(deepest + 2 * least) + 2
    left, top = stats[found][:, [cv2.CC_STAT_LEFT, cv2.CC_STAT_TOP]].min(axis=0) - margin
    right, bottom = (
        stats[found][:, [cv2.CC_STAT_LEFT, cv2.CC_STAT_TOP]]
        + stats[found][:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]]
    ).max(axis=0) + margin
    return slice(max(0, int(top)), int(bottom)), slice(max(0, int(left)), int(right))
