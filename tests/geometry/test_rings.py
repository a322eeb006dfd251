"""Points in rings, against shapely."""

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from limner.geometry.rings import inside_rings

SQUARE = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
HOLE = np.array([[3, 3], [7, 3], [7, 7], [3, 7]], dtype=float)


def test_a_hole_is_outside_whichever_way_it_runs() -> None:
    points = np.array([[1.0, 1.0], [5.0, 5.0], [11.0, 5.0], [8.0, 5.0]])
    assert inside_rings(points, [SQUARE, HOLE]).tolist() == [True, False, False, True]
    assert inside_rings(points, [SQUARE[::-1], HOLE]).tolist() == [True, False, False, True]


def test_no_rings_and_no_points() -> None:
    assert inside_rings(np.array([[1.0, 1.0]]), []).tolist() == [False]
    assert inside_rings(np.zeros((0, 2)), [SQUARE]).shape == (0,)


def test_a_walk_there_and_back_counts_for_nothing() -> None:
    there_and_back = np.array([[2.0, 2.0], [8.0, 5.0]])
    assert inside_rings(np.array([[1.0, 5.0], [5.0, 5.0]]), [SQUARE, there_and_back]).all()


@given(st.integers(0, 2**32 - 1), st.integers(3, 40))
def test_star_shaped_rings_agree_with_shapely(seed: int, corners: int) -> None:
    random = np.random.default_rng(seed)
    angle = np.sort(random.uniform(0, 2 * np.pi, corners))
    ring = random.uniform(2, 10, corners)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points = random.uniform(-11, 11, (200, 2))
    polygon = shapely.Polygon(ring)
    if not polygon.is_valid:
        return
    np.testing.assert_array_equal(inside_rings(points, [ring]), shapely.contains_xy(polygon, *points.T))
