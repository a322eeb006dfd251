"""One scale for the page and the ink on it."""

from dataclasses import replace

import numpy as np

from limner.model.raster import FlatPage, InkMap, ScaledInk, ScaledPage

__all__ = ["ASSUMED_DRAWING_WIDTH_MM", "drawn_width_mm", "rescale", "set_scale"]

# Without a scale the drawn part is taken as this wide: the contract of the command.
ASSUMED_DRAWING_WIDTH_MM = 100.0


def set_scale(page: FlatPage, ink: InkMap) -> tuple[ScaledPage, ScaledInk]:
    """Give page and ink the page's scale; where it has none, the drawn part is taken as 100 mm wide."""
    page_px_per_ink_px = _page_px_per_ink_px(page, ink)
    mm_per_px = page.mm_per_px
    if mm_per_px is None:
        mm_per_px = ASSUMED_DRAWING_WIDTH_MM / (_drawn_columns(ink) * page_px_per_ink_px)
    return page.scaled_to(mm_per_px), ink.scaled_to(mm_per_px * page_px_per_ink_px)


def rescale(page: ScaledPage, ink: ScaledInk, factor: float) -> tuple[ScaledPage, ScaledInk]:
    """Enlarge both by a factor."""
    page = replace(page, mm_per_px=page.mm_per_px * factor, scale_from="drawing")
    return page, replace(ink, mm_per_px=ink.mm_per_px * factor)


def drawn_width_mm(ink: ScaledInk) -> float:
    """Width of the drawn part."""
    return _drawn_columns(ink) * ink.mm_per_px


def _drawn_columns(ink: InkMap) -> float:
    columns = np.flatnonzero(ink.mask.any(axis=0))
    return float(columns[-1] - columns[0] + 1)


def _page_px_per_ink_px(page: FlatPage, ink: InkMap) -> float:
    """How many pixels of the page one pixel of the ink raster is wide."""
    ink_to_page = np.linalg.inv(page.to_photo) @ ink.to_photo
    return float(ink_to_page[0, 0] / ink_to_page[2, 2])
