"""Necks of the paper beside free ends: narrow passages that a straight bridge from the end would close.

Method: from the tip of a free end, the points of the lines around it that are nearer than their neighbours
along the line. There is a neck between tip and point where the circle on the two holds no other ink: its
middle is then a saddle of the distance to the ink, where two basins of that distance meet. (That is an edge
of the graph of Gabriel and Sokal, 1969, doi:10.2307/2412323, and belongs to the Delaunay triangulation, so
that necks cross neither lines nor one another.) At most some few necks of an end are looked at, the shortest
first.

Limits: necks know nothing of where a line was heading, but that it does not turn back along itself. The ink
is known by points along the centrelines: which necks there are depends on their spacing where two are nearly
alike.
"""

from collections.abc import Sequence

import numpy as np

from limner.model.arrays import Flags, Floats, Indices
from limner.model.regionmap import LineGraph
from limner.regions.gaps.candidates import Bridge, far_along
from limner.regions.gaps.crossings import crossing_pairs
from limner.regions.gaps.ends import End
from limner.regions.gaps.line_index import LineIndex

__all__ = ["find_necks"]


# The circle across a neck is looked at but for its rim, which the points of the line that it touches graze.
_LOOKED_AT = 0.95

# An end has a neck to each side, and where a junction was lost one to every other end.
_NECKS_PER_END = 4
# Points that may lie across a neck: bounds the time for hatching.
_POINTS_PER_END = 12

# An end of a line within this of a point across the neck is what the neck leads to, in line widths.
_END_WIDTHS = 0.5
# The line across is no obstacle so near to the point where the neck meets it, in line widths.
_BESIDE_WIDTHS = 1.0
# What lies within this of an end, in line widths, is its own rough tip.
_TIP_WIDTHS = 0.4

# A neck that turns back further than this runs along the line that it leaves.
_LARGEST_TURN_DEG = 115.0

_SAMPLES = 17


def find_necks(graph: LineGraph, ends: Sequence[End], largest_mm: float) -> list[Bridge]:
    """Straight bridges over the necks beside free ends.

    Parameters
    ----------
    graph : LineGraph
        Lines, and the bridges that are there already.
    ends : sequence of End
        Ends that are still free.
    largest_mm : float
        The widest neck.

    Returns
    -------
    list of Bridge
        In the order of their ends, the shortest first; an end may have several. None crosses another.
    """
    index = LineIndex(graph)
    index.mark_tips(ends, _END_WIDTHS * graph.line_width_mm)
    found: list[Bridge] = []
    joined: set[tuple[int, int]] = set()
    for number, end in enumerate(ends):
        for at in _across(end, graph, index, largest_mm):
            other = _end_at(index, at, ends, number)
            if other is None:
                found.append(_to_line(number, end, graph, index, at))
            elif (pair := (min(number, other), max(number, other))) not in joined:
                joined.add(pair)
                found.append(_between(pair, ends))
    return _without_crossings([neck for neck in found if 0.0 < neck.gap <= largest_mm and _ahead(neck, ends)])


def _across(end: End, graph: LineGraph, index: LineIndex, largest_mm: float) -> list[int]:
    """Indices of the points across the necks of an end, nearest first."""
    near = index.near(end.point, largest_mm + graph.line_width_mm)
    away = np.hypot(*(index.points[near] - end.point).T)
    own = index.edge[near] == end.edge
    # Its own line counts once the way along it is a detour.
    own &= ~far_along(end, graph, index.place[near], np.maximum(away, _TIP_WIDTHS * graph.line_width_mm))
    near, away = near[~own], away[~own]
    candidates = np.flatnonzero(_nearer_than_beside(near, index.edge[near], away))
    candidates = candidates[np.argsort(away[candidates], kind="stable")][:_POINTS_PER_END]
    points, edges = index.points[near], index.edge[near]
    free = []
    for row in candidates.tolist():
        from_middle = np.hypot(*(points - (end.point + points[row]) / 2.0).T)
        beside = np.hypot(*(points - points[row]).T) < _BESIDE_WIDTHS * graph.line_width_mm
        blocked = (from_middle < _LOOKED_AT * away[row] / 2.0) & ~(beside & (edges == edges[row]))
        if not blocked.any():
            free.append(int(near[row]))
    return free[:_NECKS_PER_END]


def _nearer_than_beside(near: Indices, edge: Indices, away: Floats) -> Flags:
    """Which points are nearer than those before and after them on their line; of two alike the latter."""
    follows = (np.diff(near) == 1) & (edge[1:] == edge[:-1])
    before = np.concatenate([[np.inf], np.where(follows, away[:-1], np.inf)])
    after = np.concatenate([np.where(follows, away[1:], np.inf), [np.inf]])
    return np.asarray((away <= before) & (away < after))


def _end_at(index: LineIndex, at: int, ends: Sequence[End], but: int) -> int | None:
    """The free end that a point belongs to."""
    if not index.is_tip[at]:
        return None
    mine = [number for number, end in enumerate(ends) if end.edge == index.edge[at] and number != but]
    return min(
        mine, key=lambda number: float(np.hypot(*(ends[number].point - index.points[at]))), default=None
    )


def _to_line(number: int, end: End, graph: LineGraph, index: LineIndex, at: int) -> Bridge:
    edge, place = int(index.edge[at]), int(index.place[at])
    landing = graph.edges[edge].points[place]
    # The ink of the line that is met reaches half its width towards the end.
    distance = float(np.hypot(*(landing - end.point)))
    gap = max(distance - float(index.width[at]) / 2.0, 0.1 * distance)
    return _straight(number, None, (edge, place), end.point, landing, gap)


def _between(pair: tuple[int, int], ends: Sequence[End]) -> Bridge:
    start, end = ends[pair[0]].point, ends[pair[1]].point
    return _straight(pair[0], pair[1], (-1, -1), start, end, float(np.hypot(*(end - start))))


def _straight(
    first: int, second: int | None, landing: tuple[int, int], start: Floats, end: Floats, gap: float
) -> Bridge:
    points = np.linspace(start, end, _SAMPLES)
    return Bridge(first, second, *landing, points, 1.0, gap, (0.0, 0.0), 0.0, is_neck=True)


def _ahead(neck: Bridge, ends: Sequence[End]) -> bool:
    """Whether a neck does not turn back along the lines at its two ends."""
    chord = neck.points[-1] - neck.points[0]
    chord = chord / np.hypot(*chord)
    least = np.cos(np.radians(_LARGEST_TURN_DEG))
    back = neck.second is None or float(ends[neck.second].heading @ -chord) >= least
    return bool(float(ends[neck.first].heading @ chord) >= least and back)


def _without_crossings(found: list[Bridge]) -> list[Bridge]:
    """Take out the longer one of two that cross, which happens where points stand for lines."""
    if not found:
        return found
    dropped: set[int] = set()
    for one, other in crossing_pairs(np.array([neck.points for neck in found])).tolist():
        if not {one, other} & dropped:
            dropped.add(max(one, other, key=lambda number: (found[number].gap, number)))
    return [neck for number, neck in enumerate(found) if number not in dropped]
