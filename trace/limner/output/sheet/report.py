"""The report of a sheet as JSON-ready values, and its totals for the ticket.

Places count from the trim's corner, as the job file does.
"""

import math
from collections.abc import Sequence
from typing import Any

from limner.geometry.lengths import MM_PER_PT
from limner.model.colour import PressColour
from limner.model.finding import Finding
from limner.model.sheet import Page, PlacedLettering, PlacedSticker, Sheet

__all__ = ["cut_length_mm", "sheet_report"]


def cut_length_mm(sheet: Sheet) -> float:
    """Length of all cut lines together."""
    return math.fsum(sticker.cut.length_mm for sticker in sheet.stickers)


def sheet_report(sheet: Sheet, findings: Sequence[Finding]) -> dict[str, Any]:
    """What is on the sheet, and what was found.

    Parameters
    ----------
    sheet : Sheet
        What was made.
    findings : sequence of Finding
        What preflight found, in the order in which the proof numbers them from 1.

    Returns
    -------
    dict
        Only JSON types; lengths in millimetres, rounded to 0.001 mm; what is not a finite number is None.
    """
    return {
        "name": sheet.name,
        "page": _page(sheet.page),
        "scale": None if sheet.scale is None else _rounded(sheet.scale),
        "background": None if sheet.background is None else sheet.background.name,
        "cut": {
            "separation": sheet.separation.name,
            "partial_separation": None if sheet.partial is None else sheet.partial.name,
            "lines": len(sheet.stickers),
            "length_mm": _rounded(cut_length_mm(sheet)),
            "gap_mm": _rounded(sheet.gap_mm),
        },
        "colours": [_colour(colour) for colour in sheet.colours],
        "white": None
        if sheet.white is None
        else {"separation": sheet.white.separation.name, "inset_mm": _rounded(sheet.white.inset_mm)},
        "profile": sheet.profile_name if sheet.profile is not None else None,
        "stickers": [_sticker(sticker, sheet.page) for sticker in sheet.stickers],
        "lettering": [_lettering(piece, sheet.page) for piece in sheet.letterings],
        "findings": [_finding(finding, sheet.page) for finding in findings],
    }


def _rounded(value: float, digits: int = 3) -> float | None:
    return round(value, digits) + 0.0 if math.isfinite(value) else None


def _page(page: Page) -> dict[str, Any]:
    return {
        "size": page.size_name or None,
        "trim_width_mm": _rounded(page.trim_width_mm),
        "trim_height_mm": _rounded(page.trim_height_mm),
        "bleed_mm": _rounded(page.bleed_mm),
        "safe_mm": _rounded(page.safe_mm),
        "width_mm": _rounded(page.width_mm),
        "height_mm": _rounded(page.height_mm),
    }


def _colour(colour: PressColour) -> dict[str, Any]:
    return {
        "name": colour.name,
        "cmyk": [_rounded(ink, 1) for ink in colour.cmyk],
        "screen": colour.screen,
        "source": colour.source,
        "shift": None if colour.shift is None else _rounded(colour.shift, 1),
    }


def _sticker(sticker: PlacedSticker, page: Page) -> dict[str, Any]:
    x, y = page.to_trim(sticker.x_mm, sticker.y_mm)
    cut = sticker.cut
    return {
        "name": sticker.name,
        "x_mm": _rounded(x),
        "y_mm": _rounded(y),
        "width_mm": _rounded(sticker.width_mm),
        "height_mm": _rounded(sticker.height_mm),
        "rotate_deg": _rounded(sticker.rotate_deg),
        "nodes": sticker.node_count,
        "error_mm": _rounded(sticker.error_mm, 4),
        "line_width_mm": _rounded(sticker.line_width_mm),
        "sketch": sticker.sketch,
        "ground": None if sticker.ground is None else sticker.ground.colour.name,
        "cut": {
            "form": cut.form,
            "depth": cut.depth,
            "length_mm": _rounded(cut.length_mm),
            "nodes": cut.path.node_count,
            "asked_mm": _rounded(cut.asked_mm),
            "min_distance_mm": _rounded(cut.min_distance_mm),
            "max_distance_mm": _rounded(cut.max_distance_mm),
        },
    }


def _lettering(piece: PlacedLettering, page: Page) -> dict[str, Any]:
    x, y = page.to_trim(piece.x_mm, piece.y_mm)
    return {
        "text": piece.text,
        "x_mm": _rounded(x),
        "y_mm": _rounded(y),
        "size_pt": _rounded(piece.size_mm / MM_PER_PT),
        "rotate_deg": _rounded(piece.rotate_deg),
        "font": piece.font,
        "colour": piece.colour.name,
    }


def _finding(finding: Finding, page: Page) -> dict[str, Any]:
    where = None
    if finding.where_mm is not None and all(math.isfinite(side) for side in finding.where_mm):
        where = [_rounded(side) for side in page.to_trim(*finding.where_mm)]
    return {
        "severity": finding.severity,
        "code": finding.code,
        "where_mm": where,
        "message": finding.message,
    }
