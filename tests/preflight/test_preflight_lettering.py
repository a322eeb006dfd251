"""Lettering near cuts, over other things, and left open in colours: each limit from both sides.

The limits are common practice, without a source, unless one is named.
"""

from dataclasses import replace

import numpy as np
import pytest

from helpers_sheet import (
    INK,
    SAND,
    SHELL,
    WHITE,
    coloured,
    cut_around,
    ellipse,
    lettering,
    sticker,
    tide_pool,
)
from limner.geometry.cubics import bounds, polygon_path
from limner.model.colour import PressColour
from limner.model.sheet import PlacedLettering, PlacedSticker, Sheet
from limner.preflight.checks import check_sheet

DEEP = PressColour("deep", (90, 60, 0, 40), "#123a6b", "given", 0.0)
REEF = PressColour("reef", (70, 70, 61, 0), "#404448", "given", 0.0)


def disc(x: float, y: float, colour: PressColour, radius: float = 14.0) -> PlacedSticker:
    """A disc of one colour, cut 2.5 mm around it."""
    fills = [coloured("disc", "area", [ellipse(x, y, radius, radius)], colour)]
    return sticker("disc", fills, [], cut_around(fills, ellipse(x, y, radius + 2.5, radius + 2.5), "circle"))


def sheet_of(letterings: tuple[PlacedLettering, ...], *stickers: PlacedSticker, background=SAND) -> Sheet:
    return replace(
        tide_pool(),
        stickers=stickers or (disc(30, 110, SHELL),),
        letterings=letterings,
        background=background,
    )


def codes(sheet: Sheet) -> list[str]:
    return [finding.code for finding in check_sheet(sheet)]


@pytest.mark.parametrize(("apart", "found"), [(1.02, False), (0.98, True), (0.1, True)])
def test_lettering_near_a_cut(apart: float, found: bool) -> None:
    """The cut line's rightmost point is 16.5 mm right of the disc's centre; text begins so far beyond it."""
    piece = lettering("lettering-1", "I", 60, 70, 16)
    left = bounds(piece.glyphs[0].paths[0])[0]
    # Half way up the letter, whose side is straight there, lies the disc's centre.
    middle = (piece.box[1] + piece.box[3]) / 2
    findings = check_sheet(sheet_of((piece,), disc(left - apart - 16.5, middle, SHELL)))
    assert [finding.code for finding in findings] == (["lettering-near-cut"] if found else [])
    if found:
        assert f"{apart:.2f} mm" in findings[0].message
        assert findings[0].where_mm == pytest.approx((left, middle), abs=0.3)


def test_a_cut_through_lettering_is_not_called_near_as_well() -> None:
    piece = lettering("lettering-1", "Tide", 46.5, 110, 16)
    assert codes(sheet_of((piece,))) == ["lettering-cut"]


@pytest.mark.parametrize(("dx", "found"), [(0.0, True), (1.0, True), (30.0, False)])
def test_lettering_over_lettering(dx: float, found: bool) -> None:
    one, other = (lettering(f"lettering-{i}", t, 55 + i * dx, 60, 12) for i, t in enumerate(("Crab", "Star")))
    assert codes(sheet_of((one, other))) == (["lettering-overlap"] if found else [])


def test_lettering_whose_hulls_alone_meet_is_no_overlap() -> None:
    """A small word in the opening of a large L."""
    large, small = lettering("lettering-1", "L", 55, 70, 60), lettering("lettering-2", "in", 58, 60, 8)
    assert codes(sheet_of((large, small))) == []


@pytest.mark.parametrize(("screen", "found"), [("#f58f73", True), ("#f0a088", True), ("#5a1a10", False)])
def test_lettering_that_sinks_into_a_sticker(screen: str, found: bool) -> None:
    tint = PressColour("tint", (0, 60, 60, 0), screen, "given", 0.0)
    piece = lettering("lettering-1", "crab", 30, 112, 12, tint)
    findings = check_sheet(sheet_of((piece,)))
    assert [finding.code for finding in findings] == (["text-faint"] if found else [])
    assert not found or 'the colour "shell" under it' in findings[0].message


def test_what_lies_on_top_under_the_lettering_counts() -> None:
    """White on shell is read; on a white patch that covers the shell there it is not."""
    whitish = lettering("lettering-1", "crab", 30, 112, 12, WHITE)
    assert codes(sheet_of((whitish,))) == []
    plain = disc(30, 110, SHELL)
    patch = coloured("patch", "area", [ellipse(30, 110, 12, 8)], WHITE)
    assert codes(sheet_of((whitish,), replace(plain, fills=(*plain.fills, patch)))) == ["text-faint"]


@pytest.mark.parametrize(
    ("size_pt", "on", "found"), [(6.9, DEEP, True), (7.0, DEEP, False), (6.9, INK, False), (6.9, SHELL, True)]
)
def test_small_text_left_open(size_pt: float, on: PressColour, found: bool) -> None:
    """White in several inks closes below about 7 pt; in one ink there is nothing out of register."""
    piece = lettering("lettering-1", "reef", 30, 112, size_pt, WHITE)
    findings = check_sheet(sheet_of((piece,), disc(30, 110, on)))
    assert [finding.code for finding in findings] == (["text-reversed-small"] if found else [])


def test_small_dark_text_is_not_left_open() -> None:
    assert codes(sheet_of((lettering("lettering-1", "reef", 30, 112, 6.0),))) == []


def test_black_lettering_over_a_dark_fill() -> None:
    """70 + 70 + 61 and 100 of black over it are 301 %."""
    piece = lettering("lettering-1", "reef", 30, 112, 20)
    found = codes(sheet_of((piece,), disc(30, 110, REEF)))
    assert "ink-heavy-overprint" in found
    knocked = replace(piece, colour=replace(INK, cmyk=(0, 0, 0, 99)))
    assert "ink-heavy-overprint" not in codes(sheet_of((knocked,), disc(30, 110, REEF)))
    beside = lettering("lettering-1", "reef", 80, 40, 20)
    assert "ink-heavy-overprint" not in codes(sheet_of((beside,), disc(30, 110, REEF)))


def test_black_lines_that_lie_beside_a_dark_fill_do_not_add_up() -> None:
    """A white patch lies between the line and the dark fill under it."""
    plain = disc(30, 110, REEF)
    line = coloured(
        "line", "line", [polygon_path(np.array([(26.0, 110), (34, 110), (34, 111), (26, 111)]))], INK
    )
    patch = coloured("patch", "area", [ellipse(30, 110, 8, 6)], WHITE)
    assert codes(sheet_of((), replace(plain, lines=(line,)))) == ["ink-heavy-overprint"]
    assert codes(sheet_of((), replace(plain, fills=(*plain.fills, patch), lines=(line,)))) == []
