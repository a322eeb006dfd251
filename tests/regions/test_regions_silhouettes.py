"""A drawing whose outline stays open still gets a base to stand on."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_regions import circle, clean_ink, drawn, regions_of
from limner.curves.drawing import trace_curves
from limner.curves.settings import CurveSettings
from limner.regions.faces.walk import cycle_points, inside_polygon

SIZE = (800, 800)


def bases(lines):
    """Outlines of the silhouettes, millimetres, and the map."""
    regions = regions_of(drawn(lines, size=SIZE))
    return [cycle_points(regions.graph.edges, cycle) for cycle in regions.silhouettes], regions


def size(polygon):
    x, y = polygon.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2


def test_a_bowl_without_a_lid_is_closed_along_its_rim():
    (base,), regions = bases([circle(400, 300, 250, 0, 180)])
    assert regions.areas == ()
    # Half a disc of radius 25 mm: pi r^2 / 2, less what the disc of the closing takes off at the rim.
    assert 0.4 < size(base) / (np.pi * 25**2 / 2) < 1.0
    assert inside_polygon(np.array([40.0, 50.0]), base)


def test_the_base_of_a_face_with_a_wide_gap_holds_all_of_it():
    (base,), regions = bases([circle(400, 400, 250, 0, 280), circle(330, 400, 40), circle(470, 400, 40)])
    assert len(regions.areas) == 2
    for area in regions.areas:
        assert inside_polygon(np.array(area.inside), base)
    assert 0.75 < size(base) / (np.pi * 25**2) < 1.0


def test_the_base_ends_under_the_lines():
    (base,), _ = bases([circle(400, 400, 250, 0, 300)])
    radius = np.hypot(*(base - 40.0).T)
    # The line reaches from 24.6 to 25.4 mm.
    assert radius.max() < 25.1
    along = np.degrees(np.arctan2(base[:, 1] - 40, base[:, 0] - 40)) % 360
    assert radius[(along > 20) & (along < 280)].min() > 24.6


def test_a_lone_stroke_has_a_base_of_its_own_width():
    (base,), _ = bases([[(100, 100), (600, 500)]])
    # Length 64.03 mm by 0.8 mm, with round ends; the raster adds up to a pixel of 0.11 mm on both sides.
    assert size(base) == pytest.approx(64.03 * 0.8 + np.pi * 0.16, rel=0.25)


def test_whiskers_and_limbs_change_nothing_where_the_outline_is_closed():
    limbs = [[(400 + 200 * c, 400 + 200 * s), (400 + 330 * c, 400 + 330 * s)] for c, s in ((1, 0), (0, 1))]
    (base,), regions = bases([circle(400, 400, 200), *limbs])
    assert size(base) == pytest.approx(np.pi * 20**2, rel=0.01)
    assert not any(edge.kind == "bridge" for edge in regions.graph.edges)


def test_an_open_part_beside_a_closed_one_gets_its_own_base():
    outlines, _ = bases([circle(200, 200, 90, 0, 240), circle(600, 600, 90)])
    assert len(outlines) == 2
    assert sorted(bool(size(outline) > 1.0) for outline in outlines) == [True, True]


def test_blank_paper_has_no_base():
    assert regions_of(clean_ink(np.zeros((200, 200)), 8.0, 0.1)).silhouettes == ()


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 100_000), st.integers(1, 6))
def test_whatever_is_drawn_has_a_positive_base_that_curves_can_follow(seed, count):
    lines = np.random.default_rng(seed).uniform(60, 340, (count, 3, 2))
    regions = regions_of(drawn(lines))
    assert regions.silhouettes
    for cycle in regions.silhouettes:
        assert size(cycle_points(regions.graph.edges, cycle)) > 0
    drawing = trace_curves(regions, CurveSettings(smoothing_mm=0.2))
    canvas = np.zeros((400, 400), np.uint8)
    for cycle in regions.silhouettes:
        points = np.round(cycle_points(regions.graph.edges, cycle) * 10 * 16).astype(np.int32)
        cv2.fillPoly(canvas, [points], 1, cv2.LINE_8, 4)
    assert canvas.any()
    assert sum(shape.role == "silhouette" for shape in drawing.fills) == len(regions.silhouettes)
