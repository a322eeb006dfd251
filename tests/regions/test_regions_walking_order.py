"""Points put into walking order: every path and loop comes back as it was laid."""

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from limner.regions.walking_order import order_chains


def laid(seed: int, sizes: list[tuple[int, bool]]) -> tuple[np.ndarray, int, list[tuple[np.ndarray, bool]]]:
    """Shuffled links of paths and loops, the number of points, and the pieces."""
    rng = np.random.default_rng(seed)
    count = sum(size for size, _ in sizes)
    names = rng.permutation(count)
    pieces, links, at = [], [], 0
    for size, loop in sizes:
        piece = names[at : at + size]
        at += size
        loop = loop and size > 2
        around = np.append(piece, piece[0]) if loop else piece
        links.append(np.stack([around[:-1], around[1:]], axis=1))
        pieces.append((piece, loop))
    pairs = rng.permutation(np.concatenate([np.zeros((0, 2), np.int64), *links]))
    turned = rng.random(len(pairs)) < 0.5
    pairs[turned] = pairs[turned][:, ::-1]
    return pairs, count, pieces


def neighbours(piece: np.ndarray, loop: bool) -> set[frozenset[int]]:
    around = np.append(piece, piece[0]) if loop else piece
    return {frozenset(pair) for pair in zip(around[:-1].tolist(), around[1:].tolist(), strict=True)}


@given(st.integers(0, 10_000), st.lists(st.tuples(st.integers(1, 40), st.booleans()), max_size=12))
def test_every_piece_is_walked_from_end_to_end(seed: int, sizes: list[tuple[int, bool]]) -> None:
    links, count, pieces = laid(seed, sizes)
    chains = order_chains(links, count)
    assert sorted(chains.order.tolist()) == list(range(count))
    assert len(chains.closed) == len(chains.offsets) - 1 == len(pieces)
    walked = {
        frozenset(piece.tolist()): (piece, loop)
        for piece, loop in zip(np.split(chains.order, chains.offsets[1:-1]), chains.closed, strict=False)
    }
    for piece, loop in pieces:
        found, closed = walked[frozenset(piece.tolist())]
        assert closed == loop
        assert neighbours(found, closed) == neighbours(piece, loop)
        # A path starts at its end of lower index, a loop at its lowest point.
        assert found[0] == (min(found) if loop else min(found[0], found[-1]))


def test_pieces_come_in_the_order_of_their_lowest_points() -> None:
    chains = order_chains(np.array([[5, 2], [4, 1], [2, 0]]), 6)
    assert chains.order.tolist() == [0, 2, 5, 1, 4, 3]
    assert chains.offsets.tolist() == [0, 3, 5, 6]
    assert not chains.closed.any()


def test_long_pieces_are_walked_too() -> None:
    links, count, pieces = laid(7, [(20_000, True), (3, False), (15_000, False), (1, False), (900, True)])
    chains = order_chains(links, count)
    walked = [chains.order[low:high] for low, high in pairwise(chains.offsets)]
    by_lowest = sorted(pieces, key=lambda piece: int(piece[0].min()))
    for found, closed, (piece, loop) in zip(walked, chains.closed, by_lowest, strict=True):
        assert closed == loop
        assert neighbours(found, loop) == neighbours(piece, loop)
