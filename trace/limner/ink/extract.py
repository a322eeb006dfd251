"""From the flat page to the ink that the illustrator meant.

The order: the width of the lines; a working raster on which they are about six pixels wide, finer where a
finer smoothing is asked for; what is darker than the paper on both sides of it (lines) or simply dark (solid
blacks); what of that is not drawing (specks, ghosts, ruling, the table beyond the paper); and last the soft
coverage of what is left. Where thin lines stand beside bold ones the page is read once for each width, as all
these are multiples of it.
"""

from dataclasses import dataclass

import numpy as np

from limner.errors import InputError
from limner.ink.clean import drop_at_table, drop_specks, find_beyond_paper
from limner.ink.dark.solids import find_solids
from limner.ink.dark.threshold import Levels, hysteresis, line_contrast, measure_levels
from limner.ink.edges.coverage import to_light
from limner.ink.edges.outlines import Sheet, Sizes, beside_bold, outlined
from limner.ink.filters import gaussian, grow, odd
from limner.ink.ruling.find import Ruling, find_ruling
from limner.ink.ruling.remove import drop_print, erase_ruling
from limner.ink.scale import (
    Finest,
    LineWidths,
    choose_reduction,
    is_photograph,
    line_widths,
    soft_widths,
    typical_width,
)
from limner.ink.settings import InkSettings
from limner.ink.signal import Overview, ink_signal, overview
from limner.ink.tiles import tiles
from limner.model.arrays import Flags, Singles
from limner.model.raster import FlatPage, InkMap

__all__ = ["InkSurvey", "extract_ink", "survey_ink"]

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


@dataclass(frozen=True, slots=True, eq=False)
class InkSurvey:
    """What a look at the page as a whole tells.

    Parameters
    ----------
    seen : Overview
        The page, small.
    rulings : tuple of Ruling
        Printed lines on it, in pixels of that.
    widths : LineWidths
        Widths of what is drawn, in pixels of the page.
    """

    seen: Overview
    rulings: tuple[Ruling, ...]
    widths: LineWidths


def survey_ink(page: FlatPage, settings: InkSettings) -> InkSurvey:
    """Look at a page as a whole.

    Parameters
    ----------
    page : FlatPage
        The page, evenly lit.
    settings : InkSettings
        What counts as ink.

    Returns
    -------
    InkSurvey

    Raises
    ------
    InputError
        Nothing is drawn on the page, or all of it is dark.
    """
    if float(np.mean(page.grey < 0.5)) > _DARK_ALL_OVER:
        raise InputError(f"{page.source} is dark all over; photograph a drawing on light paper.")
    seen = overview(page)
    rulings = find_ruling(seen.grey, seen.step) if settings.ruling else ()
    widths = line_widths(erase_ruling(seen.grey, rulings, seen.step)).scaled(seen.step)
    if widths.typical == 0:
        raise _nothing_drawn(page)
    return InkSurvey(seen, rulings, widths)


def extract_ink(
    page: FlatPage, settings: InkSettings, finest: Finest | None = None, survey: InkSurvey | None = None
) -> InkMap:
    """Find the ink on a page.

    Parameters
    ----------
    page : FlatPage
        The page, evenly lit.
    settings : InkSettings
        What counts as ink.
    finest : Finest or None
        The finest smoothing that is asked for, at the scale of the page's pixels: outlines are then known to
        that, as far as the page shows it. None: to a fifth of a line's width.
    survey : InkSurvey or None
        What `survey_ink` found on the page, where that is known.

    Returns
    -------
    InkMap
        Soft coverage, solid blacks and the typical line width, on a raster of its own.

    Raises
    ------
    InputError
        Nothing is drawn on the page, or all of it is dark.
    """
    survey = survey or survey_ink(page, settings)
    seen, rulings, widths = survey.seen, survey.rulings, survey.widths
    edge = (finest or Finest()).line_width_px(widths.columns)
    step = choose_reduction(min(widths.fine, edge), (page.grey.shape[0], page.grey.shape[1]))
    sheets = _Sheets.of(erase_ruling(ink_signal(page, seen, step), rulings, step), page)
    widths, edge = widths.scaled(1 / step), edge / step
    mask, solid = _judge(sheets, widths, settings)
    mask = drop_print(mask, rulings, step)
    if not mask.any():
        raise _nothing_drawn(page)
    coverage = _coverage(sheets, mask, widths, edge, settings.merge)
    solid = solid & mask & (coverage >= 0.5)
    return InkMap(
        coverage=coverage,
        solid=solid,
        line_width_px=_measured_width(coverage, solid, widths.typical) or widths.typical,
        fine_width_px=widths.fine if widths.fine < widths.typical else None,
        to_photo=page.to_photo @ np.diag([step, step, 1.0]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Sheets:
    """The page on the working raster, from which sheets without their grain are made.

    Parameters
    ----------
    light : ndarray of float32, shape (H, W)
        The signal, in linear light where the page is a photograph.
    linear : bool
        Whether it is linear.
    made : dict of float to Sheet
        Those made, by the width of the lines that they are for.
    """

    light: Singles
    linear: bool
    made: dict[float, Sheet]

    @classmethod
    def of(cls, grey: Singles, page: FlatPage) -> "_Sheets":
        """From the signal of a page."""
        linear = is_photograph(page.grey.size * page.reduction**2)
        return cls(to_light(grey) if linear else grey, linear, {})

    def without_grain(self, line_width: float) -> Sheet:
        """Smoothed as suits lines of that width."""
        if line_width not in self.made:
            smooth = gaussian(self.light, max(0.5, _GRAIN_LINES * line_width))
            even = gaussian(smooth, max(0.5, _PATCH_LINES * line_width))
            self.made[line_width] = Sheet(smooth, even, self.linear)
        return self.made[line_width]


def _judge(sheets: _Sheets, widths: LineWidths, settings: InkSettings) -> tuple[Flags, Flags]:
    """Which pixels are drawing, and which of them are solid black."""
    sheet, line_width = sheets.without_grain(widths.typical), widths.typical
    contrast = line_contrast(sheet.smooth, line_width, sheet.tone)
    levels = measure_levels(contrast, settings.faintest)
    solid = find_solids(sheet.tone(sheet.even), levels, line_width, settings.solid)
    beyond = find_beyond_paper(solid, line_width)
    solid &= ~beyond
    lines = drop_at_table(_followed(contrast, levels, beyond, line_width), beyond)
    mask = drop_specks(lines | solid, contrast, solid, levels, line_width, settings.speck)
    if widths.fine < line_width:
        mask |= _judge_fine(sheets.without_grain(widths.fine), mask, beyond, widths.fine, settings)
    return mask, solid


def _judge_fine(sheet: Sheet, bold: Flags, beyond: Flags, line_width: float, settings: InkSettings) -> Flags:
    """Which pixels are drawing where lines far thinner than the `bold` ones stand beside them."""
    contrast = line_contrast(sheet.smooth, line_width, sheet.tone)
    levels = measure_levels(contrast, settings.faintest)
    lines = drop_at_table(_followed(contrast, levels, beyond, line_width), beyond)
    return drop_specks(lines | bold, contrast, bold, levels, line_width, settings.speck)


def _followed(contrast: Singles, levels: Levels, beyond: Flags, line_width: float) -> Flags:
    """Lines from their sure places on, as far as they may go."""
    sure = contrast > levels.high
    return hysteresis((contrast > levels.low) & ~beyond & grow(sure, _TRAIL_LINES * line_width), sure)


def _coverage(sheets: _Sheets, mask: Flags, widths: LineWidths, edge: float, merge: float) -> Singles:
    """Soft coverage of what was kept, with its outlines as smooth as is asked for."""
    bold, fine = (Sizes(width, min(width, edge), merge) for width in (widths.typical, widths.fine))
    coverage = np.zeros(mask.shape, np.float32)
    for tile in tiles(mask, round(_AROUND_LINES * widths.typical)):
        drawn = mask[tile.around]
        part = outlined(sheets.without_grain(bold.edge).part(tile.around), drawn, bold)
        if fine.line_width < bold.line_width:
            thin = outlined(sheets.without_grain(fine.edge).part(tile.around), drawn, fine)
            part = beside_bold(part, thin, bold)
        coverage[tile.own] = part[tile.within]
    return coverage


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


def _nothing_drawn(page: FlatPage) -> InputError:
    return InputError(
        f"no drawing found on {page.source}; photograph it nearer and in better light, or draw darker lines."
    )
