"""Limits that hold whatever a job asks for: near cuts, narrow gaps and necks, the trim, names, the page.

The limits are common practice, without a source, unless one is named.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from helpers_sheet import SAND, SHELL, coloured, cut_around, ellipse, lettering, sticker, tide_pool
from limner.geometry.cubics import polygon_path
from limner.model.sheet import PlacedSticker, Sheet
from limner.preflight.checks import check_sheet


def disc(name: str, x: float, y: float, radius: float, distance: float, asked: float) -> PlacedSticker:
    fills = [coloured("disc", "area", [ellipse(x, y, radius, radius)], SHELL)]
    path = ellipse(x, y, radius + distance, radius + distance)
    return sticker(name, fills, [], replace(cut_around(fills, path, "circle"), asked_mm=asked))


def sheet_of(*stickers: PlacedSticker, **changes: object) -> Sheet:
    return replace(tide_pool(), stickers=stickers, letterings=(), colours=(SAND, SHELL), **changes)


def codes(sheet: Sheet) -> list[str]:
    return [finding.code for finding in check_sheet(sheet)]


@pytest.mark.parametrize(("distance", "found"), [(1.0, False), (0.9, True), (0.2, True)])
def test_a_cut_as_near_as_asked_is_too_near_for_a_blade(distance: float, found: bool) -> None:
    findings = check_sheet(sheet_of(disc("disc", 50, 70, 10, distance, distance)))
    assert [finding.code for finding in findings] == (["cut-near"] if found else [])


@pytest.mark.parametrize(("apart", "found"), [(1.05, False), (0.9, True), (0.2, True)])
def test_a_gap_as_small_as_asked_is_too_small(apart: float, found: bool) -> None:
    pair = disc("one", 30, 70, 10, 2.5, 2.5), disc("two", 30 + 25 + apart, 70, 10, 2.5, 2.5)
    assert codes(sheet_of(*pair, gap_mm=0.0)) == (["cut-gap-narrow"] if found else [])


@pytest.mark.parametrize(
    ("inside", "code"), [(2.05, None), (1.9, "sticker-near-trim"), (0.5, "sticker-near-trim")]
)
def test_near_the_trim_without_a_safe_margin(inside: float, code: str | None) -> None:
    page = replace(tide_pool().page, safe_mm=0.0)
    findings = check_sheet(sheet_of(disc("disc", 3 + 12.5 + inside, 70, 10, 2.5, 2.5), page=page))
    assert [finding.code for finding in findings] == ([code] if code else [])
    assert not code or "2 mm are the least" in findings[0].message


def test_lettering_near_the_trim_without_a_safe_margin() -> None:
    page = replace(tide_pool().page, safe_mm=0.0)
    piece = lettering("lettering-1", "Tide", 55.5, 150.5, 12)
    sheet = replace(sheet_of(disc("disc", 50, 70, 10, 2.5, 2.5), page=page), letterings=(piece,))
    assert codes(sheet) == ["lettering-near-trim"]


def dumbbell(neck_mm: float) -> Sheet:
    """Two discs, whose cut line is one of two circles and a bar between them."""
    fills = [coloured(f"disc-{x}", "area", [ellipse(x, 70, 8, 8)], SHELL) for x in (35, 65)]
    bar = shapely.box(35, 70 - neck_mm / 2, 65, 70 + neck_mm / 2)
    outline = shapely.union_all([bar, *(shapely.Point(x, 70).buffer(10.5, 64) for x in (35, 65))])
    path = polygon_path(shapely.get_coordinates(outline.exterior)[:-1])
    cut = replace(cut_around(fills, path, "outline"), smallest_radius_mm=0.01)
    return sheet_of(sticker("dumbbell", fills, [], cut))


@pytest.mark.parametrize(("neck", "found"), [(1.0, False), (1.2, False), (0.95, True), (0.2, True)])
def test_narrow_necks(neck: float, found: bool) -> None:
    findings = [finding for finding in check_sheet(dumbbell(neck)) if finding.code != "cut-nodes-many"]
    assert [finding.code for finding in findings] == (["cut-neck-thin"] if found else [])
    if found:
        assert findings[0].where_mm == pytest.approx((50, 70), abs=0.1)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("Cutting", None),
        ("Cut line 2", None),
        # ISO 32000-1, annex C.2: a name holds 127 bytes.
        ("x" * 127, None),
        ("x" * 128, "separation-long"),
        ("Cutting ", "separation-letters"),
        ("Cut (1)", "separation-letters"),
        ("Cut/through", "separation-letters"),
    ],
)
def test_names_of_separations_that_presses_stumble_over(name: str, code: str | None) -> None:
    sheet = sheet_of(disc("disc", 50, 70, 10, 2.5, 2.5))
    sheet = replace(sheet, separation=replace(sheet.separation, name=name))
    assert codes(sheet) == ([code] if code else [])


@pytest.mark.parametrize(("width_mm", "found"), [(5073.9, False), (5074.1, True)])
def test_a_page_longer_than_a_pdf_may_be(width_mm: float, found: bool) -> None:
    """ISO 32000-1, annex C.2: 14,400 units of 1/72 inch, which are 5080 mm; the bleed takes 3 a side."""
    page = replace(tide_pool().page, trim_width_mm=width_mm)
    assert codes(sheet_of(disc("disc", 50, 70, 10, 2.5, 2.5), page=page)) == (["page-large"] if found else [])


def test_a_spike_is_no_part_that_hangs_on_a_neck() -> None:
    """The tip of a star is narrower than any neck, but nothing hangs on it."""
    angles = np.arange(10) * np.pi / 5
    radius = np.where(np.arange(10) % 2, 6.0, 20.0)
    star = polygon_path(np.stack([50 + radius * np.cos(angles), 70 + radius * np.sin(angles)], axis=1))
    fills = [coloured("disc", "area", [ellipse(50, 70, 3, 3)], SHELL)]
    cut = replace(cut_around(fills, star, "outline"), smallest_radius_mm=0.01)
    assert codes(sheet_of(sticker("star", fills, [], cut))) == []
