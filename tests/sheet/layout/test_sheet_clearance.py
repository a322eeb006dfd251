import numpy as np
import pytest
import shapely

from helpers_cut import ten_irregular
from limner.sheet.layout.clearance import signed_distance

SPACING, REACH = 0.4, 15.0


def grid_around(outline):
    x0, y0, x1, y1 = outline.bounds
    origin = np.array([x0, y0]) - REACH
    columns, rows = (int(np.ceil((size + 2 * REACH) / SPACING)) + 1 for size in (x1 - x0, y1 - y0))
    row, column = np.indices((rows, columns))
    return origin, np.stack([column, row], axis=-1) * SPACING + origin


def sampled(outline):
    return shapely.get_coordinates(shapely.segmentize(outline.exterior, SPACING))[:-1]


@pytest.mark.parametrize("outline", ten_irregular(4)[:4])
def test_distances_agree_with_shapely(outline):
    origin, grid = grid_around(outline)
    found = signed_distance(sampled(outline), origin, SPACING, grid.shape[:2])
    points = shapely.points(grid.reshape(-1, 2))
    truth = shapely.distance(outline.exterior, points).reshape(found.shape)
    inside = shapely.contains(outline, points).reshape(found.shape)
    assert (found[inside] <= 0).all()
    assert (found[~inside] >= 0).all()
    beyond = np.abs(found) - truth
    assert beyond.min() > -1e-9
    # What the tree's points, a quarter of the spacing apart, may hide at most; far away nothing.
    reach = SPACING / 8
    assert (beyond <= np.hypot(truth, reach) - truth + 1e-9).all()
    assert beyond[truth > 4].max() < 0.0005


def test_a_disc_has_its_own_distance():
    disc = shapely.Point(0, 0).buffer(9, quad_segs=200)
    origin, grid = grid_around(disc)
    found = signed_distance(sampled(disc), origin, SPACING, grid.shape[:2])
    # The polygon of 800 corners lies within 0.0001 mm of its circle.
    beyond = np.abs(found - (np.hypot(grid[..., 0], grid[..., 1]) - 9))
    assert np.abs(beyond).max() < 0.0015


def test_the_direction_of_the_ring_does_not_matter():
    outline = ten_irregular(5)[0]
    origin, grid = grid_around(outline)
    one = signed_distance(sampled(outline), origin, SPACING, grid.shape[:2])
    other = signed_distance(sampled(outline)[::-1], origin, SPACING, grid.shape[:2])
    assert np.abs(one - other).max() < SPACING / 32
    assert np.array_equal(one < 0, other < 0)
