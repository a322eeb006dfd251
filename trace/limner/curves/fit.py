"""Fit polylines by few cubics.

Method: each polyline is sampled evenly in a canonical direction (`samples`), cut at its corners (`corners`)
into runs, and each run is fitted by the fewest segments that hold its tolerance (`search`). Weak corners
are left out where a smooth curve needs no more segments. The error is measured afresh against the data; a
run that does not hold it is fitted again, more tightly.

Limits: see `search` and `corners`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limner.curves.corners import Corner, drawn_back, find_corners, settled, sharpen
from limner.curves.measure import two_way_error
from limner.curves.primitives import round_shape
from limner.curves.samples import Samples, canonical, sample, simplified
from limner.curves.search import RunFit, search_runs
from limner.curves.segmentation import Run
from limner.errors import GeometryError
from limner.geometry.cubics import polygon_path, polyline_path, reverse, signed_area, straight_segments
from limner.model.geometry import CubicPath

__all__ = ["Fit", "Polyline", "fit_path", "fit_paths"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Noise that the tolerance cannot hold: four standard deviations hold all but one point in 16,000.
NOISE_SIGMAS = 4.0
# ... but a tolerance is never stretched by more than this.
LARGEST_STRETCH = 1.25
# Noise above this share of the tolerance is averaged over all samples.
NOISY_SHARE = 0.12
# A corner that turns by less is left out where a smooth curve needs no more segments.
WEAK_CORNER_DEG = 65.0
# A run that does not hold its tolerance is tried again at these shares of it, its corners drawn back to
# these shares of their way from the data to the tip; the share for its last resort.
STRICTER = ((0.9, 1.0), (0.8, 0.5), (0.8, 0.0))
POLYGON_SHARE = 0.9
# How often a run that still fails is cut at its worst place before straight lines are resorted to.
EXTRA_CORNERS = 3


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
    tried = [(job, job.without_weak()) for job in work if job.has_weak]
    _fit_jobs([*work, *(trial for _, trial in tried)])
    _leave_out_weak_corners(tried)
    _hold(work)
    return [job.result() for job in jobs]


def _fit_jobs(jobs: Sequence["_Job"]) -> None:
    """Fit all runs of the jobs in one go, but for those that are known already."""
    todo: dict[tuple[int, bytes], tuple[_Job, Run]] = {}
    for job in jobs:
        for run in job.runs:
            key = run.key
            if key not in job.known:
                todo.setdefault((id(job.known), key), (job, run))
    fits = search_runs([run for _, run in todo.values()])
    for (_, key), (job, _), fit in zip(todo, todo.values(), fits, strict=True):
        job.known[key] = fit
    for job in jobs:
        job.fits = [job.known[run.key] for run in job.runs]


def _leave_out_weak_corners(tried: list[tuple["_Job", "_Job"]]) -> None:
    """Given each job's fit with and without weak corners, keep what needs no more segments."""
    mixed = []
    for job, trial in tried:
        kept = job.worth_keeping(trial)
        if len(kept) == len(trial.corners):
            job.take(trial)
        elif len(kept) < len(job.corners):
            mixed.append((job, job.with_corners(kept)))
    _fit_jobs([trial for _, trial in mixed])
    for job, trial in mixed:
        if trial.rank <= job.rank:
            job.take(trial)


def _hold(jobs: list["_Job"]) -> None:
    """Fit again, more and more strictly, what does not hold its tolerance against the data themselves."""
    work = [job for job in jobs if job.failing()]
    stricter = [[job.softened(share, reach) for share, reach in STRICTER] for job in work]
    _fit_jobs([trial for trials in stricter for trial in trials])
    for job, trials in zip(work, stricter, strict=True):
        holding = [trial for trial in trials if not trial.failing()]
        job.take(min(holding, key=lambda trial: trial.count) if holding else trials[-1])
    for _ in range(EXTRA_CORNERS):
        work = [job for job in work if job.failing()]
        for job in work:
            job.cut_at_worst()
        _fit_jobs(work)
    for job in work:
        for k in job.failing():
            job.fits[k], job.measured = job.polygon(k), None
        if job.failing():
            job.simple = job.whole_polygon()


class _Job:
    """One polyline on its way: canonical points, samples, corners, runs and their fits."""

    def __init__(self, polyline: Polyline) -> None:
        points, tolerance = _checked(polyline)
        self.closed = polyline.closed
        self.simple: Fit | None = None
        if len(points) == 2:
            # Closed, it is there and back again.
            path = polygon_path(points) if self.closed else polyline_path(points)
            self.simple = Fit(path, 0.0, 0.0)
            return
        order, self.turned = canonical(points, self.closed)
        self.points = points[order]
        self.raw = _with_noise(sample(self.points, tolerance[order], self.closed, polyline.noise))
        ends = (polyline.start_tangent, polyline.end_tangent)
        angles = [None if e is None else float(np.arctan2(e[1], e[0])) for e in ends]
        if self.turned:
            angles = [None if a is None else a + np.pi for a in angles[::-1]]
        self.ends = angles
        self.known: dict[bytes, RunFit] = {}
        self.shares: dict[tuple[int, int], float] = {}
        self.simple = self._round()
        if self.simple is not None:
            return
        self.fits: list[RunFit] = []
        self.measured: tuple[Floats, Floats] | None = None
        self._cut(settled(self.raw, find_corners(self.raw)))

    def _round(self) -> Fit | None:
        """The circle or ellipse that was meant, where it holds the tolerance."""
        found = round_shape(self.raw) if len(self.raw.breaks) == 0 else None
        if found is None:
            return None
        segments, u = found
        at = np.arange(len(u)) * self.raw.step
        forward, backward = two_way_error(segments, True, self.points, np.asarray(at, dtype=np.float64), u)
        error = float(max(forward.max(), backward.max()))
        if error > float(self.raw.tolerance.min()):
            return None
        path = CubicPath(segments, np.zeros(4, bool), np.ones(4, bool), True)
        return Fit(reverse(path) if self.turned else path, error, self.raw.noise)

    def _cut(self, corners: list[Corner]) -> None:
        self.corners = corners
        s = self.samples = sharpen(self.raw, corners)
        n = len(s.points)
        cuts = np.array([corner.index for corner in corners], dtype=np.intp)
        cyclic = s.closed and len(cuts) == 0
        if cyclic:
            cuts = np.array([0, n], dtype=np.intp)
        elif s.closed:
            cuts = np.append(cuts, cuts[0] + n)
        else:
            cuts = np.concatenate([[0], cuts, [n - 1]]).astype(np.intp)
        self.cuts = cuts
        loop = s.closed and len(cuts) == 2
        self.runs = [self._run(int(a), int(b), cyclic, loop) for a, b in pairwise(cuts)]
        if not s.closed:
            self.runs[0] = replace(self.runs[0], start_angle=self.ends[0])
            self.runs[-1] = replace(self.runs[-1], end_angle=self.ends[1])

    def _run(self, a: int, b: int, cyclic: bool, loop: bool) -> Run:
        s = self.samples
        n = len(s.points)
        index = np.arange(a, b + 1) % n
        forced = (s.breaks - a) % n
        forced = np.sort(forced[(forced > 0) & (forced < b - a)])
        noisy = s.noise > NOISY_SHARE * float(s.tolerance[index].min())
        allowed = s.tolerance[index] * self.shares.get((a, b), 1.0)
        return Run(s.points[index], allowed, s.step, cyclic, loop, forced, noisy=noisy)

    @property
    def has_weak(self) -> bool:
        return any(corner.turn_deg < WEAK_CORNER_DEG for corner in self.corners)

    @property
    def rank(self) -> tuple[float, int]:
        """Smaller is better: within the tolerance first, then few segments."""
        worst = max(fit.error for fit in self.fits)
        return max(worst, 1.0), self.count

    @property
    def count(self) -> int:
        return sum(len(fit.segments) for fit in self.fits)

    def with_corners(
        self, corners: list[Corner], shares: dict[tuple[int, int], float] | None = None
    ) -> "_Job":
        trial = object.__new__(_Job)
        for name in ("closed", "turned", "points", "simple", "raw", "ends", "known"):
            setattr(trial, name, getattr(self, name))
        trial.shares = self.shares if shares is None else shares
        trial.measured = None
        trial._cut(corners)
        return trial

    def without_weak(self) -> "_Job":
        return self.with_corners([c for c in self.corners if c.turn_deg >= WEAK_CORNER_DEG])

    def worth_keeping(self, trial: "_Job") -> list[Corner]:
        """Corners to keep, given the fit without the weak ones."""
        n = len(self.samples.points)
        cost = np.array([len(fit.segments) for fit in self.fits])
        keep = list(trial.corners)
        middle = self.cuts[:-1] + 0.5
        for k, fit in enumerate(trial.fits):
            a, b = trial.cuts[k], trial.cuts[k + 1]
            inside = ((middle - a) % n) < b - a if self.closed else (middle > a) & (middle < b)
            if len(fit.segments) > int(cost[inside].sum()) or fit.error > 1.0:
                keep += [
                    c for c in self.corners if 0 < ((c.index - a) % n if self.closed else c.index - a) < b - a
                ]
        return sorted(set(keep), key=lambda c: c.index)

    def take(self, other: "_Job") -> None:
        self.corners, self.samples, self.cuts = other.corners, other.samples, other.cuts
        self.runs, self.fits, self.measured = other.runs, other.fits, other.measured
        self.shares = other.shares

    def softened(self, share: float, reach: float) -> "_Job":
        """The same with its failing runs stricter, and their corners drawn back to the data."""
        corners = list(self.corners)
        shares = dict(self.shares)
        for k in self.failing():
            shares[int(self.cuts[k]), int(self.cuts[k + 1])] = share
            for c in (k, k + 1) if self.closed else (k - 1, k):
                i = c % len(corners) if self.closed and corners else c
                if 0 <= i < len(corners):
                    corners[i] = drawn_back(self.raw, corners[i], reach)
        return self.with_corners(corners, shares)

    def cut_at_worst(self) -> None:
        """Another corner where each failing run is farthest from the data."""
        n = len(self.raw.points)
        taken = {corner.index for corner in self.corners}
        more = []
        for k in self.failing():
            a, b = self.cuts[k], self.cuts[k + 1]
            mine = np.flatnonzero(self.of_point == k)
            at = round(float(self.sample_of[mine[self.share_of[mine].argmax()]]))
            at = int(np.clip(at if at >= a else at + n, a + 1, b - 1)) % n
            if at not in taken:
                x, y = self.raw.points[at]
                more.append(Corner(at, (float(x), float(y)), 180.0, 1))
        self._cut(sorted([*self.corners, *more], key=lambda c: c.index))
        self.measured = None

    def polygon(self, k: int) -> RunFit:
        """Run `k` as straight lines through some of its samples: what is left where nothing else holds."""
        run = self.runs[k]
        index = np.arange(self.cuts[k], self.cuts[k + 1] + 1) % len(self.raw.points)
        points = self.raw.points[index].copy()
        points[0], points[-1] = run.points[0], run.points[-1]
        kept = simplified(points, POLYGON_SHARE * float(self.raw.tolerance[index].min()))
        u = np.interp(np.arange(len(points) - (1 if run.cyclic else 0)), kept, np.arange(len(kept)))
        return RunFit(straight_segments(points[kept]), np.ones(len(kept) - 1, bool), u, 1.0)

    def whole_polygon(self) -> Fit:
        """The data as straight lines through some of their points: within any tolerance."""
        ring = np.concatenate([self.points, self.points[:1]]) if self.closed else self.points
        limit = POLYGON_SHARE * float(self.raw.tolerance.min())
        kept = simplified(ring, limit)
        while self.closed and len(kept) < 4:
            limit /= 2.0
            kept = simplified(ring, limit) if limit > 0 else np.arange(len(ring))
        path = polygon_path(ring[kept[:-1]]) if self.closed else polyline_path(ring[kept])
        u = np.interp(np.arange(len(ring)), kept, np.arange(len(kept)))
        at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
        n = len(self.points)
        forward, backward = two_way_error(path.segments, self.closed, self.points, at[:n], u[:n])
        error = float(max(forward.max(), backward.max()))
        return Fit(reverse(path) if self.turned else path, error, self.raw.noise)

    def failing(self) -> list[int]:
        """Runs that do not hold their tolerance."""
        forward, backward = self.measure()
        n = len(self.raw.points)
        gaps = np.hypot(*np.diff(self.points, axis=0).T)
        at = np.concatenate([[0.0], np.cumsum(gaps)]) / self.raw.step
        nearest = np.minimum(np.round(at).astype(np.intp), n - 1)
        head = self.cuts[0]
        lap = np.where(at < head, at + n, at) if self.closed else at
        of_point = np.clip(np.searchsorted(self.cuts, lap, side="right") - 1, 0, len(self.runs) - 1)
        worst = np.zeros(len(self.runs))
        self.of_point, self.sample_of, self.share_of = (
            of_point,
            at[: len(of_point)],
            forward / self.raw.tolerance[nearest],
        )
        np.maximum.at(worst, of_point, self.share_of)
        of_segment = np.repeat(np.arange(len(self.fits)), [len(fit.segments) for fit in self.fits])
        limit = np.array(
            [
                float(self.raw.tolerance[np.arange(a, b + 1) % n].max())
                for a, b in zip(self.cuts[:-1], self.cuts[1:], strict=True)
            ]
        )
        np.maximum.at(worst, of_segment, backward / limit[of_segment])
        return [int(k) for k in np.flatnonzero(worst > 1.0 + 1e-9)]

    def measure(self) -> tuple[Floats, Floats]:
        if self.measured is None:
            segments, first = self.joined()
            at, u = self._feet(first)
            self.measured = two_way_error(segments, self.closed, self.points, at, u)
        return self.measured

    def joined(self) -> tuple[Floats, Ints]:
        """All segments, each starting exactly where the one before ends, and the first of each run."""
        segments = np.concatenate([fit.segments for fit in self.fits]).copy()
        segments[:-1, 3] = segments[1:, 0]
        if self.closed:
            segments[-1, 3] = segments[0, 0]
        else:
            segments[0, 0], segments[-1, 3] = self.points[0], self.points[-1]
        first = np.cumsum([0] + [len(fit.segments) for fit in self.fits])[:-1]
        return segments, first

    def result(self) -> Fit:
        if self.simple is not None:
            return self.simple
        segments, first = self.joined()
        straight = np.concatenate([fit.straight for fit in self.fits])
        smooth = ~(straight & np.roll(straight, 1))
        if not self.runs[0].cyclic:
            smooth[first] = False
        forward, backward = self.measure()
        error = float(max(forward.max(), backward.max()))
        if self.closed:
            segments, error = self._with_area(segments, first, error)
        path = CubicPath(segments, straight, smooth, self.closed)
        return Fit(reverse(path) if self.turned else path, error, self.raw.noise)

    def _with_area(self, segments: Floats, first: Ints, error: float) -> tuple[Floats, float]:
        """The path scaled about its middle to the area of the data, where it still holds its tolerance.

        Least squares with the largest distances counting more may trade area for evenness.
        """
        centre = self.points.mean(axis=0)
        ring = segments - centre
        closed = CubicPath(ring, np.zeros(len(ring), bool), np.zeros(len(ring), bool), True)
        rest = self.points - centre
        onward = np.roll(rest, -1, axis=0)
        area = float((rest[:, 0] * onward[:, 1] - rest[:, 1] * onward[:, 0]).sum() / 2.0)
        ratio = area / (signed_area(closed) or 1.0)
        if not 0.98 < ratio < 1.02:
            return segments, error
        scaled = centre + np.sqrt(ratio) * ring
        at, u = self._feet(first)
        forward, backward = two_way_error(scaled, True, self.points, at, u)
        changed = float(max(forward.max(), backward.max()))
        if changed > max(error, float(self.raw.tolerance.min())):
            return segments, error
        return scaled, changed

    def _feet(self, first: Ints) -> tuple[Floats, Floats]:
        """Arc lengths of the samples and the parameters of their feet."""
        step = self.raw.step
        if self.runs[0].cyclic:
            return np.asarray(np.arange(len(self.fits[0].u)) * step, dtype=np.float64), self.fits[0].u
        at = np.concatenate([np.arange(a, a + len(f.u)) for a, f in zip(self.cuts, self.fits, strict=False)])
        u = np.concatenate([f.u + k for f, k in zip(self.fits, first, strict=True)])
        return np.asarray(at * step, dtype=np.float64), u


def _checked(polyline: Polyline) -> tuple[Floats, Floats]:
    points = np.asarray(polyline.points, dtype=np.float64)
    tolerance = np.asarray(polyline.tolerance, dtype=np.float64)
    if points.ndim != 2 or points.shape[1:] != (2,) or not np.isfinite(points).all():
        raise GeometryError("A line to be fitted must be rows of finite x and y: check the coordinates.")
    if not (tolerance > 0).all():
        raise GeometryError("The tolerance of a fit must be above zero: ask for a larger smoothing.")
    keep = np.append(True, (np.diff(points, axis=0) != 0).any(axis=1))
    if polyline.closed and len(points) > 1 and (points[0] == points[-1]).all():
        keep[-1] = False
    if int(keep.sum()) < 2:
        raise GeometryError("A line to be fitted has too few separate points: leave it out.")
    return points[keep], tolerance[keep]


def _with_noise(samples: Samples) -> Samples:
    least = np.minimum(NOISE_SIGMAS * samples.noise, LARGEST_STRETCH * samples.tolerance)
    return replace(samples, tolerance=np.maximum(samples.tolerance, least))
