"""Join edges that run on through a node where nothing else meets them."""

from dataclasses import replace

import numpy as np

from limner.model.regionmap import Edge, LineGraph

__all__ = ["rejoin"]


def rejoin(graph: LineGraph) -> LineGraph:
    """Join edges of the same kind at every node that only the two of them touch.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.

    Returns
    -------
    LineGraph
        Fewer, longer edges of the same shape; nodes keep their numbers, those in between go unused.
    """
    edges: dict[int, Edge] = dict(enumerate(graph.edges))
    touching: dict[int, list[int]] = {}
    for number, edge in edges.items():
        touching.setdefault(edge.start, []).append(number)
        touching.setdefault(edge.end, []).append(number)
    for node in sorted(touching):
        here = touching[node]
        if len(here) != 2 or here[0] == here[1]:
            continue
        kept, lost = sorted(here)
        if edges[kept].kind != edges[lost].kind:
            continue
        joined = _through(edges[kept], edges[lost], node)
        far = joined.end
        touching[far][touching[far].index(lost)] = kept
        edges[kept] = joined
        del edges[lost]
        touching[node] = []
    return LineGraph(graph.nodes, tuple(edges[number] for number in sorted(edges)), graph.line_width_mm)


def _reversed(edge: Edge) -> Edge:
    return replace(
        edge, points=edge.points[::-1], width_mm=edge.width_mm[::-1], start=edge.end, end=edge.start
    )


def _through(first: Edge, second: Edge, node: int) -> Edge:
    """`first` up to `node` and `second` from there on."""
    first = first if first.end == node else _reversed(first)
    second = second if second.start == node else _reversed(second)
    return Edge(
        np.concatenate([first.points, second.points[1:]]),
        np.concatenate([first.width_mm, second.width_mm[1:]]),
        first.start,
        second.end,
        first.kind,
    )
