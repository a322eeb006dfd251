"""Move all nodes, tangents and handles of many paths together until they meet the data best.

Method: Gauss-Newton with Levenberg-Marquardt damping on the distances along the curve's normals, the foot
points moved along at each step ("tangent distance minimisation": Wang, Pottmann, Liu, ACM TOG 25 (2006),
from memory). Unknowns of a node: its place, the direction and length of each handle; a smooth node has
one direction. Two nodes meet in the normal equations only where a segment joins them, so that they are
banded and all paths are solved at once.

Limits: a local method, it wants a start from `segmentation`.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["Data", "Nodes", "controls", "distances", "follow_feet", "polish"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

# Longest and shortest handles in chords: beyond, a cubic bends in on itself or kinks.
LONGEST_HANDLE = 1.2
SHORTEST_HANDLE = 0.03
# Per step, a node moves at most this share of its shorter chord, and turns at most so far.
LARGEST_MOVE = 0.2
LARGEST_TURN_RAD = 0.25
# Weight of the pull on handles towards a third of the chord, against that of the data: it decides only
# what the data leave open.
PULL = 1e-8
# Weight of a straight line's say in the direction of its smooth ends, against that of its data.
LINE_WEIGHT = 100.0


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
    smooth: Bools
    fixed: Bools
    held: Bools
    start: Ints
    end: Ints
    straight: Bools
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


def _power(curves: Floats) -> Floats:
    p0, p1, p2, p3 = curves[:, 0], curves[:, 1], curves[:, 2], curves[:, 3]
    return np.concatenate([-p0 + 3 * p1 - 3 * p2 + p3, 3 * (p0 - 2 * p1 + p2), 3 * (p1 - p0), p0], axis=1)


def follow_feet(curves: Floats, nodes: Nodes, data: Data, steps: int = 1) -> Data:
    """Newton steps of the feet, across nodes where need be."""
    power, segment, t = _power(curves), data.segment, data.t
    for _ in range(steps):
        a_x, a_y, b_x, b_y, c_x, c_y, d_x, d_y = power[segment].T
        rx = ((a_x * t + b_x) * t + c_x) * t + d_x - data.points[:, 0]
        ry = ((a_y * t + b_y) * t + c_y) * t + d_y - data.points[:, 1]
        dx, dy = (3 * a_x * t + 2 * b_x) * t + c_x, (3 * a_y * t + 2 * b_y) * t + c_y
        speed2 = dx * dx + dy * dy
        bend = speed2 + rx * (6 * a_x * t + 2 * b_x) + ry * (6 * a_y * t + 2 * b_y)
        change = (rx * dx + ry * dy) / (np.maximum(bend, 0.3 * speed2) + 1e-300)
        t = t - np.clip(change, -0.3, 0.3)
        low, high = t < 0.0, t > 1.0
        ahead, back = nodes.after[segment], nodes.before[segment]
        moves = (low & (back >= 0)) | (high & (ahead >= 0))
        segment = np.where(low & (back >= 0), back, np.where(high & (ahead >= 0), ahead, segment))
        t = np.where(moves, np.where(low, 1.0, 0.0), np.clip(t, 0.0, 1.0))
    return replace(data, segment=segment, t=t)


def distances(curves: Floats, data: Data) -> tuple[Floats, Floats, Floats]:
    """Unit directions and signed distances from the samples to the curves at their feet.

    Returns
    -------
    normal_x, normal_y, distance : ndarray, shape (n,)
    """
    power, t = _power(curves), data.t
    a_x, a_y, b_x, b_y, c_x, c_y, d_x, d_y = power[data.segment].T
    rx = ((a_x * t + b_x) * t + c_x) * t + d_x - data.points[:, 0]
    ry = ((a_y * t + b_y) * t + c_y) * t + d_y - data.points[:, 1]
    dx, dy = (3 * a_x * t + 2 * b_x) * t + c_x, (3 * a_y * t + 2 * b_y) * t + c_y
    speed = np.sqrt(dx * dx + dy * dy) + 1e-300
    nx, ny = -dy / speed, dx / speed
    # At a segment's end the foot is no foot: the distance is that to the point itself.
    size = np.sqrt(rx * rx + ry * ry)
    at_end = ((t <= 0.0) | (t >= 1.0)) & (size > 1e-300)
    nx, ny = np.where(at_end, rx / (size + 1e-300), nx), np.where(at_end, ry / (size + 1e-300), ny)
    return nx, ny, rx * nx + ry * ny


def _columns(nodes: Nodes, data: Data, nx: Floats, ny: Floats) -> Floats:
    """Change of each distance with its segment's unknowns: x, y, direction, handle of start and end."""
    t, seg = data.t, data.segment
    s = 1.0 - t
    b0, b1, b2, b3 = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
    straight = nodes.straight
    out, into = nodes.angle[nodes.start, 1], nodes.angle[nodes.end, 0]
    curved = ~straight
    rows = [np.cos(out), np.sin(out), nodes.handle[nodes.start, 1]]
    rows += [np.cos(into), np.sin(into), nodes.handle[nodes.end, 0]]
    per_segment = np.stack([*(row * curved for row in rows), straight.astype(float)])
    cos_a, sin_a, h_a, cos_b, sin_b, h_b, line = per_segment[:, seg]
    w0 = np.where(line > 0, s, b0 + b1)
    w3 = np.where(line > 0, t, b2 + b3)
    return np.stack(
        [
            w0 * nx, w0 * ny, b1 * h_a * (ny * cos_a - nx * sin_a), b1 * (nx * cos_a + ny * sin_a),
            w3 * nx, w3 * ny, -b2 * h_b * (ny * cos_b - nx * sin_b), -b2 * (nx * cos_b + ny * sin_b),
        ]
    )  # fmt: skip


def _equations(nodes: Nodes, data: Data, weights: Floats, curves: Floats) -> tuple[Floats, Floats]:
    """Normal matrices and right-hand sides of all segments, shapes (s, 8, 8) and (s, 8)."""
    nx, ny, distance = distances(curves, data)
    columns = _columns(nodes, data, nx, ny)
    count = len(nodes.start)
    matrix, right = np.empty((count, 8, 8)), np.empty((count, 8))
    weighted = columns * weights
    for i in range(8):
        right[:, i] = np.bincount(data.segment, weighted[i] * distance, count)
        for j in range(i, 8):
            matrix[:, i, j] = matrix[:, j, i] = np.bincount(data.segment, weighted[i] * columns[j], count)
    return matrix, right


# Where a segment's eight unknowns lie among the six of each of its nodes:
# x, y, direction before, handle before, direction after, handle after.
_SLOTS = np.array([0, 1, 4, 5, 0, 1, 2, 3])


def _fold(nodes: Nodes) -> Ints:
    """Order of the nodes in which those joined by a segment are at most two places apart."""
    m = len(nodes.place)
    rank = np.arange(m)
    closing = np.flatnonzero(nodes.end < nodes.start)
    for k in closing:
        low, high = int(nodes.end[k]), int(nodes.start[k])
        size = high - low + 1
        half = np.arange(size)
        rank[low : high + 1] = low + np.where(half < (size + 1) // 2, 2 * half, 2 * (size - 1 - half) + 1)
    return rank


def _step(nodes: Nodes, matrix: Floats, right: Floats, damping: Floats) -> Floats:
    """Solve the damped normal equations; returns changes, shape (m, 6)."""
    from scipy.linalg import solveh_banded

    m = len(nodes.place)
    rank = _fold(nodes)
    owner = np.repeat(np.stack([nodes.start, nodes.end], axis=1), 4, axis=1)
    slot = np.broadcast_to(_SLOTS, owner.shape).copy()
    slot[(slot == 4) & nodes.smooth[owner]] = 2
    unknown = rank[owner] * 6 + slot
    frozen = np.zeros((m, 6), bool)
    frozen[:, :2] = nodes.fixed[:, None]
    frozen[:, 2], frozen[:, 4] = nodes.held[:, 0], nodes.held[:, 1]
    live = ~frozen[owner, slot]
    # A straight line has no handles; it has a say in the direction of a smooth node (`_add_lines`).
    kind = np.arange(8) % 4
    live &= ~(nodes.straight[:, None] & ((kind == 3) | ((kind == 2) & ~nodes.smooth[owner])))
    matrix = matrix * (live[:, :, None] & live[:, None, :])
    right = right * live
    size, band = 6 * m, 18
    rows = np.broadcast_to(unknown[:, :, None], matrix.shape)
    cols = np.broadcast_to(unknown[:, None, :], matrix.shape)
    lower = rows >= cols
    flat = (rows[lower] - cols[lower]) * size + cols[lower]
    banded = np.bincount(flat, matrix[lower], band * size).reshape(band, size)
    damp = np.empty(m)
    damp[rank] = damping
    diagonal = banded[0]
    banded[0] = np.where(diagonal > 0, diagonal * (1.0 + np.repeat(damp, 6)), 1.0)
    gradient = np.bincount(unknown.ravel(), right.ravel(), size)
    change = solveh_banded(banded, -gradient, lower=True, check_finite=False)
    out = np.asarray(change).reshape(m, 6)[rank]
    out[nodes.smooth, 4] = out[nodes.smooth, 2]
    return out


def _moved(nodes: Nodes, change: Floats) -> Nodes:
    """Apply changes, held within reason for each path."""
    chord = np.hypot(*(nodes.place[nodes.end] - nodes.place[nodes.start]).T)
    shorter = np.full(len(nodes.place), np.inf)
    np.minimum.at(shorter, nodes.start, chord)
    np.minimum.at(shorter, nodes.end, chord)
    move = np.hypot(change[:, 0], change[:, 1])
    turn = np.abs(change[:, [2, 4]]).max(axis=1)
    need = np.maximum(move / (LARGEST_MOVE * shorter + 1e-300), turn / LARGEST_TURN_RAD)
    count = int(nodes.path.max()) + 1
    worst = np.zeros(count)
    np.maximum.at(worst, nodes.path, np.maximum(need[nodes.start], need[nodes.end]))
    of_node = np.zeros(len(nodes.place), dtype=np.intp)
    of_node[nodes.start], of_node[nodes.end] = nodes.path, nodes.path
    change = change / np.maximum(worst, 1.0)[of_node][:, None]
    place = nodes.place + change[:, :2]
    angle = nodes.angle + change[:, [2, 4]]
    handle = nodes.handle + change[:, [3, 5]]
    chord = np.hypot(*(place[nodes.end] - place[nodes.start]).T)
    handle[nodes.start, 1] = np.clip(handle[nodes.start, 1], SHORTEST_HANDLE * chord, LONGEST_HANDLE * chord)
    handle[nodes.end, 0] = np.clip(handle[nodes.end, 0], SHORTEST_HANDLE * chord, LONGEST_HANDLE * chord)
    return replace(nodes, place=place, angle=angle, handle=handle)


def polish(nodes: Nodes, data: Data, *, steps: int, power: float = 2.0) -> tuple[Nodes, Data]:
    """Lower the distances of all paths.

    Parameters
    ----------
    nodes, data
        Start; the feet in `data` need only be near.
    steps : int
        Gauss-Newton steps.
    power : float
        2: least squares; above: the largest distances count the more.

    Returns
    -------
    nodes, data
        The best found for each path, with the feet on it.
    """
    count = int(nodes.path.max()) + 1
    damping = np.full(count, 1e-3)
    curves = controls(nodes)
    data = follow_feet(curves, nodes, data, steps=3)
    weights = _weights(curves, data, power)
    cost = _cost(curves, nodes, data, weights, count)
    of_node = np.zeros(len(nodes.place), dtype=np.intp)
    of_node[nodes.start], of_node[nodes.end] = nodes.path, nodes.path
    for _ in range(steps):
        matrix, right = _equations(nodes, data, weights, curves)
        _add_pull(nodes, curves, matrix, right)
        _add_lines(nodes, curves, matrix, right)
        trial = _moved(nodes, _step(nodes, matrix, right, damping[of_node]))
        trial_curves = controls(trial)
        trial_data = follow_feet(trial_curves, trial, data, steps=2)
        trial_cost = _cost(trial_curves, trial, trial_data, weights, count)
        better = trial_cost < cost
        damping = np.where(better, np.maximum(damping * 0.2, 1e-7), np.minimum(damping * 8.0, 1e3))
        keep = better[of_node][:, None]
        nodes = replace(
            nodes,
            place=np.where(keep, trial.place, nodes.place),
            angle=np.where(keep, trial.angle, nodes.angle),
            handle=np.where(keep, trial.handle, nodes.handle),
        )
        mine = better[nodes.path[data.segment]]
        data = replace(
            data,
            segment=np.where(mine, trial_data.segment, data.segment),
            t=np.where(mine, trial_data.t, data.t),
        )
        curves = controls(nodes)
        if power > 2.0:
            weights = _weights(curves, data, power)
            cost = _cost(curves, nodes, data, weights, count)
        else:
            cost = np.where(better, trial_cost, cost)
    return nodes, data


def _weights(curves: Floats, data: Data, power: float) -> Floats:
    base = 1.0 / data.tolerance**2
    if power <= 2.0:
        return np.asarray(base)
    _, _, distance = distances(curves, data)
    return np.asarray(base * (0.05 + np.minimum(np.abs(distance) / data.tolerance, 3.0) ** (power - 2.0)))


def _cost(curves: Floats, nodes: Nodes, data: Data, weights: Floats, count: int) -> Floats:
    _, _, distance = distances(curves, data)
    total = np.bincount(nodes.path[data.segment], weights * distance * distance, count)
    return np.asarray(total, dtype=np.float64)


def _add_pull(nodes: Nodes, curves: Floats, matrix: Floats, right: Floats) -> None:
    chord = np.hypot(*(curves[:, 3] - curves[:, 0]).T)
    weight = PULL * (matrix[:, 0, 0] + matrix[:, 1, 1] + matrix[:, 4, 4] + matrix[:, 5, 5])
    weight = np.where(nodes.straight, 0.0, weight)
    for column, handle in ((3, nodes.handle[nodes.start, 1]), (7, nodes.handle[nodes.end, 0])):
        matrix[:, column, column] += weight
        right[:, column] += weight * (handle - chord / 2.7)


def _line_misfit(nodes: Nodes, curves: Floats) -> tuple[Floats, Floats, Floats]:
    """Chord lengths of the straight segments and how far the directions at their ends are off, radians."""
    chord = curves[:, 3] - curves[:, 0]
    along = np.arctan2(chord[:, 1], chord[:, 0])
    off = np.stack([nodes.angle[nodes.start, 1] - along, nodes.angle[nodes.end, 0] - along])
    off = np.arctan2(np.sin(off), np.cos(off))
    joined = np.stack([nodes.smooth[nodes.start], nodes.smooth[nodes.end]]) & nodes.straight
    return (
        np.hypot(chord[:, 0], chord[:, 1]),
        np.where(joined[0], off[0], 0.0),
        np.where(joined[1], off[1], 0.0),
    )


def _add_lines(nodes: Nodes, curves: Floats, matrix: Floats, right: Floats) -> None:
    """Make the directions at smooth ends of straight lines follow the lines, by heavy equations."""
    which = np.flatnonzero(nodes.straight)
    if not len(which):
        return
    length, off_out, off_in = _line_misfit(nodes, curves)
    length = np.maximum(length, 1e-300)
    chord = (curves[which, 3] - curves[which, 0]) / length[which, None]
    across = np.stack([-chord[:, 1], chord[:, 0]], axis=1) / length[which, None]
    weight = LINE_WEIGHT * (matrix[which, 0, 0] + matrix[which, 1, 1] + 1e-300) * length[which] ** 2
    for column, off, end in ((2, off_out, nodes.start), (6, off_in, nodes.end)):
        row = np.zeros((len(which), 8))
        row[:, 0:2], row[:, 4:6] = across, -across
        row[:, column] = 1.0
        row *= np.sqrt(weight)[:, None] * nodes.smooth[end[which], None]
        matrix[which] += row[:, :, None] * row[:, None, :]
        right[which] += row * (np.sqrt(weight) * off[which])[:, None]
