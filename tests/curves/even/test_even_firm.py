"""Ends and turns of strokes keep their form when the smoothing is large."""

import numpy as np
import shapely

from limner.curves.drawing import trace_curves
from limner.curves.even.firm import firm_parts
from limner.curves.settings import CurveSettings
from limner.geometry.cubics import flatten
from limner.model.regionmap import Edge, InkRing, LineGraph, RegionMap

WIDTH_MM = 0.75


def drawn(*corners):
    """The map of one stroke through some corners, and the outline of its ink."""
    line = shapely.segmentize(shapely.LineString(corners), 0.1)
    centre = shapely.get_coordinates(line)
    ink = shapely.segmentize(shapely.buffer(line, WIDTH_MM / 2, quad_segs=16), 0.1)
    ring = shapely.get_coordinates(shapely.geometry.polygon.orient(ink, 1.0))[:-1]
    edge = Edge(centre, np.full(len(centre), WIDTH_MM), 0, 1)
    graph = LineGraph(centre[[0, -1]], (edge,), WIDTH_MM)
    return RegionMap(40.0, 40.0, graph, (), (), (InkRing(ring, 0, False),))


def test_firm_is_what_lies_at_ends_and_turns():
    regions = drawn((5, 5), (25, 5), (25, 25))
    (firm,) = firm_parts(regions.graph, [regions.ink[0].points])
    spots = np.array([[5, 5], [25, 5], [25, 25]])
    away = np.hypot(*(regions.ink[0].points[:, None] - spots).transpose(2, 0, 1)).min(axis=1)
    assert firm[away < 0.8 * WIDTH_MM].all()
    assert not firm[away > 1.3 * WIDTH_MM].any()


def test_an_end_stays_round_and_a_turn_a_turn():
    regions = drawn((5, 5), (25, 5), (25, 25))
    (line,) = trace_curves(regions, CurveSettings(smoothing_mm=4 * 0.2 * WIDTH_MM)).lines
    shape = shapely.Polygon(flatten(line.paths[0], 0.002))
    ink = shapely.Polygon(regions.ink[0].points)
    # The smoothing would let the outline stray by 0.6 mm.
    assert line.error_mm < 0.3
    assert shapely.symmetric_difference(shape, ink).area < 0.08 * ink.area
    assert shape.bounds[0] < 5 - 0.4 * WIDTH_MM
    assert shape.bounds[3] > 25 + 0.4 * WIDTH_MM


def test_a_map_without_strokes_has_nothing_firm():
    graph = LineGraph(np.zeros((0, 2)), (), WIDTH_MM)
    (firm,) = firm_parts(graph, [np.zeros((5, 2))])
    assert not firm.any()
