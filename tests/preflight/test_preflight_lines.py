"""Lines that are thin along a stretch, pale or lost, and art that lies beside what was drawn.

The limits are common practice, without a source.
"""

from dataclasses import replace

import numpy as np
import pytest

from helpers_sheet import INK, SAND, SHELL, WHITE, coloured, cut_around, ellipse, ring, sticker, tide_pool
from limner.geometry.cubics import polygon_path, reverse
from limner.model.colour import PressColour
from limner.model.sheet import ColouredShape, PlacedSticker, Sheet
from limner.preflight.checks import check_sheet
from limner.preflight.settings import PreflightSettings
from limner.preflight.survey.thin import thin_stretch

MM_PER_PT = 25.4 / 72.0


def sheet_of(*lines: ColouredShape, fill: PressColour = SHELL, **changes: object) -> Sheet:
    fills = [coloured("disc", "area", [ellipse(50, 70, 12, 12)], fill)]
    item = sticker("disc", fills, [], cut_around(fills, ellipse(50, 70, 14.5, 14.5), "circle"))
    item = replace(item, lines=lines, **changes)
    return replace(tide_pool(), stickers=(item,), letterings=(), colours=(SAND, fill))


def codes(sheet: Sheet) -> list[str]:
    return [finding.code for finding in check_sheet(sheet)]


def waisted(width: float, length: float) -> np.ndarray:
    """A bar 1 mm wide that is as narrow as `width` over a length in its middle."""
    x0, x1, y = 50 - length / 2, 50 + length / 2, 70.0
    upper = [
        (44, y - 0.5),
        (x0, y - 0.5),
        (x0, y - width / 2),
        (x1, y - width / 2),
        (x1, y - 0.5),
        (56, y - 0.5),
    ]
    return np.array([*upper, *((x, 2 * y - v) for x, v in reversed(upper))])


@pytest.mark.parametrize(
    ("width", "length", "found"), [(0.06, 4.0, True), (0.06, 1.0, False), (0.12, 4.0, False)]
)
def test_a_line_that_is_thin_along_a_stretch(width: float, length: float, found: bool) -> None:
    """The mean of the shape is far above 0.25 pt."""
    line = coloured("line", "line", [polygon_path(waisted(width, length))], INK)
    findings = check_sheet(sheet_of(line))
    assert [finding.code for finding in findings] == (["line-thin"] if found else [])
    if found:
        assert findings[0].severity == "warning"
        assert f"({width:.3f} mm)" in findings[0].message
        assert findings[0].where_mm == pytest.approx((50, 70), abs=length / 2 + 0.1)


def test_the_smallest_line_is_the_printing_companys() -> None:
    line = coloured("line", "line", [polygon_path(waisted(0.12, 4.0))], INK)
    (finding,) = check_sheet(sheet_of(line), PreflightSettings(smallest_line_mm=0.15))
    assert (finding.code, finding.severity) == ("line-thin", "warning")


def test_a_thin_ring_is_found_between_its_outer_and_its_inner_outline() -> None:
    outer = np.array([(0.0, 0), (10, 0), (10, 10), (0, 10)])
    inner = np.array([(0.05, 0.05), (0.05, 9), (9, 9), (9, 0.05)])
    width, _ = thin_stretch([[outer, inner]], 0.09, 2.0)
    assert width == pytest.approx(0.05, abs=1e-6)
    assert thin_stretch([[outer, inner]], 0.04, 2.0) is None
    # Two lines beside each other are no thin line.
    assert thin_stretch([[outer], [outer + np.array([10.05, 0])]], 0.09, 2.0) is None
    assert thin_stretch([], 0.09, 2.0) is None


@pytest.mark.parametrize(
    ("black", "width", "found"),
    [(29.0, 0.3, True), (30.0, 0.3, False), (29.0, 0.5, False), (0.0, 0.3, False)],
)
def test_pale_lines(black: float, width: float, found: bool) -> None:
    tint = PressColour("mist", (0, 0, 0, black), "#b0b0b0", "given", 0.0)
    line = coloured("line", "line", ring(ellipse(50, 70, 8, 8), 0.4), tint)
    assert codes(sheet_of(line, line_width_mm=width)) == (["line-pale"] if found else [])


def test_lines_in_the_colour_of_the_fill_under_them() -> None:
    line = coloured("line", "line", ring(ellipse(50, 70, 8, 8), 0.6), INK)
    assert codes(sheet_of(line, fill=INK)) == ["line-lost"]
    assert codes(sheet_of(line)) == []


def test_a_pupil_in_the_colour_of_the_lines_loses_none() -> None:
    line = coloured("line", "line", ring(ellipse(50, 70, 8, 8), 0.6), INK)
    sheet = sheet_of(line)
    (item,) = sheet.stickers
    pupil = coloured("pupil", "area", [ellipse(50, 70, 5, 5)], INK)
    patch = coloured("patch", "area", [ellipse(50, 70, 11, 11)], WHITE)
    for fills in ((*item.fills, pupil), (replace(item.fills[0], colour=INK), patch)):
        assert codes(replace(sheet, stickers=(replace(item, fills=fills),))) == []


@pytest.mark.parametrize(("error", "found"), [(0.30, False), (0.31, True)])
def test_art_beside_what_was_drawn(error: float, found: bool) -> None:
    """Half a line of 0.6 mm."""
    assert codes(sheet_of(error_mm=error, line_width_mm=0.6)) == (["art-coarse"] if found else [])


@pytest.mark.parametrize(
    ("cmyk", "source", "found"),
    [
        ((10, 0, 2.9, 0), "given", True),
        ((10, 0, 3, 0), "given", False),
        ((10, 0, 0, 0), "given", False),
        ((2, 9, 52, 0), "default", True),
        ((10, 0, 1.2, 0), "profile", False),
    ],
)
def test_tints_that_the_press_loses(cmyk: tuple[float, ...], source: str, found: bool) -> None:
    """What a profile makes of RGB is the profile's business."""
    pale = PressColour("pale", cmyk, "#e6ffff", source, 0.0)
    sheet = replace(sheet_of(fill=pale), colours=(SAND, pale))
    assert codes(sheet) == (["tint-pale"] if found else [])


def test_limners_own_tints_hold_on_press() -> None:
    from limner.colour.tints import TINT_INKS

    assert all(
        ink == 0 or ink >= PreflightSettings().palest_tint for inks in TINT_INKS.values() for ink in inks
    )


def test_holes_of_mirrored_art_do_not_turn_ink_inside_out() -> None:
    """A wide ring whose outlines both run the other way round is no thin line."""
    outer, inner = ring(ellipse(50, 70, 8, 8), 0.6)
    line = coloured("line", "line", (reverse(outer), reverse(inner)), INK)
    assert codes(sheet_of(line)) == []
    assert isinstance(sheet_of(line).stickers[0], PlacedSticker)


def test_copies_are_not_told_of_again() -> None:
    thin = coloured("line", "line", [polygon_path(waisted(0.05, 8.0))], INK)
    sheet = sheet_of(thin)
    (one,) = sheet.stickers
    copies = tuple(replace(one, name=f"disc-{k}", copy_of="disc") for k in (2, 3))
    assert codes(sheet).count("line-thin") == 1
    assert codes(replace(sheet, stickers=(one, *copies))).count("line-thin") == 1
