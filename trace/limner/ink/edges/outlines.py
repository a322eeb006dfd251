"""Outlines at the width of a line: soft coverage, without slivers, pinholes and the grain's tremor.

All sizes are multiples of the width of the lines. How far an outline may be moved is bounded by the smoothing
that is asked for as well: where that is finer than a fifth of the width, outlines are smoothed like those of
a line five times as wide as the smoothing.

Limits: where bold and thin lines meet, the thin one's outline turns into the bold one's over two pixels.
"""

from dataclasses import dataclass

import numpy as np

from limner.ink.clean import close_slivers, fill_pinholes
from limner.ink.edges.calm import smooth_along_edges
from limner.ink.edges.coverage import fill_broad, find_broad, ink_level, paper_level, soft_coverage
from limner.ink.filters import distance_inside, gaussian, grow, shrink
from limner.model.arrays import Flags, Singles

__all__ = ["Sheet", "Sizes", "beside_bold", "outlined"]

_BOLD = 0.5
"""Share of the typical width from which a place belongs to a bold line: thin ones stay below a third."""

_SEAM_PX = 2.0
"""How far beyond its edge a bold line's own outline is taken: as far as an edge is soft."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """The page on the working raster: values in which edges are measured, and in which the eye judges.

    Parameters
    ----------
    smooth : ndarray of float32, shape (H, W)
        Without its grain, in linear light where the page is a photograph.
    even : ndarray of float32, shape (H, W)
        The same, averaged over patches of graphite.
    linear : bool
        Whether they are linear.
    """

    smooth: Singles
    even: Singles
    linear: bool

    def part(self, window: tuple[slice, slice]) -> "Sheet":
        """Some rows and columns of it."""
        return Sheet(
            np.ascontiguousarray(self.smooth[window]), np.ascontiguousarray(self.even[window]), self.linear
        )

    def tone(self, values: Singles) -> Singles:
        """Encoded grey of the values: what the eye calls dark goes with about the square root of light."""
        return np.sqrt(values) if self.linear else values


@dataclass(frozen=True, slots=True)
class Sizes:
    """What an outline is worked out by.

    Parameters
    ----------
    line_width : float
        Width of the lines, pixels.
    edge : float
        Width, up to that, of lines whose outlines are smoothed as much, pixels.
    merge : float
        Width of the slivers that are closed, in line widths.
    """

    line_width: float
    edge: float
    merge: float


def outlined(sheet: Sheet, mask: Flags, sizes: Sizes) -> Singles:
    """Soft coverage of what was kept.

    Parameters
    ----------
    sheet : Sheet
        The page, or a part of it, shape (H, W).
    mask : ndarray of bool, shape (H, W)
        Pixels that may hold ink.
    sizes : Sizes
        Widths of lines and outlines.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage, 0 to 1, whose iso-line at 0.5 is the outline.
    """
    line_width = sizes.line_width
    coverage = close_slivers(_soft(sheet, mask, line_width), line_width, sizes.edge, sizes.merge)
    return smooth_along_edges(fill_pinholes(coverage, line_width), sizes.edge)


def beside_bold(bold: Singles, thin: Singles, sizes: Sizes) -> Singles:
    """Outlines of bold lines from one coverage, those of the thin lines beside them from another.

    Parameters
    ----------
    bold, thin : ndarray of float32, shape (H, W)
        Coverage worked out for either width.
    sizes : Sizes
        Those of the bold lines.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage.
    """
    radius = 0.5 * _BOLD * sizes.line_width
    deep = distance_inside(thin >= np.float32(0.5)) > radius
    if not deep.any():
        return thin
    closed = 0.5 * sizes.merge * sizes.line_width
    near = grow(shrink(grow(deep, radius + closed), closed), _SEAM_PX)
    share = gaussian(near.astype(np.float32), 0.5 * _SEAM_PX)
    return np.asarray(thin + share * (bold - thin), np.float32)


def _soft(sheet: Sheet, mask: Flags, line_width: float) -> Singles:
    gap = 0.25 * line_width
    closed = shrink(grow(mask, 2 * gap), 2 * gap) | mask
    paper = paper_level(sheet.smooth, ~grow(closed, 2.0), line_width)
    broad = find_broad(sheet.even, paper, mask, line_width)
    ink = ink_level(sheet.smooth, paper, mask, broad, line_width)
    coverage = soft_coverage(sheet.smooth, paper, ink, grow(closed, gap))
    return fill_broad(coverage, sheet.even, paper, ink, broad)
