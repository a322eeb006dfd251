"""Cubic operations against closed forms and against fontTools."""

import math

import numpy as np
import pytest
from fontTools.misc.bezierTools import calcCubicBounds, splitCubicAtT
from fontTools.pens.areaPen import AreaPen
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from limner.geometry import cubics
from limner.model.geometry import CubicPath

# Arm of the four-cubic circle and its largest radial error, relative to the radius: recomputed with a
# general-purpose library, classical (Goldapp, Computer Aided Geometric Design 8, 1991).
ARM = 0.5522847498
RADIAL_ERROR = 2.725e-4

finite = st.floats(-100, 100, allow_nan=False, width=32)
control_points = arrays(np.float64, (4, 2), elements=finite)


def circle(radius: float = 1.0) -> CubicPath:
    quarter = np.array([[1, 0], [1, ARM], [ARM, 1], [0, 1]], dtype=float)
    turn = np.array([[0.0, -1.0], [1.0, 0.0]])
    segments = np.stack([quarter @ np.linalg.matrix_power(turn, i).T for i in range(4)]) * radius
    segments[:, 3] = np.roll(segments[:, 0], -1, axis=0)
    return CubicPath(segments, np.zeros(4, bool), np.ones(4, bool), closed=True)


def closed(points: np.ndarray) -> CubicPath:
    segments = np.concatenate([points[None], cubics.straight_segments(points[[3, 0]])])
    return CubicPath(segments, np.array([False, True]), np.zeros(2, bool), closed=True)


def pen_area(path: CubicPath) -> float:
    pen = AreaPen()
    pen.moveTo(tuple(path.segments[0, 0]))
    for segment in path.segments:
        pen.curveTo(*map(tuple, segment[1:]))
    pen.closePath()
    return pen.value


def test_circle_of_four_cubics_has_the_classical_error() -> None:
    points = cubics.evaluate(circle().segments, np.linspace(0, 1, 2001))
    error = np.abs(np.hypot(*points.reshape(-1, 2).T) - 1).max()
    assert error == pytest.approx(RADIAL_ERROR, rel=1e-3)


def test_an_ellipse_of_four_cubics_is_the_circle_drawn_out_and_turned() -> None:
    axes = np.array([[3.0, 4.0], [-1.6, 1.2]])  # lengths 5 and 2, at right angles
    made = cubics.ellipse_segments(np.array([10.0, 20.0]), axes)
    assert made == pytest.approx(circle().segments @ axes + [10.0, 20.0], abs=1e-9)
    assert (made[:, 3] == np.roll(made[:, 0], -1, axis=0)).all()


def test_positive_area_runs_clockwise_to_the_eye() -> None:
    # x to the right, then y down: positive by the convention in limner.model.geometry.
    square = cubics.polygon_path(np.array([[0, 0], [3, 0], [3, 2], [0, 2]], dtype=float))
    assert cubics.signed_area(square) == pytest.approx(6)
    assert cubics.signed_area(cubics.reverse(square)) == pytest.approx(-6)


@given(control_points)
def test_area_equals_that_of_the_font_library(points: np.ndarray) -> None:
    path = closed(points)
    assert cubics.signed_area(path) == pytest.approx(pen_area(path), abs=1e-6)


@given(control_points)
def test_bounds_equal_those_of_the_font_library(points: np.ndarray) -> None:
    path = CubicPath(points[None], np.zeros(1, bool), np.zeros(1, bool), closed=False)
    # Denormal leading coefficients make that library lose roots: 1e-4 of the box is ample here.
    assert cubics.bounds(path) == pytest.approx(calcCubicBounds(*map(tuple, points)), abs=1e-4)


@given(control_points, st.floats(0.01, 0.99))
def test_split_equals_that_of_the_font_library(points: np.ndarray, t: float) -> None:
    halves = cubics.split_segment(points, t)
    for ours, theirs in zip(halves, splitCubicAtT(*map(tuple, points), t), strict=True):
        np.testing.assert_allclose(ours, np.array(theirs), atol=1e-9)
    assert np.array_equal(halves[0][3], halves[1][0])


@given(control_points, st.sampled_from([1.0, 0.1, 0.01]))
def test_flattened_path_stays_within_the_tolerance(points: np.ndarray, tolerance: float) -> None:
    import shapely

    path = CubicPath(points[None], np.zeros(1, bool), np.zeros(1, bool), closed=False)
    polyline = shapely.LineString(cubics.flatten(path, tolerance))
    samples = shapely.points(cubics.evaluate(path.segments, np.linspace(0, 1, 500))[0])
    assert shapely.distance(samples, polyline).max() <= tolerance * (1 + 1e-9)


def test_flattened_closed_path_does_not_repeat_its_first_point() -> None:
    points = cubics.flatten(circle(10), 0.01)
    assert not np.array_equal(points[0], points[-1])
    x, y = points.T
    area = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
    assert area == pytest.approx(math.pi * 100, rel=2e-3)


@given(control_points)
def test_reverse_twice_is_the_same_path(points: np.ndarray) -> None:
    path = closed(points)
    twice = cubics.reverse(cubics.reverse(path))
    assert np.array_equal(twice.segments, path.segments)
    assert np.array_equal(twice.straight, path.straight)
    assert np.array_equal(twice.smooth, path.smooth)


def test_reverse_keeps_smooth_marks_at_their_nodes() -> None:
    path = CubicPath(circle().segments, np.zeros(4, bool), np.array([True, False, True, True]), closed=True)
    corner = path.segments[1, 0]
    back = cubics.reverse(path)
    np.testing.assert_array_equal(back.segments[~back.smooth][0, 0], corner)


def test_concatenate_refuses_ends_that_do_not_meet() -> None:
    first = cubics.polyline_path(np.array([[0, 0], [1, 0]], dtype=float))
    second = cubics.polyline_path(np.array([[1, 1e-12], [0, 0]], dtype=float))
    with pytest.raises(ValueError, match="start exactly where"):
        cubics.concatenate([first, second], closed=True)


def test_transform_moves_handles_and_nodes_alike() -> None:
    moved = cubics.transform(circle(), [[2, 0, 5], [0, 2, -1]])
    np.testing.assert_allclose(moved.segments, circle().segments * 2 + [5, -1], atol=1e-12)


def test_paths_flattened_together_are_as_flattened_one_by_one() -> None:
    rng = np.random.default_rng(8)
    lone = CubicPath(rng.normal(0, 20, (1, 4, 2)), np.zeros(1, bool), np.ones(1, bool), closed=False)
    square = cubics.polygon_path(np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]]))
    paths = [lone, circle(7.0), square, lone, circle(0.3)]
    together = cubics.flatten_all(paths, 0.01)
    assert len(together) == len(paths)
    for path, points in zip(paths, together, strict=True):
        np.testing.assert_array_equal(points, cubics.flatten(path, 0.01))
        assert np.array_equal(points[0], path.segments[0, 0])
        assert np.array_equal(points[-1], path.segments[-1, 3]) != path.closed
    assert cubics.flatten_all([], 0.01) == []
