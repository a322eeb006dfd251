"""Solid blacks: dark places wider than a line.

Darkness is judged against the drawing's own lines: a smudge or a shadow is wide but pale, a solid black
is wide and about as dark as the lines. Graphite is patchy, so it is the darkness averaged over a good
part of a line's width that counts.
"""

import numpy as np

from limner.ink.filters import Bits, Floats, distance_inside, grow
from limner.ink.threshold import Levels, hysteresis

__all__ = ["find_solids"]

_DARK = 0.42
"""Share of the typical line's contrast from which a wide place is solid: shading by the side of a pencil
stays under 0.4 of what its point leaves."""

_LEAST_DARK = 0.15
"""However pale the lines, what is darker than paper by less than this is shading, not a solid black."""

_NARROWEST = 0.6
"""A solid black runs on into parts down to this share of the width that it needs somewhere; without the
two widths a thick line would become a string of beads."""


def find_solids(tone: Floats, levels: Levels, line_width: float, wider_than: float) -> Bits:
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
    depth = distance_inside(dark)
    core = depth > 0.5 * wider_than * line_width
    around = hysteresis(depth > 0.5 * _NARROWEST * wider_than * line_width, core)
    return dark & grow(around, 0.5 * _NARROWEST * wider_than * line_width)
