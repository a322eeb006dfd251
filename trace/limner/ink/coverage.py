"""Soft coverage: where between two pixels the edge of the ink runs.

Coverage is how far a pixel has gone from the paper beside the line to the ink within it,

    coverage = (paper - grey) / (paper - ink),

with both levels taken from the surroundings, so that the 0.5 iso-line of a faint line lies at half of
*its* contrast and that of a pressed one at half of its own. A blur that is symmetric moves neither.

Limits: a line narrower than the lens's blur never reaches its own ink level; its width is then that of
the blur at half height.
"""

import numpy as np

from limner.ink.filters import Bits, Floats, erosion, masked_mean, odd

__all__ = ["ink_level", "paper_level", "soft_coverage"]

_PAPER_REACH_LINES = 3.0
"""Paper is averaged over this many line widths: enough pixels beside a line to beat the grain, few
enough to follow a shadow."""

_INK_REACH_LINES = 2.0
"""Ink is averaged along this many line widths: pressure changes over longer stretches than grain."""

_CORE = 0.06
"""Share of the contrast by which a pixel of a line's core may be paler than the darkest one beside it.
More would count pixels of the slope and push the outline outwards: 0.2 does so by 0.08 px."""


def paper_level(grey: Floats, paper: Bits, line_width: float, far: Floats) -> Floats:
    """Level of the paper beside each pixel.

    Parameters
    ----------
    grey : ndarray of float32, shape (H, W)
        The page.
    paper : ndarray of bool, shape (H, W)
        Pixels that are surely paper.
    line_width : float
        Typical width of the lines, pixels.
    far : ndarray of float32, shape (H, W)
        Level to take where no paper is near (inside solid blacks).

    Returns
    -------
    ndarray of float32, shape (H, W)
        Paper level.
    """
    near, reach = masked_mean(grey, paper.astype(np.float32), odd(_PAPER_REACH_LINES * line_width))
    # Below a twentieth of the window being paper the mean rests on too few pixels to be believed alone.
    trust = np.minimum(reach * np.float32(20), np.float32(1))
    return np.asarray(far + (near - far) * trust, np.float32)


def ink_level(
    smooth: Floats,
    paper: Floats,
    mask: Bits,
    line_width: float,
) -> Floats:
    """Level of the ink at the core of the line through, or nearest to, each pixel.

    Parameters
    ----------
    smooth : ndarray of float32, shape (H, W)
        The page without its grain.
    paper : ndarray of float32, shape (H, W)
        Paper level.
    mask : ndarray of bool, shape (H, W)
        Pixels that hold ink.
    line_width : float
        Typical width of the lines, pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Ink level; 0 where no ink is near.
    """
    # The core: within half a line's width of the darkest pixel, and nearly as dark as it.
    darkest = erosion(smooth, odd(line_width))
    core = mask & (smooth <= darkest + np.float32(_CORE) * (paper - darkest))
    level, _ = masked_mean(smooth, core.astype(np.float32), odd(_INK_REACH_LINES * line_width))
    return level


def soft_coverage(
    smooth: Floats,
    paper: Floats,
    ink: Floats,
    allowed: Bits,
) -> Floats:
    """Share of each pixel that is ink.

    Parameters
    ----------
    smooth, paper, ink : ndarray of float32, shape (H, W)
        The page without its grain, and the levels of paper and ink.
    allowed : ndarray of bool, shape (H, W)
        Where there may be ink at all; coverage is exactly 0 elsewhere.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage, 0 to 1.
    """
    # Paper and ink closer together than this are no edge; it keeps the division finite.
    span = np.maximum(paper - ink, np.float32(0.02))
    coverage = np.clip((paper - smooth) / span, 0, 1)
    return np.asarray(coverage * allowed, np.float32)
