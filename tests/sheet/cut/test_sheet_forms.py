import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from helpers_cut import blob, regular
from limner.geometry.cubics import bounds, flatten, signed_area
from limner.sheet.cut.forms import enclosing_circle, enclosing_ellipse, enclosing_rectangle


def polygon_of(path):
    return shapely.Polygon(flatten(path, 0.0005))


def test_the_ellipse_around_a_rectangle_is_the_known_one():
    # The least ellipse around a rectangle of half sides a, b has half axes a sqrt 2, b sqrt 2: the affine
    # image of the circle around a square.
    path = enclosing_ellipse(shapely.box(-20, -5, 20, 5), 0.0)
    assert path.node_count == 4
    x0, y0, x1, y1 = bounds(path)
    assert (x1, y1) == pytest.approx((20 * np.sqrt(2), 5 * np.sqrt(2)), rel=1e-4)
    assert (x0, y0) == pytest.approx((-x1, -y1), rel=1e-9, abs=1e-6)


def least_area(points):
    """Area of the least enclosing ellipse by a general optimiser: det of A under |A p + b| <= 1."""

    def negative_log_det(v):
        return -np.log(v[0]) - np.log(v[2])

    def slack(v):
        mapped = np.stack([v[0] * points[:, 0] + v[1] * points[:, 1] + v[3], v[2] * points[:, 1] + v[4]])
        return 1.0 - (mapped**2).sum(axis=0)

    size = np.abs(points).max()
    start = np.array([0.5 / size, 0.0, 0.5 / size, 0.0, 0.0])
    found = optimize.minimize(
        negative_log_det,
        start,
        constraints={"type": "ineq", "fun": slack},
        bounds=[(1e-6, None), (None, None), (1e-6, None), (None, None), (None, None)],
        method="SLSQP",
        options={"maxiter": 500, "ftol": 1e-12},
    )
    return np.pi / (found.x[0] * found.x[2])


@pytest.mark.parametrize("seed", range(6))
def test_the_ellipse_is_as_small_as_a_general_optimiser_finds(seed):
    points = np.random.default_rng(seed).normal(size=(12, 2)) * [10, 4]
    path = enclosing_ellipse(shapely.MultiPoint(points), 0.0)
    outside = polygon_of(path)
    assert outside.buffer(1e-3).contains(shapely.MultiPoint(points))
    assert outside.area == pytest.approx(least_area(points), rel=2e-3)


@pytest.mark.parametrize("seed", range(4))
def test_the_circle_is_as_small_as_a_general_optimiser_finds(seed):
    points = np.random.default_rng(seed).normal(size=(15, 2)) * [10, 6]
    path = enclosing_circle(shapely.MultiPoint(points), 0.0)

    def radius(centre):
        return np.linalg.norm(points - centre, axis=1).max()

    found = optimize.minimize(radius, [0, 0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-9})
    x0, _, x1, _ = bounds(path)
    assert (x1 - x0) / 2 == pytest.approx(found.fun, rel=1e-4)


def test_a_rectangle_has_square_corners_without_a_radius_and_eight_nodes_with_one():
    region = shapely.box(0, 0, 20, 10)
    square = enclosing_rectangle(region, 2.0, 0.0)
    assert square.node_count == 4
    assert square.straight.all()
    assert bounds(square) == (-2, -2, 22, 12)
    rounded = enclosing_rectangle(region, 2.0, 2.0)
    assert rounded.node_count == 8
    assert signed_area(rounded) == pytest.approx(24 * 14 - (4 - np.pi) * 4, rel=1e-3)


def test_larger_corners_make_the_rectangle_grow_until_the_distance_is_kept():
    region = shapely.box(0, 0, 20, 10)
    path = enclosing_rectangle(region, 2.0, 5.0)
    assert polygon_of(path).exterior.distance(region) == pytest.approx(2.0, abs=0.005)
    x0, y0, _, _ = bounds(path)
    # At the corner of the art: (r - 2 - g) sqrt 2 = r - 2 for r = 5, so that g = 3 (1 - 1 / sqrt 2).
    grown = 3 * (1 - 1 / np.sqrt(2))
    assert (-x0, -y0) == pytest.approx((2 + grown, 2 + grown), abs=0.005)


def test_art_that_is_round_needs_no_growth():
    path = enclosing_rectangle(shapely.Polygon(regular(200, 10)), 2.0, 6.0)
    assert bounds(path)[2] == pytest.approx(12.0, abs=0.005)


def test_corners_are_never_larger_than_half_a_side():
    path = enclosing_rectangle(shapely.box(0, 0, 20, 4), 1.0, 50.0)
    assert polygon_of(path).is_valid
    assert polygon_of(path).contains(shapely.box(0, 0, 20, 4))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.0, 6.0), st.floats(0.0, 8.0))
def test_every_form_keeps_the_distance_and_runs_clockwise(seed, distance, corner):
    region = shapely.Polygon(blob(seed, 10, 0.8)).convex_hull
    for path in (
        enclosing_circle(region, distance),
        enclosing_ellipse(region, distance),
        enclosing_rectangle(region, distance, corner),
    ):
        assert signed_area(path) > 0
        assert polygon_of(path).buffer(1e-3).contains(region)
        assert polygon_of(path).exterior.distance(region) >= distance - 0.01
