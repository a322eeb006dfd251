"""Choose the best set of candidates that do not exclude each other.

Method: a maximum-weight independent set of the conflict graph, group by group of candidates that conflict
directly or through others. Small groups are solved exactly by branch and bound (the bound is the weight of
all that is left); in larger ones the best candidate by weight is taken or refused greedily and the choice
then improved by exchanging one taken candidate for better ones. That takes time in proportion to the
conflicts, times the largest number of them that a candidate has.

Limits: groups above the stated size are near the optimum, not proven.
"""

from collections.abc import Sequence

__all__ = ["choose"]

# Branch and bound is exact up to this many candidates in a group: well under a millisecond.
_EXACT_SIZE = 18


def choose(weights: Sequence[float], conflicts: Sequence[set[int]]) -> list[int]:
    """Pick candidates of the greatest total weight.

    Parameters
    ----------
    weights : sequence of float
        Positive.
    conflicts : sequence of set of int
        For each candidate those that it excludes; symmetrical.

    Returns
    -------
    list of int
        Chosen candidates, ascending.
    """
    chosen: list[int] = []
    seen: set[int] = set()
    for first in range(len(weights)):
        if first in seen:
            continue
        group, frontier = {first}, [first]
        while frontier:
            for other in sorted(conflicts[frontier.pop()]):
                if other not in group:
                    group.add(other)
                    frontier.append(other)
        seen |= group
        ranked = sorted(group, key=lambda number: (-weights[number], number))
        chosen.extend(
            _exact(ranked, weights, conflicts)
            if len(ranked) <= _EXACT_SIZE
            else _improved(ranked, weights, conflicts)
        )
    return sorted(chosen)


def _exact(ranked: list[int], weights: Sequence[float], conflicts: Sequence[set[int]]) -> list[int]:
    best: list[int] = []
    best_weight = 0.0

    def branch(left: list[int], taken: list[int], weight: float) -> None:
        nonlocal best, best_weight
        if weight > best_weight + 1e-12:
            best, best_weight = list(taken), weight
        if not left or weight + sum(weights[number] for number in left) <= best_weight + 1e-12:
            return
        head, rest = left[0], left[1:]
        branch([n for n in rest if n not in conflicts[head]], [*taken, head], weight + weights[head])
        branch(rest, taken, weight)

    branch(ranked, [], 0.0)
    return best


def _improved(ranked: list[int], weights: Sequence[float], conflicts: Sequence[set[int]]) -> list[int]:
    """First come by weight, then one taken candidate gives way to several that together weigh more.

    Only candidates that the one excludes, and nothing else does, can take its place: conflicts are looked at
    around each candidate a few times, never across the whole group.
    """
    rank = {number: place for place, number in enumerate(ranked)}
    taken: set[int] = set()
    # By how many taken ones each candidate is excluded.
    excluded = dict.fromkeys(ranked, 0)

    def put(number: int, by: int) -> None:
        for other in conflicts[number]:
            excluded[other] += by

    for number in ranked:
        if not excluded[number]:
            taken.add(number)
            put(number, 1)
    for number in (number for number in ranked if number in taken):
        free = sorted((other for other in conflicts[number] if excluded[other] == 1), key=rank.__getitem__)
        gained = _first_come(free, conflicts)
        if sum(weights[other] for other in gained) > weights[number] + 1e-12:
            taken.remove(number)
            put(number, -1)
            taken.update(gained)
            for other in gained:
                put(other, 1)
    return sorted(taken)


def _first_come(ranked: Sequence[int], conflicts: Sequence[set[int]]) -> list[int]:
    """Candidates that none before them excludes."""
    chosen: list[int] = []
    blocked: set[int] = set()
    for number in ranked:
        if number not in blocked:
            chosen.append(number)
            blocked |= conflicts[number]
    return chosen
