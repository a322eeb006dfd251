"""An attempt at a polyline, step by step: cut at corners, its runs fitted, its path measured.

Each step is a value of its own that never changes: a `Cut` knows where the runs are, an `Attempt` their fits,
an `Outcome` the path that they make and how far it is from the data. What is to be tried next is made from
one of them as a new `Cut` or `Attempt`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from limner.curves.data.corners import Corner, drawn_back, sharpen
from limner.curves.data.resampling import Samples, simplified
from limner.curves.fit.error import two_way_errors
from limner.curves.fit.polylines import Fit
from limner.curves.fit.task import Task
from limner.curves.plan.candidates import Run
from limner.curves.search.trials import RunFit
from limner.geometry.cubics import area_within, polygon_path, polyline_path, straight_segments
from limner.model.arrays import Flags, Floats, Ints
from limner.model.geometry import CubicPath

__all__ = ["Attempt", "Cut", "Outcome", "measured"]


# Noise above this share of the tolerance is averaged over all samples.
NOISY_SHARE = 0.12
# A corner that turns by less is left out where a smooth curve needs no more segments.
WEAK_CORNER_DEG = 65.0
# Straight lines as a last resort are taken within this share of the tolerance.
POLYGON_SHARE = 0.9
# A path's area may be off by this share from that of its data before scaling it makes no sense.
LARGEST_RESCALE = 0.02
# A run within this many tolerances holds: rounding must not decide.
HOLDS = 1.0 + 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A polyline cut at corners into runs.

    Parameters
    ----------
    task : Task
    corners : tuple of Corner
        In order.
    shares : mapping of (int, int) to float
        For some runs, by their first and last sample, the share of the tolerance that they are fitted at.
    samples : Samples
        Those of the task, drawn out to the corners' tips.
    places : ndarray of int, shape (runs + 1,)
        Samples at which the runs meet; those of a closed polyline end one turn after they start.
    runs : tuple of Run
    """

    task: Task
    corners: tuple[Corner, ...]
    shares: Mapping[tuple[int, int], float]
    samples: Samples
    places: Ints
    runs: tuple[Run, ...]

    @staticmethod
    def of(
        task: Task, corners: Iterable[Corner], shares: Mapping[tuple[int, int], float] | None = None
    ) -> "Cut":
        """A polyline cut at these corners."""
        corners = tuple(corners)
        samples = sharpen(task.samples, corners)
        at = [corner.index for corner in corners]
        count = len(samples.points)
        places = [0, *at, count - 1]
        if task.closed:
            places = [*at, at[0] + count] if at else [0, count]
        shares = shares or {}
        runs = [
            _run(samples, a, b, cyclic=task.closed and not at, share=shares.get((a, b), 1.0))
            for a, b in pairwise(places)
        ]
        if task.closed:
            runs = [replace(run, loop=len(runs) == 1) for run in runs]
        else:
            runs[0] = replace(runs[0], start_angle=task.ends[0])
            runs[-1] = replace(runs[-1], end_angle=task.ends[1])
        return Cut(task, corners, shares, samples, np.array(places, dtype=np.intp), tuple(runs))

    @property
    def has_weak_corners(self) -> bool:
        """Whether any corner may be no corner."""
        return any(corner.turn_deg < WEAK_CORNER_DEG for corner in self.corners)

    def without_weak_corners(self) -> "Cut":
        """The same polyline without the corners that may be none."""
        return self.with_corners(c for c in self.corners if c.turn_deg >= WEAK_CORNER_DEG)

    def with_corners(self, corners: Iterable[Corner]) -> "Cut":
        """The same polyline cut at other corners."""
        return Cut.of(self.task, corners, self.shares)

    def inside(self, k: int, places: Floats) -> Flags:
        """Which places, in samples, lie within run `k`, its ends not included."""
        a, b = self.places[k], self.places[k + 1]
        way = (places - a) % len(self.samples.points) if self.task.closed else places - a
        return np.asarray((way > 0) & (way < b - a))


def _run(samples: Samples, a: int, b: int, *, cyclic: bool, share: float) -> Run:
    count = len(samples.points)
    index = np.arange(a, b + 1) % count
    forced = (samples.breaks - a) % count
    forced = np.sort(forced[(forced > 0) & (forced < b - a)])
    tolerance = samples.room[index]
    noisy = samples.noise > NOISY_SHARE * float(tolerance.min())
    return Run(samples.points[index], tolerance * share, samples.step, cyclic, False, forced, noisy=noisy)


@dataclass(frozen=True, slots=True, eq=False)
class Attempt:
    """A polyline with fits of its runs."""

    cut: Cut
    fits: tuple[RunFit, ...]

    @property
    def count(self) -> int:
        """Segments of the fits."""
        return sum(len(fit.segments) for fit in self.fits)

    @property
    def rank(self) -> tuple[float, int]:
        """Smaller is better: within the tolerance first, then few segments."""
        return max(1.0, *(fit.error for fit in self.fits)), self.count

    def worth_keeping(self, trial: "Attempt") -> list[Corner]:
        """Corners to keep, given the same polyline fitted without the weak ones."""
        count = np.array([len(fit.segments) for fit in self.fits])
        middles = np.asarray(self.cut.places[:-1] + 0.5, dtype=np.float64)
        corners = np.array([corner.index for corner in self.cut.corners], dtype=np.float64)
        keep = list(trial.cut.corners)
        for k, fit in enumerate(trial.fits):
            needed = int(count[trial.cut.inside(k, middles)].sum())
            if len(fit.segments) > needed or fit.error > 1.0:
                keep += [self.cut.corners[i] for i in np.flatnonzero(trial.cut.inside(k, corners))]
        return sorted(set(keep), key=lambda corner: corner.index)

    def joined(self) -> Floats:
        """All segments, each starting exactly where the one before ends."""
        segments = np.concatenate([fit.segments for fit in self.fits])
        segments[:-1, 3] = segments[1:, 0]
        if self.cut.task.closed:
            segments[-1, 3] = segments[0, 0]
        else:
            segments[0, 0], segments[-1, 3] = self.cut.task.points[[0, -1]]
        return segments

    def first_segments(self) -> Ints:
        """The first segment of each run."""
        return np.cumsum([0, *(len(fit.segments) for fit in self.fits)])[:-1]


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """The path that an attempt came to.

    Parameters
    ----------
    attempt : Attempt
    segments : ndarray, shape (s, 4, 2)
        The path; scaled to the area of the data where it holds so.
    forward : ndarray, shape (n,)
        How far each of the data is from it.
    backward : ndarray, shape (s,)
        How far each segment is from the data.
    """

    attempt: Attempt
    segments: Floats
    forward: Floats
    backward: Floats

    @property
    def task(self) -> Task:
        """What was attempted."""
        return self.attempt.cut.task

    @property
    def error(self) -> float:
        """The largest distance, millimetres."""
        return float(max(self.forward.max(), self.backward.max()))

    @property
    def holds(self) -> bool:
        """Whether no run fails."""
        return not self.failing()

    def failing(self) -> list[int]:
        """Runs that do not hold their tolerance."""
        if self.error <= self.task.limit:
            return []
        attempt, tolerance = self.attempt, self.task.samples.tolerance
        share, run_of = self._in_tolerances()
        worst = np.zeros(len(attempt.fits))
        np.maximum.at(worst, run_of, share)
        run_of_segment = np.repeat(np.arange(len(attempt.fits)), [len(fit.segments) for fit in attempt.fits])
        limit = [
            float(tolerance[np.arange(a, b + 1) % len(tolerance)].max())
            for a, b in pairwise(attempt.cut.places)
        ]
        np.maximum.at(worst, run_of_segment, self.backward / np.array(limit)[run_of_segment])
        return [int(k) for k in np.flatnonzero(worst > HOLDS)]

    def _in_tolerances(self) -> tuple[Floats, Ints]:
        """How far each of the data is from the path, in its tolerance, and the run that it belongs to."""
        task, places = self.task, self.attempt.cut.places
        count = len(task.samples.points)
        nearest = np.minimum((task.among + 0.5).astype(np.intp), count - 1)
        lap = np.where(task.among < places[0], task.among + count, task.among) if task.closed else task.among
        run_of = np.clip(places.searchsorted(lap, side="right") - 1, 0, len(places) - 2)
        return self.forward / task.samples.tolerance[nearest], run_of

    def stricter(self, share: float, reach: float) -> Cut:
        """The failing runs at a share of their tolerance, their corners drawn back towards the data."""
        cut = self.attempt.cut
        corners, shares = list(cut.corners), dict(cut.shares)
        for k in self.failing():
            shares[int(cut.places[k]), int(cut.places[k + 1])] = share
            for c in (k, k + 1) if self.task.closed else (k - 1, k):
                i = c % len(corners) if self.task.closed and corners else c
                if 0 <= i < len(corners):
                    corners[i] = drawn_back(self.task.samples, corners[i], reach)
        return Cut.of(self.task, corners, shares)

    def cut_at_worst(self) -> Cut:
        """Another corner where each failing run is farthest from the data."""
        cut, points = self.attempt.cut, self.task.samples.points
        taken = {corner.index for corner in cut.corners}
        share, run_of = self._in_tolerances()
        more = []
        for k in self.failing():
            a, b = cut.places[k], cut.places[k + 1]
            if b - a < 2:  # no sample between its ends
                continue
            mine = np.flatnonzero(run_of == k)
            if not len(mine):
                continue
            at = round(float(self.task.among[mine[share[mine].argmax()]]))
            at = int(np.clip(at if at >= a else at + len(points), a + 1, b - 1)) % len(points)
            if at not in taken:
                x, y = points[at]
                more.append(Corner(at, (float(x), float(y)), 180.0, 1))
        return cut.with_corners(sorted([*cut.corners, *more], key=lambda corner: corner.index))

    def with_fits(self, fits: Mapping[int, RunFit]) -> Attempt:
        """The same runs, some of them with other fits."""
        attempt = self.attempt
        return Attempt(attempt.cut, tuple(fits.get(k, fit) for k, fit in enumerate(attempt.fits)))

    def with_polygons(self) -> Attempt:
        """The failing runs as straight lines."""
        return self.with_fits({k: self._polygon(k) for k in self.failing()})

    def _polygon(self, k: int) -> RunFit:
        """Run `k` as straight lines through some of its samples: what is left where nothing else holds."""
        cut, samples = self.attempt.cut, self.task.samples
        index = np.arange(cut.places[k], cut.places[k + 1] + 1) % len(samples.points)
        points = samples.points[index].copy()
        points[[0, -1]] = cut.runs[k].points[[0, -1]]
        kept = simplified(points, POLYGON_SHARE * float(samples.tolerance[index].min()))
        u = np.interp(np.arange(len(points) - cut.runs[k].cyclic), kept, np.arange(len(kept)))
        return RunFit(straight_segments(points[kept]), np.ones(len(kept) - 1, bool), u, 1.0)

    def whole_polygon(self) -> Fit:
        """The data as straight lines through some of their points: within any tolerance."""
        task = self.task
        ring = np.concatenate([task.points, task.points[:1]]) if task.closed else task.points
        limit = POLYGON_SHARE * task.limit
        kept = simplified(ring, limit)
        while task.closed and len(kept) < 4:
            limit /= 2.0
            kept = simplified(ring, limit) if limit > 0 else np.arange(len(ring))
        path = polygon_path(ring[kept[:-1]]) if task.closed else polyline_path(ring[kept])
        forward, backward = two_way_errors([task.course(path.segments)])[0]
        return task.finished(path, float(max(forward.max(), backward.max())))

    def result(self) -> Fit:
        """The path with its error."""
        straight = np.concatenate([fit.straight for fit in self.attempt.fits])
        smooth = ~(straight & np.roll(straight, 1))
        if not self.attempt.cut.runs[0].cyclic:
            smooth[self.attempt.first_segments()] = False
        return self.task.finished(CubicPath(self.segments, straight, smooth, self.task.closed), self.error)


def measured(attempts: Sequence[Attempt]) -> list[Outcome]:
    """The paths that attempts come to, scaled to the area of their data where they hold so."""
    # Least squares with the largest distances counting more may trade area for evenness.
    outcomes = _outcomes(attempts, [_to_area(attempt.cut.task, attempt.joined()) for attempt in attempts])
    strays = [
        k for k, outcome in enumerate(outcomes) if outcome.task.closed and outcome.error > outcome.task.limit
    ]
    plain = _outcomes([attempts[k] for k in strays], [attempts[k].joined() for k in strays])
    for k, outcome in zip(strays, plain, strict=True):
        outcomes[k] = outcome
    return outcomes


def _outcomes(attempts: Sequence[Attempt], paths: Sequence[Floats]) -> list[Outcome]:
    courses = [attempt.cut.task.course(path) for attempt, path in zip(attempts, paths, strict=True)]
    return [
        Outcome(attempt, path, forward, backward)
        for attempt, path, (forward, backward) in zip(attempts, paths, two_way_errors(courses), strict=True)
    ]


def _to_area(task: Task, segments: Floats) -> Floats:
    """A closed path of one tolerance, scaled about its middle to the area of the data."""
    if not task.closed or task.samples.varies:
        return segments
    centre = task.points.mean(axis=0)
    ring = segments - centre
    x, y = (task.points - centre).T
    area = float(x[:-1] @ y[1:] - y[:-1] @ x[1:] + x[-1] * y[0] - y[-1] * x[0]) / 2.0
    ratio = area / (area_within(ring) or 1.0)
    if not abs(ratio - 1.0) < LARGEST_RESCALE:
        return segments
    return np.asarray(centre + np.sqrt(ratio) * ring)
