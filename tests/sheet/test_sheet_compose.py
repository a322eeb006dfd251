from dataclasses import replace

import numpy as np
import pytest
import shapely

from helpers_cut import blob, regular, star
from limner.colour import standout_colour
from limner.errors import GeometryError
from limner.geometry.cubics import bounds, flatten, polygon_path
from limner.model.colour import PressColour
from limner.model.drawing import Drawing, Shape
from limner.model.sheet import Page
from limner.sheet.compose import (
    SheetSettings,
    StickerSettings,
    compose_sheet,
    lay_cut,
    prepare_sticker,
)
from limner.sheet.lettering.fonts import default_face
from limner.sheet.lettering.setting import LetteringSettings, set_lettering
from limner.sheet.settings import CutSettings, LayoutSettings

INK = PressColour("ink", (0, 0, 0, 100), "#231f20", "given", 0.0)
SAND = PressColour("sand", (0, 12, 28, 4), "#f0d8b0", "given", 0.0)
CORAL = PressColour("coral", (0, 52, 50, 3), "#f7777a", "given", 0.0)
A6 = Page(105.0, 148.0, 3.0, 4.0, "A6")


def drawing_of(*rings):
    fill = Shape("body", "area", (polygon_path(rings[0]),), "#f7777a", 0.2, 100.0)
    lines = tuple(
        Shape(f"line-{i}", "line", (polygon_path(ring),), "#000000", 0.1) for i, ring in enumerate(rings[1:])
    )
    return Drawing(100.0, 80.0, (fill,), lines, 0.6)


def colour_of(shape):
    return INK if shape.role in ("line", "solid") else CORAL


def prepared(name="crab", width=30.0, drawing=None, **others):
    drawing = drawing or drawing_of(blob(1, 20) + np.array([50, 40]), regular(12, 3) + np.array([50, 40]))
    cut = others.pop("cut", CutSettings())
    wanted = StickerSettings(name, width, cut, **others)
    return prepare_sticker(drawing, wanted, lay_cut(drawing, wanted))


def sheet_of(stickers, letterings=(), background=SAND, page=A6):
    settings = SheetSettings("tide-pool", page, background, letterings, "Cutting", LayoutSettings())
    return compose_sheet(stickers, settings, [colour_of] * len(stickers), standout_colour)


def art_box(sticker):
    boxes = np.array([bounds(path) for item in sticker.shapes for path in item.shape.paths])
    return (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))


def test_the_art_gets_its_true_width_about_its_centre():
    sticker = prepared(px_per_mm=10.0)
    boxes = np.array([bounds(path) for shape in sticker.drawing.shapes for path in shape.paths])
    x0, y0 = boxes[:, :2].min(axis=0)
    x1, y1 = boxes[:, 2:].max(axis=0)
    assert x1 - x0 == pytest.approx(30.0)
    assert y1 - y0 == pytest.approx(sticker.height_mm)
    # To the step of the grid on which files hold coordinates.
    assert (x0 + x1, y0 + y1) == pytest.approx((0, 0), abs=0.0011)
    scale = sticker.drawing.line_width_mm / 0.6
    assert sticker.px_per_mm == pytest.approx(10.0 / scale)
    assert sticker.drawing.error_mm == pytest.approx(0.2 * scale)
    assert sticker.drawing.fills[0].area_mm2 == pytest.approx(100 * scale**2)


def test_a_fixed_sticker_lies_where_the_job_says_turned_as_it_says():
    at = A6.from_trim(40.0, 50.0)
    (sticker,) = sheet_of([prepared(at_mm=at, rotate_deg=90.0)]).stickers
    assert (sticker.x_mm, sticker.y_mm) == (43.0, 53.0)
    x0, y0, x1, y1 = art_box(sticker)
    # A quarter turn swaps the sides; the centre stays.
    assert (x1 - x0, y1 - y0) == pytest.approx((sticker.height_mm, sticker.width_mm))
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((43.0, 53.0), abs=0.0006)


def test_the_cut_line_moves_with_its_art():
    for rotate in (0.0, 33.0):
        (sticker,) = sheet_of([prepared(at_mm=(50.0, 60.0), rotate_deg=rotate)]).stickers
        cut = shapely.Polygon(flatten(sticker.cut.path, 0.002))
        drawn = shapely.union_all(
            [shapely.Polygon(flatten(p, 0.005)) for item in sticker.shapes for p in item.shape.paths]
        )
        assert cut.contains(drawn)
        assert cut.exterior.distance(drawn) == pytest.approx(sticker.cut.min_distance_mm, abs=0.01)


def test_free_stickers_keep_clear_of_fixed_ones_and_of_lettering():
    title = set_lettering(
        LetteringSettings("Tide Pool", 8.0, 55.0, 18.0), default_face("display"), INK, name="lettering-1"
    )
    stickers = [prepared("fixed", at_mm=(60.0, 75.0))]
    stickers += [prepared(f"free-{i}", 22.0, drawing_of(star())) for i in range(4)]
    sheet = sheet_of(stickers, (title,))
    cuts = [shapely.Polygon(flatten(s.cut.path, 0.005)) for s in sheet.stickers]
    text = shapely.union_all([shapely.Polygon(flatten(p, 0.01)) for g in title.glyphs for p in g.paths])
    for i, cut in enumerate(cuts):
        assert cut.distance(text) >= 2.0 - 0.02
        assert all(cut.distance(other) >= 2.0 - 0.02 for other in cuts[i + 1 :])
        x0, y0, x1, y1 = cut.bounds
        safe = A6.safe_box
        assert min(x0 - safe[0], y0 - safe[1], safe[2] - x1, safe[3] - y1) >= -0.01
    assert [s.name for s in sheet.stickers] == ["fixed", "free-0", "free-1", "free-2", "free-3"]


def test_colours_are_listed_once_from_bottom_to_top():
    sheet = sheet_of([prepared(at_mm=(50.0, 60.0)), prepared("two", at_mm=(50.0, 110.0))])
    assert sheet.colours == (SAND, CORAL, INK)
    assert {item.shape.fill for item in sheet.stickers[0].fills} == {CORAL.screen}
    assert sheet.separation.name == "Cutting"
    assert sheet.separation.screen not in {colour.screen for colour in sheet.colours}
    assert sheet_of([prepared(at_mm=(50.0, 60.0))], background=None).colours == (CORAL, INK)


def test_parts_joined_by_a_neck_are_reported_at_their_place():
    apart = drawing_of(regular(40, 5), regular(40, 5) + np.array([18, 0]))
    (finding,) = sheet_of([prepared("eggs", 28.0, apart, at_mm=(50.0, 60.0))]).findings
    assert (finding.severity, finding.code) == ("note", "parts-joined")
    assert finding.where_mm == pytest.approx((50.0, 60.0), abs=0.3)
    assert '"eggs" lie' in finding.message
    far = replace(apart, lines=drawing_of(regular(40, 5), regular(40, 5) + np.array([40, 0])).lines)
    (finding,) = sheet_of([prepared("eggs", 50.0, far, at_mm=(50.0, 60.0))]).findings
    assert finding.severity == "warning"
    three = drawing_of(*(regular(40, 5) + np.array([x, 0]) for x in (0, 18, 40)))
    (finding,) = sheet_of([prepared("eggs", 50.0, three, at_mm=(50.0, 60.0))]).findings
    assert "2 necks" in finding.message


def test_stickers_that_do_not_fit_are_named():
    with pytest.raises(GeometryError, match='no room for "whale"'):
        sheet_of([prepared("whale", 150.0)])


def test_a_drawing_without_shapes_is_refused():
    with pytest.raises(GeometryError, match="no shapes"):
        lay_cut(Drawing(10, 10, (), (), 0.5), StickerSettings("x", 10.0, CutSettings()))


def test_trim_and_sheet_coordinates():
    assert (A6.width_mm, A6.height_mm) == (111.0, 154.0)
    assert A6.trim_box == (3.0, 3.0, 108.0, 151.0)
    assert A6.safe_box == (7.0, 7.0, 104.0, 147.0)
    assert A6.to_trim(*A6.from_trim(12.5, 7.25)) == (12.5, 7.25)


def test_a_partial_cut_has_a_separation_of_its_own_and_a_ground_its_colour():
    stickers = [
        prepared(at_mm=(50.0, 60.0), depth="partial", ground=SAND),
        prepared("two", at_mm=(50.0, 110.0)),
    ]
    settings = SheetSettings(
        "tide-pool", A6, None, (), "Cutting", LayoutSettings(), partial_separation="Kiss", white_mm=0.1
    )
    sheet = compose_sheet(stickers, settings, [colour_of] * 2, standout_colour)
    assert [sticker.cut.depth for sticker in sheet.stickers] == ["partial", "through"]
    assert sheet.partial.name == "Kiss"
    assert sheet.partial.screen != sheet.separation.screen
    ground = sheet.stickers[0].ground
    assert ground.colour == SAND
    cut, outside = (
        shapely.Polygon(flatten(path, 0.002)) for path in (sheet.stickers[0].cut.path, ground.shape.paths[0])
    )
    # Half of the gap to a neighbour, which is 1 mm, less what its border may stray.
    assert outside.exterior.distance(cut) >= 0.94
    assert sheet.colours == (SAND, CORAL, INK)
    white = shapely.union_all([shapely.Polygon(flatten(path, 0.002)) for path in sheet.white.paths])
    assert outside.buffer(-0.08).contains(white.intersection(outside))
    assert sheet_of([prepared(at_mm=(50.0, 60.0))]).partial is None


def test_a_shape_without_a_colour_is_left_out():
    settings = SheetSettings("tide-pool", A6, None, (), "Cutting", LayoutSettings())
    only_lines = [lambda shape: INK if shape.role == "line" else None]
    (sticker,) = compose_sheet([prepared(at_mm=(50.0, 60.0))], settings, only_lines, standout_colour).stickers
    assert sticker.fills == ()
    assert len(sticker.lines) == 1
