"""What is measured of a cut line's bends, on curves whose radii are known exactly."""

import numpy as np
import pytest
import shapely

from limner.geometry.cubics import reverse
from limner.model.geometry import CubicPath
from limner.sheet.cut import cut_line
from limner.sheet.cut.cut_line import measure_cut, tightest_bends
from limner.sheet.cut.forms import enclosing_circle, enclosing_ellipse, enclosing_rectangle
from limner.sheet.settings import CutSettings

RADIUS_MM = 2.0
ART = shapely.Point(0, 0).buffer(1.0)


def wavy(inner_mm, outer_mm):
    """A closed band of eight arcs of 90 degrees that bend out and in by turns, as cubics."""
    # A circle by four cubics bends by 1.0216 of its radius at the ends of each (2/3 (1 - k) / k^2, by hand).
    arm = 4.0 / 3.0 * np.tan(np.pi / 8)
    at, way, segments = np.zeros(2), np.array([1.0, 0.0]), []
    for _ in range(4):
        for turn, radius in ((1.0, outer_mm), (1.0, outer_mm), (-1.0, inner_mm)):
            side = turn * np.array([-way[1], way[0]])
            end = at + radius * (way + side)
            segments.append([at, at + arm * radius * way, end - arm * radius * side, end])
            at, way = end, side
    segments = np.array(segments)
    segments[-1, 3] = segments[0, 0]
    return CubicPath(segments, np.zeros(12, bool), np.ones(12, bool), closed=True)


def test_bends_are_measured_on_both_sides():
    inner, outer = tightest_bends(wavy(1.5, 2.5))
    assert inner == pytest.approx(1.5, rel=0.025)
    assert outer == pytest.approx(2.5, rel=0.025)
    assert tightest_bends(reverse(wavy(1.5, 2.5))) == pytest.approx((outer, inner))


def test_a_circle_never_bends_inwards():
    inner, outer = tightest_bends(enclosing_circle(ART, 4.0))
    assert inner > 1e6
    assert outer == pytest.approx(5.0, rel=0.025)


@pytest.mark.parametrize(("inner_mm", "kept"), [(2.0, True), (1.7, False)])
def test_an_inner_bend_that_is_too_tight_breaks_the_promise(inner_mm, kept):
    path = wavy(inner_mm, 2.5)
    points = shapely.Polygon(path.segments[:, 0])
    line = measure_cut(path, points.centroid.buffer(0.01), CutSettings(distance_mm=1.0))
    wanted = CutSettings(distance_mm=1.0, smallest_radius_mm=RADIUS_MM)
    assert cut_line._keeps_promises(line, wanted) is kept


def test_the_ends_of_a_slim_ellipse_are_no_tighter_than_asked():
    eel = shapely.box(-40, -0.5, 40, 0.5)
    _, free = tightest_bends(enclosing_ellipse(eel, 0.5))
    assert free < RADIUS_MM / 2
    path = enclosing_ellipse(eel, 0.5, RADIUS_MM)
    assert tightest_bends(path)[1] >= 0.95 * RADIUS_MM
    assert shapely.Polygon(path.segments[:, 0]).area > 0


def test_a_rectangle_s_corners_are_as_round_as_its_radius():
    path = enclosing_rectangle(ART, 1.0, RADIUS_MM)
    assert tightest_bends(path)[1] == pytest.approx(RADIUS_MM, rel=0.025)
