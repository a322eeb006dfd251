"""Parting lines put into a graph."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limner.errors import GeometryError
from limner.model.regionmap import Edge, LineGraph
from limner.regions.faces.walk import find_faces
from limner.regions.parting import part_graph

CORNERS = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
WIDTH = 0.5


def square():
    t = np.linspace(0, 1, 41)[:, None]
    sides = [
        Edge(CORNERS[k] * (1 - t) + CORNERS[(k + 1) % 4] * t, np.full(41, WIDTH), k, (k + 1) % 4)
        for k in range(4)
    ]
    return LineGraph(CORNERS, tuple(sides), WIDTH)


def sampled(points, count=101):
    points = np.asarray(points, float)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0, way[-1], count)
    return np.stack([np.interp(at, way, points[:, k]) for k in (0, 1)], axis=1)


def sizes(graph):
    return sorted(
        round(face.area, 6) for face in find_faces(graph.edges, np.ones(len(graph.edges), bool)).faces
    )


@pytest.mark.parametrize(
    "line",
    [
        [[0, 5], [10, 5]],
        [[0.3, 5], [9.9, 5]],
        [[-1, 5], [12, 5]],
        [[-0.2, 5], [9.6, 5]],
    ],
)
def test_a_line_from_side_to_side_parts_a_square(line):
    parted = part_graph(square(), [sampled(line)])
    assert sizes(parted) == [50.0, 50.0]
    assert [edge.kind for edge in parted.edges].count("parting") == 1


def test_what_hangs_loose_is_left_out():
    parted = part_graph(square(), [sampled([[-3, 2], [13, 2]])])
    (line,) = [edge for edge in parted.edges if edge.kind == "parting"]
    assert line.points[[0, -1]].tolist() == [[0.0, 2.0], [10.0, 2.0]]


def test_a_loop_parts_its_inside():
    line = np.array([[-1, 5], [5, 5], [5, 2], [3, 2], [3, 8], [12, 8]], float)
    # It crosses itself at (3, 5): a loop of 2 by 3 in the lower part; the upper one is 3 by 5 and 7 by 2.
    assert sizes(part_graph(square(), [line])) == [6.0, 29.0, 71.0]


def test_two_lines_part_into_four():
    parted = part_graph(square(), [sampled([[-1, 5], [11, 5]]), sampled([[5, -1], [5, 11]])])
    assert sizes(parted) == [25.0, 25.0, 25.0, 25.0]


def test_a_line_that_joins_nothing_is_refused():
    with pytest.raises(GeometryError, match="parts no area") as caught:
        part_graph(square(), [sampled([[3, 3], [6, 6]])])
    assert caught.value.about == ("part", 0)


def test_the_pieces_keep_every_point_and_width():
    graph = square()
    parted = part_graph(graph, [sampled([[-1, 3.3], [11, 6.1]])])
    for edge in parted.edges:
        assert (np.hypot(*np.diff(edge.points, axis=0).T) > 0).all()
        assert edge.points[0].tolist() == parted.nodes[edge.start].tolist()
        assert edge.points[-1].tolist() == parted.nodes[edge.end].tolist()
        assert set(edge.width_mm.tolist()) == ({0.0} if edge.kind == "parting" else {WIDTH})
    before = {tuple(point) for edge in graph.edges for point in edge.points}
    after = {tuple(point) for edge in parted.edges for point in edge.points}
    assert before <= after


@settings(max_examples=60, deadline=None)
@given(st.floats(0.4, 9.6), st.floats(0.4, 9.6), st.floats(-3.0, 3.0))
def test_any_cut_parts_into_what_it_says(low, high, bulge):
    y = np.linspace(-1, 11, 81)
    line = np.stack([y, low + (high - low) * y / 10 + bulge * np.sin(np.pi * y / 10)], axis=1)
    inside = line[(y >= 0) & (y <= 10)]
    if inside[:, 1].min() < 0.1 or inside[:, 1].max() > 9.9:
        return
    assert sum(sizes(part_graph(square(), [line]))) == pytest.approx(100.0, abs=1e-6)
    assert len(sizes(part_graph(square(), [line]))) == 2
