"""One polyline on its way to a path, and what is measured on the way.

Method: a job holds the polyline in a canonical order (`samples`), its corners (`corners`), the runs between
them and their fits. Its path is measured against the data themselves, scaled to their area where that holds;
all jobs are measured together (`measure_jobs`).

Limits: none beyond those of `corners`, `search` and `measure`.
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from limner.curves.data.corners import Corner, drawn_back, find_corners, settled, sharpen
from limner.curves.data.resampling import Samples, canonical, sample, simplified
from limner.curves.fit.error import Course, two_way_errors
from limner.curves.fit.polylines import Fit, Polyline, checked
from limner.curves.fit.round_shapes import round_shapes
from limner.curves.plan.candidates import Run
from limner.curves.search.trials import RunFit
from limner.geometry.cubics import area_within, polygon_path, polyline_path, reverse, straight_segments
from limner.model.arrays import Floats, Ints
from limner.model.geometry import CubicPath

__all__ = ["NOISE_SIGMAS", "Job", "measure_jobs", "round_jobs"]


# Noise that the tolerance cannot hold: four standard deviations hold all but one point in 16,000.
NOISE_SIGMAS = 4.0
# ... but a tolerance is never stretched by more than this.
LARGEST_STRETCH = 1.25
# Noise above this share of the tolerance is averaged over all samples.
NOISY_SHARE = 0.12
# A corner that turns by less is left out where a smooth curve needs no more segments.
WEAK_CORNER_DEG = 65.0
# Straight lines as a last resort are taken within this share of the tolerance.
POLYGON_SHARE = 0.9
# A path's area may be off by this share from that of its data before scaling it makes no sense.
LARGEST_RESCALE = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """A path and how far it is from the data: their points, and its segments."""

    segments: Floats
    forward: Floats
    backward: Floats

    @property
    def error(self) -> float:
        return float(max(self.forward.max(), self.backward.max()))


def round_jobs(jobs: Sequence["Job"]) -> None:
    """Finish the jobs that were meant as a circle or an ellipse, where it holds their tolerance."""
    asked = [job for job in jobs if job.simple is None and job.closed and not len(job.raw.breaks)]
    shapes = round_shapes([job.raw for job in asked])
    found = [(job, shape) for job, shape in zip(asked, shapes, strict=True) if shape is not None]
    courses = [
        job.course(segments, np.arange(len(u), dtype=np.float64) * job.raw.step, u)
        for job, (segments, u) in found
    ]
    for (job, (segments, _)), (forward, backward) in zip(found, two_way_errors(courses), strict=True):
        error = Measured(segments, forward, backward).error
        if error <= job.limit:
            path = CubicPath(segments, np.zeros(4, bool), np.ones(4, bool), True)
            job.simple = job.finished(path, error)


def measure_jobs(jobs: Sequence["Job"]) -> None:
    """Measure the jobs' paths, where that is not done yet, scaled to the area of their data if possible."""
    todo = [job for job in jobs if job.simple is None and job.measured is None]
    # Least squares with the largest distances counting more may trade area for evenness.
    scaled = _measured(todo, [job.to_area(job.joined()) for job in todo])
    for job, found in zip(todo, scaled, strict=True):
        job.measured = found
    strays = [job for job, found in zip(todo, scaled, strict=True) if job.closed and found.error > job.limit]
    for job, plain in zip(strays, _measured(strays, [job.joined() for job in strays]), strict=True):
        job.measured = plain


def _measured(jobs: Sequence["Job"], paths: Sequence[Floats]) -> list[Measured]:
    courses = [job.course(path, *job.feet()) for job, path in zip(jobs, paths, strict=True)]
    return [
        Measured(path, forward, backward)
        for path, (forward, backward) in zip(paths, two_way_errors(courses), strict=True)
    ]


class Job:
    """One polyline on its way: canonical points, samples, corners, runs and their fits."""

    def __init__(self, polyline: Polyline) -> None:
        points, tolerance = checked(polyline)
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
        gaps = self.points[1:] - self.points[:-1]
        # Where the data lie among the samples.
        self.among = np.zeros(len(self.points))
        np.cumsum(np.sqrt((gaps * gaps).sum(axis=1)) / self.raw.step, out=self.among[1:])
        self.limit = float(self.raw.tolerance.min())
        self.known: dict[bytes, RunFit] = {}
        self.shares: dict[tuple[int, int], float] = {}
        self.fits: list[RunFit] = []
        self.measured: Measured | None = None

    def cut(self) -> None:
        """Find the corners, and the runs between them."""
        self._cut(settled(self.raw, find_corners(self.raw)))

    def course(self, segments: Floats, at: Floats, u: Floats) -> Course:
        """A path with the data that it is held against; arguments as for `Course`."""
        return Course(segments, self.closed, self.points, at, u, self.limit)

    def finished(self, path: CubicPath, error_mm: float) -> Fit:
        """The path in the direction in which the data came."""
        return Fit(reverse(path) if self.turned else path, error_mm, self.raw.noise)

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
        allowed = s.tolerance[index]
        noisy = s.noise > NOISY_SHARE * float(allowed.min())
        allowed = allowed * self.shares.get((a, b), 1.0)
        return Run(s.points[index], allowed, s.step, cyclic, loop, forced, noisy=noisy)

    @property
    def has_weak(self) -> bool:
        """Whether any corner may be no corner."""
        return any(corner.turn_deg < WEAK_CORNER_DEG for corner in self.corners)

    @property
    def rank(self) -> tuple[float, int]:
        """Smaller is better: within the tolerance first, then few segments."""
        worst = max(fit.error for fit in self.fits)
        return max(worst, 1.0), self.count

    @property
    def count(self) -> int:
        """Segments of the fits."""
        return sum(len(fit.segments) for fit in self.fits)

    def with_corners(
        self, corners: list[Corner], shares: dict[tuple[int, int], float] | None = None
    ) -> "Job":
        """The same polyline with other corners, and other shares of the tolerance for its runs."""
        trial = copy(self)
        trial.shares = self.shares if shares is None else shares
        trial.fits, trial.measured = [], None
        trial._cut(corners)
        return trial

    def without_weak(self) -> "Job":
        """The same polyline without the corners that may be none."""
        return self.with_corners([c for c in self.corners if c.turn_deg >= WEAK_CORNER_DEG])

    def worth_keeping(self, trial: "Job") -> list[Corner]:
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

    def take(self, other: "Job") -> None:
        """Take over the corners and fits of a trial."""
        self.corners, self.samples, self.cuts = other.corners, other.samples, other.cuts
        self.runs, self.fits, self.measured = other.runs, other.fits, other.measured
        self.shares = other.shares

    def softened(self, share: float, reach: float) -> "Job":
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
        share, of_point = self._shares()
        more = []
        for k in self.failing():
            a, b = self.cuts[k], self.cuts[k + 1]
            if b - a < 2:  # no sample between its ends
                continue
            mine = np.flatnonzero(of_point == k)
            at = round(float(self.among[mine[share[mine].argmax()]]))
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
        limit = POLYGON_SHARE * self.limit
        kept = simplified(ring, limit)
        while self.closed and len(kept) < 4:
            limit /= 2.0
            kept = simplified(ring, limit) if limit > 0 else np.arange(len(ring))
        path = polygon_path(ring[kept[:-1]]) if self.closed else polyline_path(ring[kept])
        u = np.interp(np.arange(len(self.points)), kept, np.arange(len(kept)))
        found = two_way_errors([self.course(path.segments, self.among * self.raw.step, u)])[0]
        return self.finished(path, Measured(path.segments, *found).error)

    def _shares(self) -> tuple[Floats, Ints]:
        """How far each of the data is from the path, in its tolerance, and the run that it belongs to."""
        assert self.measured is not None
        n = len(self.raw.points)
        nearest = np.minimum((self.among + 0.5).astype(np.intp), n - 1)
        head = self.cuts[0]
        lap = np.where(self.among < head, self.among + n, self.among) if self.closed else self.among
        of_point = np.clip(self.cuts.searchsorted(lap, side="right") - 1, 0, len(self.runs) - 1)
        return self.measured.forward / self.raw.tolerance[nearest], of_point

    def failing(self) -> list[int]:
        """Runs that do not hold their tolerance, of a job that has been measured."""
        assert self.measured is not None
        if self.measured.error <= self.limit:
            return []
        n = len(self.raw.points)
        share, of_point = self._shares()
        worst = np.zeros(len(self.runs))
        np.maximum.at(worst, of_point, share)
        of_segment = np.repeat(np.arange(len(self.fits)), [len(fit.segments) for fit in self.fits])
        limit = np.array(
            [float(self.raw.tolerance[np.arange(a, b + 1) % n].max()) for a, b in pairwise(self.cuts)]
        )
        np.maximum.at(worst, of_segment, self.measured.backward / limit[of_segment])
        return [int(k) for k in np.flatnonzero(worst > 1.0 + 1e-9)]

    def joined(self) -> Floats:
        """All segments, each starting exactly where the one before ends."""
        segments = np.concatenate([fit.segments for fit in self.fits])
        segments[:-1, 3] = segments[1:, 0]
        if self.closed:
            segments[-1, 3] = segments[0, 0]
        else:
            segments[0, 0], segments[-1, 3] = self.points[0], self.points[-1]
        return segments

    def to_area(self, segments: Floats) -> Floats:
        """A closed path of one tolerance, scaled about its middle to the area of the data."""
        if not self.closed or len(self.raw.breaks):
            return segments
        centre = self.points.mean(axis=0)
        ring = segments - centre
        x, y = (self.points - centre).T
        area = float(x[:-1] @ y[1:] - y[:-1] @ x[1:] + x[-1] * y[0] - y[-1] * x[0]) / 2.0
        ratio = area / (area_within(ring) or 1.0)
        if not abs(ratio - 1.0) < LARGEST_RESCALE:
            return segments
        return np.asarray(centre + np.sqrt(ratio) * ring)

    def feet(self) -> tuple[Floats, Floats]:
        """Arc lengths of the samples and the parameters of their feet."""
        step, first = self.raw.step, self._first()
        if self.runs[0].cyclic:
            return np.asarray(np.arange(len(self.fits[0].u)) * step, dtype=np.float64), self.fits[0].u
        at = np.concatenate([np.arange(a, a + len(f.u)) for a, f in zip(self.cuts, self.fits, strict=False)])
        u = np.concatenate([f.u + k for f, k in zip(self.fits, first, strict=True)])
        return np.asarray(at * step, dtype=np.float64), u

    def _first(self) -> Ints:
        """The first segment of each run."""
        return np.cumsum([0] + [len(fit.segments) for fit in self.fits])[:-1]

    def result(self) -> Fit:
        """The fit of a job that is finished, or that has been measured."""
        if self.simple is not None:
            return self.simple
        assert self.measured is not None
        straight = np.concatenate([fit.straight for fit in self.fits])
        smooth = ~(straight & np.concatenate([straight[-1:], straight[:-1]]))
        if not self.runs[0].cyclic:
            smooth[self._first()] = False
        path = CubicPath(self.measured.segments, straight, smooth, self.closed)
        return self.finished(path, self.measured.error)


def _with_noise(samples: Samples) -> Samples:
    least = np.minimum(NOISE_SIGMAS * samples.noise, LARGEST_STRETCH * samples.tolerance)
    return replace(samples, tolerance=np.maximum(samples.tolerance, least))
