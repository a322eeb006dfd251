"""Narrow passages beside free ends."""

import numpy as np
import pytest

from helpers_regions import circle, drawn, regions_of
from limner.model.regionmap import Edge, LineGraph
from limner.regions.gaps.ends import find_ends
from limner.regions.gaps.necks import find_necks

WIDTH = 1.0


def graph_of(*lines):
    """Every polyline between two nodes of its own, with points every 0.2 mm."""
    edges, nodes = [], []
    for corners in lines:
        corners = np.array(corners, float)
        walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
        at = np.linspace(0.0, walked[-1], int(walked[-1] / 0.2) + 2)
        points = np.stack([np.interp(at, walked, corners[:, k]) for k in (0, 1)], axis=1)
        edges.append(Edge(points, np.full(len(points), WIDTH), len(nodes), len(nodes) + 1))
        nodes += [points[0], points[-1]]
    return LineGraph(np.array(nodes), tuple(edges), WIDTH)


def necks(*lines, largest=8.0):
    graph = graph_of(*lines)
    return find_necks(graph, find_ends(graph), largest)


def test_an_end_beside_a_line_has_a_neck_to_its_foot():
    # The end is heading past the line, which lies 3 mm to its side.
    other_end, neck = necks([(-20, 0), (0, 0)], [(-30, 3), (30, 3)], largest=5.0)
    assert (other_end.first, neck.first) == (0, 1)
    np.testing.assert_allclose(neck.points[-1], [0.0, 3.0], atol=0.11)
    assert neck.gap == pytest.approx(3.0 - WIDTH / 2, abs=0.01)
    assert neck.is_neck


def test_nothing_lies_between_the_two_sides_of_a_neck():
    far, near = [(-30, 6), (30, 6)], [(-30, 3), (30, 3)]
    assert all(neck.points[-1][1] < 4.0 for neck in necks([(-20, 0), (0, 0)], far, near))


def test_two_ends_share_one_neck():
    found = necks([(-20, 0), (0, 0)], [(2, 2), (2, 20)], largest=4.0)
    assert [(neck.first, neck.second) for neck in found] == [(1, 2)]
    assert found[0].gap == pytest.approx(np.hypot(2, 2))


def test_no_neck_is_wider_than_the_largest_or_turns_back():
    assert necks([(-20, 0), (0, 0)], [(5, -9), (5, 9)], largest=4.4) == []
    assert len(necks([(-20, 0), (0, 0)], [(5, -9), (5, 9)], largest=4.6)) == 1
    # The line lies behind the end alone, 120 degrees from where it is heading.
    found = necks([(-20, 0), (0, 0)], [(-2.6, 1.5), (-8, 10)], largest=3.5)
    assert all(neck.first != 1 and neck.second != 1 for neck in found)


def test_a_lost_junction_is_closed_from_every_side():
    # Three rooms in a ring, the junction of their walls bitten out, two of the walls at right angles.
    spokes = [[(200 + 149 * np.cos(a), 200 + 149 * np.sin(a)), (200 + 14 * np.cos(a), 200 + 14 * np.sin(a))]
              for a in np.radians([0, 90, 225])]  # fmt: skip
    assert len(regions_of(drawn([circle(200, 200, 150), *spokes])).areas) == 3


def turned(regions, quarter, size):
    """Sizes and middles of areas, turned back by quarters."""
    found = []
    for area in regions.areas:
        x, y = area.inside
        for _ in range(quarter):
            x, y = y, size - x
        found.append((round(area.area_mm2, 1), round(x), round(y)))
    return sorted(found)


@pytest.mark.parametrize("quarter", [1, 2, 3])
def test_areas_are_the_same_on_a_turned_page(quarter):
    rng = np.random.default_rng(4)
    lines = [circle(200, 200, 150, 5, 355), circle(140, 160, 40, 200, 535), circle(260, 160, 40, 30, 365)]
    lines += [[(57, 245), (188, 250)], [(200, 264), (200, 350)], [(214, 248), (343, 245)]]
    lines = [np.asarray(points, float) + rng.normal(0, 0.2, (len(points), 2)) for points in lines]
    upright = regions_of(drawn(lines))
    for _ in range(quarter):
        lines = [np.stack([400 - points[:, 1], points[:, 0]], axis=1) for points in lines]
    assert len(upright.areas) >= 5
    size_only = [area[0] for area in turned(regions_of(drawn(lines)), quarter, 40.0)]
    assert size_only == pytest.approx([area[0] for area in turned(upright, 0, 40.0)], rel=0.01)
