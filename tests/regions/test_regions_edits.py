"""No edge of the map is a mere point, whatever the ink."""

import cv2
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_regions import clean_ink, regions_of
from limner.model.regionmap import Edge, LineGraph
from limner.regions.edits import without_points


def edge(points, start, end):
    return Edge(np.array(points, float), np.full(len(points), 0.5), start, end)


def graph(nodes, *edges):
    return LineGraph(np.array(nodes, float), edges, 0.5)


def test_an_edge_between_two_nodes_at_one_place_makes_them_one():
    tidy = without_points(
        graph(
            [[0, 0], [1, 0], [1, 0], [2, 0]],
            edge([[0, 0], [1, 0]], 0, 1),
            edge([[1, 0], [1, 0]], 1, 2),
            edge([[1, 0], [2, 0]], 2, 3),
        )
    )
    assert [(e.start, e.end) for e in tidy.edges] == [(0, 1), (1, 3)]


def test_a_loop_without_length_goes():
    tidy = without_points(graph([[0, 0], [1, 0]], edge([[1, 0], [1, 0]], 1, 1), edge([[0, 0], [1, 0]], 0, 1)))
    assert [(e.start, e.end) for e in tidy.edges] == [(0, 1)]


def test_what_becomes_a_point_because_its_nodes_are_merged_goes_too():
    # The second edge spans just more than a point, but both of its nodes become the first.
    tiny = 0.5e-3
    tidy = without_points(
        graph(
            [[0, 0], [tiny, 0], [2 * tiny, 0], [1, 0]],
            edge([[0, 0], [tiny, 0]], 0, 1),
            edge([[tiny, 0], [2 * tiny, 0]], 1, 2),
            edge([[0, 0], [2 * tiny, 0]], 0, 2),
            edge([[2 * tiny, 0], [1, 0]], 2, 3),
        )
    )
    assert [(e.start, e.end) for e in tidy.edges] == [(0, 3)]
    np.testing.assert_array_equal(tidy.edges[0].points, [[0, 0], [1, 0]])


def test_repeated_points_go_and_the_ends_stay():
    tidy = without_points(
        graph([[0, 0], [2, 0]], edge([[0, 0], [0, 0], [1, 0], [1, 0], [2, 0], [2, 0]], 0, 1))
    )
    np.testing.assert_array_equal(tidy.edges[0].points, [[0, 0], [1, 0], [2, 0]])


def test_a_graph_without_points_stays_as_it_is():
    whole = graph([[0, 0], [1, 0]], edge([[0, 0], [0.5, 0.2], [1, 0]], 0, 1))
    assert without_points(whole).edges == whole.edges


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000), st.floats(0.8, 5.0), st.floats(2.0, 25.0), st.floats(-0.8, 1.0))
def test_no_edge_of_any_blotted_page_is_a_point(seed, grain_px, line_width_px, level):
    noise = cv2.GaussianBlur(np.random.default_rng(seed).normal(size=(120, 120)), (0, 0), grain_px)
    coverage = np.clip(3.0 * (noise / noise.std() - level) + 0.5, 0.0, 1.0)
    regions = regions_of(clean_ink(coverage, line_width_px, 0.1))
    for one in regions.graph.edges:
        assert np.ptp(one.points, axis=0).max() > 0.0
        assert (np.hypot(*np.diff(one.points, axis=0).T) > 0.0).all()
        np.testing.assert_array_equal(one.points[0], regions.graph.nodes[one.start])
        np.testing.assert_array_equal(one.points[-1], regions.graph.nodes[one.end])
    for cycle in [*regions.silhouettes, *(area.outline for area in regions.areas)]:
        assert len(cycle) > 0
