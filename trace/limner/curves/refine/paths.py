"""Nodes and handles of many paths as arrays, and where their data meet them.

Method: feet are followed by compiled Newton steps (``kernels/feet.c``).

Limits: a foot is found from a near one only.
"""

from dataclasses import dataclass

import numpy as np

from limner.curves.kernels import compiled, whole
from limner.model.arrays import Flags, Floats, Ints

__all__ = [
    "Data",
    "Nodes",
    "controls",
    "distances",
    "follow_feet",
    "moved_to",
    "power_of",
    "subset",
    "unwrapped",
]


@dataclass(frozen=True, slots=True, eq=False)
class Nodes:
    """The unknowns of all paths.

    Parameters
    ----------
    place : ndarray, shape (m, 2)
        Nodes.
    angle : ndarray, shape (m, 2)
        Direction of travel before and after each, radians.
    handle : ndarray, shape (m, 2)
        Lengths of the handles before and after.
    smooth, fixed : ndarray of bool, shape (m,)
        One direction for both sides; place given.
    held : ndarray of bool, shape (m, 2)
        Directions that are given.
    start, end : ndarray of int, shape (s,)
        Nodes of each segment; a path's segments follow each other.
    straight : ndarray of bool, shape (s,)
    before, after : ndarray of int, shape (s,)
        Neighbouring segments; -1 at open ends.
    path : ndarray of int, shape (s,)
        The path that each segment belongs to.
    """

    place: Floats
    angle: Floats
    handle: Floats
    smooth: Flags
    fixed: Flags
    held: Flags
    start: Ints
    end: Ints
    straight: Flags
    before: Ints
    after: Ints
    path: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Data:
    """Samples with their feet: segment and parameter of each, and the tolerance there."""

    points: Floats
    tolerance: Floats
    segment: Ints
    t: Floats


def controls(nodes: Nodes) -> Floats:
    """Control points, shape (s, 4, 2)."""
    a, b = nodes.place[nodes.start], nodes.place[nodes.end]
    out, into = nodes.angle[nodes.start, 1], nodes.angle[nodes.end, 0]
    p1 = a + nodes.handle[nodes.start, 1, None] * np.stack([np.cos(out), np.sin(out)], axis=1)
    p2 = b - nodes.handle[nodes.end, 0, None] * np.stack([np.cos(into), np.sin(into)], axis=1)
    third = (b - a) / 3.0
    straight = nodes.straight[:, None]
    return np.stack([a, np.where(straight, a + third, p1), np.where(straight, b - third, p2), b], axis=1)


def power_of(curves: Floats) -> Floats:
    """Coefficients of the segments' powers, shape (8, s): cubic x, y, quadratic x, y, and so on."""
    p0, p1, p2, p3 = curves[:, 0].T, curves[:, 1].T, curves[:, 2].T, curves[:, 3].T
    power = np.empty((8, len(curves)))
    power[0:2] = p3 - p0 + 3.0 * (p1 - p2)
    power[2:4] = 3.0 * (p0 - 2.0 * p1 + p2)
    power[4:6] = 3.0 * (p1 - p0)
    power[6:8] = p0
    return power


def follow_feet(curves: Floats, nodes: Nodes, data: Data, steps: int = 1) -> Data:
    """Newton steps of the feet, across nodes where need be."""
    segment, t = np.array(data.segment, dtype=np.int64), np.array(data.t)
    compiled.follow_feet(
        curves=np.ascontiguousarray(curves), before=whole(nodes.before), after=whole(nodes.after),
        points=np.ascontiguousarray(data.points), segment=segment, t=t, steps=steps,
    )  # fmt: skip
    return Data(data.points, data.tolerance, segment, t)


def distances(curves: Floats, data: Data) -> Floats:
    """Signed distances, shape (n,), from the samples to the curves at their feet."""
    normal, distance = np.empty(data.points.shape), np.empty(len(data.points))
    compiled.distances(
        curves=np.ascontiguousarray(curves), points=np.ascontiguousarray(data.points),
        segment=whole(data.segment), t=np.ascontiguousarray(data.t), normal=normal, distance=distance,
    )  # fmt: skip
    return distance


def unwrapped(u: Floats, count: int) -> Floats:
    """Parameters on a closed path of so many segments, running on where they pass its first node."""
    laps = np.zeros(len(u))
    np.cumsum(np.round((u[1:] - u[:-1]) / count), out=laps[1:])
    return u - count * laps


def moved_to(nodes: Nodes, place: Floats, angle: Floats, handle: Floats) -> Nodes:
    """The same paths with other places, directions and handles."""
    return Nodes(
        place, angle, handle, nodes.smooth, nodes.fixed, nodes.held, nodes.start, nodes.end,
        nodes.straight, nodes.before, nodes.after, nodes.path,
    )  # fmt: skip


def subset(nodes: Nodes, data: Data, paths: Flags) -> tuple[Nodes, Data, Ints, Ints]:
    """Some of the paths, numbered afresh.

    Parameters
    ----------
    nodes, data
        All paths.
    paths : ndarray of bool
        Which ones are wanted.

    Returns
    -------
    nodes, data
        Those of the paths.
    node_index, sample_index : ndarray of int
        Where their nodes and samples lie among all.
    """
    segments = np.flatnonzero(paths[nodes.path])
    wanted = np.zeros(len(nodes.place), bool)
    wanted[nodes.start[segments]] = wanted[nodes.end[segments]] = True
    at = np.flatnonzero(wanted)
    samples = np.flatnonzero(paths[nodes.path[data.segment]])
    new_node, new_path = np.cumsum(wanted) - 1, np.cumsum(paths) - 1
    new_segment = np.full(len(nodes.start) + 1, -1)
    new_segment[segments] = np.arange(len(segments))
    part = Nodes(
        nodes.place[at], nodes.angle[at], nodes.handle[at], nodes.smooth[at], nodes.fixed[at], nodes.held[at],
        new_node[nodes.start[segments]], new_node[nodes.end[segments]], nodes.straight[segments],
        new_segment[nodes.before[segments]], new_segment[nodes.after[segments]],
        new_path[nodes.path[segments]],
    )  # fmt: skip
    chosen = Data(
        data.points[samples], data.tolerance[samples], new_segment[data.segment[samples]], data.t[samples]
    )
    return part, chosen, at, samples
