"""Budgets, zones, shared edges and names: from the planar map to the drawing."""

from dataclasses import replace

import numpy as np
import pytest

from limner.curves.drawing import trace_curves
from limner.curves.settings import CurveSettings
from limner.errors import GeometryError
from limner.model.drawing import Zone
from limner.model.regionmap import Area, Edge, InkRing, LineGraph, RegionMap


def _disc():
    """A disc of radius 10 about the origin, cut into two areas by a wavy line, and a ring of ink."""
    angle = np.linspace(0, np.pi, 200)
    ends = np.array([[10.0, 0.0], [-10.0, 0.0]])
    x = np.linspace(10, -10, 200)
    rows = [
        10 * np.stack([np.cos(angle), -np.sin(angle)], axis=1),
        np.stack([x, np.sin(x * np.pi / 5)], axis=1),
        10 * np.stack([np.cos(angle), np.sin(angle)], axis=1),
    ]
    for row in rows:
        row[[0, -1]] = ends
    edges = tuple(Edge(row, np.ones(200), 0, 1) for row in rows)
    top = Area("top", ((1, True), (0, False)), (), None, (0.0, -5.0), 157.0)
    bottom = Area("bottom", ((2, True), (1, False)), (), None, (0.0, 5.0), 157.0)
    ring = InkRing(11 * np.stack([np.cos(2 * angle[:-1]), np.sin(2 * angle[:-1])], axis=1), 0, False)
    return RegionMap(30, 30, LineGraph(ends, edges, 1.0), (top, bottom), (((2, True), (0, False)),), (ring,))


def test_both_sides_of_an_edge_hold_the_same_coordinates():
    drawing = trace_curves(_disc(), CurveSettings())
    shapes = {shape.name: shape for shape in drawing.shapes}
    assert set(shapes) == {"silhouette", "top", "bottom", "line-1"}
    there = {segment.tobytes() for segment in shapes["top"].paths[0].segments}
    back = {segment[::-1].tobytes() for segment in shapes["bottom"].paths[0].segments}
    assert there & back
    assert drawing.error_mm <= 0.15


def test_a_budget_is_never_exceeded_and_more_nodes_never_raise_the_error():
    errors = []
    for nodes in (12, 14, 17, 22, 40):
        drawing = trace_curves(_disc(), CurveSettings(nodes=nodes))
        assert drawing.node_count <= nodes
        errors.append(drawing.error_mm)
    assert errors == sorted(errors, reverse=True)
    assert errors[-1] < errors[0] / 2


WHOLE = (np.array([[-20.0, -20.0], [20.0, -20.0], [20.0, 20.0], [-20.0, 20.0]]),)


@pytest.mark.parametrize(
    ("lines", "area_nodes", "zones"),
    [("drawn", None, ()), ("even", None, ()), ("drawn", 5, ()), ("even", 5, (Zone(WHOLE, nodes=20),))],
)
def test_too_small_a_budget_names_the_fewest_nodes_which_then_suffice(lines, area_nodes, zones):
    disc = _disc()
    disc = replace(disc, areas=(replace(disc.areas[0], nodes=area_nodes), disc.areas[1]))

    def drawn(nodes):
        return trace_curves(disc, CurveSettings(nodes=nodes, lines=lines), zones)

    # What others have spent is part of the budget that was asked for, and of the fewest.
    with pytest.raises(
        GeometryError, match=r"^3 nodes are too few for the drawing: it needs at least"
    ) as caught:
        drawn(3)
    fewest = int(str(caught.value).split("at least ")[1].split(",")[0])
    assert drawn(fewest).node_count == fewest
    with pytest.raises(GeometryError, match=f"at least {fewest},"):
        drawn(fewest - 1)


def test_an_area_keeps_to_its_own_budget():
    disc = _disc()
    limited = replace(disc, areas=(replace(disc.areas[0], nodes=5), disc.areas[1]))
    drawing = trace_curves(limited, CurveSettings(smoothing_mm=0.001))
    assert drawing.fills[1].node_count <= 5
    assert trace_curves(disc, CurveSettings(smoothing_mm=0.001)).fills[1].node_count > 5


def test_a_zone_is_smoothed_more_finely():
    zone = Zone((np.array([[0.0, -20.0], [20.0, -20.0], [20.0, 20.0], [0.0, 20.0]]),), smoothing_mm=0.005)
    plain = trace_curves(_disc(), CurveSettings())
    finer = trace_curves(_disc(), CurveSettings(), (zone,))

    def inside(drawing):
        # The nodes on the border lie within a sample of it.
        return sum(int((path.nodes[:, 0] > -0.5).sum()) for s in drawing.shapes for path in s.paths)

    assert inside(finer) > inside(plain)
    assert all(path.smooth.any() for shape in finer.shapes for path in shape.paths)


def test_lines_can_be_left_out():
    assert trace_curves(_disc(), CurveSettings(lines="none")).lines == ()


def test_outlines_run_straight_on_through_a_junction():
    drawing = trace_curves(_disc(), CurveSettings())
    silhouette = drawing.fills[0].paths[0]
    segments = silhouette.segments
    ends = [int(np.hypot(*(segments[:, 0] - end).T).argmin()) for end in ([10.0, 0.0], [-10.0, 0.0])]
    for k in ends:
        into, out = segments[k - 1, 3] - segments[k - 1, 2], segments[k, 1] - segments[k, 0]
        turn = np.arctan2(into[0] * out[1] - into[1] * out[0], into @ out)
        assert abs(np.degrees(turn)) < 0.01
        assert silhouette.smooth[k]
    # The wavy line meets the rim at an angle: a corner of the areas on both sides of it.
    top = next(shape for shape in drawing.fills if shape.name == "top").paths[0]
    assert not top.smooth[int(np.hypot(*(top.segments[:, 0] - [10.0, 0.0]).T).argmin())]


def test_a_straight_line_stays_one_where_a_curve_carries_it_on():
    line = np.stack([np.linspace(0, 20, 100), np.zeros(100)], axis=1)
    angle = np.linspace(0, np.pi, 200)
    arc = np.stack([20 + 8 * np.sin(angle), 8 - 8 * np.cos(angle)], axis=1)
    back = np.stack([np.linspace(20, 0, 100), np.linspace(16, 0, 100)], axis=1)
    twig = np.stack([np.full(50, 20.0), np.linspace(0, 8, 50)], axis=1)
    rows = [line, arc, back, twig, np.stack([np.full(50, 20.0), np.linspace(8, 16, 50)], axis=1)]
    places = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 16.0], [20.0, 8.0]])
    # A second way back makes a junction of the corner, too.
    rows.append(np.stack([np.linspace(20, 0, 100), 8 + 8 * np.linspace(1, -1, 100) ** 3], axis=1))
    joins = ((0, 1), (1, 2), (2, 0), (1, 3), (3, 2), (2, 0))
    edges = []
    for row, (start, end) in zip(rows, joins, strict=True):
        row[0], row[-1] = places[start], places[end]
        edges.append(Edge(row, np.ones(len(row)), start, end))
    outline = ((0, True), (1, True), (5, True))
    inner = ((0, True), (3, True), (4, True), (2, True))
    areas = (Area("inner", inner, (), None, (15.0, 6.0), 160.0),)
    drawing = trace_curves(
        RegionMap(40, 40, LineGraph(places, tuple(edges), 0.5), areas, (outline,)), CurveSettings()
    )
    path = drawing.fills[0].paths[0]
    k = int(np.hypot(*(path.segments[:, 0] - [20.0, 0.0]).T).argmin())
    assert path.straight[k - 1]
    assert path.smooth[k]
    assert path.segments[k, 1, 1] == pytest.approx(0.0, abs=1e-9)
