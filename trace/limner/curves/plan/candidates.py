"""Where to put the nodes: dynamic programming over candidate samples.

Method: candidates are spread along a run so that each expected segment holds a handful of them (a cubic
spans an angle that depends on radius and tolerance: a quarter circle is met within 2.7e-4 of its radius
and the error goes with the sixth power of the angle). Every span between two candidates that a cubic can
meet is fitted, longest last, until spans stop fitting. Dynamic programming (`chains`) then gives, for
every number of segments, the nodes with the smallest error.

Limits: nodes lie on candidates; `polish` moves them freely afterwards.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limner.curves.plan.best_chains import Chains, Spans, best_chains
from limner.curves.plan.single_cubics import span_errors
from limner.model.arrays import Floats, Ints

__all__ = ["Plan", "Run", "candidates", "plan_runs"]


# Candidates per expected segment, and at least per run.
CANDIDATES_PER_SEGMENT = 8.0
CANDIDATES_PER_RUN = 6.0
# Error of a quarter circle by one cubic, in radii (Goldapp 1991, CAGD 8).
QUARTER_ERROR = 2.725e-4
# Spans worse than this many tolerances are not looked at, nor any longer ones from the same start.
WORST = 4.0
# A span that lies in one with an error below this many tolerances is taken to have the same: it will not
# decide where nodes go.
MET = 0.1
# Starts that are tried on a cyclic run: each next one is a node of the best chain so far.
CYCLIC_STARTS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A stretch of samples between two nodes that are given, or once around a smooth closed path.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Samples at equal steps, both ends included; a cyclic run repeats its first sample.
    tolerance : ndarray, shape (n,)
        Largest distance allowed at each.
    step : float
        Arc length between samples.
    cyclic : bool
        Whether it closes smoothly.
    loop : bool
        Whether it ends where it starts, so that one segment is not enough.
    forced : ndarray of int
        Samples at which a smooth node must lie.
    start_angle, end_angle : float or None
        Directions of travel that are given at the ends, radians.
    noisy : bool
        Whether all samples are needed to average noise out.
    """

    points: Floats
    tolerance: Floats
    step: float
    cyclic: bool
    loop: bool
    forced: Ints
    start_angle: float | None = None
    end_angle: float | None = None
    noisy: bool = False

    @property
    def key(self) -> bytes:
        """All that its fit depends on."""
        rest = (self.cyclic, self.loop, self.noisy, self.start_angle, self.end_angle, self.step)
        arrays = (self.points, self.tolerance, self.forced)
        return b"".join(a.tobytes() for a in arrays) + repr(rest).encode()


class Plan:
    """The best nodes of one run for each number of segments.

    Parameters
    ----------
    error : dict
        Number of segments -> largest error of its spans, in tolerances.
    places : ndarray of int
        Samples of the candidates; a cyclic run's over two turns and more.
    """

    def __init__(self, places: Ints) -> None:
        self.error: dict[int, float] = {}
        self._places = places
        self._found: dict[int, tuple[Chains, int, int]] = {}

    def learn(self, chains: Chains, row: int, start: int = 0, least: int = 1) -> None:
        """Take over what is better in one row of chains, that begin at the candidate `start`."""
        for k, error in chains.error[row].items():
            if k >= least and error < self.error.get(k, np.inf):
                self.error[k] = error
                self._found[k] = chains, row, start

    def nodes(self, count: int) -> Ints:
        """Samples of the nodes for so many segments, ends included."""
        chains, row, start = self._found[count]
        return np.asarray(self._places[start + chains.of(row, count)])


def candidates(runs: Sequence[Run]) -> list[Ints]:
    """For each run the indices into its samples at which a node may lie, ends included."""
    size = np.array([len(run.points) for run in runs])
    first = np.concatenate([[0], np.cumsum(size)]).astype(np.intp)
    run_of = np.repeat(np.arange(len(runs)), size)
    step = np.array([run.step for run in runs])
    tolerance = np.concatenate([run.tolerance for run in runs])
    bend = _bend(runs, first, run_of, np.add.reduceat(tolerance, first[:-1]) / size)
    root = np.cbrt(np.sqrt(bend))
    density = CANDIDATES_PER_SEGMENT * (2.0 / np.pi) * root * root * root * root * root
    density *= np.cbrt(np.sqrt(QUARTER_ERROR / tolerance))
    density += (CANDIDATES_PER_RUN / (step * (size - 1)))[run_of]
    growth = np.zeros(len(density))
    growth[1:] = (density[1:] + density[:-1]) * 0.5 * step[run_of[1:]]
    # One apart from run to run, so that all runs share one ascending scale.
    growth[first[1:-1]] = 1.0
    total = np.cumsum(growth)
    low, high = total[first[:-1]], total[first[1:] - 1]
    wanted = np.maximum(np.ceil(high - low).astype(np.intp), 4)
    owner = np.repeat(np.arange(len(runs)), wanted + 1)
    local = np.arange(len(owner)) - np.repeat(np.cumsum(wanted + 1) - wanted - 1, wanted + 1)
    asked = low[owner] + (high - low)[owner] * local / wanted[owner]
    places = np.round(np.interp(asked, total, np.arange(len(total)))).astype(np.intp)
    places = np.clip(places, first[owner], first[owner + 1] - 1)
    forced = [run.forced + base for run, base in zip(runs, first, strict=False)]
    places = np.unique(np.concatenate([places, *forced])).astype(np.intp)
    bounds = np.searchsorted(places, first)
    return [places[bounds[k] : bounds[k + 1]] - first[k] for k in range(len(runs))]


def _bend(runs: Sequence[Run], first: Ints, run_of: Ints, typical: Floats) -> Floats:
    """Curvature at each sample of all runs, smoothed over two tolerances either way."""
    points = np.concatenate([run.points for run in runs])
    size = np.diff(first)
    step = np.array([run.step for run in runs])
    window = np.clip(np.round(2.0 * typical / step), 2, np.maximum(size // 8, 2)).astype(np.intp)
    head, tail, reach = first[run_of], first[run_of + 1] - 1, window[run_of]
    at = np.arange(len(points))

    def shifted(by: Ints) -> Floats:
        """Samples so far on; beyond the ends, the run mirrored in its end."""
        index = at + by
        mirrored = np.where(index < head, 2 * head - index, np.where(index > tail, 2 * tail - index, index))
        mirrored = np.minimum(np.maximum(mirrored, head), tail)
        end = np.where(index < head, head, tail)
        outside = ((index < head) | (index > tail))[:, None]
        return np.where(outside, 2.0 * points[end] - points[mirrored], points[mirrored])

    chord = shifted(reach) - shifted(-reach)
    angle = np.unwrap(np.arctan2(chord[:, 1], chord[:, 0]))
    before, after = np.maximum(at - 1, head), np.minimum(at + 1, tail)
    turn = (angle[after] - angle[before]) / np.maximum(after - before, 1)
    total = np.concatenate([[0.0], np.cumsum(turn)])
    low, high = at - reach, at + reach
    bend = total[np.minimum(high, tail) + 1] - total[np.maximum(low, head)]
    bend += np.maximum(head - low, 0) * turn[head] + np.maximum(high - tail, 0) * turn[tail]
    return np.asarray(np.abs(bend) / ((2 * reach + 1) * step[run_of]))


def plan_runs(runs: list[Run]) -> list[Plan]:
    """Plan every run; all their spans are fitted together."""
    places = candidates(runs)
    spans = _spans(runs, places)
    plans: list[Plan] = []
    for run, at in zip(runs, places, strict=True):
        turns = [at[:-1] + lap * at[-1] for lap in range(CYCLIC_STARTS)] if run.cyclic else [at]
        plans.append(Plan(np.concatenate(turns)))
    opened = [k for k, run in enumerate(runs) if not run.cyclic]
    for chains, rows in best_chains([spans[k] for k in opened]):
        for row, k in enumerate(rows):
            plans[opened[k]].learn(chains, row)
    closed = [k for k, run in enumerate(runs) if run.cyclic]
    _plan_cyclic([spans[k] for k in closed], [plans[k] for k in closed])
    return plans


def _plan_cyclic(spans: list[Spans], plans: list[Plan]) -> None:
    """Once around from the best of a few starts."""
    starts = [0] * len(plans)
    tried: list[set[int]] = [set() for _ in plans]
    for _ in range(CYCLIC_STARTS):
        todo = [k for k, start in enumerate(starts) if start not in tried[k]]
        for chains, rows in best_chains([_turned(spans[k], starts[k]) for k in todo]):
            for row, index in enumerate(rows):
                k = todo[index]
                tried[k].add(starts[k])
                plans[k].learn(chains, row, starts[k], least=2)
                error = chains.error[row]
                good = [count for count, e in error.items() if e < 1.0 and count >= 2]
                pick = chains.of(row, min(good) if good else max(error))
                starts[k] = int((starts[k] + pick[len(pick) // 2]) % spans[k].shape[1])


def _turned(spans: Spans, start: int) -> Spans:
    """Spans of a cyclic run, once around from a start."""
    count = spans.shape[1]
    turned = np.full((len(spans), count + 1), np.inf)
    turned[:, : count - start], turned[:, count - start : count] = spans[:, start:], spans[:, :start]
    for length in range(1, len(spans)):
        turned[length, max(count + 1 - length, 0) :] = np.inf
    return turned


def _spans(runs: list[Run], places: list[Ints]) -> list[Spans]:
    """Errors of the spans between candidates, in tolerances; inf where not looked at.

    Those of an open run have as many columns as it has candidates; those of a cyclic one, one less, as its
    last is its first; its spans run on over that.
    """
    points, limits, index_of, first_of, offset, slots = [], [], [], [], 0, 0
    counts = np.array([len(at) - run.cyclic for run, at in zip(runs, places, strict=True)])
    for run, at, count in zip(runs, places, counts, strict=True):
        turns = 2 if run.cyclic else 1
        points.append(np.concatenate([run.points, run.points[1:]]) if run.cyclic else run.points)
        limits.append(np.concatenate([run.tolerance, run.tolerance[1:]]) if run.cyclic else run.tolerance)
        index_of += [at[:count] + (lap * at[-1] + offset) for lap in range(turns)]
        first_of.append(slots)
        slots += turns * count
        offset += len(points[-1])
    flat, limit, index = np.concatenate(points), np.concatenate(limits), np.concatenate(index_of)
    owner = np.repeat(np.arange(len(runs)), counts)
    cyclic = np.array([run.cyclic for run in runs])[owner]
    local = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    slot = np.array(first_of)[owner] + local
    # How long a span from each candidate can be.
    room = np.where(cyclic, counts[owner], counts[owner] - 1 - local)
    rows = [np.full(len(owner), np.inf)]
    alive = np.flatnonzero(room > 0)
    while len(alive):
        # Two lengths at a time, the longer one first: where that is clearly met, so is the other.
        short, long = np.full(len(owner), np.inf), np.full(len(owner), np.inf)
        length = len(rows)
        some = alive[room[alive] > length]
        long[some] = span_errors(flat, limit, index[slot[some]], index[slot[some] + length + 1])
        short[some] = long[some]
        some = alive[long[alive] > MET]
        short[some] = span_errors(flat, limit, index[slot[some]], index[slot[some] + length])
        rows += [short, long]
        alive = alive[(np.minimum(short, long)[alive] <= WORST) & (room[alive] > length + 1)]
    table = np.stack(rows)
    bounds = np.concatenate([[0], np.cumsum(counts)])
    made = [table[:, bounds[k] : bounds[k + 1]] for k in range(len(runs))]
    for run, at, spans in zip(runs, places, made, strict=True):
        _forbid(run, at, spans)
    return made


def _forbid(run: Run, at: Ints, spans: Spans) -> None:
    """No span may pass a forced node."""
    count = spans.shape[1]
    for k in np.searchsorted(at, run.forced):
        ahead = (k - np.arange(count)) % count if run.cyclic else k - np.arange(count)
        spans[(ahead > 0) & (np.arange(len(spans))[:, None] > ahead)] = np.inf
