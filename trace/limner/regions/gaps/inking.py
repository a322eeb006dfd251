"""Bridges in ink: where the pencil was lifted within one line, the line goes on.

Method: a bridge whose two ends plainly continue each other, and which is short beside what is drawn of
them, gets a width: that of the line at one end changes evenly into that of the line at the other, both read
before the tips, which taper. On the raster such a bridge is a stroke that begins within the lines on both
sides, so that their pointed or rounded tips leave no notch in it. Bridges to another line, and all others,
have no width and no ink.

Limits: a row of dashes that parts two areas is inked where the dashes are long beside what lies between them.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limner.geometry.polylines import arc_lengths, points_at
from limner.geometry.strokes import ink_of_points, window_around
from limner.model.arrays import Floats
from limner.model.raster import ScaledInk
from limner.model.regionmap import Edge, LineGraph
from limner.regions.gaps.candidates import Bridge
from limner.regions.gaps.ends import End

__all__ = ["bridge_widths", "with_bridges"]


# What is missing is at most this share of what is drawn of the line: less than that, it is rather a dash than
# a line that broke off.
_LARGEST_MISSING_SHARE = 0.5

# The width of a line is read from here to there before its end, in line widths: nearer it tapers.
_TIP_WIDTHS = 0.5
_READ_WIDTHS = 4.0

# The stroke begins so far within the lines at its ends: a pencil that is lifted tapers over about so much.
_WITHIN_WIDTHS = 1.5

_SPACING_PX = 0.5


def bridge_widths(bridge: Bridge, graph: LineGraph, ends: Sequence[End]) -> Floats:
    """Width of the ink along a bridge.

    Parameters
    ----------
    bridge : Bridge
        The bridge.
    graph : LineGraph
        The lines that it was found on.
    ends : sequence of End
        Their free ends.

    Returns
    -------
    ndarray of float64, shape (n,)
        In millimetres, for each of the bridge's points; 0 where it is not inked.
    """
    count, line_width = len(bridge.points), graph.line_width_mm
    if bridge.second is None or not bridge.continues(line_width):
        return np.zeros(count)
    if bridge.gap > max(_LARGEST_MISSING_SHARE * bridge.drawn, line_width):
        return np.zeros(count)
    along = arc_lengths(bridge.points)
    share = along / max(float(along[-1]), 1e-12)
    first, second = (_width_before(ends[end], graph) for end in (bridge.first, bridge.second))
    return np.asarray(first + share * (second - first))


def _width_before(end: End, graph: LineGraph) -> float:
    edge = graph.edges[end.edge]
    away = np.hypot(*(edge.points - end.point).T) / graph.line_width_mm
    read = edge.width_mm[(away >= _TIP_WIDTHS) & (away <= _READ_WIDTHS)]
    return float(np.median(read if len(read) else edge.width_mm))


def with_bridges(ink: ScaledInk, graph: LineGraph) -> ScaledInk:
    """The ink with the bridges that have a width.

    Parameters
    ----------
    ink : ScaledInk
        The ink as it was drawn.
    graph : LineGraph
        Its lines and bridges.

    Returns
    -------
    ScaledInk
        The same where no bridge has a width.
    """
    bridges = [edge for edge in graph.edges if edge.kind == "bridge" and edge.inked]
    if not bridges:
        return ink
    at_node = _lines_at(graph)
    coverage = ink.coverage.copy()
    for bridge in bridges:
        points, widths = _stroke(bridge, graph, at_node)
        points, radii = _dense(points / ink.mm_per_px, widths / ink.mm_per_px / 2.0)
        window = window_around(points, float(radii.max()) + 1.0, (coverage.shape[0], coverage.shape[1]))
        there = coverage[window]
        origin = np.array([window[1].start, window[0].start], dtype=np.float64)
        np.maximum(there, ink_of_points(points - origin, radii, there.shape), out=there)
    return replace(ink, coverage=coverage)


def _lines_at(graph: LineGraph) -> dict[int, list[Floats]]:
    """Lines at each node, each from there on."""
    found: dict[int, list[Floats]] = {}
    for edge in graph.edges:
        if edge.kind == "line":
            found.setdefault(edge.start, []).append(edge.points)
            found.setdefault(edge.end, []).append(edge.points[::-1])
    return found


def _stroke(bridge: Edge, graph: LineGraph, at_node: dict[int, list[Floats]]) -> tuple[Floats, Floats]:
    """Points of the stroke along a bridge and its width at them."""
    parts, widths = [bridge.points], [bridge.width_mm]
    for node, at_start in ((bridge.start, True), (bridge.end, False)):
        lines = at_node.get(node, [])
        if len(lines) != 1:
            continue
        length = arc_lengths(lines[0])
        within = lines[0][(length > 0.0) & (length <= _WITHIN_WIDTHS * graph.line_width_mm)]
        width = np.full(len(within), bridge.width_mm[0 if at_start else -1])
        parts = [within[::-1], *parts] if at_start else [*parts, within]
        widths = [width, *widths] if at_start else [*widths, width]
    return np.concatenate(parts), np.concatenate(widths)


def _dense(points: Floats, radii: Floats) -> tuple[Floats, Floats]:
    along = arc_lengths(points)
    count = max(2, int(np.ceil(along[-1] / _SPACING_PX)) + 1)
    at = np.linspace(0.0, along[-1], count)
    return points_at(points, along, at), np.interp(at, along, radii)
