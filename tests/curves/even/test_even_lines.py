"""Lines rebuilt from their centrelines: strokes, widths, tapers, joints."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from limner.curves.even.outlines import even_lines, steady_width
from limner.curves.even.strokes import Stroke, find_strokes
from limner.curves.settings import CurveSettings
from limner.geometry.cubics import flatten
from limner.model.drawing import Shape
from limner.model.regionmap import Edge, InkRing, LineGraph, RegionMap

WIDTH_MM = 1.0
SETTINGS = CurveSettings(smoothing_mm=0.05, lines="even")


def line(start: tuple[float, float], end: tuple[float, float], step: float = 0.1) -> np.ndarray:
    count = max(2, round(float(np.hypot(end[0] - start[0], end[1] - start[1])) / step) + 1)
    return np.linspace(start, end, count)


def graph(nodes: list[tuple[float, float]], edges: list[tuple[int, int]]) -> LineGraph:
    made = []
    for a, b in edges:
        points = line(nodes[a], nodes[b])
        points[0], points[-1] = nodes[a], nodes[b]
        made.append(Edge(points, np.full(len(points), WIDTH_MM), a, b))
    return LineGraph(np.array(nodes, dtype=float), tuple(made), WIDTH_MM)


def regions_of(lines: LineGraph, ink: shapely.Geometry) -> RegionMap:
    rings = []
    for piece, polygon in enumerate(shapely.get_parts(ink)):
        upright = shapely.geometry.polygon.orient(polygon)
        rings += [
            InkRing(np.array(r.coords)[:-1], piece, False) for r in [upright.exterior, *upright.interiors]
        ]
    return RegionMap(40.0, 40.0, lines, (), (), tuple(rings))


def drawn(lines: LineGraph) -> shapely.Geometry:
    return shapely.union_all([shapely.LineString(edge.points).buffer(WIDTH_MM / 2) for edge in lines.edges])


def region(shape: Shape) -> shapely.Geometry:
    polygons = [shapely.Polygon(flatten(path, 0.001)) for path in shape.paths]
    result = polygons[0]
    for polygon in polygons[1:]:
        result = shapely.symmetric_difference(result, polygon)
    return result


CROSS = graph([(5, 20), (20, 20), (35, 20), (20, 5), (20, 35)], [(0, 1), (1, 2), (3, 1), (1, 4)])


def test_lines_that_cross_are_two_strokes() -> None:
    strokes = find_strokes(CROSS)
    assert len(strokes) == 2
    assert all(stroke.free == (True, True) and not stroke.closed for stroke in strokes)
    assert sorted(float(np.ptp(stroke.points[:, 0])) for stroke in strokes) == pytest.approx(
        [0, 30], abs=1e-9
    )


def test_a_line_that_runs_into_another_ends_there() -> None:
    tee = graph([(5, 20), (20, 20), (35, 20), (20, 35)], [(0, 1), (1, 2), (1, 3)])
    strokes = find_strokes(tee)
    assert sorted(stroke.free for stroke in strokes) == [(False, True), (True, True)]


def test_three_lines_at_equal_angles_all_end_where_they_meet() -> None:
    angles = np.radians([90, 210, 330])
    nodes = [(20.0, 20.0), *((20 + 10 * np.cos(a), 20 + 10 * np.sin(a)) for a in angles)]
    assert len(find_strokes(graph(nodes, [(0, 1), (0, 2), (0, 3)]))) == 3


def test_a_loop_without_junction_is_a_closed_stroke() -> None:
    angle = np.linspace(0, 2 * np.pi, 200)
    points = np.stack([20 + 10 * np.cos(angle), 20 + 10 * np.sin(angle)], axis=1)
    points[-1] = points[0]
    edge = Edge(points, np.full(len(points), WIDTH_MM), 0, 0)
    (stroke,) = find_strokes(LineGraph(points[:1], (edge,), WIDTH_MM))
    assert stroke.closed
    assert not np.array_equal(stroke.points[0], stroke.points[-1])


def test_every_edge_is_in_one_stroke_whatever_its_direction() -> None:
    turned = LineGraph(
        CROSS.nodes,
        tuple(Edge(e.points[::-1], e.width_mm[::-1], e.end, e.start) for e in CROSS.edges),
        WIDTH_MM,
    )
    lengths = [sorted(len(stroke.points) for stroke in find_strokes(g)) for g in (CROSS, turned)]
    assert lengths[0] == lengths[1]


def stroke_of(width: np.ndarray, free: tuple[bool, bool] = (True, True)) -> Stroke:
    points = np.stack([np.linspace(0, 30, len(width)), np.zeros(len(width))], axis=1)
    return Stroke(points, width, free, closed=False)


def test_an_even_line_keeps_its_width() -> None:
    width = steady_width(stroke_of(np.full(301, WIDTH_MM)), WIDTH_MM)
    assert width == pytest.approx(np.full(301, WIDTH_MM), rel=1e-6)


def test_grain_and_blots_do_not_reach_the_width() -> None:
    noisy = WIDTH_MM + 0.15 * np.random.default_rng(3).standard_normal(301)
    noisy[:8] += 0.8
    width = steady_width(stroke_of(noisy, free=(False, True)), WIDTH_MM)
    assert np.abs(width - WIDTH_MM).max() < 0.06


def test_a_lifted_end_tapers_to_a_point_and_the_other_does_not() -> None:
    lifted = WIDTH_MM * np.clip(np.linspace(0, 30, 301) / 8, 0.2, 1)
    width = steady_width(stroke_of(lifted), WIDTH_MM)
    assert width[0] == pytest.approx(0, abs=1e-9)
    assert np.all(np.diff(width[:60]) > 0)
    assert width[-1] == pytest.approx(WIDTH_MM, rel=0.05)


def test_an_end_at_a_junction_never_tapers() -> None:
    lifted = WIDTH_MM * np.clip(np.linspace(0, 30, 301) / 8, 0.2, 1)
    assert steady_width(stroke_of(lifted, free=(False, True)), WIDTH_MM)[0] > 0.3 * WIDTH_MM


def test_rebuilt_cross_covers_what_was_drawn() -> None:
    (shape,) = even_lines(regions_of(CROSS, drawn(CROSS)), SETTINGS)
    assert shape.role == "line"
    apart = shapely.symmetric_difference(region(shape), drawn(CROSS)).area / drawn(CROSS).area
    assert apart < 0.01
    # Four arms with a round end of two nodes or three each, and the four inner corners.
    assert shape.node_count <= 4 * 3 + 4


def test_the_stated_error_holds_for_the_outline() -> None:
    (shape,) = even_lines(regions_of(CROSS, drawn(CROSS)), SETTINGS)
    outline = shapely.boundary(region(shape))
    assert shapely.hausdorff_distance(outline, shapely.boundary(drawn(CROSS))) <= shape.error_mm + 0.01
    assert shape.error_mm <= SETTINGS.smoothing_mm


def test_dots_stay_as_drawn() -> None:
    dot = shapely.Point(10, 10).buffer(0.9, quad_segs=32)
    (shape,) = even_lines(regions_of(LineGraph(np.zeros((0, 2)), (), WIDTH_MM), dot), SETTINGS)
    assert shapely.symmetric_difference(region(shape), dot).area < 0.05 * dot.area


def test_direction_of_the_edges_does_not_change_the_ink() -> None:
    turned = LineGraph(
        CROSS.nodes,
        tuple(Edge(e.points[::-1], e.width_mm[::-1], e.end, e.start) for e in CROSS.edges),
        WIDTH_MM,
    )
    one, other = (region(even_lines(regions_of(g, drawn(g)), SETTINGS)[0]) for g in (CROSS, turned))
    assert shapely.symmetric_difference(one, other).area < 1e-3 * one.area


@pytest.mark.parametrize("seed", range(3))
def test_a_noisy_line_stays_within_the_smoothing(seed: int) -> None:
    # A pencil's grain moves the centreline by a third of the smoothing: a fit that is allowed to give way
    # to noise would, with the outline's own error, exceed the smoothing.
    x = np.linspace(5, 35, 301)
    points = np.stack([x, 20 + 3 * np.sin(x / 4)], axis=1)
    points += np.random.default_rng(seed).normal(0.0, SETTINGS.smoothing_mm / 3, points.shape)
    ends = np.array([points[0], points[-1]])
    lines = LineGraph(ends, (Edge(points, np.full(len(points), WIDTH_MM), 0, 1),), WIDTH_MM)
    (shape,) = even_lines(regions_of(lines, drawn(lines)), SETTINGS)
    assert shape.error_mm <= SETTINGS.smoothing_mm


def test_every_free_end_can_run_out_into_a_point() -> None:
    plain = np.full(301, WIDTH_MM)
    width = steady_width(stroke_of(plain), WIDTH_MM, runs_out=True)
    assert width[[0, -1]] == pytest.approx([0, 0], abs=1e-9)
    assert width[150] == pytest.approx(WIDTH_MM, rel=1e-6)
    assert np.all(np.diff(width[:80]) > 0)
    one = steady_width(stroke_of(plain, free=(False, True)), WIDTH_MM, runs_out=True)
    assert one[0] == pytest.approx(WIDTH_MM, rel=1e-6)
    assert one[-1] == pytest.approx(0, abs=1e-9)


def test_tapered_lines_end_in_points_where_the_ink_ended() -> None:
    row = graph([(5, 20), (35, 20)], [(0, 1)])
    tapered = replace(SETTINGS, lines="tapered")
    (shape,) = even_lines(regions_of(row, drawn(row)), tapered)
    outline = shapely.Polygon(flatten(shape.paths[0], 0.001))
    left, _, right, _ = outline.bounds
    assert (left, right) == pytest.approx((5 - WIDTH_MM / 2, 35 + WIDTH_MM / 2), abs=0.1)
    at_tip = outline.intersection(shapely.box(0, 0, 5.3, 40))
    assert at_tip.bounds[3] - at_tip.bounds[1] < 0.35 * WIDTH_MM
    middle = outline.intersection(shapely.box(19, 0, 21, 40))
    assert middle.bounds[3] - middle.bounds[1] == pytest.approx(WIDTH_MM, rel=0.1)
