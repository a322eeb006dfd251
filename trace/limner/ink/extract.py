"""From the flat page to the ink that the illustrator meant.

The order: the width of the lines; a working raster on which they are about six pixels wide; what is
darker than the paper on both sides of it (lines) or simply dark (solid blacks); what of that is not
drawing (specks, ghosts, ruling, the table beyond the paper); and last the soft coverage of what is left.
"""

import numpy as np

from limner.errors import InputError
from limner.ink.clean import close_slivers, drop_specks, fill_pinholes, find_beyond_paper
from limner.ink.coverage import ink_level, paper_level, soft_coverage, to_light
from limner.ink.filters import Bits, Floats, gaussian, grow, odd
from limner.ink.outline import smooth_along_edges
from limner.ink.ruling import erase_ruling, find_ruling
from limner.ink.scale import choose_reduction, estimate_line_width, soft_width
from limner.ink.settings import InkSettings
from limner.ink.signal import ink_signal, overview
from limner.ink.solids import fill_solids, find_solids
from limner.ink.threshold import hysteresis, line_contrast, measure_levels
from limner.model.raster import FlatPage, InkMap

__all__ = ["extract_ink"]

_GRAIN_LINES = 0.13
"""Sigma of the smoothing against graphite's grain, in line widths: under a pixel on the working raster,
and too little to move the edge of a line or to round a corner visibly."""

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
    light = to_light(erase_ruling(ink_signal(page, seen, step), rulings, step))
    smooth = gaussian(light, max(0.5, _GRAIN_LINES * line_width))
    mask, solid = _judge(light, smooth, line_width, settings)
    if not mask.any():
        raise _nothing_drawn(page)
    coverage = _coverage(light, smooth, mask, solid, line_width)
    coverage = fill_pinholes(close_slivers(coverage, line_width, settings.merge), line_width)
    coverage = smooth_along_edges(coverage, line_width)
    solid &= coverage >= 0.5
    lines = (coverage >= 0.5) & ~grow(solid, 2 * line_width)
    return InkMap(
        coverage=coverage,
        solid=solid,
        line_width_px=soft_width(coverage, lines, odd(4 * line_width)) or line_width,
        mm_per_px=None if page.mm_per_px is None else page.mm_per_px * step,
        to_photo=page.to_photo @ np.diag([step, step, 1.0]),
    )


def _judge(light: Floats, smooth: Floats, line_width: float, settings: InkSettings) -> tuple[Bits, Bits]:
    """Which pixels are drawing, and which of them are solid black."""
    # What the eye calls dark goes with about the square root of light: faint lines count there.
    contrast = line_contrast(np.sqrt(smooth), line_width)
    levels = measure_levels(contrast, settings.faintest)
    solid = find_solids(light, levels, line_width, settings.solid)
    paper = ~find_beyond_paper(solid, line_width)
    solid &= paper
    lines = hysteresis((contrast > levels.low) & paper, contrast > levels.high)
    mask = drop_specks(lines | solid, contrast, solid, levels, line_width, settings.speck)
    return mask, solid & mask


def _coverage(light: Floats, smooth: Floats, mask: Bits, solid: Bits, line_width: float) -> Floats:
    """Soft coverage of what was kept."""
    paper = paper_level(smooth, ~grow(mask, 2.0), line_width)
    ink = ink_level(smooth, paper, mask, line_width)
    coverage = soft_coverage(smooth, paper, ink, grow(mask, 0.25 * line_width))
    return fill_solids(coverage, light, paper, ink, solid, line_width)


def _nothing_drawn(page: FlatPage) -> InputError:
    return InputError(
        f"no drawing found on {page.source}; photograph it nearer and in better light, or draw darker lines."
    )
