"""Points found by place, against every distance measured."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import cdist

from limner.geometry.nearby import PointGrid


def scattered(seed: int, count: int, spread: float) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, spread, (count, 2))


@given(
    st.integers(0, 1000),
    st.integers(0, 60),
    st.integers(0, 20),
    st.floats(0.05, 20.0),
    st.floats(0.0, 10.0),
    st.floats(0.01, 100.0),
)
def test_finds_just_the_pairs_within_the_radius(
    seed: int, points: int, places: int, cell: float, radius: float, spread: float
) -> None:
    cloud, asked = scattered(seed, points, spread), scattered(seed + 1, places, spread)
    # SciPy's distances are the outside measure; those that rounding may put on either side are left out.
    apart = cdist(asked, cloud) if points and places else np.zeros((places, points))
    clear = np.abs(apart - radius) > 1e-9 * max(spread, 1.0)
    found = np.zeros(apart.shape, bool)
    found[PointGrid(cloud, cell).within(asked, radius)] = True
    assert np.array_equal(found[clear], (apart <= radius)[clear])
    near = PointGrid(cloud, cell).any_within(asked, radius)
    assert np.array_equal(near, found.any(axis=1))


def test_pairs_come_in_ascending_order() -> None:
    cloud = scattered(3, 200, 4.0)
    place, point = PointGrid(cloud, 1.0).within(cloud, 2.0)
    pairs = list(zip(place.tolist(), point.tolist(), strict=True))
    assert pairs == sorted(set(pairs))
    assert {(i, i) for i in range(200)} <= set(pairs)


@pytest.mark.parametrize("radius", [5.0, 5.0 - 1e-12])
def test_the_radius_itself_is_within(radius: float) -> None:
    # 3, 4, 5: exact in floating point.
    assert PointGrid(np.array([[3.0, 4.0]]), 1.0).any_within([0.0, 0.0], radius)[0] == (radius == 5.0)
