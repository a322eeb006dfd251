"""Connected pieces, against SciPy's."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from limner.geometry.links import connected_pieces


@given(st.integers(0, 10_000), st.integers(1, 80), st.integers(0, 120))
def test_labels_are_those_of_a_graph_search(seed: int, count: int, links: int) -> None:
    pairs = np.random.default_rng(seed).integers(0, count, (links, 2))
    graph = csr_array((np.ones(links), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    # SciPy counts pieces in the order of their lowest points, too.
    pieces, label = connected_components(graph, directed=False)
    assert connected_pieces(pairs, count)[0] == pieces
    assert np.array_equal(connected_pieces(pairs, count)[1], label)


@pytest.mark.parametrize("shuffled", [False, True])
def test_one_long_path_is_one_piece(shuffled: bool) -> None:
    order = np.random.default_rng(0).permutation(20_000) if shuffled else np.arange(20_000)
    pieces, label = connected_pieces(np.stack([order[:-1], order[1:]], axis=1), len(order))
    assert pieces == 1
    assert not label.any()


def test_no_points() -> None:
    pieces, label = connected_pieces(np.zeros((0, 2), np.int64), 0)
    assert (pieces, len(label)) == (0, 0)
