"""Mirrored fills stay in their lines: pictures whose lines meet the axis a little aslant."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from limner.geometry.cubics import flatten
from limner.job.tables import MirrorTable
from limner.model.drawing import Shape
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import TraceResult, trace
from limner.symmetry.frame import frame_of

Floats = NDArray[np.float64]

WIDTH, HEIGHT, LINE = 900, 1100, 4


def arc(x: float, y: float, rx: float, ry: float, start_deg: float = 0.0, end_deg: float = 360.0) -> Floats:
    turn = np.radians(np.linspace(start_deg, end_deg, 400))
    return np.stack([x + rx * np.cos(turn), y + ry * np.sin(turn)], axis=1)


def left_of(ring: Floats, x: float) -> Floats:
    """The part of a closed ring to the left of x."""
    ring = np.roll(ring[:-1], -int(np.argmax(ring[:, 0])), axis=0)
    return ring[ring[:, 0] <= x]


def wavering(line: Floats, seed: int, by_px: float) -> Floats:
    """The line as a hand draws it."""
    arc_length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.arange(0.0, arc_length[-1], 3.0)
    spots = np.stack([np.interp(at, arc_length, line[:, axis]) for axis in (0, 1)], axis=1)
    phase = np.random.default_rng(seed).uniform(0.0, 2 * np.pi, (2, 3))
    waves = np.sin(2 * np.pi * at[:, None, None] / np.array([60.0, 110.0, 190.0]) + phase)
    return np.asarray(spots + by_px / 2 * waves.sum(axis=2))


def half_owl() -> list[Floats]:
    """The left half of an owl with a round face; its outlines meet the axis at x = 600 ten degrees off."""
    lines = [
        left_of(arc(555, 380, 210, 210), 600),
        left_of(arc(540, 600, 260, 400), 600),
        arc(505, 370, 60, 60),
        arc(505, 370, 22, 22),
        np.array([[600.0, 430.0], [570.0, 470.0], [600.0, 540.0]]),
        arc(600, 760, 150, 180, 92, 268),
        np.array([[560.0, 985.0], [540.0, 1030.0], [580.0, 1030.0], [575.0, 985.0]]),
    ]
    return [wavering(line, 200 + k, 2.0) for k, line in enumerate(lines)]


def toothed(height: float) -> list[Floats]:
    """A mouth with a row of low teeth, the axis (x = 450) across the side of one."""
    x = 55.0 + 790.0 * (np.arange(10) + 1 / 14) / 9
    y = 500.0 + height * np.where(np.arange(10) % 2 == 1, 1.0, -1.0)
    x[[0, -1]], y[[0, -1]] = (50.0, 850.0), 500.0
    lines = [arc(450, 500, 400, 330), np.stack([x, y], axis=1)]
    return [wavering(line, 100 + k, 1.5) for k, line in enumerate(lines)]


def photographed(lines: list[Floats], path: Path) -> Path:
    """Lines in pencil, drawn four times as large and reduced."""
    canvas = np.full((HEIGHT * 4, WIDTH * 4), 255, np.uint8)
    for line in lines:
        points = np.round((line * 4 - 0.5) * 16).astype(np.int32)
        cv2.polylines(canvas, [points], False, 40, LINE * 4, cv2.LINE_AA, 4)
    small = cv2.resize(canvas, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(path), cv2.GaussianBlur(small, (0, 0), 0.8))
    return path


def region(shape: Shape) -> shapely.Geometry:
    """What an even-odd shape covers."""
    covered = shapely.Polygon()
    for path in shape.paths:
        covered = covered.symmetric_difference(shapely.Polygon(flatten(path, 0.005)).buffer(0))
    return covered


def sticks_out_mm(result: TraceResult) -> float:
    """Largest distance of an area's edge from the ink, or from half a line's width around a bridge."""
    drawing = result.drawing
    assert drawing.axis is not None
    drawn = [edge.points for edge in result.regions.graph.edges if edge.kind == "bridge"]
    bridges = [*drawn, *(frame_of(drawing.axis).reflect(line) for line in drawn)]
    near = shapely.union_all(
        [region(shape) for shape in drawing.lines]
        + [shapely.LineString(line).buffer(drawing.line_width_mm / 2) for line in bridges]
    )
    areas = [shape for shape in drawing.fills if shape.role == "area"]
    assert len(areas) >= 2
    edges = [shapely.LinearRing(flatten(path, 0.01)) for shape in areas for path in shape.paths]
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(edges, 0.1)))
    return float(shapely.distance(near, spots).max())


@pytest.mark.parametrize(
    ("lines", "smoothing_mm", "mirror"),
    [
        (half_owl(), 0.2, "auto"),
        (toothed(12.0), 0.28, (MirrorTable(at=[0.5, 0.5], angle=90, keep="left"),)),
        (toothed(16.0), 0.28, (MirrorTable(at=[0.5, 0.5], angle=90, keep="left"),)),
    ],
    ids=["half owl", "low teeth", "teeth"],
)
def test_fills_stay_in_their_lines(
    lines: list[Floats], smoothing_mm: float, mirror: object, tmp_path: Path
) -> None:
    settings = TraceSettings(mirror=mirror, paper="none", smoothing_mm=smoothing_mm, width_mm=100.0)  # type: ignore[arg-type]
    result = trace(photographed(lines, tmp_path / "sketch.png"), settings)
    assert sticks_out_mm(result) <= smoothing_mm
    # Whatever the seams moved is in the error that is stated.
    half_line = 0.5 * result.drawing.line_width_mm
    assert result.drawing.error_mm <= smoothing_mm + min(smoothing_mm, half_line) + 0.001
