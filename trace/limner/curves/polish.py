"""Move all nodes, tangents and handles of many paths together until they meet the data best.

Method: Gauss-Newton with Levenberg-Marquardt damping on the distances along the curve's normals, the foot
points moved along at each step ("tangent distance minimisation": Wang, Pottmann, Liu, ACM TOG 25 (2006),
from memory). Unknowns of a node: its place, the direction and length of each handle; a smooth node has
one direction. Two nodes meet in the normal equations only where a segment joins them, so that they are
banded and all paths are solved at once.

Limits: a local method, it wants a start from `segmentation`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.curves.nodes import (
    Data,
    Nodes,
    controls,
    distances_at,
    lengths,
    moved_to,
    newton,
    power_of,
    subset,
)

__all__ = ["polish"]

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
# Room to move for nodes that coincide, in the size of their coordinates: above their rounding.
SMALLEST_ROOM = 1e-12
# Damping at the start; a step that fails though damped by more than the second has nowhere to go.
FIRST_DAMPING = 1e-3
SETTLED_DAMPING = 10.0
# A path that gains less than this share of its cost by a step has settled.
SETTLED_GAIN = 1e-3
# Newton steps of the feet after each step of the curves.
FOOT_STEPS = 2


def _columns(nodes: Nodes, segment: Ints, t: Floats, nx: Floats, ny: Floats) -> Floats:
    """Change of each distance with its segment's unknowns: x, y, direction, handle of start and end."""
    s = 1.0 - t
    ss, tt = s * s, t * t
    b1, b2 = 3.0 * ss * t, 3.0 * s * tt
    w0, w3 = ss * s + b1, tt * t + b2
    straight = nodes.straight
    out, into = nodes.angle[nodes.start, 1], nodes.angle[nodes.end, 0]
    rows = np.stack(
        [
            np.cos(out), np.sin(out), nodes.handle[nodes.start, 1],
            np.cos(into), np.sin(into), nodes.handle[nodes.end, 0],
        ]
    )  # fmt: skip
    if straight.any():
        rows = rows * ~straight
        line = straight[segment]
        w0, w3 = np.where(line, s, w0), np.where(line, t, w3)
    cos_a, sin_a, h_a, cos_b, sin_b, h_b = rows[:, segment]
    columns = np.empty((8, len(t)))
    columns[0], columns[1], columns[4], columns[5] = w0 * nx, w0 * ny, w3 * nx, w3 * ny
    columns[2], columns[3] = b1 * h_a * (ny * cos_a - nx * sin_a), b1 * (nx * cos_a + ny * sin_a)
    columns[6], columns[7] = -b2 * h_b * (ny * cos_b - nx * sin_b), -b2 * (nx * cos_b + ny * sin_b)
    return columns


def _equations(
    count: int, segment: Ints, columns: Floats, weights: Floats, distance: Floats
) -> tuple[Floats, Floats]:
    """Normal matrices and right-hand sides of all segments, shapes (8, 8, s) and (8, s)."""
    if (segment[1:] < segment[:-1]).any():
        order = np.argsort(segment, kind="stable")
        segment, columns, weights, distance = (
            segment[order],
            columns[:, order],
            weights[order],
            distance[order],
        )
    first = np.flatnonzero(np.concatenate([[True], segment[1:] != segment[:-1]]))
    filled = segment[first]
    matrix, right = np.zeros((8, 8, count)), np.zeros((8, count))
    weighted = columns * weights
    right[:, filled] = np.add.reduceat(weighted * distance, first, axis=1)
    for i in range(8):
        row = np.add.reduceat(weighted[i] * columns[i:], first, axis=1)
        matrix[i, i:, filled] = row.T
        matrix[i:, i, filled] = row
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


@dataclass(frozen=True, slots=True, eq=False)
class _System:
    """Where the segments' equations go in the banded system of all nodes; the same for every step."""

    order: Ints
    unknown: Ints
    live: Bools
    pairs: Ints
    places: Ints
    of_node: Ints

    @staticmethod
    def of(nodes: Nodes) -> "_System":
        m = len(nodes.place)
        order = _fold(nodes)
        owner = np.repeat(np.stack([nodes.start, nodes.end]), 4, axis=0)
        slot = np.broadcast_to(_SLOTS[:, None], owner.shape).copy()
        slot[(slot == 4) & nodes.smooth[owner]] = 2
        unknown = order[owner] * 6 + slot
        frozen = np.zeros((m, 6), bool)
        frozen[:, :2] = nodes.fixed[:, None]
        frozen[:, 2], frozen[:, 4] = nodes.held[:, 0], nodes.held[:, 1]
        live = ~frozen[owner, slot]
        # A straight line has no handles; it has a say in the direction of a smooth node (`_add_lines`).
        kind = (np.arange(8) % 4)[:, None]
        live &= ~(nodes.straight & ((kind == 3) | ((kind == 2) & ~nodes.smooth[owner])))
        rows = np.broadcast_to(unknown[:, None], (8, 8, unknown.shape[1]))
        columns = np.broadcast_to(unknown[None], rows.shape)
        pairs = np.flatnonzero((rows >= columns) & live[:, None] & live[None])
        places = ((rows - columns) * (6 * m) + columns).ravel()[pairs]
        of_node = np.zeros(m, dtype=np.intp)
        of_node[nodes.start], of_node[nodes.end] = nodes.path, nodes.path
        return _System(order, unknown, live, pairs, places, of_node)


def _step(nodes: Nodes, system: _System, matrix: Floats, right: Floats, damping: Floats) -> Floats:
    """Solve the damped normal equations; returns changes, shape (m, 6)."""
    from scipy.linalg.lapack import dpbsv

    m = len(nodes.place)
    size, band = 6 * m, 18
    banded = np.bincount(system.places, matrix.ravel()[system.pairs], band * size).reshape(band, size)
    damp = np.empty(m)
    damp[system.order] = damping[system.of_node]
    diagonal = banded[0]
    banded[0] = np.where(diagonal > 0, diagonal * (1.0 + np.repeat(damp, 6)), 1.0)
    gradient = np.bincount(system.unknown.ravel(), (right * system.live).ravel(), size)
    _, change, failed = dpbsv(banded, -gradient[:, None], lower=1)
    if failed:
        return np.zeros((m, 6))
    out = np.asarray(change).reshape(m, 6)[system.order]
    out[nodes.smooth, 4] = out[nodes.smooth, 2]
    return out


def _moved(nodes: Nodes, change: Floats, of_node: Ints) -> Nodes:
    """Apply changes, held within reason for each path."""
    start, end = nodes.start, nodes.end
    chord = lengths(nodes.place[end] - nodes.place[start])
    shorter = np.full(len(nodes.place), np.inf)
    np.minimum.at(shorter, start, chord)
    np.minimum.at(shorter, end, chord)
    move = lengths(change)
    turn = np.maximum(np.abs(change[:, 2]), np.abs(change[:, 4]))
    # Of nodes that coincide neither may move.
    room = np.maximum(LARGEST_MOVE * shorter, SMALLEST_ROOM * (1.0 + np.abs(nodes.place).max(axis=1)))
    need = np.maximum(move / room, turn / LARGEST_TURN_RAD)
    worst = np.ones(int(nodes.path[-1]) + 1)
    np.maximum.at(worst, of_node, need)
    change = change / worst[of_node][:, None]
    place = nodes.place + change[:, :2]
    angle = nodes.angle + change[:, 2:5:2]
    handle = nodes.handle + change[:, 3:6:2]
    chord = lengths(place[end] - place[start])
    low, high = SHORTEST_HANDLE * chord, LONGEST_HANDLE * chord
    handle[start, 1] = np.minimum(np.maximum(handle[start, 1], low), high)
    handle[end, 0] = np.minimum(np.maximum(handle[end, 0], low), high)
    return moved_to(nodes, place, angle, handle)


def polish(nodes: Nodes, data: Data, *, steps: int, power: float = 2.0) -> tuple[Nodes, Data]:
    """Lower the distances of all paths.

    Parameters
    ----------
    nodes, data
        Start; the feet in `data` need only be near.
    steps : int
        Most Gauss-Newton steps; a path that gains nothing any more gets none.
    power : float
        2: least squares; above: the largest distances count the more.

    Returns
    -------
    nodes, data
        The best found for each path, with the feet on it.
    """
    place, angle, handle = nodes.place.copy(), nodes.angle.copy(), nodes.handle.copy()
    segment, t = data.segment.copy(), data.t.copy()
    walk = _Walk(nodes, data, power)
    at, samples = np.arange(len(place)), np.arange(len(t))
    first_segment = np.arange(len(nodes.start))
    for step in range(steps):
        walk.step()
        settled = walk.settled
        last = step == steps - 1 or bool(settled.all())
        if not last and 2 * int(settled.sum()) < len(settled):
            continue
        place[at], angle[at], handle[at] = walk.nodes.place, walk.nodes.angle, walk.nodes.handle
        segment[samples], t[samples] = first_segment[walk.segment], walk.t
        if last:
            break
        first_segment = first_segment[~settled[walk.nodes.path]]
        at, samples = walk.keep_only(~settled, at, samples)
    return moved_to(nodes, place, angle, handle), Data(data.points, data.tolerance, segment, t)


class _Walk:
    """The descent of some paths: where they are, with all that the next step needs."""

    def __init__(self, nodes: Nodes, data: Data, power: float) -> None:
        self.exponent = power - 2.0
        self._see(nodes, data)
        self.count = int(nodes.path[-1]) + 1
        self.damping = np.full(self.count, FIRST_DAMPING)
        self.settled = np.zeros(self.count, bool)
        curves = controls(nodes)
        coefficients = power_of(curves)
        self.segment, self.t = data.segment, data.t
        for _ in range(3):
            self.segment, self.t = newton(coefficients, nodes, self.segment, self.t, self.x, self.y)
        self.curves = curves
        self.normal_x, self.normal_y, self.distance = distances_at(
            coefficients, self.segment, self.t, self.x, self.y
        )
        self.weights = self._weights()
        self.cost = self._cost(self.segment, self.distance)

    def _see(self, nodes: Nodes, data: Data) -> None:
        self.nodes, self.data = nodes, data
        self.x, self.y = np.ascontiguousarray(data.points.T)
        self.base = 1.0 / data.tolerance**2
        self.system = _System.of(nodes)

    def _weights(self) -> Floats:
        if self.exponent <= 0.0:
            return self.base
        share = np.minimum(np.abs(self.distance) / self.data.tolerance, 3.0)
        return np.asarray(self.base * (0.05 + share**self.exponent))

    def _cost(self, segment: Ints, distance: Floats) -> Floats:
        total = np.bincount(self.nodes.path[segment], self.weights * distance * distance, self.count)
        return np.asarray(total, dtype=np.float64)

    def step(self) -> None:
        """One Gauss-Newton step of every path; those that it does not help stay and are damped more."""
        nodes = self.nodes
        columns = _columns(nodes, self.segment, self.t, self.normal_x, self.normal_y)
        matrix, right = _equations(len(nodes.start), self.segment, columns, self.weights, self.distance)
        _add_pull(nodes, self.curves, matrix, right)
        _add_lines(nodes, self.curves, matrix, right)
        of_node = self.system.of_node
        trial = _moved(nodes, _step(nodes, self.system, matrix, right, self.damping), of_node)
        curves = controls(trial)
        power = power_of(curves)
        segment, t = self.segment, self.t
        for _ in range(FOOT_STEPS):
            segment, t = newton(power, nodes, segment, t, self.x, self.y)
        normal_x, normal_y, distance = distances_at(power, segment, t, self.x, self.y)
        cost = self._cost(segment, distance)
        better = cost < self.cost
        gain = self.cost - cost
        # Where a damped step fails, a smaller one may not: only one that is damped hard settles a path.
        self.settled = np.where(better, gain < SETTLED_GAIN * self.cost, self.damping > SETTLED_DAMPING)
        self.damping = np.where(
            better, np.maximum(self.damping * 0.2, 1e-7), np.minimum(self.damping * 8.0, 1e3)
        )
        if better.all():
            self.nodes, self.curves, self.segment, self.t = trial, curves, segment, t
            self.normal_x, self.normal_y, self.distance = normal_x, normal_y, distance
        else:
            keep, on = better[of_node][:, None], better[nodes.path]
            self.nodes = moved_to(
                nodes,
                np.where(keep, trial.place, nodes.place),
                np.where(keep, trial.angle, nodes.angle),
                np.where(keep, trial.handle, nodes.handle),
            )
            self.curves = np.where(on[:, None, None], curves, self.curves)
            mine = on[self.segment]
            self.segment, self.t = np.where(mine, segment, self.segment), np.where(mine, t, self.t)
            self.normal_x = np.where(mine, normal_x, self.normal_x)
            self.normal_y = np.where(mine, normal_y, self.normal_y)
            self.distance = np.where(mine, distance, self.distance)
        if self.exponent > 0.0:
            self.weights = self._weights()
            self.cost = self._cost(self.segment, self.distance)
        else:
            self.cost = np.where(better, cost, self.cost)

    def keep_only(self, paths: Bools, at: Ints, samples: Ints) -> tuple[Ints, Ints]:
        """Go on with some paths; returns which of the nodes and samples `at`, `samples` they have."""
        old = self.nodes
        now = Data(self.data.points, self.data.tolerance, self.segment, self.t)
        nodes, data, mine, some = subset(old, now, paths)
        self._see(nodes, data)
        self.segment, self.t = data.segment, data.t
        self.curves = self.curves[paths[old.path]]
        self.normal_x, self.normal_y = self.normal_x[some], self.normal_y[some]
        self.distance, self.weights = self.distance[some], self.weights[some]
        self.count = len(nodes.path) and int(nodes.path[-1]) + 1
        self.damping, self.cost, self.settled = self.damping[paths], self.cost[paths], self.settled[paths]
        return at[mine], samples[some]


def _add_pull(nodes: Nodes, curves: Floats, matrix: Floats, right: Floats) -> None:
    chord = lengths(curves[:, 3] - curves[:, 0])
    weight = PULL * (matrix[0, 0] + matrix[1, 1] + matrix[4, 4] + matrix[5, 5])
    weight = np.where(nodes.straight, 0.0, weight)
    for column, handle in ((3, nodes.handle[nodes.start, 1]), (7, nodes.handle[nodes.end, 0])):
        matrix[column, column] += weight
        right[column] += weight * (handle - chord / 2.7)


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
    weight = LINE_WEIGHT * (matrix[0, 0, which] + matrix[1, 1, which] + 1e-300) * length[which] ** 2
    for column, off, end in ((2, off_out, nodes.start), (6, off_in, nodes.end)):
        row = np.zeros((len(which), 8))
        row[:, 0:2], row[:, 4:6] = across, -across
        row[:, column] = 1.0
        row *= np.sqrt(weight)[:, None] * nodes.smooth[end[which], None]
        matrix[:, :, which] += row.T[:, None] * row.T[None]
        right[:, which] += row.T * (np.sqrt(weight) * off[which])
