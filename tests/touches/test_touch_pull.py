"""Lines pulled over."""

import numpy as np
import pytest
import shapely

from helpers_regions import circle, drawn, regions_of
from limner.errors import GeometryError
from limner.model.touch import Pull
from limner.touches import pull_map

MM = 0.1


@pytest.fixture(scope="module")
def face():
    """A circle with a line across and an eye: 40 mm, lines of 0.8 mm."""
    across = np.stack([np.linspace(60, 340, 200), np.full(200, 200.0)], axis=1)
    return regions_of(drawn([circle(200, 200, 140), across, circle(150, 140, 20)]))


def ring_distance(regions, point):
    """Distance of a point from the nearest line or outline of ink."""
    lines = [edge.points for edge in regions.graph.edges]
    rings = [np.concatenate([ring.points, ring.points[:1]]) for ring in regions.ink]
    return float(
        shapely.multilinestrings([shapely.linestrings(line) for line in lines + rings]).distance(
            shapely.points(point)
        )
    )


@pytest.mark.parametrize("widths", [1.0, 3.0, 6.0])
@pytest.mark.parametrize("angle", [10, 75, 200, 300])
@pytest.mark.parametrize("way", [0, 60, 90, 180])
def test_the_line_comes_to_lie_on_the_point(face, widths, angle, way):
    turn = np.radians(angle)
    start = np.array([20.0, 20.0]) + 14.0 * np.array([np.cos(turn), np.sin(turn)])
    end = start + widths * 0.8 * np.array([np.cos(turn + np.radians(way)), np.sin(turn + np.radians(way))])
    pulled = pull_map(face, Pull(tuple(start), tuple(end), 14.0))
    assert ring_distance(pulled, end) < 0.05
    beyond = [np.hypot(*(edge.points - start).T) > 14.0 for edge in face.graph.edges]
    for before, after, far in zip(face.graph.edges, pulled.graph.edges, beyond, strict=True):
        assert np.abs(after.points - before.points)[far].max(initial=0.0) < 0.01


def test_shared_edges_stay_shared_and_nothing_folds(face):
    pulled = pull_map(face, Pull((34.0, 20.0), (37.0, 20.0), 12.0))
    assert [a.outline for a in pulled.areas] == [a.outline for a in face.areas]
    for edge in pulled.graph.edges:
        assert edge.points[0].tolist() == pulled.graph.nodes[edge.start].tolist()
        assert edge.points[-1].tolist() == pulled.graph.nodes[edge.end].tolist()
    # Orientation is kept everywhere, and with it every ring's sign.
    for before, after in zip(face.ink, pulled.ink, strict=True):
        assert np.sign(_area(before.points)) == np.sign(_area(after.points))


def test_areas_tell_their_new_size(face):
    pulled = pull_map(face, Pull((20.0, 34.0), (20.0, 37.0), 12.0))
    assert sum(a.area_mm2 for a in pulled.areas) > sum(a.area_mm2 for a in face.areas) + 5.0
    nearest = pull_map(face, Pull((20.0, 34.0), (20.0, 34.0), 12.0))
    assert [a.area_mm2 for a in nearest.areas] == pytest.approx([a.area_mm2 for a in face.areas], abs=0.3)


def test_a_pull_without_a_line_says_how_far_the_nearest_is(face):
    with pytest.raises(
        GeometryError, match=r"no line within its reach of 2\.00 mm: the nearest one is \d\.\d\d mm away"
    ):
        pull_map(face, Pull((25.0, 27.0), (26.0, 27.0), 2.0))


def test_a_pull_too_long_for_its_reach_is_refused_with_one_that_works(face):
    with pytest.raises(GeometryError, match="give it a reach of") as caught:
        pull_map(face, Pull((20.0, 34.2), (26.0, 34.2), 3.0))
    reach = float(str(caught.value).split("reach of ")[2].split(" mm")[0])
    pull_map(face, Pull((20.0, 34.2), (26.0, 34.2), reach))


def test_across_the_line_it_fades_so_slowly_that_nothing_folds(face):
    # A pull of six line widths straight out, with a short reach: the ground under it stretches, and is
    # never turned.
    pulled = pull_map(face, Pull((34.0, 20.0), (38.8, 20.0), 4.0))
    for before, after in zip(face.graph.edges, pulled.graph.edges, strict=True):
        steps, moved = np.diff(before.points, axis=0), np.diff(after.points, axis=0)
        near = np.hypot(*(before.points[1:] - [34.0, 20.0]).T) < 0.5
        assert ((steps * moved).sum(axis=1)[near] > 0).all()


def _area(points):
    x, y = points.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2.0
