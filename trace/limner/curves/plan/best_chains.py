"""The best chains of spans for every number of links: dynamic programming over many runs at once.

Method: `best[k][j]`, the smallest cost of `k` spans from the first candidate to the `j`-th, follows from
`best[k - 1]` and the costs of the spans that end at `j`. The cost is the sum of the sixth powers of the
errors: it stands in for their maximum, but lets the other spans count, too. Runs of like size lie in one
row, so that one array operation does a level for all of them.

Limits: none; the chains are optimal for the spans given.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from limner.model.arrays import Floats, Ints

__all__ = ["Chains", "Spans", "best_chains"]

Spans = Floats
"""Errors of the spans of one run, shape (longest + 1, candidates): [length, start]; inf where none is."""

# Largest number of segments beyond the need that is held ready.
SPARE = 8
# Runs share a row where the largest has at most this many times the candidates of the smallest: a row goes
# through as many levels as its largest run needs.
LIKE_SIZE = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Chains:
    """The best chains of the runs in one row.

    Parameters
    ----------
    error : list of dict
        For each run: number of spans -> largest error of its best chain.
    first, last : ndarray of int
        Where each run's candidates lie in the row.
    back : list of ndarray of int
        For each level, the length of the span that best ends at each candidate.
    """

    error: list[dict[int, float]]
    first: Ints
    last: Ints
    back: list[Ints]

    def of(self, row: int, count: int) -> Ints:
        """Candidates, within its run, of the chain of one run with so many spans."""
        chain = [int(self.last[row])]
        for level in range(count - 1, -1, -1):
            chain.append(chain[-1] - int(self.back[level][chain[-1]]))
        return np.asarray(np.array(chain[::-1], dtype=np.intp) - self.first[row])


def best_chains(runs: list[Spans]) -> Iterator[tuple[Chains, list[int]]]:
    """The best chains from the first to the last candidate of each run, for each number of spans.

    Yields
    ------
    chains : Chains
        Those of some runs.
    rows : list of int
        Which ones of `runs` these are.
    """
    order = sorted(range(len(runs)), key=lambda k: (runs[k].shape[1], k))
    while order:
        most = LIKE_SIZE * runs[order[0]].shape[1]
        count = sum(runs[k].shape[1] <= most for k in order)
        yield _row(order_part := order[:count], runs), order_part
        order = order[count:]


def _row(chosen: list[int], runs: list[Spans]) -> Chains:
    longest = max(len(runs[k]) for k in chosen)
    size = np.array([runs[k].shape[1] for k in chosen])
    first = np.concatenate([[0], np.cumsum(size)]).astype(np.intp)
    error = np.full((longest, first[-1]), np.inf)
    for k, a, b in zip(chosen, first[:-1], first[1:], strict=True):
        error[: len(runs[k]), a:b] = runs[k]
    # From spans by their start to spans by their end.
    for length in range(1, longest):
        error[length, length:] = error[length, :-length].copy()
        error[length, :length] = np.inf
    return _levels(error, first)


def _levels(error: Floats, first: Ints) -> Chains:
    longest, total = error.shape
    squared = error * error
    cost = squared * squared * squared
    last = first[1:] - 1
    columns = np.arange(total)
    reach = np.maximum(columns - np.arange(longest)[:, None], 0)
    best, worst = np.full(total, np.inf), np.zeros(total)
    best[first[:-1]] = 0.0
    back: list[Ints] = []
    found: list[dict[int, float]] = [{} for _ in last]
    enough = np.zeros(len(last), dtype=int)
    for k in range(1, int(np.diff(first).max())):
        sums = best[reach] + cost
        pick = sums.argmin(axis=0)
        back.append(pick)
        best = sums[pick, columns]
        worst = np.maximum(worst[columns - np.minimum(pick, columns)], error[pick, columns])
        for row in np.flatnonzero(np.isfinite(best[last]) & (enough <= SPARE)):
            found[row][k] = float(worst[last[row]])
        enough += np.isfinite(best[last]) & (worst[last] < 1.0)
        if ((enough > SPARE) | (k >= last - first[:-1])).all():
            break
    return Chains(found, first[:-1], last, back)
