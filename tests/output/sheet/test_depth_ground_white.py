"""Partial cuts, grounds and white ink: layers, plates and words."""

import re
from dataclasses import replace
from functools import cache
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pikepdf
import pytest
import shapely

from helpers_render import plates
from helpers_sheet import FOAM, lettering, tide_pool, with_sticker
from limner.geometry.cubics import flatten
from limner.model.colour import PressColour
from limner.model.drawing import Shape
from limner.model.sheet import ColouredShape, White
from limner.output.sheet.pdf import sheet_pdf
from limner.output.sheet.proof import sheet_proof
from limner.output.sheet.report import sheet_report
from limner.output.sheet.svg import sheet_svg
from limner.output.sheet.ticket import sheet_ticket
from limner.sheet.cut.ground import ground_path
from limner.sheet.white import white_paths

PARTIAL = PressColour("PartialCutting", (100, 0, 100, 0), "#00a651", "given", 0.0)
NO_INK = PressColour("White", (0, 0, 0, 0), "#ffffff", "default", 0.0)
INSET_MM = 0.2
DPI = 300
PX_MM = 25.4 / DPI
PROCESS = ("Cyan", "Magenta", "Yellow", "Black")


@cache
def grounded():
    """The second sticker on a ground of foam, the third one cut in part."""
    sheet = tide_pool()
    path = ground_path(sheet.stickers[1].cut.path, 1.0)
    ground = ColouredShape(Shape("ground", "silhouette", (path,), FOAM.screen, 0.0), FOAM)
    sheet = with_sticker(sheet, 1, ground=ground)
    sheet = with_sticker(sheet, 2, cut=replace(sheet.stickers[2].cut, depth="partial"))
    return replace(sheet, partial=PARTIAL)


@cache
def on_white():
    return replace(
        grounded(),
        white=White(NO_INK, white_paths(grounded().stickers, grounded().letterings, INSET_MM), INSET_MM),
    )


@cache
def all_plates(name, folder):
    return plates(sheet_pdf({"white": on_white, "ground": grounded}[name]()), folder / name, dpi=DPI)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("plates")


def polygon(path):
    return shapely.Polygon(flatten(path, 0.002))


def inked(plate):
    rows, columns = np.nonzero(plate < 255)
    return shapely.points((columns + 0.5) * PX_MM, (rows + 0.5) * PX_MM)


def test_a_ground_reaches_past_the_cut_line_by_what_is_asked():
    cut = tide_pool().stickers[1].cut.path
    outside = polygon(ground_path(cut, 1.0))
    assert outside.contains(polygon(cut))
    assert outside.exterior.distance(polygon(cut)) >= 0.94
    assert shapely.hausdorff_distance(outside.exterior, polygon(cut).buffer(1.0, 64).exterior) <= 0.15


def test_the_svg_has_the_layers_from_bottom_to_top():
    root = ElementTree.fromstring(sheet_svg(on_white()))
    groups = [item.get("id") for item in root if item.tag.endswith("}g")]
    assert groups == [
        "white", "background", "crab", "sea-star", "anemone", "shell", "lettering", "cut-partial", "cut",
    ]  # fmt: skip
    star = next(item for item in root if item.get("id") == "sea-star")
    assert [item.get("id") for item in star if item.tag.endswith("}g")] == [
        "sea-star-ground", "sea-star-fills", "sea-star-lines",
    ]  # fmt: skip
    paths = {item.get("id"): len(item.findall("{*}path")) for item in root}
    assert (paths["cut-partial"], paths["cut"]) == (1, 3)


def test_layers_of_the_pdf_say_what_they_are_for():
    """Cutting: the PDF Association's machine-readable model. White, without types: public descriptions of the
    Ghent Workgroup's test suite for ISO 19593-1."""
    with pikepdf.open(BytesIO(sheet_pdf(on_white()))) as pdf:
        groups = list(pdf.Root.OCProperties.OCGs)
        marks = {str(g.Name): dict(g.GTS_Metadata) for g in groups if "/GTS_Metadata" in g}
        said = {name: {key: str(value) for key, value in mark.items()} for name, mark in marks.items()}
        group, kind = "/GTS_ProcStepsGroup", "/GTS_ProcStepsType"
        assert said == {
            "white": {group: "/White"},
            "cut-partial": {group: "/Structural", kind: "/PartialCutting"},
            "cut": {group: "/Structural", kind: "/Cutting"},
        }
        assert "sea-star-ground" in [str(g.Name) for g in groups]
        spaces = pdf.pages[0].Resources.ColorSpace
        assert sorted(str(space[1]) for space in spaces.values()) == ["/Cutting", "/PartialCutting", "/White"]


def test_each_depth_has_its_own_plate(folder):
    found = all_plates("ground", folder)
    assert set(found) == {*PROCESS, "Cutting", "PartialCutting"}
    for name, depth in (("Cutting", "through"), ("PartialCutting", "partial")):
        rings = [shapely.LinearRing(flatten(s.cut.path, 0.002)) for s in grounded().cut_at(depth)]
        lines = shapely.MultiLineString(rings)
        points = inked(found[name])
        assert len(points) >= lines.length / PX_MM
        assert shapely.dwithin(points, lines, 2 * PX_MM).all()


def letter(glyph):
    """What a glyph without overlaps fills, its counters left out."""
    region = shapely.Polygon()
    for path in glyph.paths:
        region = shapely.symmetric_difference(region, polygon(path))
    return region


def test_white_lies_under_art_and_lettering_and_changes_no_other_plate(folder):
    plain, found = all_plates("ground", folder), all_plates("white", folder)
    for name in plain:
        # This rasteriser composes overprinting art by other code: one pixel of 2.4 million may differ.
        assert (found[name] != plain[name]).sum() <= 3
    sheet = on_white()
    art = shapely.union_all(
        [polygon(path) for s in sheet.stickers for item in s.printed for path in item.shape.paths]
        + [letter(glyph) for piece in sheet.letterings for glyph in piece.glyphs]
    )
    points = inked(found["White"])
    assert shapely.within(points, art.buffer(-INSET_MM + 2 * PX_MM)).all()
    deep = art.buffer(-INSET_MM - 2 * PX_MM)
    covered = found["White"] == 0
    for part in shapely.get_parts(deep):
        x, y = part.representative_point().coords[0]
        assert covered[int(y / PX_MM), int(x / PX_MM)]
    assert covered.sum() * PX_MM**2 >= 0.9 * deep.area


def test_white_under_letters_leaves_their_counters_open():
    (ring,) = lettering("ring", "o", 20.0, 20.0, 60.0).glyphs
    outer, counter = sorted((polygon(path).area for path in ring.paths), reverse=True)
    white = white_paths([], [lettering("ring", "o", 20.0, 20.0, 60.0)], 0.05)
    found = sorted((polygon(path).area for path in white), reverse=True)
    assert len(found) == 2
    assert found[0] < outer
    assert found[1] > counter
    # The letter in the ring of this sign lies in a hole, and is printed all the same.
    assert len(white_paths([], [lettering("sign", "\N{REGISTERED SIGN}", 20.0, 20.0, 60.0)], 0.01)) == 4


def test_without_white_a_sheet_has_no_such_layer():
    assert b"White" not in sheet_pdf(grounded())
    assert b'id="white"' not in sheet_svg(grounded())


def test_report_and_ticket_tell():
    report = sheet_report(on_white(), ())
    assert report["white"] == {"separation": "White", "inset_mm": INSET_MM}
    assert report["cut"]["partial_separation"] == "PartialCutting"
    assert [sticker["cut"]["depth"] for sticker in report["stickers"]] == [
        "through", "through", "partial", "through",
    ]  # fmt: skip
    assert [sticker["ground"] for sticker in report["stickers"]] == [None, "foam", None, None]
    ticket = sheet_ticket(on_white(), (), b"").decode()
    assert "Structural / PartialCutting" in ticket
    assert re.search(r"White ink.*0\.2 mm smaller", ticket, re.DOTALL)
    assert "partial</td>" in ticket


def test_the_proof_shows_the_ground():
    assert sheet_proof(grounded()) != sheet_proof(replace(tide_pool(), partial=PARTIAL))
