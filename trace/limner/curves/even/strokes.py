"""Strokes out of the edges of a planar map: which edges the hand drew in one go.

At a junction the two edges that continue each other most smoothly are one stroke; an edge without such a
partner ends there. The rule is greedy by the size of the turn, which is right where two lines cross and
where one line runs into another; three lines that meet at equal angles all end there.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.geometry.polylines import heading
from limner.model.arrays import Floats
from limner.model.regionmap import LineGraph

__all__ = ["Stroke", "find_strokes"]


# A hand that turns by more than this within a line's width has made a corner: two strokes meet there.
LARGEST_TURN_DEG = 40.0

# The direction in which an edge leaves a junction is read this far from it: nearer, the skeleton of
# the blot where the lines meet tells nothing.
DIRECTION_REACH_LINE_WIDTHS = 2.5

End = tuple[int, bool]
"""One end of an edge: (index of the edge, whether it is its end rather than its start)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One line of the drawing, from end to end.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Centreline in millimetres; a closed stroke does not repeat its first point.
    width_mm : ndarray of float64, shape (n,)
        Width of the ink there.
    free : tuple of bool
        Whether its start and its end are free ends rather than junctions.
    closed : bool
        Whether it is a loop.
    """

    points: Floats
    width_mm: Floats
    free: tuple[bool, bool]
    closed: bool


def find_strokes(graph: LineGraph) -> tuple[Stroke, ...]:
    """Join the drawn edges of a graph into strokes.

    Parameters
    ----------
    graph : LineGraph
        Only its lines and the bridges in ink are strokes.

    Returns
    -------
    tuple of Stroke
        In the order of their first edges.
    """
    drawn = [index for index, edge in enumerate(graph.edges) if edge.inked]
    partner = _partners(graph, drawn)
    degree = np.zeros(len(graph.nodes), int)
    for index in drawn:
        degree[graph.edges[index].start] += 1
        degree[graph.edges[index].end] += 1
    used: set[int] = set()
    strokes = []
    for index in drawn:
        if index not in used:
            walk, closed = _walk(index, partner)
            used.update(edge for edge, _ in walk)
            strokes.append(_stroke(graph, walk, closed, degree))
    return tuple(strokes)


def _partners(graph: LineGraph, drawn: list[int]) -> dict[End, End]:
    """Which end of an edge goes on in which other end, both ways."""
    ends: dict[int, list[End]] = {}
    for index in drawn:
        ends.setdefault(graph.edges[index].start, []).append((index, False))
        ends.setdefault(graph.edges[index].end, []).append((index, True))
    reach_mm = DIRECTION_REACH_LINE_WIDTHS * graph.line_width_mm
    straight_on = -np.cos(np.radians(LARGEST_TURN_DEG))
    partner: dict[End, End] = {}
    for meeting in ends.values():
        lines = [(graph.edges[index].points, at_end) for index, at_end in meeting]
        vectors = [heading(line[::-1] if at_end else line, reach_mm) for line, at_end in lines]
        count = range(len(meeting))
        turns = sorted((float(vectors[i] @ vectors[j]), i, j) for i in count for j in count if i < j)
        for cosine, i, j in turns:
            one, other = meeting[i], meeting[j]
            if cosine <= straight_on and one not in partner and other not in partner:
                partner[one], partner[other] = other, one
    return partner


def _walk(first: int, partner: dict[End, End]) -> tuple[list[tuple[int, bool]], bool]:
    """All edges of the stroke that holds edge `first`, in order, and whether it closes on itself."""
    walk = [(first, True)]
    # Walked forwards, an edge is left at its end and entered at its start.
    while (following := partner.get(walk[-1])) is not None:
        if following == (first, False):
            return walk, True
        walk.append((following[0], not following[1]))
    while (before := partner.get((walk[0][0], not walk[0][1]))) is not None:
        walk.insert(0, before)
    return walk, False


def _stroke(graph: LineGraph, walk: list[tuple[int, bool]], closed: bool, degree: NDArray[np.int_]) -> Stroke:
    points, widths = [], []
    for index, forward in walk:
        edge, step = graph.edges[index], 1 if forward else -1
        points.append(edge.points[::step][:-1])
        widths.append(edge.width_mm[::step][:-1])
    if not closed:
        index, forward = walk[-1]
        last = [-1 if forward else 0]
        points.append(graph.edges[index].points[last])
        widths.append(graph.edges[index].width_mm[last])
    start, end = _end_nodes(graph, walk)
    free = (bool(degree[start] == 1), bool(degree[end] == 1))
    return Stroke(np.concatenate(points), np.concatenate(widths), free, closed)


def _end_nodes(graph: LineGraph, walk: list[tuple[int, bool]]) -> tuple[int, int]:
    (first, forward), (last, onward) = walk[0], walk[-1]
    start = graph.edges[first].start if forward else graph.edges[first].end
    end = graph.edges[last].end if onward else graph.edges[last].start
    return start, end
