"""What is dark and yet not drawing: specks, slivers, the table beyond the paper."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.ink.dark.threshold import Levels
from limner.ink.filters import grow, shrink
from limner.model.arrays import Flags, Singles

__all__ = ["close_slivers", "drop_at_table", "drop_specks", "fill_pinholes", "find_beyond_paper"]

_BOW = 0.02
"""How far the edge of a curled sheet may leave the straight line, as a share of its outline's length."""

_LEAST_TABLE = 50.0
"""Squares of the line width that are seen of a table, at least: the wedge between two lines that meet where
they run off the page comes to a third of that."""

_DOT_DARKNESS = 0.5
"""A freckle is put down with the drawing's own pressure: at its core it reaches this share of a line's
contrast. Dirt and the paper's own fibres stay below."""

_DOT_AREA = 0.38
"""In squares of the line width: a dot 0.7 line widths across. A pencil makes none smaller."""

_FAINT = 4.0
"""A stroke paler than a freckle stands alone only if it is this many times longer than a speck: shorter ones
are what a rubber left."""

_FIBRE = 0.4
"""Area in squares of the line width that a stroke has per line width of its length, at least."""

_PINHOLE_LINES = 0.6
"""Holes up to this many line widths across are never drawn: a pencil cannot leave them open on purpose."""

_LOOP_LINES = 0.9
"""Holes up to this many line widths across are drawn only if they show clean paper."""

_SLIVER_LENGTH = 4.0
"""A sliver between two strokes is longer than this many times its width; where two edges meet at more than
14 degrees, less of the corner between them is so narrow."""

_CLEAN = 0.3
"""Coverage up to which a small hole is clean: the blur of its rim fills it in part."""


def drop_specks(
    mask: Flags, contrast: Singles, solid: Flags, levels: Levels, line_width: float, speck: float
) -> Flags:
    """Leave out marks too small for a line, unless they are as dark as one and lie within the drawing.

    Parameters
    ----------
    mask : ndarray of bool, shape (H, W)
        Candidates.
    contrast : ndarray of float32, shape (H, W)
        Line contrast.
    solid : ndarray of bool, shape (H, W)
        Solid blacks; as dark as lines.
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
    count, labels, stats, centres = cv2.connectedComponentsWithStats(mask.view(np.uint8), connectivity=8)
    length = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) / line_width
    area = stats[:, cv2.CC_STAT_AREA] / line_width**2
    dark = np.zeros(count, np.bool_)
    dark[labels[mask & ((contrast > _DOT_DARKNESS * levels.typical) | solid)]] = True
    # A stroke is as wide as a line: what is long and much thinner is a fibre or a crease.
    stroke = (length > speck) & (area > _FIBRE * speck) & (dark | (length > _FAINT * speck))
    stroke[0] = False
    box = _bounding_box(stats[stroke], 2 * speck * line_width)
    amid = ((centres > box[:2]) & (centres < box[2:])).all(axis=1)
    keep = stroke | (dark & amid & (area > _DOT_AREA)) | (dark & (area > speck))
    keep[0] = False
    return np.asarray(keep[labels])


def _bounding_box(stats: NDArray[Any], margin: float) -> NDArray[np.float64]:
    """Left, top, right, bottom around the pieces; the whole plane where there are none."""
    if len(stats) == 0:
        return np.array([-np.inf, -np.inf, np.inf, np.inf])
    first = stats[:, [cv2.CC_STAT_LEFT, cv2.CC_STAT_TOP]]
    last = first + stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]]
    return np.concatenate([first.min(axis=0) - margin, last.max(axis=0) + margin])


def find_beyond_paper(solid: Flags, line_width: float) -> Flags:
    """Dark places at the border of the picture that are the table beyond the paper, not drawn.

    Paper is cut straight: what lies beyond it is bounded by the border of the picture and by a line with at
    most one corner. A black figure that runs off the page has an outline of its own.

    Parameters
    ----------
    solid : ndarray of bool, shape (H, W)
        Solid blacks.
    line_width : float
        Typical width of the lines, pixels.

    Returns
    -------
    ndarray of bool, shape (H, W)
        Table, and what lies within three line widths of it: the paper's edge and its shadow.
    """
    beyond = np.zeros_like(solid)
    if not (solid[0].any() or solid[-1].any() or solid[:, 0].any() or solid[:, -1].any()):
        return beyond
    outlines, _ = cv2.findContours(solid.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    margin = max(2.0, line_width)
    for found in outlines:
        outline = np.asarray(found, np.int32)
        if cv2.contourArea(outline) < _LEAST_TABLE * line_width**2:
            continue
        if _touches_border(outline, solid.shape, 1.0) and _cut_straight(outline, solid.shape, margin):
            cv2.drawContours(beyond.view(np.uint8), [outline], -1, 1, cv2.FILLED)
    return grow(beyond, 3 * line_width) if beyond.any() else beyond


def drop_at_table(mask: Flags, beyond: Flags) -> Flags:
    """Leave out what lies between the table and the border of the picture: more of the table.

    Parameters
    ----------
    mask : ndarray of bool, shape (H, W)
        Candidates, none of them in `beyond`.
    beyond : ndarray of bool, shape (H, W)
        As found by `find_beyond_paper`.

    Returns
    -------
    ndarray of bool, shape (H, W)
        The candidates, without pieces that touch both.
    """
    if not beyond.any():
        return mask
    count, labels = cv2.connectedComponents(mask.view(np.uint8), connectivity=8)
    at_table, at_border = np.zeros(count, np.bool_), np.zeros(count, np.bool_)
    at_table[labels[grow(beyond, 2)]] = True
    for side in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
        at_border[side] = True
    return np.asarray(mask & ~(at_table & at_border)[labels])


def _near_border(points: NDArray[np.int32], shape: tuple[int, ...], margin: float) -> NDArray[np.bool_]:
    x, y = points[:, 0, 0], points[:, 0, 1]
    return np.asarray(np.minimum(np.minimum(x, shape[1] - 1 - x), np.minimum(y, shape[0] - 1 - y)) < margin)


def _touches_border(outline: NDArray[np.int32], shape: tuple[int, ...], margin: float) -> bool:
    return bool(_near_border(outline, shape, margin).any())


def _cut_straight(outline: NDArray[np.int32], shape: tuple[int, ...], margin: float) -> bool:
    """Whether the outline, its part along the border aside, has at most one corner."""
    length = cv2.arcLength(outline, closed=True)
    corners = np.asarray(cv2.approxPolyDP(outline, max(margin, _BOW * length), closed=True), np.int32)
    return int(np.count_nonzero(~_near_border(corners, shape, max(margin, _BOW * length)))) <= 1


def close_slivers(coverage: Singles, line_width: float, edge: float, merge: float) -> Singles:
    """Close slivers between strokes, and the pinholes that the paper's grain leaves in solid blacks.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        Soft coverage.
    line_width : float
        Typical width of the lines, pixels.
    edge : float
        The same where outlines may be smoothed by as much; where it is less, so that they may not, the corner
        between two strokes stays open, and only what is long and narrow is closed.
    merge : float
        Width in lines of the slivers that are closed.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage without slivers.
    """
    side = round(merge * min(edge, line_width)) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    closed = np.asarray(cv2.morphologyEx(coverage, cv2.MORPH_CLOSE, disc), np.float32)
    if edge >= line_width:
        return closed
    inked = closed >= np.float32(0.5)
    half = 0.5 * merge * line_width
    between = shrink(grow(inked, half), half) & ~inked
    _, labels, stats, _ = cv2.connectedComponentsWithStats(between.view(np.uint8), connectivity=8)
    long = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    sliver = long > _SLIVER_LENGTH * merge * line_width
    sliver[0] = False
    return np.where(sliver[labels], np.float32(1), closed)


def fill_pinholes(coverage: Singles, line_width: float) -> Singles:
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
    if not small.any():
        return coverage
    inside = np.flatnonzero(small[labels])
    holes = labels.ravel()[inside].astype(np.intp)
    clean = np.full(len(area), np.inf)
    np.minimum.at(clean, holes, coverage.ravel()[inside])
    fill = small & ((area <= (_PINHOLE_LINES * line_width) ** 2) | (clean > _CLEAN))
    filled = np.zeros(paper.shape, np.bool_)
    filled.ravel()[inside[fill[holes]]] = True
    around = grow(filled, 1.5) & (filled | ~paper)
    return np.where(around, np.float32(1), coverage)
