"""Connected pieces, against a plain search."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limner.geometry.links import connected_pieces


def searched(pairs: list[list[int]], count: int) -> list[int]:
    """Piece of each point, found by walking from the lowest point that has none yet."""
    label = [-1] * count
    for start in range(count):
        if label[start] < 0:
            number, todo = max(label) + 1, [start]
            while todo:
                point = todo.pop()
                label[point] = number
                todo += [b for a, b in [*pairs, *(p[::-1] for p in pairs)] if a == point and label[b] < 0]
    return label


@given(st.integers(0, 10_000), st.integers(1, 30), st.integers(0, 40))
def test_labels_are_those_of_a_plain_search_in_the_order_of_lowest_points(
    seed: int, count: int, links: int
) -> None:
    pairs = np.random.default_rng(seed).integers(0, count, (links, 2))
    pieces, label = connected_pieces(pairs, count)
    assert label.tolist() == searched(pairs.tolist(), count)
    assert pieces == label.max() + 1


def test_a_link_given_a_thousand_times_is_a_link() -> None:
    assert connected_pieces(np.tile([[0, 1]], (1000, 1)), 2)[0] == 1


@pytest.mark.parametrize("shuffled", [False, True])
def test_one_long_path_is_one_piece(shuffled: bool) -> None:
    order = np.random.default_rng(0).permutation(20_000) if shuffled else np.arange(20_000)
    pieces, label = connected_pieces(np.stack([order[:-1], order[1:]], axis=1), len(order))
    assert pieces == 1
    assert not label.any()


def test_no_points() -> None:
    pieces, label = connected_pieces(np.zeros((0, 2), np.int64), 0)
    assert (pieces, len(label)) == (0, 0)
