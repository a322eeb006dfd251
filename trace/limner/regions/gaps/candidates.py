"""Candidates for bridges over gaps in the pencil.

Method: every free end looks ahead. A candidate leads to another end, or to a line that it would meet. It
costs more the longer it is and the more the line would have to turn at both ends; a candidate that costs
1 or more is none. Its curve is the cubic that leaves both ends in the direction in which the pencil was
going, with arms as long as those of a circular arc of the same turn (d / (3 cos^2(turn / 4)), which
follows from the classical arm (4/3) tan(turn / 4) r). Candidates that would run over ink are dropped.

Limits: where an end is heading is all that it knows (`limner.regions.gaps.ends`); a line that stops inside
a bend deceives it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Floats, Indices
from limner.model.regionmap import LineGraph
from limner.regions.faces.sizes import edge_lengths
from limner.regions.gaps.ends import End
from limner.regions.gaps.line_index import LineIndex

__all__ = ["Bridge", "candidates", "far_along"]


# A bridge between ends turns at both of them. Half the sum of the turns is its bend, half the difference
# its kink: a circle's arc has no kink, an S has no bend. Values at which a bridge costs twice its length, and
# the largest turn at all.
_BEND_DEG = 70.0
_KINK_DEG = 40.0
_LARGEST_TURN_DEG = 115.0
# Two ends side by side that point the same way, as those of a comb, are joined only where they nearly touch.
_TURNING_BACK_DEG = 75.0
_TURNING_BACK_WIDTHS = 1.5

# The same towards a line, where nothing on the other side confirms the direction.
_LINE_TURN_DEG = 40.0
_LARGEST_LINE_TURN_DEG = 50.0
# Where the line is so near that the end's own direction is in doubt, it may turn more.
_NEAR_LINE_WIDTHS = 1.5
_LARGEST_NEAR_LINE_TURN_DEG = 75.0

# A bridge to a line costs so much more than one to another end that continues it.
_LINE_FACTOR = 1.6

# Of all candidates of one end only the cheapest compete: bounds the time for hatching.
_CANDIDATES_PER_END = 5

# Own line counts as a line to meet only when the way along it is this many times the way across.
_DETOUR = 3.0

# The last stretch of a line before a free end is no line to meet, in line widths: what comes near it means
# the end itself.
_TIP_WIDTHS = 1.2

# How near to a line a bridge runs over ink: the inside of a line reaches half its width.
_NEAR_WIDTHS = 0.35
# So far from its ends a bridge is not looked at: it starts on ink, and may land on a line at a slant.
_CLEAR_END_WIDTHS = 0.4
_CLEAR_LINE_WIDTHS = 0.8

# A bridge that continues a line smoothly, of which more is drawn than missing, is meant in the narrowest
# room.
_SMOOTH_BEND_DEG = 80.0
_SMOOTH_KINK_DEG = 30.0

# Between two ends so near to each other the line merely broke up on the grain of the paper, and its ends are
# too ragged to have a direction.
_GRAIN_GAP_WIDTHS = 1.0

_SAMPLES = 17


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
    drawn : float
        Length of the lines that it prolongs, millimetres.
    is_neck : bool
        Whether it leads straight across a neck of the paper, wherever its ends were heading.
    """

    first: int
    second: int | None
    edge: int
    place: int
    points: Floats
    cost: float
    gap: float
    turn: tuple[float, float]
    drawn: float
    is_neck: bool = False

    @property
    def weight(self) -> float:
        """What it is worth: per end that it joins."""
        return (1.0 - self.cost) * (1 if self.second is None else 2)

    def continues(self, line_width: float) -> bool:
        """Whether it and the lines at its two ends are plainly one line."""
        if self.is_neck or self.second is None:
            return False
        smooth = self.turn[0] <= _SMOOTH_BEND_DEG and self.turn[1] <= _SMOOTH_KINK_DEG
        return self.gap <= _GRAIN_GAP_WIDTHS * line_width or (smooth and self.gap <= self.drawn)


@dataclass(frozen=True, slots=True, eq=False)
class _Proposals:
    """Many candidates, one a row, before their curves are drawn; fields as in `Bridge`, -1 for None."""

    first: Indices
    second: Indices
    edge: Indices
    place: Indices
    start: Floats
    out: Floats
    end: Floats
    back: Floats
    cost: Floats
    gap: Floats
    bend: Floats
    kink: Floats

    def take(self, rows: Indices) -> "_Proposals":
        return _Proposals(*(getattr(self, name)[rows] for name in self.__slots__))

    @staticmethod
    def joined(parts: "Sequence[_Proposals]") -> "_Proposals":
        return _Proposals(
            *(np.concatenate([getattr(part, name) for part in parts]) for name in _Proposals.__slots__)
        )


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
    parts = [_between_ends(ends, largest_gap_mm, graph.line_width_mm)]
    parts += [_towards_lines(number, ends, graph, index, largest_gap_mm) for number in range(len(ends))]
    found = _Proposals.joined([part for part in parts if part is not None and len(part.cost)] or [_none()])
    found = found.take(np.lexsort((found.second, found.edge, found.first, found.cost)))
    curves = _curves(found)
    clear = ~_runs_over_ink(curves, found.second < 0, index, graph.line_width_mm)
    lengths = edge_lengths(graph.edges)
    used = [0] * len(ends)
    kept = []
    for row in np.flatnonzero(clear).tolist():
        first, second = int(found.first[row]), int(found.second[row])
        if used[first] >= _CANDIDATES_PER_END and (second < 0 or used[second] >= _CANDIDATES_PER_END):
            continue
        used[first] += 1
        prolonged = {ends[first].edge}
        if second >= 0:
            used[second] += 1
            prolonged.add(ends[second].edge)
        kept.append(
            Bridge(
                first,
                second if second >= 0 else None,
                int(found.edge[row]),
                int(found.place[row]),
                curves[row],
                float(found.cost[row]),
                float(found.gap[row]),
                (float(found.bend[row]), float(found.kink[row])),
                float(sum(lengths[edge] for edge in prolonged)),
            )
        )
    return kept


def _none() -> _Proposals:
    whole, real, pairs = np.zeros(0, np.int64), np.zeros(0), np.zeros((0, 2))
    return _Proposals(whole, whole, whole, whole, pairs, pairs, pairs, pairs, real, real, real, real)


def _turn(direction: Floats, towards: Floats) -> Floats:
    """Angle between unit vectors, degrees."""
    return np.asarray(np.degrees(np.arccos(np.clip(np.sum(direction * towards, axis=-1), -1.0, 1.0))))


def _signed_turn(before: Floats, after: Floats) -> Floats:
    """Turn from one unit vector to another, degrees, -180 to 180."""
    sine = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.degrees(np.arctan2(sine, np.sum(before * after, axis=1))))


def _between_ends(ends: Sequence[End], largest: float, line_width: float) -> _Proposals | None:
    if len(ends) < 2:
        return None
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
    good &= distance > 1e-6 * line_width
    good &= (bend < _TURNING_BACK_DEG) | (distance < _TURNING_BACK_WIDTHS * line_width)
    i, j = pairs[good, 0], pairs[good, 1]
    none = np.full(len(i), -1)
    return _Proposals(
        i,
        j,
        none,
        none,
        points[i],
        headings[i],
        points[j],
        headings[j],
        cost[good],
        distance[good],
        bend[good],
        kink[good],
    )


def _towards_lines(
    number: int, ends: Sequence[End], graph: LineGraph, index: LineIndex, largest: float
) -> _Proposals | None:
    """For one end the best place to land on each line ahead."""
    end = ends[number]
    at = index.near(end.point, largest / _LINE_FACTOR + graph.line_width_mm)
    at = at[~index.is_tip[at]]
    chord = index.points[at] - end.point
    distance = np.hypot(chord[:, 0], chord[:, 1])
    chord = chord / np.maximum(distance, 1e-9)[:, None]
    turn = _turn(chord, end.heading)
    # The ink of the line that is met reaches half its width towards the end.
    free = np.maximum(distance - index.width[at] / 2.0, 0.1 * distance)
    cost = _LINE_FACTOR * free / largest * (1.0 + (turn / _LINE_TURN_DEG) ** 2)
    near = free < _NEAR_LINE_WIDTHS * graph.line_width_mm
    largest_turn = np.where(near, _LARGEST_NEAR_LINE_TURN_DEG, _LARGEST_LINE_TURN_DEG)
    good = (cost < 1.0) & (turn < largest_turn) & (distance > 1e-9)
    good &= (index.edge[at] != end.edge) | far_along(end, graph, index.place[at], distance)
    rows = np.flatnonzero(good)
    if len(rows) == 0:
        return None
    line = index.edge[at[rows]]
    order = np.lexsort((cost[rows], line))
    rows, line = rows[order], line[order]
    rows = rows[np.concatenate([[True], line[1:] != line[:-1]])]
    count = len(rows)
    return _Proposals(
        np.full(count, number),
        np.full(count, -1),
        index.edge[at[rows]],
        index.place[at[rows]],
        np.repeat(end.point[None], count, axis=0),
        np.repeat(end.heading[None], count, axis=0),
        np.array(
            [
                graph.edges[e].points[k]
                for e, k in zip(index.edge[at[rows]], index.place[at[rows]], strict=True)
            ]
        ),
        -chord[rows],
        cost[rows],
        free[rows],
        turn[rows] / 2.0,
        turn[rows] / 2.0,
    )


def far_along(end: End, graph: LineGraph, place: Indices, distance: Floats) -> NDArray[np.bool_]:
    """Whether points of an end's own line are much farther from it along the line than across."""
    edge = graph.edges[end.edge]
    walked = arc_lengths(edge.points)
    way = walked if edge.start == end.node else walked[-1] - walked
    return np.asarray(way[np.clip(place, 0, len(walked) - 1)] > _DETOUR * np.pi / 2.0 * distance)


def _curves(found: _Proposals) -> Floats:
    """Smooth curves that leave both ends in their directions, shape (n, samples, 2)."""
    chord = found.end - found.start
    distance = np.hypot(chord[:, 0], chord[:, 1])
    unit = chord / np.maximum(distance, 1e-12)[:, None]
    turn = np.radians(_turn(found.out, unit) + _turn(found.back, -unit))
    arm = (distance / (3.0 * np.cos(np.minimum(turn, np.pi) / 4.0) ** 2))[:, None]
    a, b = found.start + arm * found.out, found.end + arm * found.back
    t = np.linspace(0.0, 1.0, _SAMPLES)
    basis = np.stack([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t * t, t**3])
    control = np.stack([found.start, a, b, found.end], axis=1)
    curves = np.einsum("ks,nkx->nsx", basis, control)
    curves[:, 0], curves[:, -1] = found.start, found.end
    return np.asarray(curves)


def _runs_over_ink(
    curves: Floats, to_line: NDArray[np.bool_], index: LineIndex, line_width: float
) -> NDArray[np.bool_]:
    """Which bridges come near a line anywhere but at their two ends."""
    fine = np.concatenate([curves[:, :-1], (curves[:, :-1] + curves[:, 1:]) / 2.0], axis=1)
    from_start = np.hypot(*np.moveaxis(fine - curves[:, :1], 2, 0))
    from_end = np.hypot(*np.moveaxis(fine - curves[:, -1:], 2, 0))
    landing = np.where(to_line, _CLEAR_LINE_WIDTHS, _CLEAR_END_WIDTHS)[:, None] * line_width
    inner = (from_start > _CLEAR_END_WIDTHS * line_width) & (from_end > landing)
    touching = np.zeros(inner.shape, bool)
    touching[inner] = index.any_near(fine[inner], _NEAR_WIDTHS * line_width)
    return np.asarray(touching.any(axis=1))
