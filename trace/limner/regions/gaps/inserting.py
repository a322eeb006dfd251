"""Put bridges into the graph: lines are cut where bridges land on them, and the bridges become edges."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from limner.model.regionmap import Edge, LineGraph
from limner.regions.gaps.candidates import Bridge
from limner.regions.gaps.ends import End
from limner.regions.gaps.inking import bridge_widths

__all__ = ["Bridged", "insert"]


# A bridge that lands this near to a node, in line widths, ends in the node itself.
_SNAP_WIDTHS = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Bridged:
    """A graph, and for each edge the bridge that it is a piece of, or None for lines."""

    graph: LineGraph
    origin: tuple[Bridge | None, ...]


def insert(state: Bridged, ends: list[End], bridges: list[Bridge], *, inked: bool) -> Bridged:
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
        widths = bridge_widths(bridge, graph, ends) if inked else np.zeros(len(points))
        pieces.append((Edge(points, widths, start, node, "bridge"), bridge))
    pieces.sort(key=lambda piece: piece[1] is not None)
    edges, origin = zip(*pieces, strict=True)
    return Bridged(LineGraph(np.array(nodes), edges, graph.line_width_mm), origin)


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
