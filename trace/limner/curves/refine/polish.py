"""Move all nodes, tangents and handles of many paths together until they meet the data best.

Method: Gauss-Newton with Levenberg-Marquardt damping on the distances along the curve's normals, the foot
points moved along at each step ("tangent distance minimisation": Wang, Pottmann, Liu, ACM TOG 25 (2006),
from memory). Unknowns of a node: its place, the direction and length of each handle; a smooth node has
one direction. `equations` sets the normal equations of all segments up, `solver` solves those of all paths.

Limits: a local method, it wants a start from `segmentation`.
"""

import numpy as np

from limner.curves.kernels import compiled, whole
from limner.curves.refine.equations import LINE_WEIGHT, PULL, PULLED_TO, normal_equations
from limner.curves.refine.paths import Data, Nodes, controls, feet_and_distances, lengths, moved_to, subset
from limner.curves.refine.solver import System
from limner.model.arrays import Flags, Floats, Ints

__all__ = ["polish"]


# Longest and shortest handles in chords: beyond, a cubic bends in on itself or kinks.
LONGEST_HANDLE = 1.2
SHORTEST_HANDLE = 0.03
# Per step, a node moves at most this share of its shorter chord, and turns at most so far.
LARGEST_MOVE = 0.2
LARGEST_TURN_RAD = 0.25
# Room to move for nodes that coincide, in the size of their coordinates: above their rounding.
SMALLEST_ROOM = 1e-12
# Damping at the start; a step that fails though damped by more than the second has nowhere to go.
FIRST_DAMPING = 1e-3
SETTLED_DAMPING = 10.0
# A path that gains less than this share of its cost by a step has settled.
SETTLED_GAIN = 1e-3
# Newton steps of the feet at the start, and after each step of the curves.
FIRST_FOOT_STEPS = 3
FOOT_STEPS = 2
# With sharp weights, a distance counts by its fourth power, up to so many tolerances, and a little anyhow.
SHARP_MOST = 3.0
SHARP_LEAST = 0.05


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


def polish(nodes: Nodes, data: Data, *, steps: int, sharp: bool = False) -> tuple[Nodes, Data]:
    """Lower the distances of all paths.

    Parameters
    ----------
    nodes, data
        Start; the feet in `data` need only be near.
    steps : int
        Most Gauss-Newton steps; a path that gains nothing any more gets none.
    sharp : bool
        Whether the largest distances count the more, as in a sum of sixth powers; else least squares.

    Returns
    -------
    nodes, data
        The best found for each path, with the feet on it.
    """
    if compiled is None:
        return _polish(nodes, data, steps, sharp)
    place, angle, handle = np.array(nodes.place), np.array(nodes.angle), np.array(nodes.handle)
    segment, t = np.array(data.segment, dtype=np.int64), np.array(data.t)
    as_is = np.ascontiguousarray
    compiled.polish(
        place, angle, handle, as_is(nodes.smooth), as_is(nodes.fixed), as_is(nodes.held),
        whole(nodes.start), whole(nodes.end), whole(nodes.before), whole(nodes.after), whole(nodes.path),
        as_is(nodes.straight), as_is(data.points), as_is(data.tolerance), segment, t, _RULES, steps, sharp,
    )  # fmt: skip
    return moved_to(nodes, place, angle, handle), Data(data.points, data.tolerance, segment, t)


# In the order of the kernel's `polish_rules`.
_RULES = np.array([
    LONGEST_HANDLE, SHORTEST_HANDLE, LARGEST_MOVE, LARGEST_TURN_RAD, SMALLEST_ROOM,
    FIRST_DAMPING, SETTLED_DAMPING, SETTLED_GAIN, SHARP_MOST, SHARP_LEAST,
    PULL, PULLED_TO, LINE_WEIGHT, FIRST_FOOT_STEPS, FOOT_STEPS,
])  # fmt: skip


def _polish(nodes: Nodes, data: Data, steps: int, sharp: bool) -> tuple[Nodes, Data]:
    place, angle, handle = nodes.place.copy(), nodes.angle.copy(), nodes.handle.copy()
    segment, t = data.segment.copy(), data.t.copy()
    walk = _Walk(nodes, data, sharp)
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

    def __init__(self, nodes: Nodes, data: Data, sharp: bool) -> None:
        self.sharp = sharp
        self._see(nodes, data)
        self.count = int(nodes.path[-1]) + 1
        self.damping = np.full(self.count, FIRST_DAMPING)
        self.settled = np.zeros(self.count, bool)
        curves = controls(nodes)
        self.curves = curves
        self.segment, self.t, self.normal_x, self.normal_y, self.distance = feet_and_distances(
            curves, nodes, data.segment, data.t, self.x, self.y, FIRST_FOOT_STEPS
        )
        self.weights = self._weights()
        self.cost = self._cost(self.segment, self.distance)

    def _see(self, nodes: Nodes, data: Data) -> None:
        self.nodes, self.data = nodes, data
        self.x, self.y = np.ascontiguousarray(data.points.T)
        self.base = 1.0 / data.tolerance**2
        self.system = System.of(nodes)

    def _weights(self) -> Floats:
        if not self.sharp:
            return self.base
        share2 = np.minimum(self.distance * self.distance * self.base, SHARP_MOST * SHARP_MOST)
        return np.asarray(self.base * (SHARP_LEAST + share2 * share2))

    def _cost(self, segment: Ints, distance: Floats) -> Floats:
        total = np.bincount(self.nodes.path[segment], self.weights * distance * distance, self.count)
        return np.asarray(total, dtype=np.float64)

    def step(self) -> None:
        """One Gauss-Newton step of every path; those that it does not help stay and are damped more."""
        nodes = self.nodes
        matrix, right = normal_equations(
            nodes, self.curves, self.segment, self.t,
            self.normal_x, self.normal_y, self.distance, self.weights,
        )  # fmt: skip
        of_node = self.system.of_node
        trial = _moved(nodes, self.system.solve(matrix, right, self.damping), of_node)
        curves = controls(trial)
        segment, t, normal_x, normal_y, distance = feet_and_distances(
            curves, nodes, self.segment, self.t, self.x, self.y, FOOT_STEPS
        )
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
        if self.sharp:
            self.weights = self._weights()
            self.cost = self._cost(self.segment, self.distance)
        else:
            self.cost = np.where(better, cost, self.cost)

    def keep_only(self, paths: Flags, at: Ints, samples: Ints) -> tuple[Ints, Ints]:
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
