"""Whole traces of the photographed sketches in fixtures/, against what was drawn."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from helpers_render import chromium, differing, resvg, whole_pixels
from limner.geometry.cubics import flatten
from limner.geometry.rings import inside_rings
from limner.job.tables import AreaTable, MirrorTable
from limner.model.drawing import Drawing
from limner.output.sketch.svg import drawing_svg
from limner.pipeline.sketch.files import trace_files
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import TraceResult, trace

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
TRUTH = json.loads((FIXTURES / "truth.json").read_text(encoding="utf-8"))
# Photographs on a table in which the sheet of paper is wholly in view.
ON_A_TABLE = [name for name, truth in TRUTH.items() if truth["corners_px"] is not None]


@pytest.fixture(scope="module")
def crab() -> TraceResult:
    return trace(FIXTURES / "crab.jpg", TraceSettings(paper="A5"))


def area_at(drawing: Drawing, point: tuple[float, float]) -> str | None:
    """Name of the topmost area under a point."""
    for shape in reversed(drawing.fills):
        rings = [flatten(path, 0.02) for path in shape.paths]
        if shape.role == "area" and inside_rings(np.array([point]), rings)[0]:
            return shape.name
    return None


def test_the_drawn_areas_are_found_apart(crab: TraceResult) -> None:
    # truth.json gives points well inside each area, in pixels of the photograph.
    to_page = np.linalg.inv(crab.page.to_photo)
    found: dict[str, str | None] = {}
    for area in TRUTH["crab"]["areas"]:
        x, y, w = to_page @ [*area["inside_px"], 1.0]
        scale = crab.page.mm_per_px
        assert scale is not None
        found[area["name"]] = area_at(crab.drawing, (x / w * scale, y / w * scale))
    missing = [name for name, shape in found.items() if shape is None]
    assert missing == []
    assert len(set(found.values())) == len(found)


def test_scale_comes_from_the_paper(crab: TraceResult) -> None:
    # A5 is 148 mm x 210 mm (ISO 216).
    assert crab.page.scale_from == "paper A5"
    assert crab.drawing.width_mm == pytest.approx(148, rel=0.005)
    assert crab.drawing.height_mm == pytest.approx(210, rel=0.01)


def test_line_width_is_that_of_the_pencil(crab: TraceResult) -> None:
    assert crab.drawing.line_width_mm == pytest.approx(TRUTH["crab"]["line_mm"], rel=0.25)


@pytest.mark.parametrize("lines", ["drawn", "even"])
def test_the_stated_error_is_within_the_smoothing(lines: str) -> None:
    result = trace(FIXTURES / "sea-star.jpg", TraceSettings(lines=lines))  # type: ignore[arg-type]
    # A thousandth for rounding.
    assert 0 < result.drawing.error_mm <= 1.001 * result.smoothing_mm


def test_chromium_and_resvg_show_the_same(crab: TraceResult, tmp_path: Path) -> None:
    px_per_mm = 5
    data = drawing_svg(crab.drawing, "crab.jpg")
    width = whole_pixels(round(crab.drawing.width_mm), px_per_mm)
    height = whole_pixels(round(crab.drawing.height_mm), px_per_mm)
    body = data.decode().split("?>", 1)[1]
    page = tmp_path / "page.html"
    page.write_text(
        "<!doctype html><meta charset=utf-8><style>body{margin:0}svg{display:block;"
        f"width:{crab.drawing.width_mm * px_per_mm}px;"
        f"height:{crab.drawing.height_mm * px_per_mm}px}}</style>{body}",
        encoding="utf-8",
    )
    theirs = chromium(page, width, height, tmp_path)
    ours = resvg(data, px_per_mm)
    rows, columns = min(theirs.shape[0], ours.shape[0]), min(theirs.shape[1], ours.shape[1])
    assert differing(ours[:rows, :columns], theirs[:rows, :columns]) < 0.01


def test_files_are_the_same_bytes_every_time(crab: TraceResult) -> None:
    again = trace(FIXTURES / "crab.jpg", TraceSettings(paper="A5"))
    assert trace_files(again, "crab.jpg", ("svg",)) == trace_files(crab, "crab.jpg", ("svg",))


def test_half_a_face_becomes_a_whole_one() -> None:
    result = trace(FIXTURES / "half-diver.jpg", TraceSettings(mirror="auto"))
    drawing, axis = result.drawing, result.drawing.axis
    assert axis is not None
    assert axis.how in ("half", "guide")
    names = {shape.name for shape in drawing.shapes}
    assert any(name.endswith("-left") for name in names)
    assert {name.removesuffix("-left") for name in names if name.endswith("-left")} == {
        name.removesuffix("-right") for name in names if name.endswith("-right")
    }
    assert drawing.width_mm > 1.2 * result.page.grey.shape[1] * (result.page.mm_per_px or 0)


def test_axis_of_the_half_face_is_the_drawn_one() -> None:
    result = trace(FIXTURES / "half-diver.jpg", TraceSettings(mirror="auto", paper="none"))
    truth, axis = TRUTH["half-diver"]["axis"], result.drawing.axis
    assert axis is not None
    assert result.page.mm_per_px is not None
    # The bounds of the project for art: half a degree, and half a percent of the drawing's size.
    assert axis.angle_deg == pytest.approx(truth["angle_deg"], abs=0.5)
    offset = np.array([truth["x_px"], truth["y_px"]]) * result.page.mm_per_px + result.page_origin_mm
    normal = np.array([np.sin(np.radians(axis.angle_deg)), -np.cos(np.radians(axis.angle_deg))])
    nodes = np.concatenate([path.nodes for shape in result.drawing.shapes for path in shape.paths])
    size = float(np.ptp(nodes, axis=0).max())
    assert abs((offset - [axis.x_mm, axis.y_mm]) @ normal) < 0.005 * size


def test_a_whole_face_with_a_snorkel_on_one_side_is_evened_out_but_for_the_snorkel() -> None:
    truth = TRUTH["diver"]
    only = {area["name"]: area["inside_px"] for area in truth["areas"] if area["name"][:3] in ("sno", "mou")}
    assert len(only) == 4
    tables = [
        {"at": [x / truth["width_px"], y / truth["height_px"]], "name": name} for name, (x, y) in only.items()
    ]
    areas = tuple(AreaTable.model_validate(table) for table in tables)
    mirror = MirrorTable.model_validate({"one_sided": list(only)})
    result = trace(FIXTURES / "diver.jpg", TraceSettings(mirror=(mirror,), paper="none", areas=areas))
    axis = result.drawing.axis
    assert axis is not None
    assert axis.how == "whole"
    # The bounds of the project for whole drawings: 0.7 degrees.
    assert axis.angle_deg == pytest.approx(truth["axis"]["angle_deg"], abs=0.7)
    names = {shape.name for shape in result.drawing.fills}
    assert set(only) <= names
    assert not any(name.startswith(tuple(only)) and name.endswith(("-left", "-right")) for name in names)


def test_a_guide_line_through_a_whole_face_is_used_and_not_kept(tmp_path: Path) -> None:
    page = np.full((900, 800), 245, np.uint8)
    for x, y, rx, ry in ((400, 450, 240, 300), (310, 380, 40, 30), (492, 382, 41, 30), (401, 590, 90, 35)):
        cv2.ellipse(page, (x, y), (rx, ry), 0, 0, 360, 60, 8, cv2.LINE_AA)
    cv2.line(page, (400, 40), (400, 860), 130, 3, cv2.LINE_AA)
    cv2.imwrite(str(tmp_path / "face.png"), cv2.GaussianBlur(page, (0, 0), 0.8))
    result = trace(tmp_path / "face.png", TraceSettings(mirror="auto", paper="none"))
    axis = result.drawing.axis
    assert axis is not None
    assert axis.how == "guide"
    scale = result.page.mm_per_px
    assert scale is not None
    ink = np.concatenate([path.nodes for shape in result.drawing.shapes for path in shape.paths]) / scale
    ink -= np.array(result.page_origin_mm) / scale
    # The face itself, half a line wide around its ellipse; the guide ran from 40 to 860.
    assert ink[:, 1].min() == pytest.approx(450 - 304, abs=3)
    assert ink[:, 1].max() == pytest.approx(450 + 304, abs=3)
    # Whole areas, not halves of them: the face less its features, and three of these.
    assert len([shape for shape in result.drawing.fills if shape.role == "area"]) == 4


@pytest.mark.parametrize("name", ON_A_TABLE)
def test_paper_on_a_table_is_straightened(name: str) -> None:
    truth = TRUTH[name]
    result = trace(FIXTURES / truth["file"], TraceSettings(paper=truth["paper"]))
    # Corner of the photograph against corner of the page: half a percent of the page's width.
    height, width = result.page.grey.shape
    corners = (
        np.array([[0, 0, 1], [width, 0, 1], [width, height, 1], [0, height, 1]]) @ result.page.to_photo.T
    )
    found = corners[:, :2] / corners[:, 2:]
    wanted = np.array(truth["corners_px"])
    bound = 0.005 * np.hypot(*(wanted[1] - wanted[0]))
    turns = [np.roll(wanted, turn, axis=0) for turn in range(4)]
    assert min(np.abs(found - turn).max() for turn in turns) < bound
