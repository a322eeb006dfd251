"""Ink without what lies on it: the rest of its curves exactly as they were."""

import numpy as np
import pytest
import shapely

from helpers_drawing import square
from limner.geometry.cubics import ellipse_segments, flatten, reverse, signed_area, transform
from limner.model.drawing import Shape
from limner.model.geometry import CubicPath
from limner.motifs.covering import Cover, filled_region, without


def disc(x: float, y: float, rx: float, ry: float | None = None) -> CubicPath:
    segments = ellipse_segments(np.array([x, y]), np.array([[rx, 0.0], [0.0, ry or rx]]))
    return CubicPath(segments, np.zeros(4, bool), np.ones(4, bool), closed=True)


def ink(*paths: CubicPath) -> Shape:
    return Shape("line-1", "line", paths, "#1d1d1b", 0.01)


def polygon(path: CubicPath, fine_mm: float = 1e-4) -> shapely.Polygon:
    return shapely.Polygon(flatten(path, fine_mm))


def left_of(shape: Shape, *cover: CubicPath) -> float:
    """How far what is left differs from what polygons of a finer kind say, in square millimetres."""
    region = shapely.Polygon()
    for path in shape.paths:
        region = shapely.symmetric_difference(region, polygon(path))
    truth = shapely.difference(region, shapely.union_all([polygon(path) for path in cover]))
    made = without(shape, Cover.of(cover))
    assert made is not None
    found = shapely.Polygon()
    for path in made.paths:
        found = shapely.symmetric_difference(found, polygon(path))
    return float(shapely.symmetric_difference(truth, found).area)


def test_what_lies_apart_stays_the_same_value():
    ring = ink(disc(0, 0, 10), reverse(disc(0, 0, 9)))
    assert without(ring, Cover.of([disc(30, 0, 5)])) is ring
    # In the hole of a ring there is no ink to cover.
    assert without(ring, Cover.of([disc(0, 0, 5)])) is ring


def test_what_is_covered_whole_is_gone():
    assert without(ink(disc(0, 0, 3)), Cover.of([disc(0.5, 0, 5)])) is None


def test_a_cover_inside_of_a_solid_becomes_its_hole_with_the_very_same_curves():
    solid, cover = disc(0, 0, 10), disc(1, 2, 4)
    made = without(ink(solid), Cover.of([cover]))
    assert made is not None
    assert len(made.paths) == 2
    assert np.array_equal(
        made.paths[0].nodes[np.lexsort(made.paths[0].nodes.T)], solid.nodes[np.lexsort(solid.nodes.T)]
    )
    assert sum(path.node_count for path in made.paths) == 8
    assert sum(map(signed_area, made.paths)) == pytest.approx(signed_area(solid) - signed_area(cover))


def test_a_ring_that_is_crossed_keeps_its_curves_but_for_the_ends():
    ring, cover = ink(disc(0, 0, 10), reverse(disc(0, 0, 9))), disc(10, 0, 4, 3)
    made = without(ring, Cover.of([cover]))
    assert made is not None
    assert left_of(ring, cover) < 0.005
    before = {tuple(node) for path in ring.paths for node in path.nodes.tolist()}
    after = {tuple(node) for path in made.paths for node in path.nodes.tolist()}
    # The two nodes at the right lie under the cover; all others are there bit for bit.
    assert len(before & after) == 6
    # Four cuts, one node at least between two of them on the inside of the cover.
    assert len(after - before) <= 6
    (path,) = made.paths
    assert path.closed


@pytest.mark.parametrize("seed", range(12))
def test_covers_at_random_leave_what_polygons_leave(seed: int):
    rng = np.random.default_rng(seed)
    outer = disc(0, 0, 12, 8)
    shape = ink(outer, reverse(transform(outer, [[0.9, 0, 0.1], [0, 0.85, 0.2]])), square(14, -2, 3.0))
    cover = [disc(*rng.uniform(-12, 14, 2), *rng.uniform(1, 5, 2)) for _ in range(3)]
    over = shapely.union_all([filled_region([path]) for path in cover])
    if not shapely.intersects(filled_region(shape.paths), over):
        pytest.skip("nothing is covered")
    # 0.002 mm along the borders of what is cut.
    assert left_of(shape, *cover) < 0.002 * 120
    made = without(shape, Cover.of(cover))
    assert made is not None
    assert sum(path.node_count for path in made.paths) <= shape.node_count + 4 * 3 + 2 * 12
