"""Fit polylines by few cubics.

Method: each polyline is sampled evenly in a canonical direction (`samples`), cut at its corners (`corners`)
into runs, and each run is fitted by the fewest segments that hold its tolerance (`search`). Weak corners
are left out where a smooth curve needs no more segments. The error is measured afresh against the data; a
run that does not hold it is fitted again, more tightly.

Limits: see `search` and `corners`.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from limner.curves.fit.attempt import Job, measure_jobs, round_jobs
from limner.curves.fit.polylines import Fit, Polyline
from limner.curves.plan.candidates import Run
from limner.curves.search.extrema import set_at_favoured
from limner.curves.search.fewest import search_runs
from limner.model.arrays import Floats

__all__ = ["Fit", "Polyline", "fit_path", "fit_paths"]


# A run that does not hold its tolerance mostly fails at a corner: its corners are drawn back to these shares
# of their way from the data to the tip, and the run is fitted again at these shares of its tolerance.
DRAWN_BACK = ((1.0, 0.5), (0.9, 0.0))
# How often a run that still fails is cut at its worst place before straight lines are resorted to.
EXTRA_CORNERS = 3


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
    jobs = [Job(polyline) for polyline in polylines]
    round_jobs(jobs)
    work = [job for job in jobs if job.simple is None]
    for job in work:
        job.cut()
    tried = [(job, job.without_weak()) for job in work if job.has_weak]
    _fit_jobs([*work, *(trial for _, trial in tried)])
    _leave_out_weak_corners(tried)
    _hold(work)
    _favour(work)
    measure_jobs(work)
    return [job.result() for job in jobs]


def _fit_jobs(jobs: Sequence[Job]) -> None:
    """Fit all runs of the jobs in one go, but for those that are known already."""
    todo: dict[tuple[int, bytes], tuple[Job, Run]] = {}
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


def _leave_out_weak_corners(tried: list[tuple[Job, Job]]) -> None:
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


def _hold(jobs: list[Job]) -> None:
    """Fit again, more and more strictly, what does not hold its tolerance against the data themselves."""
    work = _failing(jobs)
    for share, reach in DRAWN_BACK:
        trials = [job.softened(share, reach) for job in work]
        _fit_jobs(trials)
        failing = {id(trial) for trial in _failing(trials)}
        last = reach == DRAWN_BACK[-1][1]
        for job, trial in zip(work, trials, strict=True):
            if last or id(trial) not in failing:
                job.take(trial)
        work = [job for job, trial in zip(work, trials, strict=True) if id(trial) in failing]
    for _ in range(EXTRA_CORNERS):
        work = _failing(work)
        for job in work:
            job.cut_at_worst()
        _fit_jobs(work)
    for job in _failing(work):
        for k in job.failing():
            job.fits[k], job.measured = job.polygon(k), None
    for job in _failing(work):
        job.simple = job.whole_polygon()


def _favour(jobs: list[Job]) -> None:
    """Set nodes at extrema and inflections where that costs neither nodes nor the tolerance."""
    measure_jobs(jobs)
    open_ones = [job for job in jobs if job.simple is None]
    runs = [(job, k) for job in open_ones for k in range(len(job.fits))]
    found = set_at_favoured([job.runs[k] for job, k in runs], [job.fits[k] for job, k in runs])
    before = {id(job): (list(job.fits), job.measured) for job in open_ones}
    moved: dict[int, Job] = {}
    for (job, k), fit in zip(runs, found, strict=True):
        if fit is not None:
            job.fits[k], job.measured = fit, None
            moved[id(job)] = job
    # Once with the runs that hold, and where they do not hold together, as before.
    for job in _failing(list(moved.values())):
        fits = before[id(job)][0]
        for k in job.failing():
            job.fits[k] = fits[k]
        job.measured = None
    for job in _failing(list(moved.values())):
        job.fits, job.measured = before[id(job)]


def _failing(jobs: Sequence[Job]) -> list[Job]:
    """The jobs with runs that do not hold their tolerance."""
    measure_jobs(jobs)
    return [job for job in jobs if job.failing()]
