"""The ink as its centrelines are sought in it: reduced, its grain filled up, its solid blacks hollowed out.

Limits: the reduction keeps lines a few pixels wide, which is all that their topology needs; the coverage
keeps their edges known far below a pixel.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Flags, Floats, Indices
from limner.model.raster import ScaledInk

__all__ = ["WorkingInk", "prepare_ink"]


_LEVEL = np.float32(0.5)

# Width of a line in pixels after reduction. At 8 pixels the edges are known to under a hundredth of a line
# width, and thinning costs next to nothing.
_WORKING_WIDTH_PX = 8.0

# Paper left inside the ink smaller than this is grain, in square line widths.
_PINHOLE_WIDTHS2 = 0.25

# The same in a solid black, where nothing so small is drawn.
_SOLID_HOLE_WIDTHS2 = 3.0

# A solid black is hollowed out where it is deeper than this: what remains is a rim as wide as a line.
_RIM_WIDTHS = 1.0

_MARGIN_PX = 3


@dataclass(frozen=True, slots=True, eq=False)
class WorkingInk:
    """The ink at the size at which its lines are sought.

    Parameters
    ----------
    coverage : ndarray of float32, shape (h, w)
        Share of each pixel that is ink; a rim of a few pixels around it is empty.
    mask : ndarray of bool, shape (h, w)
        Pixels that are more ink than paper.
    solid : ndarray of bool, shape (h, w)
        Pixels of solid blacks, whether hollowed out or not.
    line_width : float
        Typical width of the lines, in its pixels.
    origin : ndarray, shape (2,)
        Where its corner (x, y) lies on the full raster, in pixels of that.
    factor : int
        Pixels of the full raster per pixel.
    """

    coverage: NDArray[np.float32]
    mask: Flags
    solid: Flags
    line_width: float
    origin: Floats
    factor: int

    def radius(self) -> NDArray[np.float32]:
        """Distance from each ink pixel to the nearest paper, in pixels, shape (h, w)."""
        distance = cv2.distanceTransform(self.mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        return np.asarray(distance, np.float32)


def prepare_ink(ink: ScaledInk) -> WorkingInk | None:
    """Make the ink ready for its lines to be sought; None where there is none.

    Parameters
    ----------
    ink : ScaledInk
        The ink.

    Returns
    -------
    WorkingInk or None
        Lines and rims of solid blacks, without pinholes.
    """
    work = _reduced(ink)
    return None if work is None else _hollowed(_without_pinholes(work))


def _reduced(ink: ScaledInk) -> WorkingInk | None:
    """Cut the ink out and reduce it; None where there is none."""
    mask = ink.mask
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if len(rows) == 0:
        return None
    factor = max(1, int(ink.line_width_px / _WORKING_WIDTH_PX))
    top, bottom, left, right = int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
    height, width = -(-(bottom - top) // factor), -(-(right - left) // factor)
    margin = _MARGIN_PX * factor

    def cut(field: NDArray[np.float32]) -> NDArray[np.float32]:
        padded = np.zeros((height * factor + 2 * margin, width * factor + 2 * margin), np.float32)
        padded[margin : margin + bottom - top, margin : margin + right - left] = field
        size = (width + 2 * _MARGIN_PX, height + 2 * _MARGIN_PX)
        return np.asarray(cv2.resize(padded, size, interpolation=cv2.INTER_AREA), np.float32)

    coverage = cut(ink.coverage[top:bottom, left:right])
    solid = cut(ink.solid[top:bottom, left:right].astype(np.float32)) >= _LEVEL
    origin = np.array([left - margin, top - margin], dtype=np.float64)
    return WorkingInk(coverage, coverage >= _LEVEL, solid, ink.line_width_px / factor, origin, factor)


def _without_pinholes(work: WorkingInk) -> WorkingInk:
    """With the paper's grain filled up: pinholes in lines, larger ones in solid blacks."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats((~work.mask).view(np.uint8), connectivity=4)
    size = stats[:, cv2.CC_STAT_AREA]
    square = work.line_width**2
    small = size < _SOLID_HOLE_WIDTHS2 * square
    # Neither the ink, nor the rim without any that is all around: so a hole has neighbours on all sides.
    small[[0, labels[0, 0]]] = False
    if not small.any():
        return work
    holes = np.flatnonzero(small[labels])
    hole = labels.ravel()[holes].astype(np.int64)
    in_solid = _in_solids(work, holes, hole, count)
    filled = small & (size < np.where(in_solid, _SOLID_HOLE_WIDTHS2, _PINHOLE_WIDTHS2) * square)
    grain = holes[filled[hole]]
    coverage, mask = work.coverage.copy(), work.mask.copy()
    coverage.ravel()[grain] = 1.0
    mask.ravel()[grain] = True
    return replace(work, coverage=coverage, mask=mask)


def _in_solids(work: WorkingInk, holes: Indices, hole: Indices, count: int) -> Flags:
    """Which holes have more of solid blacks around them than of lines, shape (count,).

    Parameters
    ----------
    work : WorkingInk
        The ink.
    holes, hole : ndarray of int64, shape (n,)
        Flat index of each pixel of the holes, and the number of its hole.
    count : int
        How many numbers there are.
    """
    beside, solid = np.zeros(count), np.zeros(count)
    mask, in_solid = work.mask.ravel(), work.solid.ravel()
    for step in (1, -1, work.mask.shape[1], -work.mask.shape[1]):
        there = holes + step
        edge = mask[there]
        beside += np.bincount(hole[edge], minlength=count)
        solid += np.bincount(hole[edge], in_solid[there[edge]], minlength=count)
    return np.asarray(solid > 0.5 * beside)


def _hollowed(work: WorkingInk) -> WorkingInk:
    """Without the inside of solid blacks; what is left of them is as wide as a line."""
    radius = work.radius()
    if not (work.solid & (radius > _RIM_WIDTHS * work.line_width)).any():
        return work
    # Half a pixel to each side of the new edge: coverage stays smooth across it.
    rim = np.clip(_RIM_WIDTHS * work.line_width - radius + 0.5, 0.0, 1.0).astype(np.float32)
    return replace(work, coverage=np.minimum(work.coverage, rim), mask=work.mask & (rim >= _LEVEL))
