"""The graph of centrelines against drawings whose lines are known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_regions import circle, clean_ink, drawn
from limner.regions.centrelines.build import build_graph
from limner.regions.faces.walk import find_faces


def degrees(graph):
    return np.bincount([node for edge in graph.edges for node in (edge.start, edge.end)])


def components(graph):
    root = list(range(len(graph.nodes)))

    def find(node):
        while root[node] != node:
            node = root[node]
        return node

    for edge in graph.edges:
        root[find(edge.start)] = find(edge.end)
    return len({find(node) for edge in graph.edges for node in (edge.start, edge.end)})


def test_a_line_runs_from_tip_to_tip_along_its_middle():
    graph = build_graph(drawn([[(60, 100), (340, 190)]]))
    (edge,) = graph.edges
    # Round ends reach half a width beyond the polyline: 4 px at 0.1 mm per px.
    along = np.array([280, 90]) / np.hypot(280, 90)
    tips = np.array([(60, 100) - 4 * along, (340, 190) + 4 * along]) / 10
    ends = edge.points[[0, -1]]
    if ends[0, 0] > ends[1, 0]:
        ends = ends[::-1]
    assert np.abs(ends - tips).max() < 0.04
    across = (edge.points - (6, 10)) @ np.array([-along[1], along[0]])
    assert np.abs(across).max() < 0.02
    assert np.abs(edge.width_mm - 0.8).max() < 0.05


def test_a_circle_is_one_loop_of_its_radius():
    graph = build_graph(drawn([circle(200, 200, 120)]))
    (edge,) = graph.edges
    assert edge.start == edge.end
    assert np.array_equal(edge.points[0], edge.points[-1])
    assert np.abs(np.hypot(*(edge.points - 20).T) - 12).max() < 0.03


@pytest.mark.parametrize("angle_deg", [25, 40, 60, 90])
def test_two_crossing_lines_meet_in_one_node_of_degree_four(angle_deg):
    turn = np.radians(angle_deg)
    arm = 150 * np.array([np.cos(turn), np.sin(turn)])
    centre, side = np.array([203.3, 198.7]), np.array([150.0, 0.0])
    graph = build_graph(drawn([[centre - side, centre + side], [centre - arm, centre + arm]]))
    degree = degrees(graph)
    assert sorted(degree[degree > 0]) == [1, 1, 1, 1, 4]
    # A tenth of a line width.
    assert np.hypot(*(graph.nodes[degree.argmax()] - centre / 10)) < 0.08


def test_a_stem_meets_the_middle_of_the_line_that_it_stands_on():
    graph = build_graph(drawn([[(50, 120), (350, 120)], [(180, 120), (180, 330)]]))
    degree = degrees(graph)
    assert sorted(degree[degree > 0]) == [1, 1, 1, 3]
    assert np.hypot(*(graph.nodes[degree.argmax()] - (18, 12))) < 0.06


def test_a_rough_outline_leaves_no_spurs():
    rng = np.random.default_rng(5)
    ink = drawn([[(60, 200), (340, 200)]], width=12)
    rough = ink.coverage + 0.35 * rng.standard_normal(ink.coverage.shape).astype(np.float32) * (
        (ink.coverage > 0.05) & (ink.coverage < 0.95)
    )
    graph = build_graph(clean_ink(np.clip(rough, 0, 1), 12, 0.1))
    assert len(graph.edges) == 1


def test_a_solid_black_has_a_rim_half_a_line_width_inside_of_its_outline():
    y, x = np.mgrid[:400, :400] + 0.5
    disc = np.hypot(x - 200, y - 200) < 80
    graph = build_graph(clean_ink(disc.astype(np.float32), 8, 0.1, solid=disc))
    (edge,) = graph.edges
    assert edge.kind == "solid"
    assert np.abs(np.hypot(*(edge.points - 20).T) - 7.6).max() < 0.08


def test_blank_paper_has_no_lines():
    assert build_graph(clean_ink(np.zeros((80, 80)), 8, 0.1)).edges == ()


def test_broad_lines_are_found_as_well_as_thin_ones():
    thin = build_graph(drawn([circle(200, 200, 120)], width=5))
    broad = build_graph(drawn([circle(200, 200, 120)], width=40))
    assert np.abs(np.hypot(*(broad.edges[0].points - 20).T) - 12).max() < 0.1
    assert len(thin.edges) == len(broad.edges) == 1


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(3, 25))
def test_faces_obey_euler_and_edges_meet_exactly_at_nodes(seed, count):
    rng = np.random.default_rng(seed)
    graph = build_graph(drawn(rng.uniform(20, 380, (count, 3, 2)), width=float(rng.uniform(4, 14))))
    for edge in graph.edges:
        assert np.array_equal(edge.points[0], graph.nodes[edge.start])
        assert np.array_equal(edge.points[-1], graph.nodes[edge.end])
    used = len({node for edge in graph.edges for node in (edge.start, edge.end)})
    faces = find_faces(graph.edges, np.ones(len(graph.edges), bool))
    # Euler's formula for plane graphs: bounded faces = edges - nodes + components.
    assert len(faces.faces) == len(graph.edges) - used + components(graph)


def test_a_dot_of_a_drawing_is_not_filled_up_with_its_surroundings():
    # So small that all around it is less than what counts as a hole in the ink.
    graph = build_graph(drawn([[(60, 100), (63, 100)]]))
    points = np.concatenate([edge.points for edge in graph.edges])
    assert np.ptp(points, axis=0).max() < 1.2
    assert np.abs(points - (6.15, 10.0)).max() < 0.6
