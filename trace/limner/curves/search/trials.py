"""Fits of runs with their nodes started at given samples.

Method: the nodes lie at first at the samples that are wished for, their directions and handles as fitted to
each span alone; then `polish` moves them all, looking at some of the samples, first by least squares, then
with the largest distances counting more. At last, segments whose data are straight become straight lines, and
every sample is looked at.

Limits: those of `polish`; the data between the samples are not looked at.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from limner.curves.plan.candidates import Run
from limner.curves.plan.single_cubics import fit_spans
from limner.curves.refine.paths import Data, Nodes, controls, distances, follow_feet, subset, unwrapped
from limner.curves.refine.polish import polish
from limner.curves.refine.straight import aligned, straight_ones
from limner.model.arrays import Flags, Floats, Ints

__all__ = ["FROM_PLAN", "FROM_POLISHED", "Effort", "RunFit", "Wish", "fit_trials"]


# Runs that are worse than this after the even steps, in tolerances, are worth the sharp ones.
LEAST_FOR_SHARP = 0.5
# Runs between these after the sharp steps nearly hold, if they do not: more steps are cheaper than a segment.
SURELY_HELD, NEARLY_HELD = 0.98, 2.5
# Samples per segment that the polish looks at: five per unknown.
SAMPLES_PER_SEGMENT = 40
# A segment shorter than this share of its run's longest has collapsed.
COLLAPSED = 1e-5


@dataclass(frozen=True, slots=True, eq=False)
class RunFit:
    """The fit of one run.

    Parameters
    ----------
    segments : ndarray, shape (k, 4, 2)
    straight : ndarray of bool, shape (k,)
    u : ndarray, shape (n,)
        Parameter (segment + t) of the foot of each of the run's samples; those of a cyclic run may start
        anywhere.
    error : float
        Largest distance of the samples, in tolerances.
    """

    segments: Floats
    straight: Flags
    u: Floats
    error: float


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """Samples of many runs in one row; cyclic runs lie there twice, to be cut anywhere."""

    runs: Sequence[Run]
    flat: Floats
    first: Ints

    @staticmethod
    def of(runs: Sequence[Run]) -> "_Batch":
        rows = [np.concatenate([r.points, r.points[1:]]) if r.cyclic else r.points for r in runs]
        first = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.intp)
        return _Batch(runs, np.concatenate(rows), first)


@dataclass(frozen=True, slots=True, eq=False)
class Wish:
    """Where the nodes of a run are to begin, and what of them is held.

    Parameters
    ----------
    chain : ndarray of int, shape (k + 1,)
        Samples, ends included.
    angle : ndarray, shape (k + 1,) or (k,) for a cyclic run; or None
        Directions of smooth nodes that are held, radians; not a number where free.
    place : ndarray, shape (k + 1, 2) or (k, 2); or None
        Places that are held; not a number where free.
    """

    chain: Ints
    angle: Floats | None = None
    place: Floats | None = None


@dataclass(frozen=True, slots=True)
class Effort:
    """Steps of the polish.

    Parameters
    ----------
    even : int
        By least squares.
    sharp : int
        With the largest distances counting more, for runs that are worth it.
    more : int
        More of these, for runs that then nearly hold.
    """

    even: int
    sharp: int
    more: int


# From the samples that a plan found, whose fits stand alone; from nodes of which most were polished before.
FROM_PLAN = Effort(even=6, sharp=7, more=8)
FROM_POLISHED = Effort(even=3, sharp=7, more=4)


def fit_trials(runs: Sequence[Run], wishes: Sequence[Wish], effort: Effort) -> list[RunFit]:
    """Fits of runs, each started with its nodes as wished."""
    if not runs:
        return []
    batch = _Batch.of(runs)
    nodes, every, where = _assemble(batch, [wish.chain for wish in wishes])
    nodes = _with_wishes(nodes, wishes)
    some = _thinned(runs, where)
    nodes, data = polish(nodes, _part(every, some), steps=effort.even)
    nodes, data = _go_on(nodes, data, effort.sharp, LEAST_FOR_SHARP, np.inf)
    nodes, data = _go_on(nodes, data, effort.more, SURELY_HELD, NEARLY_HELD)
    data = _spread(nodes, data, every, some, where)
    nodes, data = _with_lines(nodes, data, some, every, where)
    return _read(nodes, data, where)


@dataclass(frozen=True, slots=True, eq=False)
class _Where:
    """Where each run's segments and samples lie in a batch."""

    segments: Ints
    samples: Ints


def _assemble(batch: _Batch, chains: list[Ints]) -> tuple[Nodes, Data, _Where]:
    """Nodes and feet of the runs with their nodes at the given samples."""
    runs = batch.runs
    cyclic = np.array([run.cyclic for run in runs])
    count = np.array([len(chain) - 1 for chain in chains])
    first_seg = np.concatenate([[0], np.cumsum(count)]).astype(np.intp)
    run_of = np.repeat(np.arange(len(runs)), count)
    local = np.arange(first_seg[-1]) - first_seg[run_of]
    size = count + np.where(cyclic, 0, 1)
    first_node = np.concatenate([[0], np.cumsum(size)]).astype(np.intp)
    start = first_node[run_of] + local
    end = first_node[run_of] + (local + 1) % size[run_of]
    rim = np.where(cyclic[run_of], count[run_of], 0)
    index = np.arange(first_seg[-1])
    before = np.where(local > 0, index - 1, np.where(rim > 0, index + rim - 1, -1))
    after = np.where(local < count[run_of] - 1, index + 1, np.where(rim > 0, index - rim + 1, -1))
    base = batch.first[:-1]
    chain = np.concatenate([chain + b for chain, b in zip(chains, base, strict=True)])
    at = index + run_of
    cubics = fit_spans(batch.flat, chain[at], chain[at + 1])
    smooth = np.ones(first_node[-1], bool)
    ends = np.concatenate([first_node[:-1][~cyclic], first_node[1:][~cyclic] - 1])
    smooth[ends] = False
    fixed = ~smooth
    for k, run in enumerate(runs):
        if len(run.forced):
            # A node at a change of tolerance stays there.
            at_border = np.isin(chains[k][:-1] % (len(run.points) - 1), run.forced)
            fixed[first_node[k] : first_node[k] + count[k]] |= at_border
    angle, handle = _directions(cubics, start, end, smooth)
    held = np.zeros((len(smooth), 2), bool)
    for k, run in enumerate(runs):
        if run.start_angle is not None:
            angle[first_node[k], 1], held[first_node[k], 1] = run.start_angle, True
        if run.end_angle is not None:
            angle[first_node[k + 1] - 1, 0], held[first_node[k + 1] - 1, 0] = run.end_angle, True
    place = np.empty((len(smooth), 2))
    place[end], place[start] = cubics[:, 3], cubics[:, 0]
    straight = np.zeros(len(start), bool)
    nodes = Nodes(place, angle, handle, smooth, fixed, held, start, end, straight, before, after, run_of)
    data, first_sample = _samples(batch, chain, first_seg)
    return nodes, data, _Where(first_seg, first_sample)


def _with_wishes(nodes: Nodes, wishes: Sequence[Wish]) -> Nodes:
    """The nodes with directions and places that are held."""
    place, angle = nodes.place.copy(), nodes.angle.copy()
    fixed, held = nodes.fixed.copy(), nodes.held.copy()
    # A path's nodes lie in a row; its first segment starts at the first.
    first = nodes.start[np.searchsorted(nodes.path, np.arange(len(wishes)))]
    for base, wish in zip(first, wishes, strict=True):
        if wish.angle is not None:
            at = np.flatnonzero(~np.isnan(wish.angle))
            angle[base + at], held[base + at] = wish.angle[at, None], True
        if wish.place is not None:
            at = np.flatnonzero(~np.isnan(wish.place[:, 0]))
            place[base + at], fixed[base + at] = wish.place[at], True
    return replace(nodes, place=place, angle=angle, fixed=fixed, held=held)


def _directions(cubics: Floats, start: Ints, end: Ints, smooth: Flags) -> tuple[Floats, Floats]:
    """Directions and handles of the nodes, from the cubics that were fitted to each span alone."""
    out, into = cubics[:, 1] - cubics[:, 0], cubics[:, 3] - cubics[:, 2]
    size_out, size_in = np.hypot(*out.T), np.hypot(*into.T)
    chord = np.hypot(*(cubics[:, 3] - cubics[:, 0]).T)
    count = len(smooth)
    unit = np.zeros((count, 2, 2))
    unit[start, 1] = out / np.maximum(size_out, 1e-300)[:, None]
    unit[end, 0] = into / np.maximum(size_in, 1e-300)[:, None]
    unit[smooth] = unit[smooth].sum(axis=1, keepdims=True)
    angle = np.arctan2(unit[:, :, 1], unit[:, :, 0])
    handle = np.zeros((count, 2))
    handle[start, 1] = np.clip(size_out, 0.1 * chord, 0.9 * chord)
    handle[end, 0] = np.clip(size_in, 0.1 * chord, 0.9 * chord)
    return angle, handle


def _samples(batch: _Batch, chain: Ints, first_seg: Ints) -> tuple[Data, Ints]:
    """The samples of the runs with first guesses of their feet."""
    runs = batch.runs
    sizes = np.array([len(run.points) - (1 if run.cyclic else 0) for run in runs])
    first = np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)
    run_of = np.repeat(np.arange(len(runs)), sizes)
    local = np.arange(first[-1]) - first[run_of]
    base = batch.first[:-1]
    head = chain[first_seg[:-1] + np.arange(len(runs))] - base
    cyclic = np.array([run.cyclic for run in runs])
    local = np.where(cyclic[run_of] & (local < head[run_of]), local + sizes[run_of], local)
    where = base[run_of] + local
    at = np.searchsorted(chain, where, side="right") - 1
    segment = np.clip(at - run_of, first_seg[run_of], first_seg[run_of + 1] - 1)
    low, high = chain[segment + run_of], chain[segment + run_of + 1]
    t = np.clip((where - low) / np.maximum(high - low, 1), 0.0, 1.0)
    tolerance = np.concatenate([run.tolerance[:size] for run, size in zip(runs, sizes, strict=True)])
    return Data(batch.flat[where], tolerance, segment, t), first


def _go_on(nodes: Nodes, data: Data, steps: int, low: float, high: float) -> tuple[Nodes, Data]:
    """So many more steps, the largest distances counting more, for the paths with an error in between."""
    count = int(nodes.path[-1]) + 1
    worst = _worst(nodes, data, nodes.path[data.segment], count)
    wanted = (worst > low) & (worst < high)
    if not wanted.any():
        return nodes, data
    return _polished(nodes, data, wanted, steps)


def _polished(nodes: Nodes, data: Data, paths: Flags, steps: int) -> tuple[Nodes, Data]:
    """So many sharp steps for some of the paths."""
    part, chosen, at, samples = subset(nodes, data, paths)
    first = np.flatnonzero(paths[nodes.path])
    part, chosen = polish(part, chosen, steps=steps, sharp=True)
    place, angle, handle = nodes.place.copy(), nodes.angle.copy(), nodes.handle.copy()
    place[at], angle[at], handle[at] = part.place, part.angle, part.handle
    segment, t = data.segment.copy(), data.t.copy()
    segment[samples], t[samples] = first[chosen.segment], chosen.t
    nodes = replace(nodes, place=place, angle=angle, handle=handle)
    return nodes, replace(data, segment=segment, t=t)


def _taken(nodes: Nodes, data: Data, trial: Nodes, trial_data: Data, better: Flags) -> tuple[Nodes, Data]:
    """The trial for the paths where it is better, the old nodes and feet elsewhere."""
    of_node = np.zeros(len(nodes.place), dtype=np.intp)
    of_node[nodes.start], of_node[nodes.end] = nodes.path, nodes.path
    keep, mine = better[of_node][:, None], better[nodes.path[data.segment]]
    return (
        replace(
            nodes,
            place=np.where(keep, trial.place, nodes.place),
            angle=np.where(keep, trial.angle, nodes.angle),
            handle=np.where(keep, trial.handle, nodes.handle),
            straight=np.where(better[nodes.path], trial.straight, nodes.straight),
        ),
        replace(
            data,
            segment=np.where(mine, trial_data.segment, data.segment),
            t=np.where(mine, trial_data.t, data.t),
        ),
    )


def _thinned(runs: Sequence[Run], where: _Where) -> Ints:
    """The samples that the polish looks at: enough for each segment, evenly spread."""
    sizes, count = np.diff(where.samples), np.diff(where.segments)
    stride = np.maximum(sizes // (count * SAMPLES_PER_SEGMENT), 1)
    stride[[run.noisy for run in runs]] = 1
    run_of = np.repeat(np.arange(len(sizes)), sizes)
    local = np.arange(where.samples[-1]) - where.samples[run_of]
    return np.flatnonzero((local % stride[run_of] == 0) | (local == sizes[run_of] - 1))


def _part(data: Data, some: Ints) -> Data:
    return Data(data.points[some], data.tolerance[some], data.segment[some], data.t[some])


def _spread(nodes: Nodes, data: Data, every: Data, some: Ints, where: _Where) -> Data:
    """Feet of all samples, given those of some."""
    u = np.empty(len(every.points))
    bounds = np.searchsorted(some, where.samples)
    for k, (a, b) in enumerate(pairwise(bounds)):
        i, j = where.samples[k], where.samples[k + 1]
        known, size = data.segment[a:b] + data.t[a:b], where.segments[k + 1] - where.segments[k]
        if nodes.before[where.segments[k]] >= 0:
            full = np.interp(np.arange(i, j), some[a:b], unwrapped(known, int(size)))
            u[i:j] = np.mod(full - where.segments[k], size) + where.segments[k]
        else:
            u[i:j] = np.interp(np.arange(i, j), some[a:b], known)
    run_of = np.repeat(np.arange(len(where.samples) - 1), np.diff(where.samples))
    segment = np.minimum(np.floor(u).astype(np.intp), where.segments[run_of + 1] - 1)
    guess = replace(every, segment=segment, t=np.clip(u - segment, 0.0, 1.0))
    return follow_feet(controls(nodes), nodes, guess, steps=3)


def _worst(nodes: Nodes, data: Data, by: Ints, count: int) -> Floats:
    """Largest distance in tolerances, for each value of `by`."""
    worst = np.zeros(count)
    np.maximum.at(worst, by, np.abs(distances(controls(nodes), data)) / data.tolerance)
    return worst


def _read(nodes: Nodes, data: Data, where: _Where) -> list[RunFit]:
    curves = controls(nodes)
    path = nodes.path[data.segment]
    worst = _worst(nodes, data, path, len(where.segments) - 1)
    fits = []
    for k in range(len(where.segments) - 1):
        a, b = where.segments[k], where.segments[k + 1]
        i, j = where.samples[k], where.samples[k + 1]
        u = data.segment[i:j] - a + data.t[i:j]
        # Nodes that have run into each other are no fit.
        chord = np.hypot(*(curves[a:b, 3] - curves[a:b, 0]).T)
        whole = np.isfinite(chord).all() and chord.min() > COLLAPSED * chord.max()
        error = float(worst[k]) if whole and np.isfinite(worst[k]) else np.inf
        fits.append(RunFit(curves[a:b], nodes.straight[a:b], u, error))
    return fits


def _with_lines(nodes: Nodes, data: Data, some: Ints, every: Data, where: _Where) -> tuple[Nodes, Data]:
    """Turn segments into straight lines where the data are straight and the run then still holds."""
    wanted = straight_ones(nodes, data)
    if not wanted.any():
        return nodes, data
    count = int(nodes.path.max()) + 1
    was = _worst(nodes, data, nodes.path[data.segment], count)
    trial = aligned(replace(nodes, straight=wanted))
    asked = np.zeros(count, bool)
    asked[nodes.path[wanted]] = True
    trial, trial_data = _polished(trial, _part(data, some), asked, FROM_PLAN.sharp)
    trial = aligned(trial)
    trial_data = _spread(trial, trial_data, every, some, where)
    now = _worst(trial, trial_data, trial.path[trial_data.segment], count)
    better = asked & (now <= np.maximum(was, 1.0))
    return _taken(nodes, data, trial, trial_data, better)
