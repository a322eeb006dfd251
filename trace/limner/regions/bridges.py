"""Candidates for bridges over gaps in the pencil.

Method: every free end looks ahead. A candidate leads to another end, or to a line that it would meet. It
costs more the longer it is and the more the line would have to turn at both ends; a candidate that costs
1 or more is none. Its curve is the cubic that leaves both ends in the direction in which the pencil was
going, with arms as long as those of a circular arc of the same turn (d / (3 cos^2(turn / 4)), which
follows from the classical arm (4/3) tan(turn / 4) r). Candidates that would run over ink are dropped.

Limits: an end knows its direction from its last two line widths; a line that stops inside a bend deceives
it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from limner.model.regionmap import LineGraph

__all__ = ["Bridge", "End", "LineIndex", "candidates", "crosses", "find_ends"]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

# Length of line that tells where an end is heading, in line widths.
_HEADING_WIDTHS = 3.0
_TIP_SKIP_WIDTHS = 0.3
# Shorter lines than this give a chord, but no tangent.
_PARABOLA_WIDTHS = 1.5

# A bridge between ends turns at both of them. Half the sum of the turns is its bend, half the difference
# its kink: a circle's arc has no kink, an S has no bend. Values at which a bridge costs twice its length, and
# the largest turn at all.
_BEND_DEG = 70.0
_KINK_DEG = 40.0
_LARGEST_TURN_DEG = 115.0

# The same towards a line, where nothing on the other side confirms the direction.
_LINE_TURN_DEG = 40.0
_LARGEST_LINE_TURN_DEG = 75.0

# A bridge to a line costs so much more than one to another end that continues it.
_LINE_FACTOR = 1.6

# Of all candidates of one end only the cheapest compete: bounds the time for hatching.
_CANDIDATES_PER_END = 5

# Own line counts as a line to meet only when the way along it is this many times the way across.
_DETOUR = 3.0

# The last stretch of a line before a free end is no line to meet, in line widths: what comes near it means
# the end itself.
_TIP_WIDTHS = 1.2

_SAMPLES = 17


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """A free end of a line.

    Parameters
    ----------
    node, edge : int
        Its node and its line.
    point, heading : ndarray, shape (2,)
        Where it is, in millimetres, and where it is heading, a unit vector.
    anchored : bool
        Whether the other end of its line is joined to something.
    """

    node: int
    edge: int
    point: Floats
    heading: Floats
    anchored: bool


@dataclass(frozen=True, slots=True, eq=False)
class Bridge:
    """A candidate.

    Parameters
    ----------
    first : int
        Index of the end it leaves.
    second : int or None
        Index of the end it reaches, or None where it reaches a line.
    edge, place : int
        The line it reaches and the index of the point there; -1 between ends.
    points : ndarray, shape (n, 2)
        Its curve in millimetres.
    cost : float
        0 for a perfect continuation, 1 for one that is not worth it.
    gap : float
        Free distance between the ink on both sides, millimetres.
    turn : tuple of float
        Its bend and its kink, degrees.
    anchored : bool
        Whether the line that it prolongs is joined to something at its other end.
    """

    first: int
    second: int | None
    edge: int
    place: int
    points: Floats
    cost: float
    gap: float
    turn: tuple[float, float]
    anchored: bool

    @property
    def weight(self) -> float:
        """What it is worth: per end that it joins."""
        return (1.0 - self.cost) * (1 if self.second is None else 2)


class LineIndex:
    """All points of all edges, found by place."""

    def __init__(self, graph: LineGraph) -> None:
        counts = [len(edge.points) for edge in graph.edges]
        self.points = np.concatenate([edge.points for edge in graph.edges])
        self.width = np.concatenate([edge.width_mm for edge in graph.edges])
        self.edge = np.repeat(np.arange(len(counts)), counts)
        self.offsets = np.concatenate([[0], np.cumsum(counts)])
        self.tree = cKDTree(self.points)
        self.is_tip = np.zeros(len(self.points), bool)

    def mark_tips(self, ends: "Sequence[End]", radius: float) -> None:
        """Note which points lie within `radius` of the free end of their own line."""
        for end in ends:
            near = self.near(end.point, radius)
            self.is_tip[near[self.edge[near] == end.edge]] = True

    def near(self, point: Floats, radius: float) -> Indices:
        """Indices of all points within `radius`, ascending."""
        return np.array(sorted(self.tree.query_ball_point(point, radius)), dtype=np.int64)

    def segments_near(self, curve: Floats) -> tuple[Floats, Floats]:
        """Starts and ends of all segments that may touch a curve."""
        low, high = curve.min(axis=0), curve.max(axis=0)
        reach = float(np.hypot(*(high - low))) / 2.0
        longest = self.longest
        index = self.near((low + high) / 2.0, reach + longest)
        index = np.union1d(index, index - 1)
        index = index[(index >= 0) & (index + 1 < len(self.points))]
        index = index[self.edge[index] == self.edge[index + 1]]
        return self.points[index], self.points[index + 1]

    @property
    def longest(self) -> float:
        """Longest segment of all edges."""
        steps = np.hypot(*np.diff(self.points, axis=0).T)
        return float(steps[self.edge[1:] == self.edge[:-1]].max(initial=0.0))


def find_ends(graph: LineGraph) -> list[End]:
    """All free ends, in the order of their nodes."""
    degree = np.zeros(len(graph.nodes), np.int64)
    touching: dict[int, tuple[int, bool]] = {}
    for number, edge in enumerate(graph.edges):
        for node, at_start in ((edge.start, True), (edge.end, False)):
            degree[node] += 1
            touching[node] = (number, at_start)
    ends = []
    for node in np.flatnonzero(degree == 1).tolist():
        number, at_start = touching[node]
        points = graph.edges[number].points
        heading = _heading(points if at_start else points[::-1], graph.line_width_mm)
        edge = graph.edges[number]
        anchored = bool(degree[edge.end if at_start else edge.start] > 1)
        ends.append(End(node, number, graph.nodes[node], heading, anchored))
    return ends


def _heading(points: Floats, line_width: float) -> Floats:
    """Direction in which a line leaves its first point, by a parabola through its last stretch."""
    away = np.hypot(*(points - points[0]).T)
    beyond = np.flatnonzero(away > _HEADING_WIDTHS * line_width)
    last = int(beyond[0]) if len(beyond) else len(points) - 1
    # The tip itself is rounded and rough: it does not count.
    first = min(int(np.searchsorted(away[: last + 1], _TIP_SKIP_WIDTHS * line_width)), max(last - 1, 0))
    near = points[first : last + 1]
    chord = near[0] - near[-1]
    length = float(np.hypot(*chord))
    if length < 1e-9:
        return np.asarray((points[0] - points[-1]) / max(float(np.hypot(*(points[0] - points[-1]))), 1e-9))
    chord /= length
    if len(near) < 6 or length < _PARABOLA_WIDTHS * line_width:
        return np.asarray(chord)
    along = (near - near[0]) @ chord
    across = (near - near[0]) @ np.array([-chord[1], chord[0]])
    _, slope, _ = np.polynomial.polynomial.polyfit(along, across, 2)
    direction = chord + slope * np.array([-chord[1], chord[0]])
    return np.asarray(direction / np.hypot(*direction))


def candidates(
    graph: LineGraph, ends: Sequence[End], index: LineIndex, largest_gap_mm: float
) -> list[Bridge]:
    """All bridges worth considering.

    Parameters
    ----------
    graph : LineGraph
        The lines.
    ends : sequence of End
        Ends that are still free.
    index : LineIndex
        Points of all lines.
    largest_gap_mm : float
        A straight continuation as long as this costs 1.

    Returns
    -------
    list of Bridge
        Sorted by cost; none crosses a line.
    """
    index.mark_tips(ends, _TIP_WIDTHS * graph.line_width_mm)
    found = _between_ends(ends, largest_gap_mm, graph.line_width_mm)
    for number in range(len(ends)):
        found.extend(_towards_lines(number, ends, graph, index, largest_gap_mm))
    found.sort(key=lambda bridge: (bridge.cost, bridge.first, bridge.edge, bridge.second or -1))
    used = [0] * len(ends)
    kept = []
    clear = 0.2 * graph.line_width_mm
    for bridge in found:
        if used[bridge.first] >= _CANDIDATES_PER_END and (
            bridge.second is None or used[bridge.second] >= _CANDIDATES_PER_END
        ):
            continue
        if _runs_over_ink(bridge, index, clear):
            continue
        used[bridge.first] += 1
        if bridge.second is not None:
            used[bridge.second] += 1
        kept.append(bridge)
    return kept


def _turn(direction: Floats, towards: Floats) -> Floats:
    """Angle between unit vectors, degrees."""
    return np.asarray(np.degrees(np.arccos(np.clip(np.sum(direction * towards, axis=-1), -1.0, 1.0))))


def _signed_turn(before: Floats, after: Floats) -> Floats:
    """Turn from one unit vector to another, degrees, -180 to 180."""
    sine = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.degrees(np.arctan2(sine, np.sum(before * after, axis=1))))


def _between_ends(ends: Sequence[End], largest: float, line_width: float) -> list[Bridge]:
    if len(ends) < 2:
        return []
    points = np.array([end.point for end in ends])
    headings = np.array([end.heading for end in ends])
    pairs = cKDTree(points).query_pairs(largest, output_type="ndarray")
    pairs = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    chord = points[pairs[:, 1]] - points[pairs[:, 0]]
    distance = np.hypot(chord[:, 0], chord[:, 1])
    chord = chord / np.maximum(distance, 1e-9)[:, None]
    turn_first = _signed_turn(headings[pairs[:, 0]], chord)
    turn_second = _signed_turn(chord, -headings[pairs[:, 1]])
    bend, kink = np.abs(turn_first + turn_second) / 2.0, np.abs(turn_first - turn_second) / 2.0
    cost = distance / largest * (1.0 + (bend / _BEND_DEG) ** 2 + (kink / _KINK_DEG) ** 2)
    good = (cost < 1.0) & (np.maximum(np.abs(turn_first), np.abs(turn_second)) < _LARGEST_TURN_DEG)
    # The two tips of one short stroke are no gap.
    return [
        Bridge(
            int(i),
            int(j),
            -1,
            -1,
            _curve(points[i], headings[i], points[j], headings[j]),
            float(price),
            float(gap),
            (float(curve), float(twist)),
            ends[i].anchored or ends[j].anchored,
        )
        for (i, j), price, gap, curve, twist in zip(
            pairs[good], cost[good], distance[good], bend[good], kink[good], strict=True
        )
        if gap > 1e-6 * line_width
    ]


def _curve(start: Floats, out: Floats, end: Floats, back: Floats | None) -> Floats:
    """Smooth curve from `start` in direction `out` to `end`, reached against direction `back`."""
    chord = end - start
    distance = float(np.hypot(*chord))
    unit = chord / max(distance, 1e-12)
    back = -unit if back is None else back
    turn = np.radians(float(_turn(out, unit)) + float(_turn(back, -unit)))
    arm = distance / (3.0 * np.cos(min(turn, np.pi) / 4.0) ** 2)
    t = np.linspace(0.0, 1.0, _SAMPLES)[:, None]
    s = 1.0 - t
    a, b = start + arm * out, end + arm * back
    points = s**3 * start + 3 * s * s * t * a + 3 * s * t * t * b + t**3 * end
    points[0], points[-1] = start, end
    return np.asarray(points)


def _towards_lines(
    number: int, ends: Sequence[End], graph: LineGraph, index: LineIndex, largest: float
) -> list[Bridge]:
    end = ends[number]
    at = index.near(end.point, largest / _LINE_FACTOR + graph.line_width_mm)
    if len(at) == 0:
        return []
    chord = index.points[at] - end.point
    distance = np.hypot(chord[:, 0], chord[:, 1])
    at, chord, distance = at[distance > 1e-9], chord[distance > 1e-9], distance[distance > 1e-9]
    turn = _turn(chord / distance[:, None], end.heading)
    # The ink of the line that is met reaches half its width towards the end.
    free = np.maximum(distance - index.width[at] / 2.0, 0.1 * distance)
    cost = _LINE_FACTOR * free / largest * (1.0 + (turn / _LINE_TURN_DEG) ** 2)
    good = (cost < 1.0) & (turn < _LARGEST_LINE_TURN_DEG) & ~index.is_tip[at]
    own = index.edge[at] == end.edge
    if own.any():
        points = graph.edges[end.edge].points
        walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        place = at - index.offsets[end.edge]
        here = walked[np.clip(place, 0, len(points) - 1)]
        way = here if graph.edges[end.edge].start == end.node else walked[-1] - here
        good &= ~own | (way > _DETOUR * np.pi / 2.0 * distance)
    found = []
    for line in np.unique(index.edge[at[good]]).tolist():
        mine = np.flatnonzero(good & (index.edge[at] == line))
        best = mine[np.argmin(cost[mine])]
        target = index.points[at[best]]
        found.append(
            Bridge(
                number,
                None,
                int(line),
                int(at[best] - index.offsets[line]),
                _curve(end.point, end.heading, target, None),
                float(cost[best]),
                float(free[best]),
                (float(turn[best]) / 2.0, float(turn[best]) / 2.0),
                end.anchored,
            )
        )
    return found


def _runs_over_ink(bridge: Bridge, index: LineIndex, clear: float) -> bool:
    """Whether a bridge meets a line anywhere but at its two ends."""
    points = bridge.points
    inner = (np.hypot(*(points - points[0]).T) > clear) & (np.hypot(*(points - points[-1]).T) > clear)
    if inner.sum() < 2:
        inner = np.zeros(len(points), bool)
        inner[[len(points) // 3, len(points) - 1 - len(points) // 3]] = True
    start, end = index.segments_near(points)
    return crosses(points[inner], start, end)


def crosses(curve: Floats, start: Floats, end: Floats) -> bool:
    """Whether a polyline properly crosses any of the given segments."""
    if len(start) == 0 or len(curve) < 2:
        return False
    a, b = curve[:-1, None], curve[1:, None]
    c, d = start[None], end[None]

    def side(p: Floats, q: Floats, r: Floats) -> Floats:
        return (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1]) - (q[..., 1] - p[..., 1]) * (
            r[..., 0] - p[..., 0]
        )

    apart = side(a, b, c) * side(a, b, d)
    across = side(c, d, a) * side(c, d, b)
    return bool(((apart <= 0) & (across <= 0) & ((apart < 0) | (across < 0))).any())
