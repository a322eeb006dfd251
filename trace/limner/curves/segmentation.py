"""Where to put the nodes: dynamic programming over candidate samples.

Method: candidates are spread along a run so that each expected segment holds a handful of them (a cubic
spans an angle that depends on radius and tolerance: a quarter circle is met within 2.7e-4 of its radius
and the error goes with the sixth power of the angle). Every span between two candidates that a cubic can
meet is fitted, longest last, until spans stop fitting. Dynamic programming then gives, for every number
of segments, the nodes with the smallest error.

Limits: nodes lie on candidates; `polish` moves them freely afterwards.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.curves.spans import fit_spans

__all__ = ["Plan", "Run", "candidates", "plan_runs"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Candidates per expected segment, and at least per run.
CANDIDATES_PER_SEGMENT = 8.0
CANDIDATES_PER_RUN = 6.0
# Error of a quarter circle by one cubic, in radii (Goldapp 1991, CAGD 8).
QUARTER_ERROR = 2.725e-4
# Spans worse than this many tolerances are not looked at, nor any longer ones from the same start.
WORST = 6.0
# Exponent of the sum that stands in for the maximum: it lets the other spans count, too.
POWER = 6.0
# Largest number of segments beyond the need that a plan holds ready.
SPARE = 8


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


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """The best nodes of one run for each number of segments.

    Parameters
    ----------
    nodes : dict
        Number of segments -> indices of its nodes into the run's samples, ends included.
    error : dict
        Number of segments -> largest error of its spans, in tolerances.
    """

    nodes: dict[int, Ints]
    error: dict[int, float]


def candidates(run: Run) -> Ints:
    """Indices into the run's samples at which a node may lie, ends included."""
    n = len(run.points)
    window = int(np.clip(round(2.0 * float(np.median(run.tolerance)) / run.step), 2, max(n // 8, 2)))
    padded = np.pad(run.points, ((window, window), (0, 0)), mode="reflect", reflect_type="odd")
    chord = padded[2 * window :] - padded[: -2 * window]
    angle = np.unwrap(np.arctan2(chord[:, 1], chord[:, 0]))
    bend = np.abs(
        np.convolve(np.pad(np.gradient(angle), window, mode="edge"), np.ones(2 * window + 1), "valid")
    )
    bend /= (2 * window + 1) * run.step
    length = run.step * (n - 1)
    density = CANDIDATES_PER_SEGMENT * (2.0 / np.pi) * bend ** (5.0 / 6.0)
    density *= (QUARTER_ERROR / run.tolerance) ** (1.0 / 6.0)
    density += CANDIDATES_PER_RUN / length
    total = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) * 0.5 * run.step)])
    wanted = max(int(np.ceil(total[-1])), 4)
    places = np.interp(np.linspace(0.0, total[-1], wanted + 1), total, np.arange(n))
    return np.union1d(np.round(places).astype(np.intp), run.forced).astype(np.intp)


def plan_runs(runs: list[Run]) -> list[Plan]:
    """Plan every run; all their spans are fitted together."""
    places = [candidates(run) for run in runs]
    tables = _span_tables(runs, places)
    plans = []
    for run, at, table in zip(runs, places, tables, strict=True):
        _forbid(run, at, table)
        plans.append(_closed_plan(at, table) if run.cyclic else _open_plan(at, table))
    return plans


def _span_tables(runs: list[Run], places: list[Ints]) -> list[Floats]:
    """Error of every span between candidates, in tolerances; inf where not looked at.

    Open runs of c candidates give (c, c) tables; cyclic ones (c, 2 c) over two turns.
    """
    tables, owner, start, points, limits, offset, maps = [], [], [], [], [], 0, []
    for k, (run, at) in enumerate(zip(runs, places, strict=True)):
        count = len(at) - 1 if run.cyclic else len(at)
        turns = 2 if run.cyclic else 1
        doubled = np.concatenate([run.points, run.points[1:]]) if run.cyclic else run.points
        allowed = np.concatenate([run.tolerance, run.tolerance[1:]]) if run.cyclic else run.tolerance
        index = np.concatenate([at[:count] + lap * (len(run.points) - 1) for lap in range(turns)])
        maps.append(index + offset)
        tables.append(np.full((count, count * turns), np.inf))
        owner.append(np.full(count, k))
        start.append(np.arange(count))
        points.append(doubled)
        limits.append(allowed)
        offset += len(doubled)
    flat, limit = np.concatenate(points), np.concatenate(limits)
    run_of, from_of = np.concatenate(owner), np.concatenate(start)
    reach = np.array([t.shape[1] for t in tables])
    first_of = np.concatenate([[0], np.cumsum(reach)])
    index_of = np.concatenate(maps)
    counts = np.array([t.shape[0] for t in tables])
    misses = np.zeros(len(run_of), dtype=int)
    span = 0
    while len(run_of):
        span += 1
        to = from_of + span
        cyclic = reach[run_of] > counts[run_of]
        alive = (to < reach[run_of]) & (misses < 2) & ~(cyclic & (span > counts[run_of]))
        run_of, from_of, to, misses = run_of[alive], from_of[alive], to[alive], misses[alive]
        if not len(run_of):
            break
        a, b = index_of[first_of[run_of] + from_of], index_of[first_of[run_of] + to]
        _, residuals, where = fit_spans(flat, a, b)
        error = (residuals / limit[np.round(where).astype(np.intp)]).max(axis=1)
        misses = np.where(error > WORST, misses + 1, 0)
        for k in np.unique(run_of):
            mine = run_of == k
            tables[k][from_of[mine], to[mine]] = error[mine]
    return tables


def _forbid(run: Run, at: Ints, table: Floats) -> None:
    """No span may pass a forced node."""
    for k in np.searchsorted(at, run.forced):
        table[:k, k + 1 :] = np.inf


def _banded(table: Floats) -> tuple[Floats, Ints]:
    """Costs of the spans that end at each candidate by their length, and where they start."""
    c = len(table)
    i, j = np.nonzero(np.isfinite(table))
    longest = int((j - i).max(initial=1))
    cost = np.full((longest + 1, c), np.inf)
    cost[j - i, j] = table[i, j] ** POWER
    start = np.maximum(np.arange(c)[None, :] - np.arange(longest + 1)[:, None], 0)
    return cost, start


def _walk(back: list[Ints], k: int, end: int) -> Ints:
    chain = [end]
    for level in range(k - 1, -1, -1):
        chain.append(int(back[level][chain[-1]]))
    return np.array(chain[::-1], dtype=np.intp)


def _open_plan(at: Ints, table: Floats) -> Plan:
    """The best chains from the first to the last candidate, for each number of segments."""
    c = len(at)
    cost, start = _banded(table)
    columns = np.arange(c)
    best = np.full(c, np.inf)
    best[0] = 0.0
    back: list[Ints] = []
    nodes: dict[int, Ints] = {}
    error: dict[int, float] = {}
    enough = 0
    for k in range(1, c):
        total = best[start] + cost
        pick = total.argmin(axis=0)
        back.append(start[pick, columns])
        best = total[pick, columns]
        if not np.isfinite(best[-1]):
            continue
        chain = _walk(back, k, c - 1)
        nodes[k] = at[chain]
        error[k] = float(table[chain[:-1], chain[1:]].max())
        enough += error[k] < 1.0
        if enough > SPARE:
            break
    return Plan(nodes, error)


def _closed_plan(at: Ints, table: Floats) -> Plan:
    """As for an open run, once around from the best of a few starts."""
    c = len(table)
    total = at[-1]
    nodes: dict[int, Ints] = {}
    error: dict[int, float] = {}
    tried: set[int] = set()
    start = 0
    for _ in range(3):
        if start in tried:
            break
        tried.add(start)
        turned = np.full((c + 1, c + 1), np.inf)
        for i in range(c):
            g = (start + i) % c
            turned[i, i + 1 :] = table[g, g + 1 : g + 1 + c - i]
        plan = _open_plan(np.arange(c + 1), turned)
        for k, chain in plan.nodes.items():
            if k >= 2 and plan.error[k] < error.get(k, np.inf):
                places = start + chain
                nodes[k] = at[places % c] + total * (places // c)
                error[k] = plan.error[k]
        good = [k for k, e in plan.error.items() if e < 1.0 and k >= 2]
        pick = plan.nodes[min(good)] if good else plan.nodes[max(plan.nodes)]
        start = int((start + pick[len(pick) // 2]) % c)
    return Plan(nodes, error)
