"""Arc lengths, places and headings of hand-written polylines."""

import numpy as np
import pytest

from limner.geometry.polylines import arc_lengths, heading, points_at

# Sides of 3, 4 and 5: a right triangle, walked once around.
TRIANGLE = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0], [0.0, 0.0]])


def test_arc_lengths_are_the_sums_of_the_sides():
    assert arc_lengths(TRIANGLE).tolist() == [0.0, 3.0, 7.0, 12.0]
    assert arc_lengths(TRIANGLE[:1]).tolist() == [0.0]


def test_places_lie_between_points_and_stop_at_the_ends():
    places = points_at(TRIANGLE, arc_lengths(TRIANGLE), np.array([-1.0, 1.5, 5.0, 9.5, 20.0]))
    assert places == pytest.approx(np.array([[0, 0], [1.5, 0], [3, 2], [1.5, 2], [0, 0]]))


@pytest.mark.parametrize(("reach", "expected"), [(2.0, (1.0, 0.0)), (7.0, (0.6, 0.8)), (np.inf, (0.0, 0.0))])
def test_a_heading_is_that_of_the_chord_over_the_reach(reach, expected):
    assert heading(TRIANGLE, reach) == pytest.approx(np.array(expected))


def test_a_short_polyline_has_the_heading_of_all_of_it():
    assert heading(TRIANGLE[2:], 100.0) == pytest.approx(np.array([-0.6, -0.8]))
