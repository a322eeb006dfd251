"""What is dark and yet not drawing: specks, slivers, the table beyond the paper."""

import cv2
import numpy as np

from limner.ink.filters import Bits, Floats, grow
from limner.ink.threshold import Levels

__all__ = ["close_slivers", "drop_beyond_paper", "drop_specks", "fill_pinholes"]

_PINHOLE_LINES = 0.35
"""Holes up to this many line widths across are never drawn: a pencil cannot leave them open on purpose."""

_LOOP_LINES = 1.0
"""Holes up to this many line widths across are drawn only if they show clean paper."""

_CLEAN = 0.12
"""Coverage below which paper is clean."""


def drop_specks(
    mask: Bits, contrast: Floats, solid: Bits, levels: Levels, line_width: float, speck: float
) -> Bits:
    """Leave out marks too small for a line, unless they are as dark as one.

    Parameters
    ----------
    mask : ndarray of bool, shape (H, W)
        Candidates.
    contrast : ndarray of float32, shape (H, W)
        Line contrast.
    solid : ndarray of bool, shape (H, W)
        Solid blacks; never specks.
    levels : Levels
        Contrasts of the drawing.
    line_width : float
        Typical width of the lines, pixels.
    speck : float
        Length in line widths under which a pale mark is a speck.

    Returns
    -------
    ndarray of bool, shape (H, W)
        What is left.
    """
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8), connectivity=8)
    length = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    area = stats[:, cv2.CC_STAT_AREA]
    dark = np.zeros(count, np.bool_)
    dark[labels[(contrast > 0.6 * levels.typical) & mask]] = True
    dark[labels[solid & mask]] = True
    dot = dark & (area > 0.4 * line_width**2)
    keep = ((length > 2 * speck * line_width) & (area > speck * line_width**2)) | dot
    keep[0] = False
    return np.asarray(keep[labels])


def drop_beyond_paper(solid: Bits) -> Bits:
    """Leave out dark places that run along the border of the picture: the table, not the drawing.

    Parameters
    ----------
    solid : ndarray of bool, shape (H, W)
        Solid blacks.

    Returns
    -------
    ndarray of bool, shape (H, W)
        The solid blacks that are drawn.
    """
    height, width = solid.shape
    _, labels, stats, _ = cv2.connectedComponentsWithStats(solid.view(np.uint8), connectivity=8)
    spans = (stats[:, cv2.CC_STAT_WIDTH] >= 0.98 * width) | (stats[:, cv2.CC_STAT_HEIGHT] >= 0.98 * height)
    spans[0] = False
    return np.asarray(solid & ~spans[labels])


def close_slivers(coverage: Floats, line_width: float, merge: float) -> Floats:
    """Close slivers between strokes, and the pinholes that the paper's grain leaves in solid blacks.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        Soft coverage.
    line_width : float
        Typical width of the lines, pixels.
    merge : float
        Width in lines of the slivers that are closed.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage without slivers.
    """
    side = round(merge * line_width) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    return np.asarray(cv2.morphologyEx(coverage, cv2.MORPH_CLOSE, disc), np.float32)


def fill_pinholes(coverage: Floats, line_width: float) -> Floats:
    """Fill the pinholes that the paper's grain leaves in lines and solid blacks.

    A pinhole is far smaller than the line is wide, or somewhat smaller and never quite paper; the loop of
    a letter and a nostril show clean paper.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        Soft coverage.
    line_width : float
        Typical width of the lines, pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage without pinholes.
    """
    paper = coverage < np.float32(0.5)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(paper.view(np.uint8), connectivity=4)
    area = stats[:, cv2.CC_STAT_AREA]
    small = area <= (_LOOP_LINES * line_width) ** 2
    small[0] = False
    inside = small[labels]
    holes = labels[inside]
    clean = np.full(len(area), np.inf)
    np.minimum.at(clean, holes, coverage[inside])
    fill = small & ((area <= (_PINHOLE_LINES * line_width) ** 2) | (clean > _CLEAN))
    filled = fill[labels]
    around = grow(filled, 1.5) & (filled | ~paper)
    return np.where(around, np.float32(1), coverage)
