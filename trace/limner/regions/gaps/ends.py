"""Free ends of lines, and where they are heading.

Method: a parabola through the last three line widths of the line, its rounded tip left out, tells the
direction at the tip of a line that bends. Where a corner lies within them no parabola fits, and the stretch
is shortened until one does. A line too short for that gives its chord.

Limits: a line that stops inside a bend deceives its end.
"""

from dataclasses import dataclass

import numpy as np

from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Floats
from limner.model.regionmap import Edge, LineGraph

__all__ = ["End", "find_ends", "off_page"]


# Length of line that tells where an end is heading, in line widths.
_HEADING_WIDTHS = 3.0
_TIP_SKIP_WIDTHS = 0.3
# Shorter lines than this give a chord, but no tangent.
_PARABOLA_WIDTHS = 1.5

# A black spot, broader than this many lines, is no line that leads anywhere, nor are its corners: what lies
# in it is no longer than this share of its own width.
_SPOT_WIDTHS = 2.0
_SPOT_LENGTHS = 1.5

# An end nearer than this to the page's border runs off the page.
_OFF_PAGE_WIDTHS = 0.75

# A stretch that leaves its parabola by more than this, in line widths, holds a corner: the edge of a pencil
# line is rough by half as much. It is shortened in steps of this share, and down to so many line widths.
_CORNER_WIDTHS = 0.1
_SHORTENED = 0.85
_SHORTEST_WIDTHS = 1.2
_FEWEST_POINTS = 8


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """A free end of a line.

    Parameters
    ----------
    node, edge : int
        Its node and its line.
    point, heading : ndarray, shape (2,)
        Where it is, in millimetres, and where it is heading, a unit vector.
    """

    node: int
    edge: int
    point: Floats
    heading: Floats


def find_ends(graph: LineGraph) -> list[End]:
    """All free ends of lines, in the order of their nodes; those within black spots are none."""
    degree = np.zeros(len(graph.nodes), np.int64)
    touching: dict[int, tuple[int, bool]] = {}
    for number, edge in enumerate(graph.edges):
        for node, at_start in ((edge.start, True), (edge.end, False)):
            degree[node] += 1
            touching[node] = (number, at_start)
    ends = []
    for node in np.flatnonzero(degree == 1).tolist():
        number, at_start = touching[node]
        if _in_spot(graph.edges[number], graph.line_width_mm):
            continue
        points = graph.edges[number].points
        heading = _heading(points if at_start else points[::-1], graph.line_width_mm)
        ends.append(End(node, number, graph.nodes[node], heading))
    return ends


def _in_spot(edge: Edge, line_width: float) -> bool:
    """Whether a line is but the middle of a black spot, or of a corner of one."""
    broadest = float(edge.width_mm.max())
    if broadest <= _SPOT_WIDTHS * line_width:
        return False
    return float(arc_lengths(edge.points)[-1]) <= _SPOT_LENGTHS * broadest


def _heading(points: Floats, line_width: float) -> Floats:
    """Direction in which a line leaves its first point, by a parabola through its last stretch."""
    away = np.hypot(*(points - points[0]).T)
    beyond = np.flatnonzero(away > _HEADING_WIDTHS * line_width)
    last = int(beyond[0]) if len(beyond) else len(points) - 1
    # The tip itself is rounded and rough: it does not count.
    first = min(int(np.searchsorted(away[: last + 1], _TIP_SKIP_WIDTHS * line_width)), max(last - 1, 0))
    near = _before_corner(points[first : last + 1], line_width)
    chord, along, across = _along_chord(near)
    if along[-1] > -1e-9:
        return np.asarray((points[0] - points[-1]) / max(float(np.hypot(*(points[0] - points[-1]))), 1e-9))
    if len(near) < 6 or -along[-1] < _PARABOLA_WIDTHS * line_width:
        return np.asarray(chord)
    _, slope, _ = np.polynomial.polynomial.polyfit(along, across, 2)
    direction = chord + slope * np.array([-chord[1], chord[0]])
    return np.asarray(direction / np.hypot(*direction))


def off_page(point: Floats, page_mm: tuple[float, float], line_width_mm: float) -> bool:
    """Whether an end lies at the page's border."""
    x, y = point
    return bool(min(x, y, page_mm[0] - x, page_mm[1] - y) < _OFF_PAGE_WIDTHS * line_width_mm)


def _along_chord(near: Floats) -> tuple[Floats, Floats, Floats]:
    """Direction of the chord towards the first point, and all points along and across it, from the first."""
    chord = near[0] - near[-1]
    chord = chord / max(float(np.hypot(*chord)), 1e-12)
    return chord, (near - near[0]) @ chord, (near - near[0]) @ np.array([-chord[1], chord[0]])


def _before_corner(near: Floats, line_width: float) -> Floats:
    """The stretch of a line from its first point up to where a corner spoils the parabola through it."""
    while len(near) > _FEWEST_POINTS:
        _, along, across = _along_chord(near)
        if -along[-1] < _SHORTEST_WIDTHS * line_width:
            break
        parabola = np.polynomial.polynomial.polyfit(along, across, 2)
        off = np.abs(across - np.polynomial.polynomial.polyval(along, parabola))
        if off.max() <= _CORNER_WIDTHS * line_width:
            break
        near = near[: max(_FEWEST_POINTS, int(_SHORTENED * len(near)))]
    return near
