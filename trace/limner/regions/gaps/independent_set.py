"""Choose the best set of candidates that do not exclude each other.

Method: a maximum-weight independent set of the conflict graph, group by group of candidates that conflict
directly or through others. Small groups are solved exactly by branch and bound (the bound is the weight
of all that is left); in larger ones the best candidate by weight is taken or refused greedily and the
choice then improved by exchanging one taken candidate for better ones.

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
    taken: set[int] = set()
    for number in ranked:
        if not conflicts[number] & taken:
            taken.add(number)
    # One taken candidate makes room for several smaller ones that together weigh more.
    for number in list(ranked):
        if number not in taken:
            continue
        rest = taken - {number}
        gained: list[int] = []
        for other in ranked:
            if other != number and other not in rest and not conflicts[other] & (rest | set(gained)):
                gained.append(other)
        if sum(weights[other] for other in gained) > weights[number] + 1e-12:
            taken = rest | set(gained)
    return sorted(taken)
