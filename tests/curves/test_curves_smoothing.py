"""Which smoothing holds where: that of the drawing, of areas, of zones, in fills, ink and even lines."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from limner.curves.drawing import trace_curves
from limner.curves.settings import CurveSettings
from limner.curves.smoothing import gradual, smoothing_at
from limner.geometry.cubics import flatten
from limner.model.drawing import Zone
from limner.model.regionmap import Area, Edge, InkRing, LineGraph, RegionMap

# Waves of 0.3 mm either way are copied at the finer smoothing, and run straight through at the coarse one.
WAVE_MM, FINE_MM, COARSE_MM = 0.3, 0.03, 0.8
# Flattened curves lie within this of the true ones.
FLAT_MM = 0.001

COARSE = CurveSettings(smoothing_mm=COARSE_MM)
RIGHT = (np.array([[20.0, -5.0], [45.0, -5.0], [45.0, 45.0], [20.0, 45.0]]),)


def waves(start, end, lift=0.0):
    """A wavy line between two points, with a bow of that height to the left of its way."""
    t = np.linspace(0.0, 1.0, 400)[:, None]
    way = np.subtract(end, start)
    across = np.array([-way[1], way[0]]) / np.hypot(*way)
    swing = WAVE_MM * np.sin(2 * np.pi * 8 * t) * np.sin(np.pi * t) + lift * np.sin(np.pi * t)
    line = np.asarray(start) + t * way + swing * across
    line[[0, -1]] = start, end
    return line


def two_areas(left=None, right=None):
    """Two areas of one outline, parted by a line from (20, 5) to (20, 35), all three lines wavy."""
    ends = np.array([[20.0, 5.0], [20.0, 35.0]])
    rows = [waves(*ends, lift=15.0), waves(*ends), waves(*ends, lift=-15.0)]
    edges = tuple(Edge(row, np.ones(len(row)), 0, 1) for row in rows)
    # With y down a way to the left of one that runs down lies to the right on the page.
    areas = (
        Area("right", ((1, True), (0, False)), (), None, (25.0, 20.0), 300.0, smoothing_mm=right),
        Area("left", ((2, True), (1, False)), (), None, (15.0, 20.0), 300.0, smoothing_mm=left),
    )
    return RegionMap(40.0, 40.0, LineGraph(ends, edges, 0.5), areas, (((2, True), (0, False)),))


def strayed(points, shapes):
    """Largest distance of points to the outlines of shapes."""
    rings = [shapely.LinearRing(flatten(path, FLAT_MM)) for shape in shapes for path in shape.paths]
    return float(shapely.distance(shapely.points(points), shapely.MultiLineString(rings)).max())


def wavy_ring(x, y, radius, piece):
    turn = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    r = radius + WAVE_MM * np.sin(20 * turn)
    return InkRing(np.array([x, y]) + np.stack([r * np.cos(turn), r * np.sin(turn)], axis=1), piece, False)


def inked(*rings):
    return RegionMap(40.0, 40.0, LineGraph(np.zeros((0, 2)), (), 0.5), (), (), rings)


def test_an_area_has_its_own_smoothing():
    regions = two_areas(right=FINE_MM)
    drawing = trace_curves(regions, COARSE)
    rim_right, rim_left = regions.graph.edges[0].points, regions.graph.edges[2].points
    assert strayed(rim_right, drawing.fills) <= FINE_MM + FLAT_MM
    assert strayed(rim_left, drawing.fills) > WAVE_MM / 2


@pytest.mark.parametrize(("left", "right"), [(FINE_MM, COARSE_MM / 2), (COARSE_MM / 2, FINE_MM)])
def test_a_shared_edge_has_the_smaller_of_two(left, right):
    regions = two_areas(left, right)
    shared = regions.graph.edges[1].points
    assert strayed(shared, trace_curves(regions, COARSE).fills) <= FINE_MM + FLAT_MM


def test_a_smoothing_of_its_own_may_be_the_coarser_one():
    regions = two_areas(right=COARSE_MM)
    drawing = trace_curves(regions, CurveSettings(smoothing_mm=FINE_MM))
    assert strayed(regions.graph.edges[0].points, drawing.fills) > WAVE_MM / 2
    assert strayed(regions.graph.edges[2].points, drawing.fills) <= FINE_MM + FLAT_MM


def test_a_zone_holds_for_the_ink_in_it():
    ring = wavy_ring(20.0, 20.0, 12.0, 0)
    (line,) = trace_curves(inked(ring), COARSE, (Zone(RIGHT, FINE_MM),)).lines
    # A segment may begin a little outside of the zone, not within it.
    inside = ring.points[:, 0] >= 20.0
    assert strayed(ring.points[inside], [line]) <= FINE_MM + FLAT_MM
    assert strayed(ring.points[ring.points[:, 0] < 14.0], [line]) > WAVE_MM / 2


def test_a_budget_of_a_zone_holds_for_what_lies_in_it():
    rings = (wavy_ring(9.0, 20.0, 7.0, 0), wavy_ring(31.0, 20.0, 7.0, 1))
    fine = CurveSettings(smoothing_mm=FINE_MM)
    plain = trace_curves(inked(*rings), fine).lines
    limited = trace_curves(inked(*rings), fine, (Zone(RIGHT, nodes=9, name="eye"),)).lines
    assert [line.node_count > 15 for line in plain] == [True, True]
    assert limited[0].node_count == plain[0].node_count
    assert limited[1].node_count <= 9
    assert limited[1].error_mm > FINE_MM


def test_where_zones_overlap_the_last_one_counts():
    points = np.array([[5.0, 20.0], [25.0, 20.0], [35.0, 20.0]])
    most = (np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 40.0], [0.0, 40.0]]),)
    one, other = Zone(RIGHT, 0.1), Zone(most, 0.2)
    assert smoothing_at(points, 0.5, (one, other)).tolist() == [0.2, 0.2, 0.1]
    assert smoothing_at(points, 0.5, (other, one)).tolist() == [0.2, 0.1, 0.1]
    # A zone that says nothing of smoothing leaves it as it is.
    assert smoothing_at(points, 0.5, (other, Zone(RIGHT, nodes=9))).tolist() == [0.2, 0.2, 0.5]
    # What an area asks for gives way to a zone.
    assert smoothing_at(points, np.array([0.3, 0.4, 0.5]), (one,)).tolist() == [0.3, 0.1, 0.1]


def test_a_zone_holds_for_even_lines():
    ends = np.array([[4.0, 20.0], [36.0, 20.0]])
    centre = waves(*ends)
    ink = shapely.LineString(centre).buffer(0.5)
    ring = InkRing(np.array(shapely.geometry.polygon.orient(ink).exterior.coords)[:-1], 0, False)
    graph = LineGraph(ends, (Edge(centre, np.full(len(centre), 1.0), 0, 1),), 1.0)
    regions = replace(inked(ring), graph=graph)
    even = replace(COARSE, lines="even")
    (line,) = trace_curves(regions, even, (Zone(RIGHT, FINE_MM),)).lines
    # Both sides of the line, away from its ends.
    sides = ring.points[(np.abs(ring.points[:, 0] - 20.0) < 14.0)]
    # An edge may belong to a place of the middle that lies a little before the border.
    assert strayed(sides[sides[:, 0] >= 20.2], [line]) <= FINE_MM + 2 * FLAT_MM + 0.01
    assert strayed(sides[sides[:, 0] < 14.0], [line]) > WAVE_MM / 2


@pytest.mark.parametrize("closed", [False, True])
def test_smoothing_grows_gradually_along_a_line(closed):
    points = np.stack([np.arange(0.0, 40.0, 0.1), np.zeros(400)], axis=1)
    allowed = np.where((points[:, 0] > 10.0) & (points[:, 0] < 20.0), 0.1, 0.5)
    grown = gradual(points, allowed, closed, 2.0)
    assert (grown <= allowed).all()
    assert grown[(points[:, 0] > 22.1) & (points[:, 0] < 38)] == pytest.approx(0.5)
    assert grown[points[:, 0] == 21.0] == pytest.approx(0.3, abs=0.03)
    assert np.abs(np.diff(grown)).max() <= 0.4 / 2.0 * 0.1 + 1e-9
    assert gradual(points, np.full(400, 0.5), closed, 2.0).tolist() == [0.5] * 400


def test_where_a_zone_ends_no_node_is_forced_and_no_bump_shows():
    ring = wavy_ring(20.0, 20.0, 12.0, 0)
    (line,) = trace_curves(inked(ring), COARSE, (Zone(RIGHT, FINE_MM),)).lines
    path = line.paths[0]
    assert path.smooth.all()
    assert np.abs(path.segments[:, 0, 0] - 20.0).min() > 1e-6
    # Where it is coarse the waves are gone, but for a few nodes that an arc takes.
    assert (path.segments[:, 0, 0] < 19.0).sum() <= 5


def test_a_speck_becomes_a_dot_and_no_sliver():
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    speck = np.stack([20 + 0.3 * np.cos(turn), 20 + 0.08 * np.sin(turn)], axis=1)
    (line,) = trace_curves(inked(InkRing(speck, 0, False)), CurveSettings(smoothing_mm=0.3)).lines
    assert line.node_count == 4
    wide, high = np.ptp(flatten(line.paths[0], FLAT_MM), axis=0)
    assert high > 0.9 * wide
