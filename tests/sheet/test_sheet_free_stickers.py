"""Stickers without a place of their own: turned as asked, and no nearer to the lettering than asked."""

import numpy as np
import pytest
import shapely

from helpers_cut import regular
from limner.errors import GeometryError
from limner.geometry.cubics import bounds, flatten, polygon_path
from limner.model.colour import PressColour
from limner.model.drawing import Drawing, Shape
from limner.model.sheet import Glyph, Page, PlacedLettering
from limner.sheet.compose import SheetSettings, StickerSettings, compose_sheet, lay_cut, prepare_sticker
from limner.sheet.settings import CutSettings, LayoutSettings

INK = PressColour("ink", (0, 0, 0, 100), "#231f20", "given", 0.0)
CUTTING = PressColour("Cutting", (0, 100, 0, 0), "#ec008c", "default", None)

# Bottom of the bar that stands for lettering, at the safe margin of the top.
BAR_MM = 12.0


def sticker(ring, **others):
    drawing = Drawing(80.0, 80.0, (Shape("body", "area", (polygon_path(ring),), "#f7777a", 0.0),), (), 0.6)
    settings = StickerSettings("crab", 20.0, CutSettings(), **others)
    return prepare_sticker(drawing, settings, lay_cut(drawing, settings))


def bar(page):
    """Lettering as wide as the page: nothing finds a place beside it."""
    x1 = page.width_mm
    path = polygon_path(np.array([[0.0, 8.0], [x1, 8.0], [x1, BAR_MM], [0.0, BAR_MM]]))
    return PlacedLettering(
        "lettering-1",
        "-",
        4.0,
        INK,
        (Glyph("hyphen", (path,)),),
        x1 / 2,
        BAR_MM,
        0.0,
        "none",
        (0, 8, x1, BAR_MM),
    )


def placed(one, page, letterings=(), layout=None):
    settings = SheetSettings("tide-pool", page, None, letterings, "Cutting", layout or LayoutSettings())
    return compose_sheet([one], settings, [lambda _: INK], lambda name, screens: CUTTING).stickers[0]


def cut_height(one):
    return float(np.ptp(flatten(one.cut.line.path, 0.001)[:, 1]))


@pytest.mark.parametrize("rotate_deg", [0.0, 90.0, 30.0])
def test_a_free_sticker_is_turned_as_its_job_says(rotate_deg):
    corners = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 10.0], [0.0, 10.0]])
    found = placed(sticker(corners, rotate_deg=rotate_deg), Page(105.0, 148.0, 3.0, 4.0, "A6"))
    assert found.rotate_deg == rotate_deg
    x0, y0, x1, y1 = bounds(found.fills[0].shape.paths[0])
    # A rectangle of 20 by 5 mm: the box around it, turned.
    c, s = np.cos(np.radians(rotate_deg)), np.sin(np.radians(rotate_deg))
    assert (x1 - x0, y1 - y0) == pytest.approx((20 * c + 5 * s, 20 * s + 5 * c))
    # Its cut line is turned with it, 2.5 mm away and less than a fitted corner's blunting farther.
    x0, y0, x1, y1 = bounds(found.cut.path)
    assert (x1 - x0, y1 - y0) == pytest.approx((20 * c + 5 * s + 5, 20 * s + 5 * c + 5), abs=1.0)


@pytest.mark.parametrize("clearance_mm", [2.0, 3.5])
def test_lettering_keeps_its_clearance_where_room_is_scarce(clearance_mm):
    """A strip a little too low for sticker and clearance holds none, one a little higher does."""
    one = sticker(regular(48, 10.0))
    layout = LayoutSettings(gap_mm=2.0, clearance_mm=clearance_mm)
    needed = BAR_MM + clearance_mm + cut_height(one)

    def page(spare_mm):
        # The sheet is the trim and 3 mm of bleed on each side; nothing lies within 4 mm of the trim.
        return Page(40.0, needed + spare_mm + 7.0 - 6.0, 3.0, 4.0, None)

    with pytest.raises(GeometryError, match="no room for"):
        placed(one, page(-0.3), (bar(page(-0.3)),), layout)
    found = placed(one, page(0.3), (bar(page(0.3)),), layout)
    cut = shapely.Polygon(flatten(found.cut.path, 0.001))
    assert cut.bounds[1] - BAR_MM >= clearance_mm - 0.02
