"""Lines that part areas for their fills alone: put into the graph, never inked.

Method: where a parting line crosses edges or itself, both are cut; an end that stops just short of an edge
is led to it, what hangs loose beyond the last crossing is left out. Crossings are found segment by segment
(two segments cross where each one's ends lie on different sides of the other).

Limits: a parting line that runs along an edge parts slivers off, which are folded away like any other.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from limner.errors import GeometryError
from limner.model.arrays import Floats, Ints
from limner.model.regionmap import Edge, LineGraph

__all__ = ["part_graph"]

# An end this near to an edge, in line widths, was meant to reach it: a hand that draws from line to line
# stops about there.
_REACH_LINE_WIDTHS = 1.5

# An end that is led to an edge goes this far beyond it, so that it crosses whatever the last digits are.
_HAIR_MM = 1e-6

# A cut this near to a point of a polyline, as a share of the step to the next one, is in that point.
_SAME = 1e-6

# A crossing this near to a node, in line widths, is taken to the node.
_SNAP_LINE_WIDTHS = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class _Crossings:
    """Where a line meets edges: segment and share of the line, edge, segment and share of that, the place."""

    at: Floats
    edge: Ints
    on: Floats
    place: Floats


def part_graph(graph: LineGraph, lines: Sequence[Floats]) -> LineGraph:
    """Add parting lines to a graph, one after the other.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    lines : sequence of ndarray of float64, shape (n, 2), n >= 2
        Smooth polylines in millimetres.

    Returns
    -------
    LineGraph
        Edges cut where a parting line meets them, and its pieces, of kind "parting", at the end.

    Raises
    ------
    GeometryError
        A line joins nothing; the error is about "part" and its number.
    """
    for number, line in enumerate(lines):
        graph = _parted(graph, line, number)
    return graph


def _parted(graph: LineGraph, line: Floats, number: int) -> LineGraph:
    reach = _REACH_LINE_WIDTHS * graph.line_width_mm
    for _ in range(2):
        line = _led_on(line, graph, reach)[::-1]
    found = _crossings(line, graph)
    if len(found.at) < 2:
        raise GeometryError(
            "parts no area, as it does not lead from line to line: begin and end it on a line.",
            about=("part", number),
        )
    nodes, at_node, edges = _cut_edges(graph, found)
    order = np.argsort(found.at, kind="stable")
    pieces = []
    for first, second in pairwise(order.tolist()):
        start, end = at_node[first], at_node[second]
        points = _between(line, found.at[first], found.at[second], nodes[start], nodes[end])
        if start == end and len(points) < 4:
            continue
        pieces.append(Edge(points, np.zeros(len(points)), start, end, "parting"))
    return LineGraph(np.array(nodes), (*edges, *pieces), graph.line_width_mm)


def _led_on(line: Floats, graph: LineGraph, reach: float) -> Floats:
    """The line with its last end led to the nearest edge, where one is near and is not crossed there."""
    tail = line[_walked_back(line, reach) :]
    if len(tail) >= 2 and len(_crossings(tail, graph).at):
        return line
    best, foot = reach, None
    for edge in graph.edges:
        place = _foot(line[-1], edge.points)
        away = float(np.hypot(*(place - line[-1])))
        if away < best:
            best, foot = away, place
    if foot is None:
        return line
    way = foot - line[-1] if best > _HAIR_MM else line[-1] - line[-2]
    return np.concatenate([line, [foot + way / float(np.hypot(*way)) * _HAIR_MM]])


def _walked_back(line: Floats, reach: float) -> int:
    """First sample of the last stretch of a length."""
    back = np.cumsum(np.hypot(*np.diff(line[::-1], axis=0).T))
    return len(line) - 1 - int(np.searchsorted(back, reach))


def _foot(point: Floats, polyline: Floats) -> Floats:
    start, way = polyline[:-1], np.diff(polyline, axis=0)
    share = ((point - start) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-18)
    feet = start + np.clip(share, 0.0, 1.0)[:, None] * way
    return np.asarray(feet[np.hypot(*(feet - point).T).argmin()])


def _crossings(line: Floats, graph: LineGraph) -> _Crossings:
    """Every crossing with edges of the graph, and of the line with itself (as edge -1, twice)."""
    at, owner, on, place = [], [], [], []
    low, high = line.min(axis=0), line.max(axis=0)
    for number, edge in enumerate(graph.edges):
        if (edge.points.max(axis=0) < low).any() or (edge.points.min(axis=0) > high).any():
            continue
        for first, second, here in _meetings(line, edge.points):
            at.append(first)
            owner.append(number)
            on.append(second)
            place.append(here)
    for first, second, here in _meetings(line, line):
        if second - first > 1.0 + 1e-9:
            for one, other in ((first, second), (second, first)):
                at.append(one)
                owner.append(-1)
                on.append(other)
                place.append(here)
    return _Crossings(
        np.array(at, dtype=np.float64),
        np.array(owner, dtype=np.intp),
        np.array(on, dtype=np.float64),
        np.array(place, dtype=np.float64).reshape(-1, 2),
    )


def _meetings(first: Floats, second: Floats) -> list[tuple[float, float, Floats]]:
    """Crossings of two polylines: segment and share of each, and the place."""
    tree = shapely.STRtree(_segments(second))
    i, j = tree.query(_segments(first), predicate="intersects")
    u, v = np.diff(first, axis=0)[i], np.diff(second, axis=0)[j]
    apart = second[j] - first[i]
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (apart[:, 0] * v[:, 1] - apart[:, 1] * v[:, 0]) / turn
        t = (apart[:, 0] * u[:, 1] - apart[:, 1] * u[:, 0]) / turn
    # Half-open, so that a crossing at a sample counts once.
    meet = (s >= 0.0) & (s < 1.0) & (t >= 0.0) & (t < 1.0)
    order = np.flatnonzero(meet)[np.lexsort((j[meet], i[meet]))]
    places = first[i[order]] + s[order, None] * u[order]
    return list(zip((i + s)[order].tolist(), (j + t)[order].tolist(), places, strict=True))


def _segments(polyline: Floats) -> NDArray[np.object_]:
    return np.asarray(shapely.linestrings(np.stack([polyline[:-1], polyline[1:]], axis=1)))


def _cut_edges(graph: LineGraph, found: _Crossings) -> tuple[list[Floats], list[int], list[Edge]]:
    """Nodes, the node of each crossing, and the edges cut there."""
    nodes = [np.asarray(node) for node in graph.nodes]
    snap = _SNAP_LINE_WIDTHS * graph.line_width_mm
    at_node = [-1] * len(found.at)
    cuts: dict[int, list[tuple[float, int]]] = {}
    for number in range(len(found.at)):
        owner, place = int(found.edge[number]), found.place[number]
        ends = [] if owner < 0 else [graph.edges[owner].start, graph.edges[owner].end]
        ends += [node for _, node in cuts.get(owner, [])]
        near = [node for node in ends if float(np.hypot(*(nodes[node] - place))) < snap]
        if near:
            at_node[number] = near[0]
            continue
        at_node[number] = len(nodes)
        nodes.append(place)
        cuts.setdefault(owner, []).append((float(found.on[number]), at_node[number]))
    edges = [
        piece
        for number, edge in enumerate(graph.edges)
        for piece in _pieces(edge, sorted(cuts.get(number, [])), nodes)
    ]
    return nodes, at_node, edges


def _pieces(edge: Edge, cuts: list[tuple[float, int]], nodes: list[Floats]) -> list[Edge]:
    """An edge cut at places between its points."""
    bounds = [(0.0, edge.start), *cuts, (len(edge.points) - 1.0, edge.end)]
    return [
        replace(
            edge,
            points=_between(edge.points, low, high, nodes[start], nodes[end]),
            width_mm=_between(edge.width_mm, low, high, _at(edge.width_mm, low), _at(edge.width_mm, high)),
            start=start,
            end=end,
        )
        for (low, start), (high, end) in pairwise(bounds)
    ]


def _at(values: Floats, place: float) -> Floats:
    """Value at a place between two points."""
    whole = min(int(place), len(values) - 2)
    return np.asarray(values[whole] + (place - whole) * (values[whole + 1] - values[whole]))


def _between(values: Floats, low: float, high: float, start: Floats, end: Floats) -> Floats:
    """What lies between two places, and what stands at them; points that are as good as an end go."""
    inner = values[int(low + _SAME) + 1 : int(np.ceil(high - _SAME))]
    return np.concatenate([np.asarray(start)[None], inner, np.asarray(end)[None]])
