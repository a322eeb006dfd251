"""Lengths and places stay true where a drawing is scaled, mirrored, and put on a page that grows for it."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from PIL import Image

from limner.geometry.cubics import flatten
from limner.job.tables import AreaTable, MirrorTable, ZoneTable
from limner.model.drawing import Shape
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import TraceResult, trace

LINE_PX = 6


def arc(x: float, y: float, rx: float, ry: float, from_deg: float = 0.0, to_deg: float = 360.0) -> np.ndarray:
    turn = np.radians(np.linspace(from_deg, to_deg, 200))
    return np.stack([x + rx * np.cos(turn), y + ry * np.sin(turn)], axis=1)


def picture(path: Path, width: int, height: int, *lines: np.ndarray) -> Path:
    """Lines of 6 pixels on white paper."""
    grey = np.full((height * 2, width * 2), 245, np.uint8)
    for line in lines:
        cv2.polylines(grey, [np.round(line * 32).astype(np.int32)], False, 50, 2 * LINE_PX, cv2.LINE_AA, 4)
    Image.fromarray(cv2.resize(grey, (width, height), interpolation=cv2.INTER_AREA)).save(path)
    return path


def region(shape: Shape) -> shapely.Polygon:
    return shapely.Polygon(flatten(shape.paths[0], 0.005))


def areas(result: TraceResult) -> list[Shape]:
    return [shape for shape in result.drawing.fills if shape.role == "area"]


@pytest.mark.parametrize(("width", "height"), [(400, 200), (200, 400)])
def test_without_a_scale_the_drawn_part_is_100_mm_wide(tmp_path: Path, width: int, height: int) -> None:
    oval = arc(width / 2, height / 2, 0.35 * width, 0.35 * height)
    result = trace(picture(tmp_path / "a.png", width, height, oval), TraceSettings(paper="none"))
    ink = shapely.union_all([region(shape) for shape in result.drawing.lines])
    x0, y0, x1, y1 = ink.bounds
    assert x1 - x0 == pytest.approx(100.0, rel=0.005)
    # The outer edge of the line, half its width beyond the oval.
    assert y1 - y0 == pytest.approx(100.0 * (0.7 * height + LINE_PX) / (0.7 * width + LINE_PX), rel=0.01)


@pytest.fixture(scope="module")
def half(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The right half of a face whose axis lies 30 px from the left border of a page of 300 x 260 px."""
    x, y = 30.0, 130.0
    lines = (arc(x, y, 200, 100, -90, 90), arc(x, y + 40, 60, 25, -90, 90), arc(x + 90, y - 20, 25, 25))
    return picture(tmp_path_factory.mktemp("half") / "half.png", 300, 260, *lines)


@pytest.fixture(scope="module")
def completed(half: Path) -> TraceResult:
    """The whole face, its drawn part 80 mm wide: with a named eye, and zones in two words for one place."""
    table = MirrorTable.model_validate({"at": [0.1, 0.5], "angle": 90, "keep": "right"})
    eye = AreaTable.model_validate({"at": [0.4, 110 / 260], "name": "eye", "smoothing": "0.05 mm"})
    zones = ({"box": [0.3, 0.3, 0.5, 0.5], "smoothing": 0.1}, {"area": "eye", "smoothing": 0.1})
    settings = TraceSettings(
        paper="none",
        mirror=(table,),
        drawing_width_mm=80.0,
        areas=(eye,),
        zones=tuple(ZoneTable.model_validate(zone) for zone in zones),
    )
    return trace(half, settings)


def test_a_completed_half_has_the_width_asked_for(completed: TraceResult) -> None:
    x0, _, x1, _ = shapely.union_all([region(shape) for shape in completed.drawing.lines]).bounds
    assert x1 - x0 == pytest.approx(80.0, rel=0.005)
    # Twice from the axis to the outer edge of the line.
    assert completed.page.mm_per_px == pytest.approx(80.0 / (2 * (200 + LINE_PX / 2)), rel=0.005)


def test_the_page_lies_where_its_ink_lies(completed: TraceResult) -> None:
    """The page grew to the left by what the other half needs, in the millimetres of the final scale."""
    scale = completed.page.mm_per_px
    assert scale is not None
    axis = completed.drawing.axis
    assert axis is not None
    assert axis.x_mm - completed.page_origin_mm[0] == pytest.approx(30 * scale, abs=0.01)
    eyes = {shape.name: region(shape) for shape in areas(completed) if shape.name.startswith("eye")}
    assert set(eyes) == {"eye-left", "eye-right"}
    centre = eyes["eye-right"].centroid
    wanted = np.array(completed.page_origin_mm) + np.array([120, 110]) * scale
    assert (centre.x, centre.y) == pytest.approx(tuple(wanted), abs=0.1)


def test_zones_move_with_the_page(completed: TraceResult) -> None:
    box, named = completed.mapped.zones
    scale = completed.page.mm_per_px
    assert scale is not None
    assert completed.page_origin_mm[0] > 20
    corners = np.array([[0.3, 0.3], [0.5, 0.3], [0.5, 0.5], [0.3, 0.5]]) * [300 * scale, 260 * scale]
    np.testing.assert_allclose(box.rings[0], corners + completed.page_origin_mm, atol=1e-9)
    # One that names an area is where that area is: around the same eye, within the box.
    middle = named.rings[0].mean(axis=0)
    assert middle == pytest.approx(np.array([120, 110]) * scale + completed.page_origin_mm, abs=0.2)


def test_the_stated_size_of_an_area_is_that_of_the_mirrored_one(tmp_path: Path) -> None:
    """A lopsided oval, 100 px wide to the left of its axis and 60 to the right; the left half is kept."""
    oval = np.concatenate([arc(160, 120, 100, 80, 90, 270), arc(160, 120, 60, 80, -90, 90)])
    sketch = picture(tmp_path / "oval.png", 300, 240, oval)
    table = MirrorTable.model_validate({"at": [160 / 300, 0.5], "angle": 90, "keep": "left"})
    result = trace(sketch, TraceSettings(paper="none", mirror=(table,), width_mm=30.0))
    (area,) = areas(result)
    # The whole ellipse of 100 by 80 px at 0.1 mm.
    assert region(area).area == pytest.approx(np.pi * 10 * 8, rel=0.01)
    assert area.area_mm2 == pytest.approx(np.pi * 10 * 8, rel=0.02)


def test_an_earlier_axis_moves_down_where_a_later_figure_needs_room_above(tmp_path: Path) -> None:
    """Two figures about level axes: a whole one, and the lower half of one that ends near the page's top."""
    whole = np.concatenate([arc(150, 260, 90, 70, 180, 360), arc(150, 260, 90, 60, 0, 180)])
    lower = [arc(x, 30, rx, ry, 0, 180) for x, rx, ry in ((450, 130, 170), (490, 70, 90), (380, 35, 40))]
    sketch = picture(tmp_path / "two.png", 600, 400, whole, *lower)
    tables = (
        {"box": [0.02, 0.3, 0.48, 0.98], "at": [0.25, 0.65], "angle": 0, "keep": "top"},
        {"box": [0.5, 0.0, 1.0, 0.6]},
    )
    mirror = tuple(MirrorTable.model_validate(table) for table in tables)
    result = trace(sketch, TraceSettings(paper="none", mirror=mirror, width_mm=60.0))
    left, top = result.page_origin_mm
    # What reaches 170 px below the axis reaches as far above it, and the page had 30.
    assert top > 14.0
    found = [region(area) for area in areas(result)]
    one = min(found, key=lambda polygon: polygon.centroid.x)
    assert (one.centroid.x, one.centroid.y) == pytest.approx((left + 15.0, top + 26.0), abs=0.05)
    assert one.area == pytest.approx(np.pi * 9 * 7, rel=0.01)
    # The other axis is found, to about half a percent of the drawing.
    other = max(found, key=lambda polygon: polygon.area)
    assert other.centroid.y == pytest.approx(top + 3.0, abs=0.3)
