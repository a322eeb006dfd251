"""A drawing whose outline stays open still gets a base to stand on."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_regions import circle, clean_ink, drawn, regions_of
from limner.curves.drawing import trace_curves
from limner.curves.settings import CurveSettings
from limner.geometry.cubics import flatten
from limner.geometry.cycles import cycle_points
from limner.geometry.rasters import fill_rings
from limner.geometry.rings import inside_rings
from limner.regions.settings import AreaRule

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
    assert inside_rings(np.array([[40.0, 50.0]]), [base])[0]


def covered(rings, px_per_mm=10, px=800):
    """Pixels of the page inside any of several rings."""
    canvas = np.zeros((px, px), np.uint8)
    for ring in rings:
        fill_rings(canvas, [ring * px_per_mm])
    return canvas > 0


def test_the_base_of_a_face_with_a_wide_gap_holds_all_of_it():
    # The guess across the gap runs through the right eye, at (47, 40): the eye stands on a base of its own.
    outlines, regions = bases([circle(400, 400, 250, 0, 280), circle(330, 400, 40), circle(470, 400, 40)])
    assert len(regions.areas) == len(outlines) == 2
    areas = [cycle_points(regions.graph.edges, area.outline) for area in regions.areas]
    assert not (covered(areas) & ~covered(outlines)).any()
    assert 0.75 < max(map(size, outlines)) / (np.pi * 25**2) < 1.0


def test_a_guess_is_no_bridged_gap():
    _, regions = bases([circle(400, 400, 250, 0, 280), circle(400, 400, 40)])
    kinds = [edge.kind for edge in regions.graph.edges]
    assert kinds.count("guess") == 1
    assert "bridge" not in kinds


MUG = [
    [(150, 200), (450, 200), (450, 650), (150, 650), (150, 200)],
    [(450, 280), (650, 280), (650, 560), (450, 560)],
    [(450, 340), (590, 340), (590, 500), (450, 500)],
]


def test_a_skipped_area_leaves_the_base_open():
    # A mug: paper shows through between its handle and its side, from 45 to 59 mm and from 34 to 50 mm.
    rules = (AreaRule((52.0, 42.0), skip=True),)
    whole, open_mug = (regions_of(drawn(MUG, size=SIZE), area_rules=given) for given in ((), rules))
    assert (len(whole.areas), len(whole.openings)) == (3, 0)
    assert (len(open_mug.areas), len(open_mug.openings), len(open_mug.silhouettes)) == (2, 1, 1)
    (opening,) = open_mug.openings
    assert size(cycle_points(open_mug.graph.edges, opening)) == pytest.approx(-14 * 16, rel=0.03)
    drawing = trace_curves(open_mug, CurveSettings(smoothing_mm=0.2, lines="none"))
    base = next(shape for shape in drawing.fills if shape.role == "silhouette")
    assert len(base.paths) == 2
    rings = [flatten(path, 0.05) for path in base.paths]
    assert inside_rings(np.array([[52.0, 42.0], [30.0, 42.0]]), rings).tolist() == [False, True]


def test_a_skipped_area_at_the_rim_ends_the_base_before_it():
    rules = (AreaRule((62.0, 42.0), skip=True), AreaRule((52.0, 42.0), skip=True))
    regions = regions_of(drawn(MUG, size=SIZE), area_rules=rules)
    (base,) = regions.silhouettes
    assert regions.openings == ()
    assert size(cycle_points(regions.graph.edges, base)) == pytest.approx(30 * 45, rel=0.02)


def test_a_skipped_area_inside_another_leaves_the_base_alone():
    face, eye = circle(400, 400, 250), circle(400, 400, 60)
    regions = regions_of(drawn([face, eye], size=SIZE), area_rules=(AreaRule((40.0, 40.0), skip=True),))
    assert (len(regions.areas), len(regions.silhouettes), regions.openings) == (1, 1, ())


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
