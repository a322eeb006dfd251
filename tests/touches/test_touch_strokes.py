"""Strokes through points."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from limner.touches.strokes import smooth_line

POINTS = st.lists(st.tuples(st.floats(0, 300), st.floats(0, 300)), min_size=2, max_size=12)


def test_two_points_are_a_straight_line():
    line = smooth_line(np.array([[10.0, 10.0], [40.0, 50.0]]))
    assert line[0].tolist() == [10.0, 10.0]
    assert line[-1].tolist() == [40.0, 50.0]
    assert np.abs((line - [10, 10]) @ np.array([0.8, -0.6])).max() < 1e-12
    assert np.hypot(*np.diff(line, axis=0).T).max() <= 0.5 + 1e-9


def test_points_on_a_circle_give_the_circle():
    # A cubic spline converges with order 4 (de Boor, A Practical Guide to Splines, 1978, from memory): 24
    # points on a circle leave an error well under a thousandth of its radius away from the ends.
    turn = np.radians(np.arange(0, 360, 15))
    line = smooth_line(100.0 + 80.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    inner = line[len(line) // 8 : -len(line) // 8]
    assert np.abs(np.hypot(*(inner - 100.0).T) - 80.0).max() < 0.08


@given(POINTS)
def test_a_line_passes_through_its_points(points):
    points = np.array(points)
    line = smooth_line(points)
    assert np.isfinite(line).all()
    for point in points:
        assert np.hypot(*(line - point).T).min() < 1e-6 + 0.5


def test_a_line_to_and_fro_over_the_page_has_bounded_samples():
    points = np.random.default_rng(5).uniform(0, 4000, (10_000, 2))
    assert len(smooth_line(points)) < 1_000_000
