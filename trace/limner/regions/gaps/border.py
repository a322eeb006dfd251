"""Close lines that run off the page along its border.

Method: the points where lines leave the page are sorted along its border; the stretch between two that
follow each other becomes an edge where both belong to the same connected lines. The longest stretch is left
open: it is the background's.

Limits: a drawing that fills the whole page keeps one side open.
"""

import numpy as np

from limner.geometry.links import connected_pieces
from limner.model.arrays import Floats
from limner.model.regionmap import Edge, LineGraph
from limner.regions.gaps.ends import find_ends

__all__ = ["OFF_PAGE_WIDTHS", "close_border", "off_page"]


OFF_PAGE_WIDTHS = 0.75
"""An end nearer than this to the page's border, in line widths, runs off the page."""


def off_page(point: Floats, page_mm: tuple[float, float], line_width_mm: float) -> bool:
    """Whether an end lies at the page's border."""
    x, y = point
    return bool(min(x, y, page_mm[0] - x, page_mm[1] - y) < OFF_PAGE_WIDTHS * line_width_mm)


def close_border(graph: LineGraph, page_mm: tuple[float, float]) -> LineGraph:
    """Add edges along the page's border.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    page_mm : tuple of float
        Size of the page.

    Returns
    -------
    LineGraph
        With edges of kind "border" at the end.
    """
    ends = [end for end in find_ends(graph) if off_page(end.point, page_mm, graph.line_width_mm)]
    if len(ends) < 2:
        return graph
    links = np.array([[edge.start, edge.end] for edge in graph.edges])
    component = connected_pieces(links, len(graph.nodes))[1].tolist()
    stops = sorted((*_project(end.point, page_mm), end.node) for end in ends)
    around = 2.0 * (page_mm[0] + page_mm[1])
    runs = []
    for place, (at, x, y, node) in enumerate(stops):
        next_at, next_x, next_y, next_node = stops[(place + 1) % len(stops)]
        length = (next_at - at) % around or around
        runs.append((length, at, (x, y), node, (next_x, next_y), next_node))
    runs.remove(max(runs))
    edges = list(graph.edges)
    for length, at, first, node, second, next_node in runs:
        if component[node] != component[next_node]:
            continue
        corners = _corners_between(at, length, page_mm)
        points = np.array([graph.nodes[node], first, *corners, second, graph.nodes[next_node]])
        step = np.hypot(*np.diff(points, axis=0).T)
        points = points[np.concatenate([[True], step > 1e-9])]
        points[-1] = graph.nodes[next_node]
        if len(points) >= 2:
            edges.append(Edge(points, np.zeros(len(points)), node, next_node, "border"))
    return LineGraph(graph.nodes, tuple(edges), graph.line_width_mm)


def _project(point: Floats, page_mm: tuple[float, float]) -> tuple[float, float, float]:
    """Nearest point of the border: its way around from the top left corner, clockwise, and its x and y."""
    width, height = page_mm
    x, y = float(point[0]), float(point[1])
    sides = [
        (y, x, x, 0.0),
        (width - x, width + y, width, y),
        (height - y, width + height + (width - x), x, height),
        (x, 2.0 * width + height + (height - y), 0.0, y),
    ]
    _, way, on_x, on_y = min(sides)
    return way, on_x, on_y


def _corners_between(at: float, length: float, page_mm: tuple[float, float]) -> list[tuple[float, float]]:
    """Corners of the page on a clockwise way of some length along the border."""
    width, height = page_mm
    around = 2.0 * (width + height)
    corners = [
        (width, (width, 0.0)),
        (width + height, (width, height)),
        (2.0 * width + height, (0.0, height)),
        (around, (0.0, 0.0)),
    ]
    ahead = sorted(((way - at) % around, corner) for way, corner in corners)
    return [corner for way, corner in ahead if 1e-9 < way < length - 1e-9]
