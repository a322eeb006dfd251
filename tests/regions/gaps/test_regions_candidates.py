"""What a bridge costs, which ones are proposed at all, and the curve that it takes."""

import numpy as np
import pytest
from numpy.typing import NDArray

from limner.model.regionmap import Edge, LineGraph
from limner.regions.gaps.candidates import Bridge, candidates
from limner.regions.gaps.ends import find_ends
from limner.regions.gaps.line_index import LineIndex

Floats = NDArray[np.float64]

WIDTH = 0.8
LARGEST = 10.0


def line(*points: tuple[float, float]) -> Floats:
    """Points every 0.1 mm along a polyline."""
    corners = np.array(points, float)
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    at = np.linspace(0.0, walked[-1], max(int(walked[-1] / 0.1), 1) + 1)
    return np.stack([np.interp(at, walked, corners[:, k]) for k in (0, 1)], axis=1)


def graph_of(*lines: Floats) -> LineGraph:
    """Every line between two nodes of its own."""
    nodes = np.array([end for points in lines for end in (points[0], points[-1])])
    edges = tuple(
        Edge(points, np.full(len(points), WIDTH), 2 * number, 2 * number + 1)
        for number, points in enumerate(lines)
    )
    return LineGraph(nodes, edges, WIDTH)


def proposed(*lines: Floats, largest: float = LARGEST) -> list[Bridge]:
    graph = graph_of(*lines)
    return candidates(graph, find_ends(graph), LineIndex(graph), largest)


def between(found: list[Bridge], one: int, other: int) -> list[Bridge]:
    """Those between two ends, by the numbers of their nodes."""
    return [bridge for bridge in found if (bridge.first, bridge.second) == (one, other)]


def turned(deg: float, length: float = 12.0) -> Floats:
    """A step of this length in this direction (0 = along x, y down)."""
    return length * np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])


def two_ends(first_deg: float, second_deg: float, distance: float = 4.0) -> list[Bridge]:
    """Bridges between an end at (0, 0) and one at (distance, 0) that were going in these directions."""
    start, end = np.zeros(2), np.array([distance, 0.0])
    first = line(tuple(start - turned(first_deg)), tuple(start))
    second = line(tuple(end - turned(second_deg)), tuple(end))
    return between(proposed(first, second), 1, 3)


def test_a_straight_continuation_costs_its_share_of_the_largest_gap() -> None:
    (bridge,) = two_ends(0.0, 180.0)
    assert bridge.cost == pytest.approx(4.0 / LARGEST, abs=1e-6)
    assert bridge.gap == pytest.approx(4.0)
    assert bridge.turn == pytest.approx((0.0, 0.0), abs=1e-4)
    assert bridge.weight == pytest.approx(2 * 0.6, abs=1e-5)
    np.testing.assert_allclose(bridge.points[:, 1], 0.0, atol=1e-6)
    np.testing.assert_array_equal(bridge.points[[0, -1]], [[0.0, 0.0], [4.0, 0.0]])


# Costs recomputed from the module's statement: twice its length at a bend of 70 or a kink of 40 degrees.
@pytest.mark.parametrize(
    ("first", "second", "bend", "kink"),
    [
        (35.0, 145.0, 35.0, 0.0),
        (-35.0, -145.0, 35.0, 0.0),
        (70.0, 110.0, 70.0, 0.0),
        (20.0, 200.0, 0.0, 20.0),
        (-40.0, 140.0, 0.0, 40.0),
        (30.0, 180.0, 15.0, 15.0),
    ],
)
def test_turning_costs_by_bend_and_by_kink(first: float, second: float, bend: float, kink: float) -> None:
    (bridge,) = two_ends(first, second)
    assert bridge.turn == pytest.approx((bend, kink), abs=0.01)
    assert bridge.cost == pytest.approx(0.4 * (1 + (bend / 70) ** 2 + (kink / 40) ** 2), abs=1e-3)


@pytest.mark.parametrize(("first", "second"), [(120.0, 160.0), (116.0, 116.0), (0.0, 0.0)])
def test_ends_that_would_have_to_turn_too_far_are_not_joined(first: float, second: float) -> None:
    assert two_ends(first, second, distance=1.0) == []


def test_ends_of_a_comb_are_joined_only_where_they_nearly_touch() -> None:
    assert two_ends(80.0, 100.0, distance=1.6) == []
    (bridge,) = two_ends(80.0, 100.0, distance=1.1)
    assert bridge.turn[0] == pytest.approx(80.0, abs=0.01)


@pytest.mark.parametrize("distance", [9.9, 10.1])
def test_nothing_is_proposed_beyond_the_largest_gap(distance: float) -> None:
    assert bool(two_ends(0.0, 180.0, distance)) == (distance < LARGEST)


def test_a_bridge_with_a_turn_is_the_arc_of_a_circle() -> None:
    (bridge,) = two_ends(-30.0, -150.0)
    # Chord 4, tangents 30 degrees off it: radius 2 / sin 30; the middle of the circle below the chord.
    middle, radius = np.array([2.0, 2.0 / np.tan(np.radians(30.0))]), 4.0
    np.testing.assert_allclose(np.hypot(*(bridge.points - middle).T), radius, atol=4e-3)


def towards_line(distance: float, slant_deg: float) -> list[Bridge]:
    """Bridges from an end at (0, 0), going along x, to an upright line that many mm ahead, turned."""
    along = turned(90.0 + slant_deg, 30.0)
    ahead = np.array([distance, 0.0])
    stem = line((-12.0, 0.0), (0.0, 0.0))
    return [b for b in proposed(stem, line(tuple(ahead - along), tuple(ahead + along))) if b.first == 1]


def test_towards_a_line_it_costs_more_and_by_the_free_distance() -> None:
    (bridge,) = towards_line(3.0, 0.0)
    free = 3.0 - WIDTH / 2
    assert (bridge.second, bridge.edge) == (None, 1)
    assert bridge.gap == pytest.approx(free, abs=1e-3)
    assert bridge.cost == pytest.approx(1.6 * free / LARGEST, abs=1e-3)
    assert bridge.weight == pytest.approx(1 - bridge.cost)
    np.testing.assert_allclose(bridge.points[-1], [3.0, 0.0], atol=0.11)


# Free distances of 2 and of 0.8 mm, to either side of one and a half line widths.
@pytest.mark.parametrize(
    ("off_deg", "distance", "expected"),
    [(45.0, 2.4, True), (52.0, 2.4, False), (52.0, 1.2, True), (70.0, 1.2, True), (78.0, 1.2, False)],
)
def test_towards_a_line_an_end_may_turn_a_little_and_more_where_it_is_near(
    off_deg: float, distance: float, expected: bool
) -> None:
    # A line that comes from afar, passes a point so far beside the end's heading, and goes back.
    at, across = turned(off_deg, distance), turned(off_deg + 90.0, 0.05)
    away = turned(off_deg, 12.0)
    hairpin = line(*(tuple(point) for point in (away - across, at - across, at + across, away + across)))
    found = proposed(line((-12.0, 0.0), (0.0, 0.0)), hairpin)
    assert any(bridge.first == 1 and bridge.second is None for bridge in found) == expected


def test_a_line_in_between_is_not_crossed() -> None:
    gate = line((2.0, -5.0), (2.0, 5.0))
    ends = line((-12.0, 0.0), (0.0, 0.0)), line((16.0, 0.0), (4.0, 0.0))
    assert between(proposed(*ends), 1, 3)
    found = proposed(*ends, gate)
    assert between(found, 1, 3) == []
    assert {(b.first, b.edge) for b in found if b.second is None and b.first in (1, 3)} == {(1, 2), (3, 2)}


def test_an_end_looks_past_its_own_tip_but_meets_its_own_line_after_a_detour() -> None:
    turn = np.radians(np.linspace(0, 330, 400))
    ring = np.stack([8 * np.cos(turn), 8 * np.sin(turn)], axis=1)
    # Near its end the ring leaves inwards, towards its own beginning.
    found = proposed(ring, largest=6.0)
    assert between(found, 0, 1)
    assert proposed(line((0, 0), (12, 0))) == []


@pytest.mark.parametrize("radius", [6.0, 20.0])
def test_an_end_of_a_bent_line_is_heading_along_its_tangent(radius: float) -> None:
    turn = np.linspace(0.0, 1.2, 200)
    bent = radius * np.stack([np.sin(turn), np.cos(turn)], axis=1)
    _, end = find_ends(graph_of(bent))
    tangent = np.array([np.cos(1.2), -np.sin(1.2)])
    # A chord over the last three widths would be off by 1.2 / radius, 11.5 and 3.4 degrees.
    off = np.degrees(np.arccos(np.clip(float(end.heading @ tangent), -1, 1)))
    assert off < 3.0


def test_an_end_knows_whether_its_line_is_held_at_the_other_end() -> None:
    stem, bar = line((0, 0), (0, 10)), line((-5, 0), (0, 0))
    other = line((0, 0), (5, 0))
    nodes = np.array([[0, 0], [0, 10], [-5, 0], [5, 0]], float)
    width = [np.full(len(points), WIDTH) for points in (stem, bar, other)]
    edges = Edge(stem, width[0], 0, 1), Edge(bar, width[1], 2, 0), Edge(other, width[2], 0, 3)
    ends = find_ends(LineGraph(nodes, edges, WIDTH))
    assert [(end.node, end.edge) for end in ends] == [(1, 0), (2, 1), (3, 2)]


@pytest.mark.parametrize("beyond", [1.4, 1.8, 2.2])
def test_a_corner_near_an_end_does_not_turn_its_heading(beyond: float) -> None:
    # The line turns by 90 degrees so far from its end that three line widths, 2.4 mm, reach around the
    # corner.
    _, end = find_ends(graph_of(line((0.0, 8.0), (0.0, 0.0), (beyond, 0.0))))
    assert abs(np.degrees(np.arctan2(end.heading[1], end.heading[0]))) < 12.0


def test_what_costs_one_or_more_is_not_proposed() -> None:
    # At a bend of 70 degrees a bridge costs twice its length.
    assert two_ends(70.0, 110.0, distance=4.9)
    assert two_ends(70.0, 110.0, distance=5.1) == []


def test_of_many_lines_ahead_only_the_five_cheapest_compete() -> None:
    # Small rings, which have no ends, side by side ahead of the stem.
    around = np.linspace(0.0, 2 * np.pi, 60)
    ring = 0.4 * np.stack([np.cos(around), np.sin(around)], axis=1)
    ring[-1] = ring[0]
    rings = [np.add(ring, [5.0 + 0.1 * abs(k), 1.2 * k]) for k in range(-4, 5)]
    plain = graph_of(line((-12.0, 0.0), (0.0, 0.0)), *rings)
    edges = [plain.edges[0], *(Edge(e.points, e.width_mm, e.start, e.start) for e in plain.edges[1:])]
    graph = LineGraph(plain.nodes, tuple(edges), WIDTH)
    found = [b for b in candidates(graph, find_ends(graph), LineIndex(graph), 30.0) if b.first == 1]
    assert sorted(b.edge for b in found) == [3, 4, 5, 6, 7]
    costs = [b.cost for b in found]
    assert costs == sorted(costs)


@pytest.mark.parametrize(("drop", "met"), [(2.0, False), (5.0, True)])
def test_a_line_meets_itself_only_after_a_detour(drop: float, met: bool) -> None:
    # A hook that points back at its own stem, 3 mm away: the way along it is 13 or 19 mm, and three quarters
    # of a turn across would be 14.
    hook = line((0.0, 0.0), (0.0, 10.0), (6.0, 10.0), (6.0, 10.0 - drop), (3.0, 10.0 - drop))
    assert any(b.first == 1 and b.edge == 0 for b in proposed(hook)) == met


def test_a_ragged_tip_does_not_tell_where_a_line_is_heading() -> None:
    # The last 0.2 mm, a quarter of a line width, turn off sideways.
    _, end = find_ends(graph_of(line((0.0, 0.0), (6.0, 0.0), (6.0, 0.2))))
    assert abs(np.degrees(np.arctan2(end.heading[1], end.heading[0]))) < 3.0
