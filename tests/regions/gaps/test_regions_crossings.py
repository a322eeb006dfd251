"""Which short polylines cross, against trying all pairs with a geometry library."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from limner.regions.gaps.crossings import crossing_pairs


def polyline(*points):
    return np.array(points, float)


def test_crossing_polylines_are_told_from_touching_ones():
    cross = polyline((0, -1), (0, 0.5), (0, 1))
    flat = polyline((-1, 0), (0.3, 0), (1, 0))
    beside = np.add(cross, [3.0, 0.0])
    above = np.add(flat, [0.0, 1.5])
    # It begins where the first one ends.
    onwards = polyline((0, 1), (1, 2), (2, 2))
    curves = np.array([cross, flat, beside, above, onwards])
    assert crossing_pairs(curves).tolist() == [[0, 1], [3, 4]]
    assert crossing_pairs(curves[:1]).shape == (0, 2)


@settings(max_examples=60)
@given(seed=st.integers(0, 10_000), count=st.integers(2, 40))
def test_pairs_are_those_that_a_library_finds_one_by_one(seed, count):
    rng = np.random.default_rng(seed)
    curves = rng.uniform(0, 10, (count, 1, 2)) + np.cumsum(rng.normal(0, 0.7, (count, 5, 2)), axis=1)
    lines = [LineString(points) for points in curves]
    expected = [[i, j] for i in range(count) for j in range(i + 1, count) if lines[i].crosses(lines[j])]
    assert crossing_pairs(curves).tolist() == expected
