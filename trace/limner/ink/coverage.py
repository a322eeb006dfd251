"""Soft coverage: where between two pixels the edge of the ink runs.

Coverage is how far a pixel has gone from the paper beside the line to the ink within it,

    coverage = (paper - light) / (paper - ink),

with both levels taken from the surroundings, so that the 0.5 iso-line of a faint line lies at half of
*its* contrast and that of a pressed one at half of its own. On a photograph all of it is in linear light,
where the lens blurs: a symmetric blur there leaves the half-way level on the edge, while in encoded grey
a dark line would come out thinner than it is by half a pixel and more. A small picture was reduced by
software, which averages encoded values, and the same holds for those.

Limits: a line narrower than the lens's blur never reaches its own ink level; its width is then that of
the blur at half height. The camera's own tone curve is not known; the curve of sRGB is taken.
"""

import cv2
import numpy as np

from limner.ink.filters import (
    Bits,
    Floats,
    dilation,
    distance_inside,
    erosion,
    masked_mean,
    odd,
)

__all__ = ["ink_level", "is_photograph", "paper_level", "soft_coverage", "to_light"]

_PHOTOGRAPH_PIXELS = 1e6
"""No camera or scanner of the last twenty years makes smaller pictures."""

_PAPER_REACH_LINES = 3.0
"""Paper is averaged over this many line widths: enough pixels beside a line to beat the grain, few
enough to follow a shadow."""

_INK_REACH_LINES = 2.0
"""Ink is averaged along this many line widths: pressure changes over longer stretches than grain."""

_CORE = 0.8
"""A pixel belongs to the core of its line from this share of the line's half-width inwards: nearer to the
edge the blur has already brought paper into it."""


def is_photograph(shape: tuple[int, ...]) -> bool:
    """Whether a page of this many pixels comes as the camera or scanner took it, not reduced afterwards."""
    return shape[0] * shape[1] >= _PHOTOGRAPH_PIXELS


def to_light(grey: Floats) -> Floats:
    """Linear light of encoded grey, 0 to 1, by the curve of sRGB (IEC 61966-2-1, from memory).

    Its straight piece below 0.04 is left out: no ink is that dark.
    """
    lifted = grey * np.float32(1 / 1.055) + np.float32(0.055 / 1.055)
    return np.asarray(cv2.pow(lifted, 2.4), np.float32)


def paper_level(light: Floats, paper: Bits, line_width: float) -> Floats:
    """Level of the paper beside each pixel.

    Parameters
    ----------
    light : ndarray of float32, shape (H, W)
        The page in linear light.
    paper : ndarray of bool, shape (H, W)
        Pixels that are surely paper.
    line_width : float
        Typical width of the lines, pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Paper level; 1, that of a flat page, where no paper is near (inside solid blacks).
    """
    near, reach = masked_mean(light, paper.astype(np.float32), _PAPER_REACH_LINES * line_width)
    # Below a twentieth of the window being paper the mean rests on too few pixels to be believed alone.
    trust = np.minimum(reach * np.float32(20), np.float32(1))
    return np.asarray(1 + (near - 1) * trust, np.float32)


def ink_level(smooth: Floats, paper: Floats, mask: Bits, line_width: float) -> Floats:
    """Level of the ink at the core of the line through, or nearest to, each pixel.

    The core is found by place, not by darkness: the darkest pixels of grainy graphite are darker than the
    line as a whole.

    Parameters
    ----------
    smooth : ndarray of float32, shape (H, W)
        The page in linear light, without its grain.
    paper : ndarray of float32, shape (H, W)
        Paper level.
    mask : ndarray of bool, shape (H, W)
        Pixels that may hold ink.
    line_width : float
        Typical width of the lines, pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Ink level; 0 where no ink is near.
    """
    side = odd(line_width)
    dark = mask & (smooth < np.float32(0.5) * (paper + erosion(smooth, side)))
    depth = distance_inside(dark)
    core = dark & (depth >= np.float32(_CORE) * dilation(depth, side))
    return masked_mean(smooth, core.astype(np.float32), _INK_REACH_LINES * line_width)[0]


def soft_coverage(smooth: Floats, paper: Floats, ink: Floats, allowed: Bits) -> Floats:
    """Share of each pixel that is ink.

    Parameters
    ----------
    smooth, paper, ink : ndarray of float32, shape (H, W)
        The page in linear light without its grain, and the levels of paper and ink.
    allowed : ndarray of bool, shape (H, W)
        Where there may be ink at all; coverage is exactly 0 elsewhere.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage, 0 to 1.
    """
    # Paper and ink closer together than this are no edge; it keeps the division finite.
    span = np.maximum(paper - ink, np.float32(0.02))
    return np.asarray(np.clip((paper - smooth) / span, 0, 1) * allowed, np.float32)
