"""From the flat page to the ink that the illustrator meant.

The order: the width of the lines; a working raster on which they are about six pixels wide; what is
darker than the paper on both sides of it (lines) or simply dark (solid blacks); what of that is not
drawing (specks, ghosts, ruling, the table beyond the paper); and last the soft coverage of what is left.
"""

from dataclasses import dataclass

import numpy as np

from limner.errors import InputError
from limner.ink.clean import close_slivers, drop_at_table, drop_specks, fill_pinholes, find_beyond_paper
from limner.ink.dark.solids import find_solids
from limner.ink.dark.threshold import hysteresis, line_contrast, measure_levels
from limner.ink.edges.calm import smooth_along_edges
from limner.ink.edges.coverage import (
    fill_broad,
    find_broad,
    ink_level,
    is_photograph,
    paper_level,
    soft_coverage,
    to_light,
)
from limner.ink.filters import gaussian, grow, odd, shrink
from limner.ink.ruling.find import find_ruling
from limner.ink.ruling.remove import drop_print, erase_ruling
from limner.ink.scale import choose_reduction, estimate_line_width, soft_widths, typical_width
from limner.ink.settings import InkSettings
from limner.ink.signal import ink_signal, overview
from limner.ink.tiles import tiles
from limner.model.arrays import Flags, Singles
from limner.model.raster import FlatPage, InkMap

__all__ = ["extract_ink"]

_GRAIN_LINES = 0.13
"""Sigma of the smoothing against graphite's grain, in line widths: under a pixel on the working raster,
and too little to move the edge of a line or to round a corner visibly."""

_TRAIL_LINES = 1.5
"""How far, in line widths, a line is followed below the contrast at which it is sure: over the gaps that the
grain leaves in a faint line, not out along a crease or a guide line that crosses it."""

_PATCH_LINES = 0.15
"""Sigma, in line widths and on top of the first, over which patches of graphite are averaged to judge solid
blacks: a white line half as wide as the drawn ones survives it."""

_AROUND_LINES = 8.0
"""Margin around a tile within which its outlines are worked out, in line widths: more than twice as far as
the level of the paper is averaged."""

_DARK_ALL_OVER = 0.9
"""Share of the page that is dark from which it holds no drawing on paper."""


def extract_ink(page: FlatPage, settings: InkSettings) -> InkMap:
    """Find the ink on a page.

    Parameters
    ----------
    page : FlatPage
        The page, evenly lit.
    settings : InkSettings
        What counts as ink.

    Returns
    -------
    InkMap
        Soft coverage, solid blacks and the typical line width, on a raster of its own.

    Raises
    ------
    InputError
        Nothing is drawn on the page, or all of it is dark.
    """
    if float(np.mean(page.grey < 0.5)) > _DARK_ALL_OVER:
        raise InputError(f"{page.source} is dark all over; photograph a drawing on light paper.")
    seen = overview(page)
    rulings = find_ruling(seen.grey, seen.step) if settings.ruling else ()
    page_width = seen.step * estimate_line_width(erase_ruling(seen.grey, rulings, seen.step))
    if page_width == 0:
        raise _nothing_drawn(page)
    step = choose_reduction(page_width, (page.grey.shape[0], page.grey.shape[1]))
    line_width = page_width / step
    sheet = _sheet(erase_ruling(ink_signal(page, seen, step), rulings, step), page, line_width)
    mask, solid = _judge(sheet, line_width, settings)
    mask = drop_print(mask, rulings, step)
    if not mask.any():
        raise _nothing_drawn(page)
    coverage, solid, line_width = _finished(sheet, mask, solid, line_width, settings)
    return InkMap(
        coverage=coverage,
        solid=solid,
        line_width_px=line_width,
        to_photo=page.to_photo @ np.diag([step, step, 1.0]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
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

    def part(self, window: tuple[slice, slice]) -> "_Sheet":
        """Some rows and columns of it."""
        return _Sheet(
            np.ascontiguousarray(self.smooth[window]), np.ascontiguousarray(self.even[window]), self.linear
        )

    def tone(self, values: Singles) -> Singles:
        """Encoded grey of the values: what the eye calls dark goes with about the square root of light."""
        return np.sqrt(values) if self.linear else values


def _sheet(grey: Singles, page: FlatPage, line_width: float) -> _Sheet:
    linear = is_photograph(page.grey.shape)
    light = to_light(grey) if linear else grey
    smooth = gaussian(light, max(0.5, _GRAIN_LINES * line_width))
    return _Sheet(smooth, gaussian(smooth, max(0.5, _PATCH_LINES * line_width)), linear)


def _judge(sheet: _Sheet, line_width: float, settings: InkSettings) -> tuple[Flags, Flags]:
    """Which pixels are drawing, and which of them are solid black."""
    contrast = line_contrast(sheet.smooth, line_width, sheet.tone)
    levels = measure_levels(contrast, settings.faintest)
    solid = find_solids(sheet.tone(sheet.even), levels, line_width, settings.solid)
    beyond = find_beyond_paper(solid, line_width)
    solid &= ~beyond
    sure = contrast > levels.high
    lines = hysteresis((contrast > levels.low) & ~beyond & grow(sure, _TRAIL_LINES * line_width), sure)
    lines = drop_at_table(lines, beyond)
    mask = drop_specks(lines | solid, contrast, solid, levels, line_width, settings.speck)
    return mask, solid & mask


def _finished(
    sheet: _Sheet, mask: Flags, solid: Flags, line_width: float, settings: InkSettings
) -> tuple[Singles, Flags, float]:
    """Coverage, solid blacks, and the width of the lines as measured on them."""
    coverage = np.zeros(mask.shape, np.float32)
    for tile in tiles(mask, round(_AROUND_LINES * line_width)):
        part = _coverage(sheet.part(tile.around), mask[tile.around], line_width)
        part = fill_pinholes(close_slivers(part, line_width, settings.merge), line_width)
        coverage[tile.own] = smooth_along_edges(part, line_width)[tile.within]
    solid = solid & (coverage >= 0.5)
    return coverage, solid, _measured_width(coverage, solid, line_width) or line_width


def _measured_width(coverage: Singles, solid: Flags, line_width: float) -> float:
    """Typical width of the lines apart from solid blacks; 0 where there are none."""
    drawn = coverage >= 0.5
    apart = 2 * line_width
    side = odd(4 * line_width)
    widths = []
    for tile in tiles(drawn, round(side + apart)):
        blacks = solid[tile.around]
        lines = drawn[tile.around] & ~grow(blacks, apart) if blacks.any() else drawn[tile.around]
        widths.append(soft_widths(coverage[tile.around], lines, side, tile.within))
    return typical_width(widths)


def _coverage(sheet: _Sheet, mask: Flags, line_width: float) -> Singles:
    """Soft coverage of what was kept."""
    gap = 0.25 * line_width
    closed = shrink(grow(mask, 2 * gap), 2 * gap) | mask
    paper = paper_level(sheet.smooth, ~grow(closed, 2.0), line_width)
    broad = find_broad(sheet.even, paper, mask, line_width)
    ink = ink_level(sheet.smooth, paper, mask, broad, line_width)
    coverage = soft_coverage(sheet.smooth, paper, ink, grow(closed, gap))
    return fill_broad(coverage, sheet.even, paper, ink, broad)


def _nothing_drawn(page: FlatPage) -> InputError:
    return InputError(
        f"no drawing found on {page.source}; photograph it nearer and in better light, or draw darker lines."
    )
