"""Guide lines, whole, in pieces or faint, go from the ink; what is art on the axis stays."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from limner.model.geometry import Axis
from limner.model.raster import ScaledInk
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import TraceResult, trace
from limner.regions.centrelines.build import build_graph
from limner.symmetry.find.evidence import line_samples
from limner.symmetry.find.guide import guide_lines
from limner.symmetry.frame import frame_of
from limner.symmetry.ink.complete import complete_half
from limner.symmetry.ink.erase import erase_guide
from sketchmaker.recipes import make

Floats = NDArray[np.float64]

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
TRUTH = json.loads((FIXTURES / "truth.json").read_text(encoding="utf-8"))["half-diver"]

SIDE, WIDTH, TURN = 400, 8.0, 12.0
MIDDLE = np.array([200.0, 200.0])
AXIS = Axis(200.0, 200.0, 90.0 + TURN, 1.0, "half", "right")  # the viewer's left


def along_axis(across: float, start: float, stop: float) -> Floats:
    """Ends of a stroke parallel to the axis, given in the axis's own coordinates, pixels."""
    frame = frame_of(AXIS)
    return np.array(
        [MIDDLE + np.array(frame.along) * u + np.array(frame.normal) * across for u in (start, stop)]
    )


def crossing(u: float, start: float, stop: float) -> Floats:
    """Ends of a stroke square to the axis, from `start` to `stop` on the kept side."""
    frame = frame_of(AXIS)
    return np.array([MIDDLE + np.array(frame.along) * u + np.array(frame.normal) * t for t in (start, stop)])


def ink_of(*strokes: tuple[Floats, float]) -> ScaledInk:
    """Coverage of straight strokes with round ends, oversampled eight times; 1 pixel is 1 mm."""
    fine = np.zeros((SIDE * 8, SIDE * 8), np.uint8)
    for ends, width in strokes:
        points = np.rint((ends * 8 - 0.5) * 16).astype(np.int32)
        cv2.line(fine, points[0].tolist(), points[1].tolist(), 255, round(width * 8), cv2.LINE_8, 4)
    cover = cv2.resize(fine, (SIDE, SIDE), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    return ScaledInk(cover, np.zeros(cover.shape, bool), WIDTH, np.eye(3), 1.0)


# Three lines that end on the axis, and one along the far side: a drawing of which a half is drawn.
ART = (
    *((crossing(u, 130.0, 0.0), WIDTH) for u in (-140.0, 0.0, 140.0)),
    (along_axis(130.0, -140.0, 140.0), WIDTH),
)


def erased(*more: tuple[Floats, float]) -> tuple[ScaledInk, ScaledInk]:
    ink = ink_of(*ART, *more)
    return ink, erase_guide(ink, build_graph(ink), AXIS)


def test_nothing_is_touched_where_no_guide_is_drawn() -> None:
    ink, bare = erased()
    assert bare is ink


@pytest.mark.parametrize("start", [4.0, -30.0])
def test_short_thin_bits_at_a_line_go_and_the_line_keeps_its_edge(start: float) -> None:
    _, bare = erased((along_axis(2.0, start, start + 26.0), 3.5))
    plain = ink_of(*ART)
    assert np.abs(bare.coverage - plain.coverage).max() < 0.5
    # All that differs is soft: the bit was of 80 pixels.
    assert np.abs(bare.coverage - plain.coverage).sum() < 6.0
    assert (bare.mask != plain.mask).sum() <= 3


def test_a_guide_in_pieces_goes_however_long_they_are() -> None:
    pieces = [(along_axis(1.0 + k, u, u + 60.0), 4.0) for k, u in enumerate((-175.0, -85.0, 10.0, 90.0))]
    _, bare = erased(*pieces)
    assert (bare.mask != ink_of(*ART).mask).sum() <= 12


def test_one_long_thin_stroke_on_the_axis_is_art() -> None:
    # A parting of which one half was drawn.
    ink, bare = erased((along_axis(2.0, 20.0, 110.0), 4.0))
    assert bare is ink


def test_a_parting_that_a_line_crosses_is_still_one_stroke() -> None:
    ink, bare = erased((along_axis(2.0, -100.0, 110.0), 4.0))
    assert bare is ink


def test_strokes_as_broad_as_the_others_on_the_axis_are_art() -> None:
    ridge = [(along_axis(3.0, u, u + 25.0), WIDTH) for u in (-100.0, -50.0, 40.0, 90.0)]
    ink, bare = erased(*ridge)
    assert bare is ink


def test_a_dot_on_the_axis_is_art() -> None:
    ink, bare = erased((along_axis(2.0, 60.0, 62.0), 5.0))
    assert bare is ink


def test_bits_farther_from_the_axis_are_art() -> None:
    ink, bare = erased((along_axis(24.0, 4.0, 30.0), 3.5))
    assert bare is ink


@pytest.mark.parametrize("width", [3.0, 5.0, 8.0])
def test_a_guide_that_was_seen_goes_as_broad_as_it_is(width: float) -> None:
    ink = ink_of(*ART, (along_axis(1.0, -190.0, 190.0), width))
    graph = build_graph(ink)
    guide = guide_lines(line_samples(graph), graph.line_width_mm)[0]
    assert guide.width_mm == pytest.approx(width, abs=0.5)
    bare = erase_guide(ink, graph, AXIS, guide)
    whole = complete_half(bare, build_graph(bare), AXIS)
    plain = ink_of(*ART)
    without = complete_half(plain, build_graph(plain), AXIS)
    assert whole.offset_px == without.offset_px
    assert (whole.ink.mask != without.ink.mask).sum() <= 40
    assert without.ink.mask.sum() > 8000


def test_what_stays_one_sided_keeps_its_bits() -> None:
    ink = ink_of(*ART, (along_axis(2.0, 4.0, 30.0), 3.5))
    square = along_axis(-20.0, -15.0, 45.0), along_axis(20.0, 45.0, -15.0)
    graph = build_graph(ink)
    ring = np.concatenate(square)
    assert (erase_guide(ink, graph, AXIS, one_sided=[ring]).mask == ink.mask).all()
    assert (erase_guide(ink, graph, AXIS, within=[ring]).mask != ink.mask).sum() > 60
    far = np.add(ring, [0.0, 120.0])
    assert (erase_guide(ink, graph, AXIS, within=[far]).mask == ink.mask).all()


def test_an_axis_that_misses_the_page_erases_nothing() -> None:
    ink = ink_of(*ART)
    away = Axis(-500.0, 0.0, 90.0, 1.0, "by hand")
    assert erase_guide(ink, build_graph(ink), away) is ink
    blank = ScaledInk(np.zeros((64, 64), np.float32), np.zeros((64, 64), bool), 4.0, np.eye(3), 1.0)
    assert erase_guide(blank, build_graph(blank), away) is blank


@pytest.fixture(scope="module")
def diver() -> TraceResult:
    return trace(FIXTURES / "half-diver.jpg", TraceSettings(mirror="auto", paper="none"))


def drawn_and_mirrored(result: TraceResult) -> list[Floats]:
    """The strokes of the vector drawing of the half face and their mirror images, millimetres."""
    made = make("half-diver", size=64)
    to_photo = np.array(TRUTH["to_photo"])
    scale, axis = result.page.mm_per_px, result.drawing.axis
    assert axis is not None
    to_page = np.linalg.inv(result.page.to_photo) @ to_photo
    lines = []
    for stroke in made.drawing.strokes:
        on_page = made.layout.put(np.asarray(stroke.points))
        spots = np.column_stack([on_page, np.ones(len(on_page))]) @ to_page.T
        line = spots[:, :2] / spots[:, 2:] * scale + np.array(result.page_origin_mm)
        lines += [line, frame_of(axis).reflect(line)]
    return lines


def test_no_ink_is_left_of_the_guide_of_the_half_drawn_face(diver: TraceResult) -> None:
    import shapely

    from limner.geometry.cubics import flatten

    axis, drawing = diver.drawing.axis, diver.drawing
    assert axis is not None
    rings = [shapely.Polygon(flatten(path, 0.01)) for shape in drawing.lines for path in shape.paths]
    ink = shapely.Polygon()
    for ring in rings:
        ink = ink.symmetric_difference(ring.buffer(0))
    width = drawing.line_width_mm
    frame = frame_of(axis)
    line = shapely.LineString([np.array(frame.origin) + np.array(frame.along) * u for u in (-300.0, 300.0)])
    beside = ink.intersection(line.buffer(1.5 * width))
    truth = shapely.union_all([shapely.LineString(line) for line in drawn_and_mirrored(diver)])
    # A line is half a width to either side of its middle; the hand strays by as much again.
    assert beside.difference(truth.buffer(1.2 * width)).area == 0.0
    # And every line of the drawing that ends on the axis still crosses it: hair, fringe, mask twice, nose,
    # mouth, chin, neck, collar, hem.
    met = [part for part in shapely.get_parts(ink.intersection(line)) if part.length > 0.3 * width]
    assert len(met) == 10
