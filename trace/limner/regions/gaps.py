"""Close the gaps that the pencil left.

Method: all free ends propose bridges (`limner.regions.bridges`); the set that is worth most without two
bridges sharing an end or crossing is chosen as a whole (`limner.regions.choice`). Ends that are still free
then look once more, at the bridges too: where a junction fell into a gap, the third line meets the bridge
of the other two. Finally every bridge must be worth it: it has to separate two areas, neither of them
tiny, and the areas must owe their outline to the pencil, not to bridges.

Limits: the share of an outline that may be bridged is a judgement, not a theorem.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from limner.model.regionmap import Edge, LineGraph
from limner.regions.bridges import Bridge, End, LineIndex, candidates, crosses, find_ends
from limner.regions.choice import choose
from limner.regions.planar import OUTSIDE, find_faces

__all__ = ["close_gaps", "default_largest_gap_mm"]

Floats = NDArray[np.float64]

# Without a setting, gaps are closed up to this many line widths ...
_GAP_WIDTHS = 3.0
# ... or up to this share of the drawing's size (the diagonal of its bounding box), if that is more.
_GAP_SHARE = 0.05

# An area is worth a bridge when it shows at least this many square line widths.
_WORTH_WIDTHS2 = 3.0

# Largest share of an area's outline that may be bridges.
_LARGEST_BRIDGED_SHARE = 0.3

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
    for _ in range(_ROUNDS):
        ends = [end for end in find_ends(graph) if not _off_page(end.point, page_mm, graph.line_width_mm)]
        if not ends:
            break
        index = LineIndex(graph)
        found = candidates(graph, ends, index, largest_gap_mm)
        chosen = choose([bridge.weight for bridge in found], _conflicts(found))
        if not chosen:
            break
        graph = _insert(graph, ends, [found[number] for number in chosen])
    return _only_worthwhile(graph)


def _off_page(point: Floats, page_mm: tuple[float, float], line_width: float) -> bool:
    return bool(min(point[0], point[1], page_mm[0] - point[0], page_mm[1] - point[1]) < 0.75 * line_width)


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


def _insert(graph: LineGraph, ends: list[End], bridges: list[Bridge]) -> LineGraph:
    """Cut the lines where bridges land, and add the bridges."""
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
    drawn: list[Edge] = []
    bridged: list[Edge] = []
    for number, edge in enumerate(graph.edges):
        pieces = _cut(edge, cuts.get(number, {}))
        (bridged if edge.kind == "bridge" else drawn).extend(pieces)
    for bridge, node in zip(bridges, landing, strict=True):
        start = ends[bridge.first].node
        if start == node:
            continue
        points = bridge.points.copy()
        points[0], points[-1] = nodes[start], nodes[node]
        bridged.append(Edge(points, np.zeros(len(points)), start, node, "bridge"))
    return LineGraph(np.array(nodes), (*drawn, *bridged), graph.line_width_mm)


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


def _only_worthwhile(graph: LineGraph) -> LineGraph:
    """Take out bridges that bound nothing, or little, or mostly bridged areas."""
    bridges = [number for number, edge in enumerate(graph.edges) if edge.kind == "bridge"]
    if not bridges:
        return graph
    every = np.ones(len(graph.edges), bool)
    faces = find_faces(graph.edges, every, graph.line_width_mm)
    length = np.array([float(np.hypot(*np.diff(edge.points, axis=0).T).sum()) for edge in graph.edges])
    inked = np.array([float(edge.width_mm.mean()) for edge in graph.edges])
    count = len(faces.faces)
    # The last row is the outside: never small, never bridged too much.
    shown = np.array([face.visible for face in faces.faces] + [np.inf])
    outline, bridged = np.zeros(count + 1), np.zeros(count + 1)
    is_bridge = np.zeros(len(graph.edges), bool)
    is_bridge[bridges] = True
    for column in (0, 1):
        side = faces.side[:, column]
        used = faces.active
        np.add.at(outline, side[used], length[used])
        np.add.at(bridged, side[used & is_bridge], length[used & is_bridge])
        np.add.at(shown, side[used], -(length * inked)[used] / 2.0)
    root = list(range(count + 1))

    def find(face: int) -> int:
        while root[face] != face:
            face = root[face]
        return face

    worth = _WORTH_WIDTHS2 * graph.line_width_mm**2
    dropped = {number for number in bridges if not faces.active[number]}
    for number in sorted(set(bridges) - dropped, key=lambda number: (-length[number], number)):
        low, high = sorted(find(count if face == OUTSIDE else int(face)) for face in faces.side[number])
        if low != high:
            poor = any(
                face != find(count)
                and (shown[face] < worth or bridged[face] > _LARGEST_BRIDGED_SHARE * outline[face])
                for face in (low, high)
            )
            if not poor:
                continue
            root[low] = high
            shown[high] += shown[low]
            outline[high] += outline[low] - 2.0 * length[number]
            bridged[high] += bridged[low] - 2.0 * length[number]
        dropped.add(number)
    edges = tuple(edge for number, edge in enumerate(graph.edges) if number not in dropped)
    return LineGraph(graph.nodes, edges, graph.line_width_mm)
