"""The proof shows the sheet as it will look: cut lines, trim, bleed, and findings at their places."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from helpers_render import Pixels, decoded
from helpers_sheet import lettering, tide_pool, with_sticker
from limner.model.finding import Finding
from limner.model.sheet import Page
from limner.output.sheet.proof import SEVERITY_COLOURS, safe_colour, sheet_proof

PX_PER_MM = 300 / 25.4
MARGIN_MM = 10.0


@cache
def good() -> Pixels:
    return decoded(sheet_proof(tide_pool()))


def at(picture: Pixels, x_mm: float, y_mm: float) -> list[int]:
    """The pixel at a place of the sheet."""
    row, column = ((side + MARGIN_MM) * PX_PER_MM for side in (y_mm, x_mm))
    return picture[int(row), int(column)].tolist()


def rgb(colour: str) -> list[int]:
    return [int(colour[i : i + 2], 16) for i in (1, 3, 5)]


def count(picture: Pixels, colour: str) -> int:
    return int((np.abs(picture.astype(int) - rgb(colour)).max(axis=2) <= 2).sum())


def test_it_is_at_true_size_at_300_pixels_per_inch():
    height, width, _ = good().shape
    assert width == round((111 + 2 * MARGIN_MM) * PX_PER_MM)
    assert height > (154 + 2 * MARGIN_MM) * PX_PER_MM


def test_art_has_its_screen_colours_at_its_place():
    assert at(good(), 55.5, 53) in (rgb("#f58f73"), rgb("#231f20"))
    assert at(good(), 60, 51.5) == rgb("#f58f73")  # within the crab's body
    assert at(good(), 52, 75) == rgb("#f2dec0")  # background between the stickers


def test_the_bleed_is_veiled_and_the_trim_marked():
    inside, bleed = at(good(), 5, 75), at(good(), 1.5, 75)
    assert inside == rgb("#f2dec0")
    assert bleed != inside
    row = good()[int((75 + MARGIN_MM) * PX_PER_MM)]
    blue = (row[:, 2].astype(int) - row[:, 0]) > 60
    columns = np.nonzero(blue)[0] / PX_PER_MM - MARGIN_MM
    # The trim lies 3 mm from the bleed's edge on both sides.
    for place in (3.0, 108.0):
        assert np.abs(columns - place).min() < 0.15


def test_cut_lines_are_drawn_in_their_own_colour():
    path = tide_pool().stickers[3].cut.path
    for x, y in path.nodes:
        assert at(good(), x, y) == pytest.approx(rgb("#ec008c"), abs=60)
    assert count(good(), "#ec008c") > 400
    bare = replace(tide_pool(), stickers=())
    # Left over is the sample in the legend.
    assert count(decoded(sheet_proof(bare)), "#ec008c") < 800


@pytest.mark.parametrize("severity", ["error", "warning", "note"])
def test_findings_are_marked_at_their_place(severity):
    finding = Finding(severity, "x", (20.0, 110.0), "Here; look.")
    picture = decoded(sheet_proof(tide_pool(), (finding,)))
    assert at(picture, 20, 110) == rgb(SEVERITY_COLOURS[severity])
    changed = np.argwhere((picture != good()).any(axis=2)) / PX_PER_MM - MARGIN_MM
    assert len(changed) > 0
    assert np.linalg.norm(changed - (110, 20), axis=1).max() < 8.0, "nothing else changes"


def test_findings_at_one_place_are_all_seen():
    few, many = (
        decoded(sheet_proof(tide_pool(), (Finding("error", "x", (55.0, 75.0), "Here; look."),) * number))
        for number in (1, 8)
    )
    badge = count(few, SEVERITY_COLOURS["error"])
    assert count(many, SEVERITY_COLOURS["error"]) > 6.5 * badge


@pytest.mark.parametrize("where", [None, (float("nan"), 2.0)])
def test_findings_without_a_place_change_nothing(where):
    finding = Finding("error", "x", where, "Somewhere; look.")
    np.testing.assert_array_equal(decoded(sheet_proof(tide_pool(), (finding,))), good())


def test_findings_far_outside_stay_on_the_picture():
    finding = Finding("error", "x", (-500.0, 1e9), "Far; look.")
    assert count(decoded(sheet_proof(tide_pool(), (finding,))), SEVERITY_COLOURS["error"]) > 200


def test_art_beyond_the_page_is_clipped_as_on_press():
    piece = lettering("lettering-1", "MMMMMMMMMMMMMMMMMM", 55.5, 75, 40)
    picture = decoded(sheet_proof(replace(tide_pool(), letterings=(piece,))))
    left = picture[:, : int((MARGIN_MM - 2) * PX_PER_MM)]
    np.testing.assert_array_equal(left, good()[:, : left.shape[1]])


@pytest.mark.parametrize(
    ("size_mm", "least", "most"), [((148.0, 210.0), 4.0e6, 4.2e6), ((297.0, 420.0), 4.2e6, 8e6)]
)
def test_larger_sheets_fill_a_large_screen_or_can_be_read(size_mm, least, most):
    sheet = replace(tide_pool(), page=Page(*size_mm, 3.0, 4.0, None))
    height, width, _ = decoded(sheet_proof(sheet)).shape
    assert least < height * width < most
    # 150 pixels per inch.
    assert width >= size_mm[0] / 25.4 * 150


def test_large_sheets_stay_within_bounds():
    poster = replace(tide_pool(), page=Page(841.0, 1189.0, 3.0, 4.0, "A0"))
    height, width, _ = decoded(sheet_proof(poster)).shape
    assert 20e6 < height * width < 24.1e6


@pytest.mark.parametrize("name", ["<b>&\"'</b>", "a\x00\ud800b", "\n" * 300, "crab \N{CRAB}", "x" * 500])
def test_odd_names(name):
    sheet = replace(with_sticker(tide_pool(), 0, name=name), name=name)
    sheet = replace(sheet, separation=replace(sheet.separation, name=name))
    assert decoded(sheet_proof(sheet)).shape == good().shape


def test_only_plain_colours_reach_the_markup():
    assert safe_colour("#12aBef") == "#12aBef"
    for other in ("red", "#123", '#123456"/><script>', "url(x)", "#1234567", "#12345g", "#123456\n"):
        assert safe_colour(other) == "#000000"


def test_the_same_bytes_twice():
    assert sheet_proof(tide_pool()) == sheet_proof(tide_pool())
