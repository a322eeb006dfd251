"""The choice among bridges that exclude each other, against trying all subsets."""

from collections.abc import Iterator
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limner.regions.gaps.independent_set import choose


def as_sets(count: int, pairs: set[tuple[int, int]]) -> list[set[int]]:
    conflicts: list[set[int]] = [set() for _ in range(count)]
    for one, other in pairs:
        if one != other:
            conflicts[one].add(other)
            conflicts[other].add(one)
    return conflicts


def heaviest(weights: list[float], conflicts: list[set[int]]) -> float:
    """Weight of the best subset without a conflict, by trying all of them."""
    best = 0.0
    for size in range(len(weights) + 1):
        for some in combinations(range(len(weights)), size):
            if all(b not in conflicts[a] for a, b in combinations(some, 2)):
                best = max(best, sum(weights[n] for n in some))
    return best


@settings(max_examples=80, deadline=None)
@given(
    weights=st.lists(st.integers(1, 40), min_size=1, max_size=9),
    pairs=st.sets(st.tuples(st.integers(0, 8), st.integers(0, 8)), max_size=14),
)
def test_the_chosen_set_is_the_heaviest_without_a_conflict(
    weights: list[int], pairs: set[tuple[int, int]]
) -> None:
    count = len(weights)
    conflicts = as_sets(count, {(a, b) for a, b in pairs if a < count and b < count})
    real = [weight / 20 for weight in weights]
    chosen = choose(real, conflicts)
    assert all(b not in conflicts[a] for a, b in combinations(chosen, 2))
    assert abs(sum(real[n] for n in chosen) - heaviest(real, conflicts)) < 1e-9


def test_a_large_cluster_is_settled_without_conflicts_and_better_than_first_come() -> None:
    # A path of 61 candidates, each in conflict with the next; every second one a little lighter than its
    # neighbour, two of which outweigh it.
    count = 61
    weights = [1.0 if n % 2 else 0.9 for n in range(count)]
    chosen = choose(weights, as_sets(count, {(n, n + 1) for n in range(count - 1)}))
    assert all(b - a > 1 for a, b in pairwise(chosen))
    first_come = sum(weights[n] for n in range(1, count, 2))
    assert sum(weights[n] for n in chosen) >= first_come


def test_in_a_large_cluster_one_gives_way_to_two_that_outweigh_it() -> None:
    # Stars of three, joined in a chain by light candidates so that all are one cluster.
    stars = 12
    weights: list[float] = []
    pairs: set[tuple[int, int]] = set()
    for star in range(stars):
        heart = len(weights)
        weights += [1.0, 0.7, 0.7, 0.01]
        pairs |= {(heart, heart + 1), (heart, heart + 2), (heart, heart + 3)}
        if star:
            pairs.add((heart - 1, heart))
    chosen = choose(weights, as_sets(len(weights), pairs))
    rays = [n for n in range(len(weights)) if n % 4 in (1, 2)]
    assert set(rays) <= set(chosen)
    assert not any(n % 4 == 0 for n in chosen)


class Counting(set[int]):
    """A set of conflicts that counts how often it is walked through."""

    walks = 0

    def __iter__(self) -> Iterator[int]:
        Counting.walks += 1
        return super().__iter__()


@pytest.mark.parametrize("side", [20, 40, 80])
def test_work_grows_with_the_number_of_candidates_alone(side: int) -> None:
    # A field of candidates, each in conflict with its neighbours: as the ends of a grid of lines make it.
    places = [(x, y) for y in range(side) for x in range(side)]
    number = {place: n for n, place in enumerate(places)}
    conflicts = [
        Counting(number[p] for p in ((x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)) if p in number)
        for x, y in places
    ]
    weights = (0.5 + 0.5 * np.random.default_rng(side).random(len(places))).tolist()
    Counting.walks = 0
    chosen = choose(weights, conflicts)
    assert len(chosen) > len(places) / 4
    # Each list of conflicts is walked through once to find the group, and a few times around its candidate.
    assert Counting.walks <= 8 * len(places)


def test_equal_weights_are_settled_by_number() -> None:
    assert choose([0.5, 0.5], as_sets(2, {(0, 1)})) == [0]
    assert choose([], []) == []


def test_the_order_of_the_conflicts_does_not_matter() -> None:
    rng = np.random.default_rng(3)
    weights = rng.uniform(0.1, 1.0, 40).tolist()
    pairs = {(int(a), int(b)) for a, b in rng.integers(0, 40, (90, 2))}
    forwards, backwards = as_sets(40, pairs), as_sets(40, {(b, a) for a, b in pairs})
    assert choose(weights, forwards) == choose(weights, backwards)
