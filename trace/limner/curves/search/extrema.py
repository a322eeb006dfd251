"""Nodes where a designer would set them: at extrema and inflections.

Method: on the fitted curve, the places with a horizontal or vertical tangent and those without curvature are
the roots of quadratics. A smooth node near one of them is set there: at an extremum with its direction held
along the axis, at an inflection with its place held. The runs are then fitted again from these nodes, the
number of segments unchanged; whoever asks decides whether the result is taken.

Limits: a node is drawn to a place by at most half of its segment; the other nodes follow as the data want.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from limner.curves.plan.candidates import Run
from limner.curves.refine.paths import power_of
from limner.curves.search.trials import FROM_POLISHED, RunFit, Wish, fit_trials
from limner.model.arrays import Floats, Ints

__all__ = ["set_at_extrema"]


# These shares of a run's nodes are moved, those with the shortest way; tried one after the other.
MOVED = (1.0, 0.5)
# A node is drawn no farther than this share of its segment to an extremum, and so much less far to an
# inflection.
FARTHEST = 0.5
# Where no node is farther from its place than this share of its segment, all are there already.
NEAR_ENOUGH = 0.003
# An inflection must be nearer than an extremum by this factor to count as much.
EXTREMUM_FIRST = 4.0


def set_at_extrema(runs: Sequence[Run], fits: Sequence[RunFit]) -> list[RunFit | None]:
    """Fits of the runs with nodes at extrema and inflections.

    Parameters
    ----------
    runs : sequence of Run
    fits : sequence of RunFit
        What is known; the number of segments stays.

    Returns
    -------
    list of RunFit or None
        In the order of the runs; None where no node can be moved, or none to any good.
    """
    made: list[RunFit | None] = [None] * len(runs)
    todo = [k for k, fit in enumerate(fits) if len(fit.segments) > 1]
    for share in MOVED:
        found = _wishes([runs[k] for k in todo], [fits[k] for k in todo], share) if todo else []
        asked = [(k, wish) for k, wish in zip(todo, found, strict=True) if wish is not None]
        trials = fit_trials([runs[k] for k, _ in asked], [wish for _, wish in asked], FROM_POLISHED)
        for (k, _), trial in zip(asked, trials, strict=True):
            if trial.error <= 1.0 and (trial.straight == fits[k].straight).all():
                made[k] = trial
        todo = [k for k in todo if made[k] is None]
    return made


def _wishes(runs: Sequence[Run], fits: Sequence[RunFit], share: float) -> list[Wish | None]:
    """Where the nodes of each run are wanted; None where none would move, or they would meet."""
    count = np.array([len(fit.segments) for fit in fits])
    first = np.cumsum(count) - count
    segments = np.concatenate([fit.segments for fit in fits])
    straight = np.concatenate([fit.straight for fit in fits])
    node, u, angle, shift = _places(segments, straight)
    made: list[Wish | None] = []
    bounds = np.searchsorted(u, np.append(first, len(segments)))
    for k, (run, fit) in enumerate(zip(runs, fits, strict=True)):
        mine = np.arange(bounds[k], bounds[k + 1])
        local, size = node[mine] - first[k], len(fit.segments)
        if run.cyclic:
            local = local % size
        free = _free(run, fit)
        mine, local = mine[free[local]], local[free[local]]
        # The nearest place for each node, as seen from it.
        order = np.lexsort((np.abs(shift[mine]), local))
        mine, local = mine[order], local[order]
        nearest = np.append(True, local[1:] != local[:-1])[: len(local)]
        mine, local = mine[nearest], local[nearest]
        closest = np.argsort(np.abs(shift[mine]), kind="stable")[: int(np.ceil(share * len(mine)))]
        mine, local = mine[closest], local[closest]
        if len(mine) and np.abs(shift[mine]).max() > NEAR_ENOUGH:
            made.append(_wish(run, fit, local, u[mine] - first[k], angle[mine]))
        else:
            made.append(None)
    return made


def _free(run: Run, fit: RunFit) -> NDArray[np.bool_]:
    """Which of a run's nodes may be moved: not its ends, nor those of straight lines, nor forced ones."""
    straight = fit.straight
    free = np.ones(len(straight) + 1, bool)
    free[:-1] &= ~straight
    free[1:] &= ~straight
    if run.cyclic:
        free[0] = not (straight[0] or straight[-1])
        return free[:-1] & (len(run.forced) == 0)
    free[[0, -1]] = False
    return free & (len(run.forced) == 0)


def _places(segments: Floats, straight: NDArray[np.bool_]) -> tuple[Ints, Floats, Floats, Floats]:
    """Extrema and inflections near nodes: node, parameter (segment + t), direction, share of the segment.

    The direction of an inflection is not a number; its share is weighted.
    """
    a_x, a_y, b_x, b_y, c_x, c_y, _, _ = power_of(segments)
    bent = np.stack([a_x * b_y - a_y * b_x, a_x * c_y - a_y * c_x, b_x * c_y - b_y * c_x])
    quadratics = np.stack(
        [
            np.stack([3.0 * a_x, 2.0 * b_x, c_x]),
            np.stack([3.0 * a_y, 2.0 * b_y, c_y]),
            # Cross product of first and second derivative, over minus two.
            np.stack([3.0 * bent[0], 3.0 * bent[1], bent[2]]),
        ]
    )
    t = _roots(quadratics)
    kind, segment, root = np.nonzero((t >= 0.0) & (t <= 1.0) & ~straight[None, :, None])
    t = t[kind, segment, root]
    dx = (3.0 * a_x[segment] * t + 2.0 * b_x[segment]) * t + c_x[segment]
    dy = (3.0 * a_y[segment] * t + 2.0 * b_y[segment]) * t + c_y[segment]
    angle = np.where(kind == 0, np.copysign(np.pi / 2, dy), np.where(dx < 0, np.pi, 0.0))
    angle[kind == 2] = np.nan
    late = t > 0.5
    shift = np.where(late, t - 1.0, t)
    node = segment + late
    weighted = shift * np.where(kind == 2, EXTREMUM_FIRST, 1.0)
    near = np.flatnonzero(np.abs(weighted) <= FARTHEST)
    order = near[np.argsort((segment + t)[near], kind="stable")]
    return node[order].astype(np.intp), (segment + t)[order], angle[order], weighted[order]


def _roots(quadratics: Floats) -> Floats:
    """Real roots of quadratics, shape (k, 3, s), as (k, s, 2); not a number where there are none."""
    a, b, c = quadratics[:, 0], quadratics[:, 1], quadratics[:, 2]
    disc = b * b - 4.0 * a * c
    # The larger part first, as the other root would lose digits: both follow from it.
    half = -0.5 * (b + np.copysign(np.sqrt(np.maximum(disc, 0.0)), b))
    with np.errstate(divide="ignore", invalid="ignore"):
        roots = np.stack([half / a, c / half], axis=2)
    roots[disc < 0.0] = np.nan
    return roots


def _wish(run: Run, fit: RunFit, local: Ints, u: Floats, angle: Floats) -> Wish | None:
    """The chain of samples nearest to all nodes, some of which have moved to `u`.

    None where neighbours have met or passed each other: both may have been drawn into the same segment, or
    a segment is shorter than a step.
    """
    size = len(fit.segments)
    wanted = np.arange(size + 1, dtype=np.float64)
    # A place before the first node of a closed run lies in its last segment.
    wanted[local] = np.where(u - local > 0.5, u - size, u)
    turn = np.full(size + 1, np.nan)
    turn[local] = angle
    place = np.full((size + 1, 2), np.nan)
    still = local[np.isnan(angle)]
    place[still] = _at(fit.segments, wanted[still] % size)
    if not run.cyclic:
        chain = np.searchsorted(fit.u, wanted).astype(np.intp)
        chain[0], chain[-1] = 0, len(run.points) - 1
    else:
        wanted, turn, place = wanted[:-1], turn[:-1], place[:-1]
        away = np.abs((fit.u[None] - wanted[:, None] + size / 2.0) % size - size / 2.0)
        chain = away.argmin(axis=1)
        order = (np.arange(size) + chain.argmin()) % size
        chain, turn, place = chain[order], turn[order], place[order]
        chain = np.append(chain, chain[0] + len(run.points) - 1)
    return Wish(chain, turn, place) if (chain[1:] > chain[:-1]).all() else None


def _at(segments: Floats, u: Floats) -> Floats:
    """Places on a path at parameters (segment + t)."""
    which = np.minimum(u.astype(np.intp), len(segments) - 1)
    t = (u - which)[:, None]
    p0, p1, p2, p3 = segments[which].transpose(1, 0, 2)
    s = 1.0 - t
    return np.asarray(s**3 * p0 + 3.0 * s * s * t * p1 + 3.0 * s * t * t * p2 + t**3 * p3)
