"""Close the gaps that the pencil left.

Method: all free ends propose bridges (`limner.regions.gaps.candidates`); the set that is worth most without
two bridges sharing an end or crossing is chosen as a whole (`limner.regions.gaps.independent_set`). Ends
that are still free then look once more, at the bridges too: where a junction fell into a gap, the third
line meets the bridge of the other two. Finally every bridge must be worth it: it has to separate two areas,
neither of them tiny, and the areas must owe their outline to the pencil, not to bridges.

Limits: the share of an outline that may be bridged is a judgement, not a theorem.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from limner.model.regionmap import Edge, LineGraph
from limner.regions.edits import join_edges
from limner.regions.faces.sizes import edge_lengths, shown_sizes
from limner.regions.faces.walk import OUTSIDE, Faces, find_faces
from limner.regions.gaps.candidates import Bridge, candidates, crosses
from limner.regions.gaps.ends import End, find_ends, off_page
from limner.regions.gaps.independent_set import choose
from limner.regions.gaps.line_index import LineIndex

__all__ = ["close_gaps", "default_largest_gap_mm"]


# Without a setting, gaps are closed up to this many line widths ...
_GAP_WIDTHS = 3.0
# ... or up to this share of the drawing's size (the diagonal of its bounding box), if that is more.
_GAP_SHARE = 0.05

# An area is worth a bridge when it shows at least this many square line widths.
_WORTH_WIDTHS2 = 3.0

# Largest share of an area's outline that may be bridges.
_LARGEST_BRIDGED_SHARE = 0.3

# A bridge that parts an area which is closed without it needs better evidence than one that closes an
# outline:
# either it continues a line smoothly, of which more is drawn than missing ...
_PARTING_BEND_DEG = 65.0
_PARTING_KINK_DEG = 20.0
# ... or the line, joined to something at its other end, stops no more than so many widths short.
_PARTING_GAP_WIDTHS = 0.75

# Between two ends so near to each other the line merely broke up on the grain of the paper, and its ends are
# too ragged to have a direction.
_GRAIN_GAP_WIDTHS = 1.0

# A bridge that lands this near to a node, in line widths, ends in the node itself.
_SNAP_WIDTHS = 0.5

_ROUNDS = 2


def default_largest_gap_mm(graph: LineGraph) -> float:
    """Largest gap that is closed without a setting, in millimetres."""
    if not graph.edges:
        return 0.0
    low = np.min([edge.points.min(axis=0) for edge in graph.edges], axis=0)
    high = np.max([edge.points.max(axis=0) for edge in graph.edges], axis=0)
    return max(_GAP_WIDTHS * graph.line_width_mm, _GAP_SHARE * float(np.hypot(*(high - low))))


@dataclass(frozen=True, slots=True, eq=False)
class _Bridged:
    """A graph, and for each edge the bridge that it is a piece of, or None for lines."""

    graph: LineGraph
    origin: tuple[Bridge | None, ...]


def close_gaps(graph: LineGraph, largest_gap_mm: float, page_mm: tuple[float, float]) -> LineGraph:
    """Add bridges to a graph.

    Parameters
    ----------
    graph : LineGraph
        Lines as drawn.
    largest_gap_mm : float
        The longest bridge; 0 for none.
    page_mm : tuple of float
        Size of the page: lines that run off it are no free ends.

    Returns
    -------
    LineGraph
        The same lines, cut where a bridge lands on them, and the bridges, which come last.
    """
    if largest_gap_mm <= 0 or not graph.edges:
        return graph
    state = _Bridged(graph, (None,) * len(graph.edges))
    for turn in range(_ROUNDS):
        graph = state.graph
        ends = [end for end in find_ends(graph) if not off_page(end.point, page_mm, graph.line_width_mm)]
        if turn > 0:
            ends = _near_bridges(ends, graph, largest_gap_mm)
        if not ends:
            break
        found = candidates(graph, ends, LineIndex(graph), largest_gap_mm)
        chosen = choose([bridge.weight for bridge in found], _conflicts(found))
        if not chosen:
            break
        state = _insert(state, ends, [found[number] for number in chosen])
    return _only_worthwhile(state)


def _near_bridges(ends: list[End], graph: LineGraph, largest_gap_mm: float) -> list[End]:
    """Ends for which the first bridges may have changed something."""
    bridges = [edge.points for edge in graph.edges if edge.kind == "bridge"]
    if not bridges or not ends:
        return []
    near = cKDTree(np.concatenate(bridges)).query_ball_point(
        [end.point for end in ends], largest_gap_mm, return_length=True
    )
    return [end for end, beside in zip(ends, near, strict=True) if beside > 0]


def _conflicts(found: list[Bridge]) -> list[set[int]]:
    conflicts: list[set[int]] = [set() for _ in found]
    by_end: dict[int, list[int]] = {}
    for number, bridge in enumerate(found):
        for end in (bridge.first, bridge.second):
            if end is not None:
                by_end.setdefault(end, []).append(number)
    for users in by_end.values():
        for number in users:
            conflicts[number].update(users)
    boxes = np.array([[*b.points.min(axis=0), *b.points.max(axis=0)] for b in found]).reshape(-1, 4)
    for number, bridge in enumerate(found):
        touching = (boxes[number + 1 :, :2] <= boxes[number, 2:]).all(axis=1)
        touching &= (boxes[number + 1 :, 2:] >= boxes[number, :2]).all(axis=1)
        for other in (np.flatnonzero(touching) + number + 1).tolist():
            curve = found[other].points
            if other not in conflicts[number] and crosses(bridge.points, curve[:-1], curve[1:]):
                conflicts[number].add(other)
                conflicts[other].add(number)
    for number in range(len(found)):
        conflicts[number].discard(number)
    return conflicts


def _insert(state: _Bridged, ends: list[End], bridges: list[Bridge]) -> _Bridged:
    """Cut the lines where bridges land, and add the bridges."""
    graph = state.graph
    nodes = [np.asarray(node) for node in graph.nodes]
    snap = _SNAP_WIDTHS * graph.line_width_mm
    cuts: dict[int, dict[int, int]] = {}
    landing: list[int] = []
    for bridge in bridges:
        if bridge.second is not None:
            landing.append(ends[bridge.second].node)
            continue
        edge = graph.edges[bridge.edge]
        point = edge.points[bridge.place]
        near = [node for node in (edge.start, edge.end) if np.hypot(*(graph.nodes[node] - point)) < snap]
        if near:
            landing.append(near[0])
            continue
        if bridge.place not in cuts.setdefault(bridge.edge, {}):
            cuts[bridge.edge][bridge.place] = len(nodes)
            nodes.append(point)
        landing.append(cuts[bridge.edge][bridge.place])
    pieces = [
        (piece, origin)
        for number, (edge, origin) in enumerate(zip(graph.edges, state.origin, strict=True))
        for piece in _cut(edge, cuts.get(number, {}))
    ]
    for bridge, node in zip(bridges, landing, strict=True):
        start = ends[bridge.first].node
        if start == node:
            continue
        points = bridge.points.copy()
        points[0], points[-1] = nodes[start], nodes[node]
        pieces.append((Edge(points, np.zeros(len(points)), start, node, "bridge"), bridge))
    pieces.sort(key=lambda piece: piece[1] is not None)
    edges, origin = zip(*pieces, strict=True)
    return _Bridged(LineGraph(np.array(nodes), edges, graph.line_width_mm), origin)


def _cut(edge: Edge, cuts: dict[int, int]) -> list[Edge]:
    places = [place for place in sorted(cuts) if 0 < place < len(edge.points) - 1]
    if not places:
        return [edge]
    bounds = [0, *places, len(edge.points) - 1]
    nodes = [edge.start, *(cuts[place] for place in places), edge.end]
    return [
        Edge(
            edge.points[low : high + 1],
            edge.width_mm[low : high + 1],
            nodes[piece],
            nodes[piece + 1],
            edge.kind,
        )
        for piece, (low, high) in enumerate(pairwise(bounds))
    ]


class _Merging:
    """Faces as they merge when bridges between them are taken out; the last one is the outside."""

    def __init__(self, graph: LineGraph, faces: Faces, is_bridge: NDArray[np.bool_]) -> None:
        count = len(faces.faces)
        self.outside = count
        self.length = edge_lengths(graph.edges)
        self.side = np.where(faces.side == OUTSIDE, count, faces.side)
        self.shown = [*shown_sizes(graph.edges, faces, graph.line_width_mm).tolist(), np.inf]
        used = np.repeat(faces.active[:, None], 2, axis=1)
        length = np.repeat(self.length[:, None], 2, axis=1)
        bridged = used & is_bridge[:, None]
        self.outline = np.bincount(self.side[used], length[used], count + 1).tolist()
        self.bridged = np.bincount(self.side[bridged], length[bridged], count + 1).tolist()
        self._root = list(range(count + 1))

    def sides(self, edge: int) -> tuple[int, int]:
        """The faces on both sides of an edge as they are now; the outside always second."""
        low, high = sorted(self._find(int(face)) for face in self.side[edge])
        return low, high

    def _find(self, face: int) -> int:
        while self._root[face] != face:
            face = self._root[face]
        return face

    def merge(self, edge: int) -> None:
        """Take an edge out."""
        low, high = self.sides(edge)
        self._root[low] = high
        self.shown[high] += self.shown[low]
        self.outline[high] += self.outline[low] - 2.0 * self.length[edge]
        self.bridged[high] += self.bridged[low] - 2.0 * self.length[edge]

    def bridged_share(self, face: int) -> float:
        """Share of a face's outline that is bridged; 0 for the outside."""
        return 0.0 if face == self.outside else self.bridged[face] / max(self.outline[face], 1e-9)


def _only_worthwhile(state: _Bridged) -> LineGraph:
    """Take out bridges that bound nothing, or little, or mostly bridged areas."""
    graph = state.graph
    bridges = [number for number, origin in enumerate(state.origin) if origin is not None]
    if not bridges:
        return graph
    is_bridge = np.zeros(len(graph.edges), bool)
    is_bridge[bridges] = True
    faces = find_faces(graph.edges, np.ones(len(graph.edges), bool))
    merging = _Merging(graph, faces, is_bridge)
    dropped = {number for number in bridges if not faces.active[number]}
    kept = sorted(set(bridges) - dropped, key=lambda number: (-merging.length[number], number))
    for number in kept:
        low, high = merging.sides(number)
        if low == high:
            dropped.add(number)
        elif not _worth(state.origin[number], low, high, merging, graph.line_width_mm):
            merging.merge(number)
            dropped.add(number)
    edges = tuple(edge for number, edge in enumerate(graph.edges) if number not in dropped)
    return join_edges(LineGraph(graph.nodes, edges, graph.line_width_mm))


def _worth(bridge: Bridge | None, low: int, high: int, merging: _Merging, line_width: float) -> bool:
    """Whether a bridge between two faces is worth it."""
    assert bridge is not None
    if min(merging.shown[low], merging.shown[high]) < _WORTH_WIDTHS2 * line_width**2:
        return False
    if max(merging.bridged_share(low), merging.bridged_share(high)) > _LARGEST_BRIDGED_SHARE:
        return False
    if high == merging.outside:
        return True
    if bridge.second is not None:
        if bridge.gap <= _GRAIN_GAP_WIDTHS * line_width:
            return True
        smooth = bridge.turn[0] <= _PARTING_BEND_DEG and bridge.turn[1] <= _PARTING_KINK_DEG
        return smooth and bridge.gap <= bridge.drawn
    return bridge.anchored and bridge.gap <= _PARTING_GAP_WIDTHS * line_width
