"""Fit polylines by few cubics.

Method, in rounds over all paths at once: `corners` and the borders of zones cut each path into runs;
`segmentation` plans where the nodes of each run go for every number of segments; `polish` moves nodes,
tangents and handles together; a run that then lies within its tolerance is tried with fewer segments,
another one with more, until the fewest is known.

Limits: the fewest as found by plan and polish; a global optimum is not proven.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limner.curves.corners import corner_indices
from limner.curves.measure import two_way_error
from limner.curves.polish import Data, Nodes, controls, distances, polish
from limner.curves.samples import Samples, canonical, sample
from limner.curves.segmentation import Plan, Run, plan_runs
from limner.curves.spans import fit_spans
from limner.errors import GeometryError
from limner.geometry.cubics import polyline_path, reverse
from limner.model.geometry import CubicPath

__all__ = ["Fit", "Polyline", "fit_path", "fit_paths"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Steps of the polish: first by least squares, then with the largest distances counting more.
EVEN_STEPS = 6
SHARP_STEPS = 8
SHARP_POWER = 6.0
# Noise that the tolerance cannot hold: four standard deviations hold all but one point in 16,000.
NOISE_SIGMAS = 4.0
# ... but a tolerance is never stretched by more than this.
LARGEST_STRETCH = 2.0
# A stretch this straight, in tolerances, between two corners is a straight line.
STRAIGHT = 0.6
# Rounds of trying fewer and more segments.
ROUNDS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Polyline:
    """What is to be fitted.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Millimetres; a closed one does not repeat its first point.
    tolerance : ndarray of float64, shape (n,)
        Largest distance allowed at each point, millimetres.
    closed : bool
    noise : float or None
        Standard deviation of the data across the curve, millimetres; None: estimated.
    start_tangent, end_tangent : tuple of float or None
        Unit directions of travel asked for at the ends of an open path.
    """

    points: Floats
    tolerance: Floats
    closed: bool
    noise: float | None = None
    start_tangent: tuple[float, float] | None = None
    end_tangent: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A fitted path.

    Parameters
    ----------
    path : CubicPath
    error_mm : float
        Largest distance between path and data, measured densely both ways.
    noise_mm : float
        Noise of the data that was given or found.
    """

    path: CubicPath
    error_mm: float
    noise_mm: float


def fit_path(
    points: ArrayLike,
    *,
    tolerance_mm: float | Floats,
    closed: bool,
    noise_mm: float | None = None,
    start_tangent: tuple[float, float] | None = None,
    end_tangent: tuple[float, float] | None = None,
) -> Fit:
    """Fit one polyline by the fewest cubics that stay within the tolerance.

    Parameters
    ----------
    points : array_like of float64, shape (n, 2)
        Dense polyline, millimetres; a closed one does not repeat its first point.
    tolerance_mm : float or ndarray of shape (n,)
        Largest distance allowed, everywhere or at each point; where it changes a smooth node is set.
    closed : bool
        Whether the last point is joined to the first.
    noise_mm : float or None
        Standard deviation of the data across the curve; None: it is estimated. A tolerance of less than
        four of them is raised to that, as it could only be met by following the noise.
    start_tangent, end_tangent : tuple of float or None
        Unit directions of travel at the ends of an open path, where they are given.

    Returns
    -------
    Fit
        An open path starts and ends exactly at the first and last point.

    Raises
    ------
    GeometryError
        The points are not a polyline, or the tolerance is not positive.
    """
    points = np.asarray(points, dtype=np.float64)
    tolerance = np.broadcast_to(np.asarray(tolerance_mm, dtype=np.float64), points.shape[:1])
    return fit_paths([Polyline(points, tolerance, closed, noise_mm, start_tangent, end_tangent)])[0]


def fit_paths(polylines: Sequence[Polyline]) -> list[Fit]:
    """Fit many polylines at once, each as by `fit_path`; they do not influence each other."""
    jobs = [_Job(polyline) for polyline in polylines]
    work = [job for job in jobs if job.simple is None]
    if work:
        _search(work)
    return [job.result() for job in jobs]


class _Job:
    """One polyline on its way: canonical points, samples, runs, and the search's state."""

    def __init__(self, polyline: Polyline) -> None:
        points, closed = _checked(polyline)
        self.closed = closed
        order, self.turned = canonical(points, closed)
        self.points = points[order]
        self.simple: Fit | None = None
        if len(points) == 2:
            self.simple = Fit(polyline_path(points), 0.0, 0.0)
            return
        tolerance = polyline.tolerance
        if len(tolerance) != len(points):
            tolerance = np.full(len(points), float(np.median(tolerance)))
        self.samples = _with_noise(sample(self.points, tolerance[order], closed, polyline.noise))
        ends = (polyline.start_tangent, polyline.end_tangent)
        if self.turned:
            ends = tuple(None if e is None else (-e[0], -e[1]) for e in ends[::-1])  # type: ignore[assignment]
        self.ends = ends
        self._cut()

    def _cut(self) -> None:
        s = self.samples
        n = len(s.points)
        corners = corner_indices(s)
        cuts = np.union1d(corners, s.breaks).astype(np.intp)
        if not s.closed:
            cuts = np.union1d(cuts[(cuts > 0) & (cuts < n - 1)], [0, n - 1]).astype(np.intp)
        self.cyclic = s.closed and len(cuts) == 0
        self.cuts = np.array([0, n], dtype=np.intp) if self.cyclic else cuts
        if s.closed and not self.cyclic:
            self.cuts = np.append(cuts, cuts[0] + n)
        self.cut_smooth = ~np.isin(self.cuts % n, corners)
        self.runs = []
        for a, b in zip(self.cuts[:-1], self.cuts[1:], strict=True):
            index = np.arange(a, b + 1) % n
            self.runs.append(Run(s.points[index], s.tolerance[index], s.step, self.cyclic))
        self.run_of = (
            np.searchsorted(self.cuts, np.arange(n) + (self.cuts[0] > np.arange(n)) * n, side="right") - 1
        )
        self.run_of = np.clip(self.run_of, 0, len(self.runs) - 1)
        self.least = 2 if s.closed and len(self.runs) == 1 else 1

    def prepare(self, plans: list[Plan]) -> None:
        self.plans = plans
        self.low = [self.least - 1] * len(plans)
        self.high: list[int | None] = [None] * len(plans)
        self.count = []
        for plan in plans:
            good = [k for k, e in plan.error.items() if e <= 1.0 and k >= self.least]
            able = [k for k in plan.nodes if k >= self.least]
            self.count.append(min(good) if good else max(able))
        self.best: tuple[list[int], Floats, Nodes, Data] | None = None
        self.done = False

    def chain(self, run: int) -> Ints:
        plan = self.plans[run]
        k = self.count[run]
        return np.asarray(self.cuts[run] + plan.nodes[k])

    def note(self, error: Floats, nodes: Nodes, data: Data) -> None:
        """Judge one polished try and choose the next numbers of segments."""
        ok = error <= 1.0
        if self.best is None or _rank(self.count, error) < _rank(self.best[0], self.best[1]):
            self.best = (list(self.count), error, nodes, data)
        changed = False
        for r, fine in enumerate(ok):
            k = self.count[r]
            if fine:
                self.high[r] = k if self.high[r] is None else min(k, self.high[r] or k)
            else:
                self.low[r] = max(self.low[r], k)
            high = self.high[r]
            able = sorted(i for i in self.plans[r].nodes if i > self.low[r] and (high is None or i < high))
            if fine:
                step = [i for i in able if i < k]
                want = step[-1] if step else k
            else:
                step = [i for i in able if i > k]
                want = step[0] if step else (high if high is not None else k)
            changed |= want != k
            self.count[r] = want
        self.done = not changed

    def result(self) -> Fit:
        if self.simple is not None:
            return self.simple
        assert self.best is not None
        _, _, nodes, data = self.best
        segments = controls(nodes)
        segments = _exact(segments, self)
        n = len(self.samples.points)
        path = CubicPath(segments, nodes.straight, _smooth_starts(nodes, self.closed), self.closed)
        at = np.asarray(np.arange(n) * self.samples.step, dtype=np.float64)
        error, _ = two_way_error(path.segments, self.closed, self.points, at, data.segment + data.t)
        return Fit(reverse(path) if self.turned else path, error, self.samples.noise)


def _rank(count: list[int], error: Floats) -> tuple[float, int, float]:
    worst = float(error.max())
    return (max(worst, 1.0), sum(count), worst)


def _smooth_starts(nodes: Nodes, closed: bool) -> NDArray[np.bool_]:
    smooth = nodes.smooth[nodes.start].copy()
    if not closed:
        smooth[0] = False
    return smooth


def _exact(segments: Floats, job: _Job) -> Floats:
    """The ends of an open path, bit for bit, and equal coordinates at joints."""
    segments = segments.copy()
    segments[:-1, 3] = segments[1:, 0]
    if job.closed:
        segments[-1, 3] = segments[0, 0]
    else:
        segments[0, 0], segments[-1, 3] = job.points[0], job.points[-1]
    return segments


def _checked(polyline: Polyline) -> tuple[Floats, bool]:
    points = np.asarray(polyline.points, dtype=np.float64)
    if points.ndim != 2 or points.shape[1:] != (2,) or not np.isfinite(points).all():
        raise GeometryError("A line to be fitted must be rows of finite x and y: check the coordinates.")
    if not (np.asarray(polyline.tolerance) > 0).all():
        raise GeometryError("The tolerance of a fit must be above zero: ask for a larger smoothing.")
    gaps = np.diff(points, axis=0)
    keep = np.append(True, (gaps != 0).any(axis=1))
    if polyline.closed and len(points) > 1 and (points[0] == points[-1]).all():
        keep[-1] = False
    if int(keep.sum()) < (3 if polyline.closed else 2):
        raise GeometryError("A line to be fitted has too few separate points: leave it out.")
    if not keep.all():
        object.__setattr__(polyline, "tolerance", np.asarray(polyline.tolerance)[keep])
    return points[keep], polyline.closed


def _with_noise(samples: Samples) -> Samples:
    least = np.minimum(NOISE_SIGMAS * samples.noise, LARGEST_STRETCH * samples.tolerance)
    tolerance = np.maximum(samples.tolerance, least)
    return Samples(samples.points, tolerance, samples.step, samples.closed, samples.noise, samples.breaks)


def _search(jobs: list[_Job]) -> None:
    runs = [run for job in jobs for run in job.runs]
    plans = plan_runs(runs)
    at = 0
    for job in jobs:
        job.prepare(plans[at : at + len(job.runs)])
        at += len(job.runs)
    active = jobs
    for _ in range(ROUNDS):
        nodes, data, first_node, first_sample = _assemble(active)
        nodes, data = polish(nodes, data, steps=EVEN_STEPS)
        nodes, data = polish(nodes, data, steps=SHARP_STEPS, power=SHARP_POWER)
        _, _, distance = distances(controls(nodes), data)
        for k, job in enumerate(active):
            part = slice(first_sample[k], first_sample[k + 1])
            share = np.abs(distance[part]) / data.tolerance[part]
            error = np.zeros(len(job.runs))
            np.maximum.at(error, job.run_of, share)
            job.note(error, *_extract(nodes, data, k, first_node, first_sample))
        active = [job for job in active if not job.done]
        if not active:
            break


def _extract(
    nodes: Nodes, data: Data, k: int, first_node: list[int], first_sample: list[int]
) -> tuple[Nodes, Data]:
    n = slice(first_node[k], first_node[k + 1])
    s = np.flatnonzero(nodes.path == k)
    base = s[0]
    part = slice(first_sample[k], first_sample[k + 1])
    own = Nodes(
        nodes.place[n], nodes.angle[n], nodes.handle[n], nodes.smooth[n], nodes.fixed[n], nodes.held[n],
        nodes.start[s] - n.start, nodes.end[s] - n.start, nodes.straight[s],
        np.where(nodes.before[s] >= 0, nodes.before[s] - base, -1),
        np.where(nodes.after[s] >= 0, nodes.after[s] - base, -1), np.zeros(len(s), dtype=np.intp),
    )  # fmt: skip
    return own, Data(data.points[part], data.tolerance[part], data.segment[part] - base, data.t[part])


def _assemble(jobs: list[_Job]) -> tuple[Nodes, Data, list[int], list[int]]:
    """Nodes and feet of all jobs at their present numbers of segments."""
    spans_a, spans_b, base = [], [], 0
    points, layouts = [], []
    for job in jobs:
        n = len(job.samples.points)
        chain = np.concatenate([job.chain(0)] + [job.chain(r)[1:] for r in range(1, len(job.runs))])
        laps = 3 if job.closed else 1
        points.append(np.tile(job.samples.points, (laps, 1)))
        spans_a.append(chain[:-1] + base)
        spans_b.append(chain[1:] + base)
        layouts.append(chain)
        base += laps * n
    flat = np.concatenate(points)
    cubics, _, _ = fit_spans(flat, np.concatenate(spans_a), np.concatenate(spans_b))
    return _join(jobs, layouts, cubics)


def _join(jobs: list[_Job], layouts: list[Ints], cubics: Floats) -> tuple[Nodes, Data, list[int], list[int]]:
    parts: list[tuple[Nodes, Data]] = []
    at = node_at = seg_at = sample_at = 0
    first_node, first_sample = [0], [0]
    for k, (job, chain) in enumerate(zip(jobs, layouts, strict=True)):
        count = len(chain) - 1
        parts.append(_layout(job, chain, cubics[at : at + count], k, node_at, seg_at))
        at += count
        seg_at += count
        node_at += len(parts[-1][0].place)
        sample_at += len(job.samples.points)
        first_node.append(node_at)
        first_sample.append(sample_at)
    nodes = Nodes(*(np.concatenate([getattr(p[0], name) for p in parts]) for name in Nodes.__slots__))
    data = Data(*(np.concatenate([getattr(p[1], name) for p in parts]) for name in Data.__slots__))
    return nodes, data, first_node, first_sample


def _layout(job: _Job, chain: Ints, cubics: Floats, k: int, node_at: int, seg_at: int) -> tuple[Nodes, Data]:
    s, count = job.samples, len(chain) - 1
    n = len(s.points)
    m = count if s.closed else count + 1
    smooth = np.ones(m, bool)
    at_cut = np.isin(chain, job.cuts)
    sharp_cuts = job.cuts[~job.cut_smooth]
    smooth[np.isin(chain[:m] % n, sharp_cuts % n)] = False
    if not s.closed:
        smooth[[0, -1]] = False
    if job.cyclic:
        at_cut[:] = False
    out = cubics[:, 1] - cubics[:, 0]
    into = cubics[:, 3] - cubics[:, 2]
    size_out, size_in = np.hypot(*out.T), np.hypot(*into.T)
    angle, handle = np.zeros((m, 2)), np.zeros((m, 2))
    first = np.arange(count)
    last = (first + 1) % m
    unit_out, unit_in = np.zeros((m, 2)), np.zeros((m, 2))
    unit_out[first] = out / np.maximum(size_out, 1e-300)[:, None]
    unit_in[last] = into / np.maximum(size_in, 1e-300)[:, None]
    mean = unit_out + unit_in
    unit_out = np.where(smooth[:, None], mean, unit_out)
    unit_in = np.where(smooth[:, None], mean, unit_in)
    angle[:, 0] = np.arctan2(unit_in[:, 1], unit_in[:, 0])
    angle[:, 1] = np.arctan2(unit_out[:, 1], unit_out[:, 0])
    chord = np.hypot(*(cubics[:, 3] - cubics[:, 0]).T)
    handle[first, 1] = np.clip(size_out, 0.1 * chord, 0.9 * chord)
    handle[last, 0] = np.clip(size_in, 0.1 * chord, 0.9 * chord)
    fixed, held = np.zeros(m, bool), np.zeros((m, 2), bool)
    if not s.closed:
        fixed[[0, -1]] = True
        for node, side, tangent in ((0, 1, job.ends[0]), (m - 1, 0, job.ends[1])):
            if tangent is not None:
                angle[node, side], held[node, side] = np.arctan2(tangent[1], tangent[0]), True
    straight = np.zeros(count, bool)
    for i in range(count):
        a, b = int(first[i]), int(last[i])
        if not smooth[a] and not smooth[b] and not held[a, 1] and not held[b, 0]:
            straight[i] = _is_straight(s, int(chain[i]), int(chain[i + 1]))
    before, after = first - 1, first + 1
    if s.closed:
        before, after = before % count, after % count
    else:
        after[-1] = -1
    place = s.points[chain[:m] % n]
    nodes = Nodes(
        place, angle, handle, smooth, fixed, held, first + node_at, last + node_at, straight,
        np.where(before >= 0, before + seg_at, -1), np.where(after >= 0, after + seg_at, -1),
        np.full(count, k),
    )  # fmt: skip
    index = np.arange(n)
    index = np.where(index < chain[0], index + n, index)
    segment = np.clip(np.searchsorted(chain, index, side="right") - 1, 0, count - 1)
    t = (index - chain[segment]) / np.maximum(chain[segment + 1] - chain[segment], 1)
    return nodes, Data(s.points, s.tolerance, segment + seg_at, np.clip(t, 0.0, 1.0))


def _is_straight(s: Samples, a: int, b: int) -> bool:
    index = np.arange(a, b + 1) % len(s.points)
    run, limit = s.points[index], s.tolerance[index]
    chord = run[-1] - run[0]
    length = float(np.hypot(*chord))
    if length == 0.0:
        return False
    off = np.abs(chord[0] * (run[:, 1] - run[0, 1]) - chord[1] * (run[:, 0] - run[0, 0])) / length
    return bool((off <= STRAIGHT * limit).all())
