"""What arrives on the plates of a small sheet, by Ghostscript: whole inks, and black where it belongs."""

from dataclasses import replace

import numpy as np
import pytest

from helpers_render import plates
from helpers_sheet import INK, SHELL, coloured, cut_around, ellipse, sticker, tide_pool
from limner.model.sheet import Page
from limner.output.sheet.pdf import sheet_pdf

DPI = 254
PX_PER_MM = DPI / 25.4
CENTRE = (18.0, 13.0)


def small_sheet():
    """A black dot on a shell, both fills, with a black line around the dot's neighbour; 36 by 26 mm."""
    x, y = CENTRE
    fills = [
        coloured("shell", "area", [ellipse(x, y, 9, 6)], SHELL),
        coloured("dot", "area", [ellipse(x - 4, y, 2, 2)], INK),
    ]
    lines = [coloured("blot", "solid", [ellipse(x + 4, y, 2, 2)], INK)]
    crab = sticker("crab", fills, lines, cut_around([*fills, *lines], ellipse(x, y, 12, 9), "ellipse"))
    page = Page(30.0, 20.0, 3.0, 2.0, None)
    return replace(tide_pool(), page=page, stickers=(crab,), letterings=(), background=None)


@pytest.fixture(scope="module")
def ink(tmp_path_factory):
    """Shares of ink by plate, 0 to 1."""
    found = plates(sheet_pdf(small_sheet()), tmp_path_factory.mktemp("inks"), dpi=DPI)
    return {name: 1.0 - plate / 255.0 for name, plate in found.items()}


def at(plate, x_mm, y_mm):
    return float(plate[int(y_mm * PX_PER_MM), int(x_mm * PX_PER_MM)])


def test_the_cut_line_is_a_full_ink(ink):
    """A cutter's plotter takes a tint for something else, or for nothing."""
    inked = ink["Cutting"][ink["Cutting"] > 0]
    assert len(inked) > 2 * np.pi * 9 * PX_PER_MM
    # Ghostscript draws without half tones here: a pixel is inked as the colour says, or not at all.
    assert set(inked.tolist()) == {1.0}


def test_a_black_fill_knocks_out_what_lies_under_it(ink):
    """A black area over a colour would print as another black than one over paper."""
    x, y = CENTRE
    assert at(ink["Black"], x - 4, y) == 1.0
    assert [at(ink[name], x - 4, y) for name in ("Cyan", "Magenta", "Yellow")] == [0.0, 0.0, 0.0]


def test_black_ink_of_the_drawing_overprints(ink):
    x, y = CENTRE
    assert at(ink["Black"], x + 4, y) == 1.0
    # SHELL has 55 % of magenta and of yellow, which stay whole under the black.
    assert at(ink["Magenta"], x + 4, y) == pytest.approx(0.55, abs=0.005)
    assert at(ink["Yellow"], x + 4, y) == pytest.approx(0.55, abs=0.005)
