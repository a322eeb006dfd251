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

from limner.ink.filters import dilation, distance_inside, doubled, erosion, grow, halved, masked_mean, odd
from limner.model.arrays import Flags, Singles

__all__ = [
    "fill_broad",
    "find_broad",
    "ink_level",
    "paper_level",
    "soft_coverage",
    "to_light",
]

_PAPER_REACH_LINES = 3.0
"""Paper is averaged over this many line widths: enough pixels beside a line to beat the grain, few
enough to follow a shadow."""

_INK_REACH_LINES = 2.0
"""Ink is averaged along this many line widths: pressure changes over longer stretches than grain."""

_BROAD_LINES = 1.8
"""Width in lines from which a stroke is broad: a single one, with its blur, is narrower."""

_EVEN_LINES = 2.0
"""Side of the window in line widths within which a broad place is compared with its darkest spot."""

_EVENLY = 0.58
"""Share of the contrast of that darkest spot which a broad place has everywhere: more than half, as what lies
between two strokes is darkened by the blur of both."""

_RIM_LINES = 0.4
"""The rim of a broad place, this many line widths wide, is left as it is: there paper lies beside it."""

_CORE = 0.8
"""A pixel belongs to the core of its line from this share of the line's half-width inwards: nearer to the
edge the blur has already brought paper into it."""


def to_light(grey: Singles) -> Singles:
    """Linear light of encoded grey, 0 to 1, by the curve of sRGB (IEC 61966-2-1, from memory).

    Its straight piece below 0.04 is left out: no ink is that dark.
    """
    lifted = grey * np.float32(1 / 1.055) + np.float32(0.055 / 1.055)
    return np.asarray(cv2.pow(lifted, 2.4), np.float32)


def paper_level(light: Singles, paper: Flags, line_width: float) -> Singles:
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


def find_broad(even: Singles, paper: Singles, mask: Flags, line_width: float) -> Flags:
    """The inside of places that are evenly dark over more than a line's width: broad strokes, solid blacks.

    "Evenly" is after averaging over the grain: graphite is speckled there; hatching and letters, dark and
    light side by side at the scale of the lines, are not even.

    Parameters
    ----------
    even : ndarray of float32, shape (H, W)
        The page, averaged over patches of graphite.
    paper : ndarray of float32, shape (H, W)
        Paper level.
    mask : ndarray of bool, shape (H, W)
        Pixels that may hold ink.
    line_width : float
        Typical width of the lines, pixels.

    Returns
    -------
    ndarray of bool, shape (H, W)
        Pixels at least `_RIM_LINES` line widths inside such a place.
    """
    shape = (even.shape[0], even.shape[1])
    small, small_paper, width = halved(even), halved(paper), 0.5 * line_width
    near = grow(halved(mask.astype(np.float32)) > 0, _RIM_LINES * width)
    darkest = erosion(small, odd(_EVEN_LINES * width))
    dark = near & (small < small_paper - np.float32(_EVENLY) * (small_paper - darkest))
    depth = distance_inside(dark)
    broad = grow(depth > 0.5 * _BROAD_LINES * width, 0.5 * _BROAD_LINES * width)
    inside = broad & (depth > _RIM_LINES * width)
    return doubled(inside.astype(np.float32), shape) > np.float32(0.5)


def ink_level(smooth: Singles, paper: Singles, mask: Flags, broad: Flags, line_width: float) -> Singles:
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
    broad : ndarray of bool, shape (H, W)
        The inside of broad places: there all of it is core.
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
    core = (core & ~grow(broad, _RIM_LINES * line_width)) | broad
    return masked_mean(smooth, core.astype(np.float32), _INK_REACH_LINES * line_width)[0]


def soft_coverage(smooth: Singles, paper: Singles, ink: Singles, allowed: Flags) -> Singles:
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


def fill_broad(coverage: Singles, even: Singles, paper: Singles, ink: Singles, broad: Flags) -> Singles:
    """Fill in the paper that shows through the grain of broad strokes and solid blacks.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        Soft coverage.
    even, paper, ink : ndarray of float32, shape (H, W)
        The page averaged over patches, and the levels of paper and ink.
    broad : ndarray of bool, shape (H, W)
        As found by `find_broad`.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage, 1 there; white lines drawn out of the black stay.
    """
    return np.where(broad & (even < np.float32(0.5) * (paper + ink)), np.float32(1), coverage)
