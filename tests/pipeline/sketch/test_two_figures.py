"""A page with two figures, each mirrored about an axis of its own."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from PIL import Image

from limner.errors import InputError
from limner.geometry.cubics import flatten
from limner.job.load import load_zones
from limner.model.drawing import Shape
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import trace

# Two shells on a page of 1200 x 800 px: half of one that ends on its axis, and a whole one.
HALF_AXIS_PX, WHOLE_AXIS_PX = 300.0, 900.0


def shell(axis: float, squeeze: float) -> np.ndarray:
    """Outline of a fan-shaped shell; `squeeze` makes its right side narrower."""
    t = np.linspace(-np.pi, np.pi, 400)
    x = np.sin(t) * (170 + 25 * np.cos(3 * t))
    y = -np.cos(t) * (200 - 30 * np.cos(2 * t))
    return np.stack([axis + np.where(x > 0, x * squeeze, x), 400 + y], axis=1)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    grey = np.full((1600, 2400), 245, np.uint8)
    whole = shell(WHOLE_AXIS_PX, 0.97)
    half = shell(HALF_AXIS_PX, 1.0)
    half = half[half[:, 0] <= HALF_AXIS_PX + 1e-6]
    half = half[np.argsort(np.unwrap(np.arctan2(half[:, 1] - 400, HALF_AXIS_PX - half[:, 0] + 1e-9)))]
    for line, closed in ((whole, True), (half, False)):
        points = np.round(line * 2 * 16).astype(np.int32)
        cv2.polylines(grey, [points], closed, 60, 12, cv2.LINE_AA, shift=4)
    cv2.circle(grey, (2 * 240, 2 * 330), 12, 60, -1, cv2.LINE_AA)
    small = cv2.resize(grey, (1200, 800), interpolation=cv2.INTER_AREA)
    path = tmp_path_factory.mktemp("page") / "shells.png"
    Image.fromarray(small).save(path)
    return path


def region(shape: Shape) -> shapely.Geometry:
    return shapely.Polygon(flatten(shape.paths[0], 0.005))


def mirror_error(polygon: shapely.Geometry, axis_x: float) -> float:
    """Share of a polygon that its mirror image about an upright axis does not cover."""
    mirrored = shapely.affinity.affine_transform(polygon, [-1, 0, 0, 1, 2 * axis_x, 0])
    return shapely.symmetric_difference(polygon, mirrored).area / polygon.area


def test_each_figure_has_its_own_axis(page: Path) -> None:
    zones = page.parent / "zones.toml"
    zones.write_text("[[mirror]]\nbox = [0.02, 0.1, 0.35, 0.9]\n\n[[mirror]]\nbox = [0.55, 0.1, 0.98, 0.9]\n")
    settings = TraceSettings(width_mm=120, mirror=load_zones(zones).mirror, paper="none")
    result = trace(page, settings)
    areas = sorted((region(s) for s in result.drawing.fills if s.role == "area"), key=lambda r: -r.area)[:2]
    left, right = sorted(areas, key=lambda r: r.centroid.x)
    offset = result.page_origin_mm[0]
    # The drawn line ends half its width of 6 px beyond the axis: round, as a pencil's does.
    assert left.centroid.x - offset == pytest.approx(HALF_AXIS_PX / 10, abs=0.35)
    # The axes that were found may lean by the half degree that the project allows.
    assert mirror_error(left, left.centroid.x) < 0.01
    assert mirror_error(right, right.centroid.x) < 0.01
    # The half became a whole one: as wide as twice its drawn side.
    x0, _, x1, _ = left.bounds
    assert x1 - x0 == pytest.approx(2 * (HALF_AXIS_PX - shell(HALF_AXIS_PX, 1.0)[:, 0].min()) / 10, rel=0.02)
    dots = [s for s in result.drawing.lines if s.role == "solid" or region(s).area < 10]
    assert sum(region(dot).centroid.x - offset < 60 for dot in dots) == 2


def test_an_axis_by_hand_is_kept_to_rounding(page: Path) -> None:
    zones = page.parent / "hand.toml"
    zones.write_text("[mirror]\nat = [0.75, 0.5]\nangle = 90\nbox = [0.55, 0.1, 0.98, 0.9]\n")
    result = trace(page, TraceSettings(width_mm=120, mirror=load_zones(zones).mirror, paper="none"))
    regions = [region(s) for s in result.drawing.fills if s.role == "area"]
    right = max(regions, key=lambda r: r.centroid.x)
    # Flattening at 0.005 mm is all that differs between the two sides.
    assert mirror_error(right, WHOLE_AXIS_PX / 10 + result.page_origin_mm[0]) < 1e-4
    plain = trace(page, TraceSettings(width_mm=120, paper="none"))
    drawn = max((region(s) for s in plain.drawing.fills), key=lambda r: r.centroid.x)
    assert mirror_error(drawn, WHOLE_AXIS_PX / 10) > 1e-3


def test_the_other_figure_stays_as_drawn(page: Path) -> None:
    zones = page.parent / "one.toml"
    zones.write_text("[mirror]\nbox = [0.02, 0.1, 0.35, 0.9]\n")
    plain = trace(page, TraceSettings(width_mm=120, paper="none"))
    result = trace(page, TraceSettings(width_mm=120, mirror=load_zones(zones).mirror, paper="none"))

    def right_one(drawing: object) -> shapely.Geometry:
        regions = [region(s) for s in drawing.fills if s.role == "area"]  # type: ignore[attr-defined]
        return max(regions, key=lambda r: r.centroid.x)

    moved = shapely.affinity.translate(right_one(plain.drawing), *result.page_origin_mm)
    assert shapely.symmetric_difference(moved, right_one(result.drawing)).area < 0.01 * moved.area


def test_several_axes_need_a_box_each(tmp_path: Path) -> None:
    zones = tmp_path / "zones.toml"
    zones.write_text("[[mirror]]\nbox = [0.02, 0.1, 0.35, 0.9]\n\n[[mirror]]\nangle = 90\nat = [0.7, 0.5]\n")
    with pytest.raises(InputError, match="needs a box around its figure"):
        load_zones(zones)
