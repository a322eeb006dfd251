"""Fit polylines by few cubics.

Method: each polyline is sampled evenly in a canonical direction (`task`), cut at its corners into runs
(`attempt`), and each run is fitted by the fewest segments that hold its tolerance (`search`). Weak corners
are left out where a smooth curve needs no more segments. The error is measured afresh against the data
(`error`); a run that does not hold it is fitted again, more tightly. At last, nodes are set at extrema and
inflections where that costs nothing.

Limits: see `search.fewest` and `data.corners`.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from limner.curves.data.corners import Corner, find_corners, settled
from limner.curves.fit.attempt import Attempt, Cut, Outcome, measured
from limner.curves.fit.error import two_way_errors
from limner.curves.fit.polylines import Fit, Polyline, checked
from limner.curves.fit.round_shapes import round_shapes
from limner.curves.fit.task import Task
from limner.curves.marks.places import as_marked
from limner.curves.search.extrema import set_at_extrema
from limner.curves.search.fewest import search_runs
from limner.curves.search.trials import RunFit
from limner.geometry.cubics import polygon_path, polyline_path
from limner.model.arrays import Floats
from limner.model.geometry import CubicPath

__all__ = ["fit_path", "fit_paths"]


Known = dict[bytes, RunFit]
"""Fits of runs by all that they depend on."""

# A run that does not hold its tolerance mostly fails at a corner: it is fitted again at the first of these
# shares of its tolerance, its corners drawn back to the second of their way from the data to the tip.
STRICTER = ((1.0, 0.5), (0.9, 0.0))
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
    prepared = [(line, *checked(line)) for line in polylines]
    fits = {
        k: Fit(polygon_path(points) if line.closed else polyline_path(points), 0.0)
        for k, (line, points, *_) in enumerate(prepared)
        if len(points) == 2  # closed, it is there and back again
    }
    tasks = {k: Task.of(*parts) for k, parts in enumerate(prepared) if k not in fits}
    rounds = zip(tasks, _round_fits(list(tasks.values())), strict=True)
    fits.update((k, fit) for k, fit in rounds if fit is not None)
    rest = [k for k in tasks if k not in fits]
    fits.update(zip(rest, _free_fits([tasks[k] for k in rest]), strict=True))
    return [fits[k] for k in range(len(polylines))]


def _round_fits(tasks: Sequence[Task]) -> list[Fit | None]:
    """The circles and ellipses that were meant as such, where they hold the tolerance."""
    asked = [
        k
        for k, task in enumerate(tasks)
        if task.closed and not task.samples.varies and not any(mark.sharp for mark in task.marks)
    ]
    shapes = round_shapes([replace(tasks[k].samples, tolerance=tasks[k].samples.room) for k in asked])
    found = [(k, shape) for k, shape in zip(asked, shapes, strict=True) if shape is not None]
    errors = two_way_errors([tasks[k].course(segments) for k, segments in found])
    fits: list[Fit | None] = [None] * len(tasks)
    for (k, segments), (forward, backward) in zip(found, errors, strict=True):
        error = float(max(forward.max(), backward.max()))
        if error <= tasks[k].limit:
            path = CubicPath(segments, np.zeros(4, bool), np.ones(4, bool), closed=True)
            fits[k] = tasks[k].finished(path, error)
    return fits


def _free_fits(tasks: Sequence[Task]) -> list[Fit]:
    """Fits by whatever cubics hold the tolerance."""
    known: Known = {}
    outcomes = _tried(tasks, known)
    # Where a calmed line cannot be held, it is fitted as drawn.
    again = {k: task.drawn for k, task in enumerate(tasks) if task.drawn and not outcomes[k].holds}
    for k, outcome in zip(again, _tried(list(again.values()), known), strict=True):
        outcomes[k] = outcome
    held = [k for k, outcome in enumerate(outcomes) if outcome.holds]
    for k, outcome in zip(held, _favoured([outcomes[k] for k in held]), strict=True):
        outcomes[k] = outcome
    return [outcome.result() if outcome.holds else outcome.whole_polygon() for outcome in outcomes]


def _tried(tasks: Sequence[Task], known: Known) -> list[Outcome]:
    """The paths that tasks come to, whether they hold or not."""
    attempts = _without_weak_corners([Cut.of(task, _corners_of(task)) for task in tasks], known)
    return _held(measured(attempts), known)


def _corners_of(task: Task) -> list[Corner]:
    """The corners at which a polyline is cut at first."""
    if task.corners is not None:
        return list(task.corners)
    return settled(task.samples, as_marked(task.samples, find_corners(task.samples), task.marks))


def _fitted(cuts: Sequence[Cut], known: Known) -> list[Attempt]:
    """Fits of all runs, in one go but for those that are known already; what is learnt is noted there."""
    unknown = {run.key: run for cut in cuts for run in cut.runs if run.key not in known}
    known.update(zip(unknown, search_runs(list(unknown.values())), strict=True))
    return [Attempt(cut, tuple(known[run.key] for run in cut.runs)) for cut in cuts]


def _without_weak_corners(cuts: Sequence[Cut], known: Known) -> list[Attempt]:
    """Attempts that keep, of the weak corners, those without which a smooth curve needs more segments."""
    weak = [k for k, cut in enumerate(cuts) if cut.has_weak_corners]
    attempts = _fitted([*cuts, *(cuts[k].without_weak_corners() for k in weak)], known)
    attempts, trials = attempts[: len(cuts)], attempts[len(cuts) :]
    mixed: dict[int, Cut] = {}
    for k, trial in zip(weak, trials, strict=True):
        kept = attempts[k].worth_keeping(trial)
        if len(kept) == len(trial.cut.corners):
            attempts[k] = trial
        elif len(kept) < len(attempts[k].cut.corners):
            mixed[k] = attempts[k].cut.with_corners(kept)
    for k, trial in zip(mixed, _fitted(list(mixed.values()), known), strict=True):
        if trial.rank <= attempts[k].rank:
            attempts[k] = trial
    return attempts


def _held(outcomes: list[Outcome], known: Known) -> list[Outcome]:
    """The outcomes, of which those that fail are tried again, more and more strictly."""
    outcomes = list(outcomes)
    failing = [k for k, outcome in enumerate(outcomes) if not outcome.holds]
    for share, reach in STRICTER:
        trials = measured(_fitted([outcomes[k].stricter(share, reach) for k in failing], known))
        for k, trial in zip(failing, trials, strict=True):
            # The last ones are what is gone on with, whether they hold or not.
            if trial.holds or (share, reach) == STRICTER[-1]:
                outcomes[k] = trial
        failing = [k for k, trial in zip(failing, trials, strict=True) if not trial.holds]
    failing = [k for k in failing if outcomes[k].task.drawn is None]
    for _ in range(EXTRA_CORNERS):
        trials = measured(_fitted([outcomes[k].cut_at_worst() for k in failing], known))
        for k, trial in zip(failing, trials, strict=True):
            outcomes[k] = trial
        failing = [k for k in failing if not outcomes[k].holds]
    polygons = measured([outcomes[k].with_polygons() for k in failing])
    for k, outcome in zip(failing, polygons, strict=True):
        outcomes[k] = outcome
    return outcomes


def _favoured(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """The outcomes with nodes at extrema and inflections where that costs neither nodes nor the tolerance."""
    runs = [(k, i) for k, outcome in enumerate(outcomes) for i in range(len(outcome.attempt.fits))]
    found = set_at_extrema(
        [outcomes[k].attempt.cut.runs[i] for k, i in runs], [outcomes[k].attempt.fits[i] for k, i in runs]
    )
    better: dict[int, dict[int, RunFit]] = {}
    for (k, i), fit in zip(runs, found, strict=True):
        if fit is not None:
            better.setdefault(k, {})[i] = fit
    made = list(outcomes)
    # At first with all of them; where they do not hold, with the runs that do; where these do not, as before.
    for _ in range(2):
        trials = measured([outcomes[k].with_fits(fits) for k, fits in better.items()])
        again = {}
        for (k, fits), trial in zip(better.items(), trials, strict=True):
            failing = trial.failing()
            if not failing:
                made[k] = trial
            else:
                again[k] = {i: fit for i, fit in fits.items() if i not in failing}
        better = again
    return made
