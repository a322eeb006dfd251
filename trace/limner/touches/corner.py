"""A corner made where an outline has none, or taken where it has one.

Method: the place is the nearest point of a line, or the sharpest one near to it. There the centreline and
both edges of its ink are changed over about a line width: for a corner both arms go on straight to where they
meet; for none, each point becomes the mean of the line around it, over a stretch that grows smoothly from
nothing to a line width and shrinks again. A mark tells those who fit curves what is meant. Shared edges stay
shared, as it is the map that is changed.

Limits: where several lines meet nothing is moved, and the mark alone says which of them run on smoothly. A
bend wider than three line widths keeps a part of its roundness beside a corner.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.errors import GeometryError
from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Floats
from limner.model.regionmap import CornerMark, Edge, InkRing, LineGraph, RegionMap
from limner.touches.courses import Course, bounding_edges, row_through
from limner.touches.sizes import resized

__all__ = ["mark_corner"]

# Nothing is meant by a point that lies farther from every line: a hand does not miss by more.
_FAR_LINE_WIDTHS = 6.0

# The sharpest place so near to the point is what is meant, where it turns by so much more over an arm of this
# length: the pencil's waver turns by about ten degrees.
_SNAP_LINE_WIDTHS = 1.0
_ARM_LINE_WIDTHS = 0.75
_SHARPER_DEG = 15.0

# Over how much to each side a corner is smoothed, and how much of a bend is drawn out into one.
_SMOOTHED_LINE_WIDTHS = 1.0
_DRAWN_OUT_LINE_WIDTHS = 1.5

# Both edges of the ink lie within this of the middle of a straight line, in its own widths, and farther away
# at a corner, as their mitre is longer: up to three times, beyond which it is cut off ...
_INK_WIDTHS = 0.65
_SHALLOWEST = 1.0 / 3.0
# ... and a line whose middle lies within this of an edge of its ink belongs to it, of a black's less.
_BESIDE_WIDTHS = 2.0
_BESIDE_BLACK_WIDTHS = 0.75

# The middle of an acute corner's ink has a whisker of up to this length at its tip.
_WHISKER_LINE_WIDTHS = 2.0

# So near to where lines meet, in line widths, that place is meant.
_JUNCTION_LINE_WIDTHS = 0.5

# What is changed has points so far apart, in line widths: as dense as centrelines are.
_SPACING_LINE_WIDTHS = 0.1

# A line turns by so little where two arms do not meet in a tip.
_STRAIGHT = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class _Edit:
    """A course changed between two lengths of its way; `tip` is where the corner comes to lie, if any."""

    course: Course
    at: float
    reach: float
    sharp: bool

    @property
    def rim(self) -> float:
        """How far to both sides anything is changed."""
        return self.reach if self.sharp else 2.0 * self.reach

    def of(self, lengths: Floats) -> Floats:
        """Where the points at given lengths come to lie."""
        return self._drawn_out(lengths) if self.sharp else self._smoothed(lengths)

    @property
    def tip(self) -> tuple[float, float]:
        """Where the middle of it comes to lie."""
        x, y = self.of(np.array([self.at]))[0].tolist()
        return x, y

    def _smoothed(self, lengths: Floats) -> Floats:
        share = np.clip(1.0 - ((lengths - self.at) / self.rim) ** 2, 0.0, None)
        return self.course.mean_around(lengths, self.reach * share**2)

    def _drawn_out(self, lengths: Floats) -> Floats:
        low, high = self.course.of(np.array([self.at - self.reach, self.at + self.reach]))
        tip = self._meeting(low, high)
        away = (lengths - self.at) / self.reach
        ends = np.where(away[:, None] < 0.0, low, high)
        arms = tip + np.abs(away)[:, None] * (ends - tip)
        return np.where(np.abs(away)[:, None] < 1.0, arms, self.course.of(lengths))

    def _meeting(self, low: Floats, high: Floats) -> Floats:
        """Where both arms meet; the place itself where they hardly turn, or meet far away."""
        at = self.course.of(np.array([self.at - 2.0 * self.reach, self.at, self.at + 2.0 * self.reach]))
        into, back = low - at[0], high - at[2]
        turn = into[0] * back[1] - into[1] * back[0]
        if abs(turn) < _STRAIGHT * float(np.hypot(*into) * np.hypot(*back)):
            return np.asarray(at[1])
        apart = high - low
        share = (apart[0] * back[1] - apart[1] * back[0]) / turn
        tip = low + share * into
        if share <= 0.0 or float(np.hypot(*(tip - at[1]))) > self.reach:
            return np.asarray(at[1])
        return np.asarray(tip)


def mark_corner(regions: RegionMap, at_mm: tuple[float, float], *, sharp: bool) -> RegionMap:
    """Make a corner in the outlines at a place, or take one.

    Parameters
    ----------
    regions : RegionMap
        The map.
    at_mm : tuple of float
        The place (x, y).
    sharp : bool
        Whether there is to be a corner.

    Returns
    -------
    RegionMap
        The same edges, areas and outlines of ink; what is changed lies within some line widths.

    Raises
    ------
    GeometryError
        No outline is near.
    """
    width = regions.graph.line_width_mm
    place, edge = _place(regions, np.array(at_mm))
    reach = (_DRAWN_OUT_LINE_WIDTHS if sharp else _SMOOTHED_LINE_WIDTHS) * width
    graph, marks = regions.graph, []
    if edge is not None:
        graph, place, mark, turn = _changed_edges(regions, edge, place, reach, sharp)
        marks.append(mark)
        across = max(width, _width_at(regions.graph.edges[edge], place))
        beside = _INK_WIDTHS * across / max(np.cos(turn / 2.0), _SHALLOWEST)
    else:
        beside = 1e-6
    rings = []
    for ring in regions.ink:
        ring, made = _changed_ring(ring, place, beside, reach, sharp, width)
        rings.append(ring)
        marks += made
    return replace(
        regions,
        graph=graph,
        areas=resized(regions.areas, regions.graph, graph),
        ink=tuple(rings),
        marks=(*_others(regions.marks, marks), *marks),
    )


def _others(before: Sequence[CornerMark], now: Sequence[CornerMark]) -> list[CornerMark]:
    """Marks that no later one takes the place of."""
    return [
        mark
        for mark in before
        if not any(np.hypot(*np.subtract(mark.at_mm, one.at_mm)) < one.reach_mm for one in now)
    ]


def _place(regions: RegionMap, point: Floats) -> tuple[Floats, int | None]:
    """The nearest place of a line or of an outline of ink, and the edge that it is on, if it is on one."""
    width = regions.graph.line_width_mm
    outlines = [Course(ring.points, True) for ring in regions.ink]
    feet = [course.of(np.array([course.foot(point)]))[0] for course in outlines]
    away = [float(np.hypot(*(foot - point))) for foot in feet]
    on_ink = feet[int(np.argmin(away))] if feet else None
    black = bool(feet) and regions.ink[int(np.argmin(away))].solid
    on_line, edge = _nearest_line(regions, point)
    to_line = np.inf if on_line is None else float(np.hypot(*(on_line - point)))
    nearest = min(to_line, min(away, default=np.inf))
    if not nearest <= _FAR_LINE_WIDTHS * width:
        where = "the drawing is empty" if np.isinf(nearest) else f"the nearest one is {nearest:.2f} mm away"
        raise GeometryError(f"lies on no outline: {where}; take a point on a line.")
    if on_ink is not None and min(away) < to_line:
        beside, edge = _nearest_line(regions, on_ink)
        if beside is None or edge is None:
            return on_ink, None
        across = max(width, _width_at(regions.graph.edges[edge], beside))
        most = _BESIDE_BLACK_WIDTHS if black else _BESIDE_WIDTHS
        if float(np.hypot(*(beside - on_ink))) > most * across:
            return on_ink, None
        return beside, edge
    assert on_line is not None
    return on_line, edge


def _nearest_line(regions: RegionMap, point: Floats) -> tuple[Floats | None, int | None]:
    """The nearest point of the edges, those in solid blacks left aside, and which edge it is on.

    What bounds an area is preferred to the whiskers at its corners.
    """
    best, found, number = np.inf, None, None
    bounding, behind = bounding_edges(regions), _WHISKER_LINE_WIDTHS * regions.graph.line_width_mm
    for k, edge in enumerate(regions.graph.edges):
        if edge.kind == "solid":
            continue
        course = Course(edge.points, False)
        foot = course.of(np.array([course.foot(point)]))[0]
        away = float(np.hypot(*(foot - point))) + (0.0 if k in bounding else behind)
        if away < best:
            best, found, number = away, foot, k
    return found, number


def _width_at(edge: Edge, place: Floats) -> float:
    return float(edge.width_mm[np.hypot(*(edge.points - place).T).argmin()])


def _changed_edges(
    regions: RegionMap, edge: int, place: Floats, reach: float, sharp: bool
) -> tuple[LineGraph, Floats, CornerMark, float]:
    """The graph with the line through a place changed there; the place itself, its mark, the line's turn."""
    graph = regions.graph
    width = graph.line_width_mm
    row = row_through(regions, edge)
    course = row.course
    at = _sharpest(course, course.foot(place), width)
    ends = () if course.closed else (0.0, course.total)
    room = min((abs(at - end) for end in ends), default=course.total / 3.0)
    if ends and room < _JUNCTION_LINE_WIDTHS * width:
        x, y = course.of(np.array([min(ends, key=lambda end: abs(at - end))]))[0].tolist()
        return graph, np.array([x, y]), CornerMark((x, y), reach, sharp), 0.0
    edit = _Edit(course, at, min(reach, room / 2.0), sharp)
    nodes, edges = graph.nodes.copy(), list(graph.edges)
    for k, (low, forward) in row.starts.items():
        one = edges[k] if forward else _reversed(edges[k])
        made = _changed(edit, one.points, one.width_mm, low, _SPACING_LINE_WIDTHS * width)
        if made is None:
            continue
        one = replace(one, points=made[0], width_mm=made[1])
        nodes[one.start], nodes[one.end] = one.points[0], one.points[-1]
        edges[k] = one if forward else _reversed(one)
    made_graph = LineGraph(nodes, tuple(_on_nodes(one, nodes) for one in edges), width)
    turn = float(_turns(course, np.array([at]), _ARM_LINE_WIDTHS * width)[0])
    return made_graph, course.of(np.array([at]))[0], CornerMark(edit.tip, edit.reach, sharp), turn


def _reversed(edge: Edge) -> Edge:
    points, widths = edge.points[::-1], edge.width_mm[::-1]
    return replace(edge, points=points, width_mm=widths, start=edge.end, end=edge.start)


def _on_nodes(edge: Edge, nodes: Floats) -> Edge:
    """The edge with its ends on its nodes, one of which may have moved with another line."""
    ends = nodes[[edge.start, edge.end]]
    if np.array_equal(edge.points[[0, -1]], ends):
        return edge
    points = edge.points.copy()
    points[[0, -1]] = ends
    return replace(edge, points=points)


def _changed_ring(
    ring: InkRing, place: Floats, beside: float, reach: float, sharp: bool, width: float
) -> tuple[InkRing, list[CornerMark]]:
    """An outline of ink, changed wherever it passes a place."""
    course = Course(ring.points, True)
    marks = []
    for there in course.of(np.array(_passing(course, place, beside, width))):
        course = Course(ring.points, True)
        edit = _Edit(course, course.foot(there), min(reach, course.total / 6.0), sharp)
        points = np.concatenate([course.points, course.points[:1]])
        known = np.zeros(len(course.points)) if ring.width_mm is None else ring.width_mm
        made = _changed(edit, points, np.append(known, known[0]), 0.0, _SPACING_LINE_WIDTHS * width)
        if made is not None:
            points, widths = made[0][:-1], None if ring.width_mm is None else made[1][:-1]
            ring = replace(ring, points=points, width_mm=widths)
            marks.append(CornerMark(edit.tip, edit.reach, sharp))
    return ring, marks


def _passing(course: Course, place: Floats, beside: float, width: float) -> list[float]:
    """Middles of the stretches of a closed course that lie beside a place."""
    foot = course.foot(place)
    if float(np.hypot(*(course.of(np.array([foot]))[0] - place))) > beside:
        return []
    away = np.hypot(*(course.points - place).T)
    near = course.lengths[:-1][away <= beside]
    if not len(near):
        return [foot]
    groups: list[list[float]] = []
    for length in near.tolist():
        if groups and length - groups[-1][-1] <= width:
            groups[-1].append(length)
        else:
            groups.append([length])
    if len(groups) > 1 and groups[0][0] + course.total - groups[-1][-1] <= width:
        groups[0] = [length - course.total for length in groups.pop()] + groups[0]
    return [(group[0] + group[-1]) / 2.0 for group in groups]


def _changed(
    edit: _Edit, points: Floats, widths: Floats, low: float, spacing: float
) -> tuple[Floats, Floats] | None:
    """Points of a part of a course that begins at a length, and widths at them; None where it stays."""
    own = arc_lengths(points)
    steps = max(8, int(np.ceil(2.0 * edit.rim / spacing)))
    fine = np.linspace(-edit.rim, edit.rim, 2 * (steps // 2) + 1)
    around = edit.course.total if edit.course.closed else 0.0
    images = np.unique(edit.at - low + np.array([-around, 0.0, around]))
    inside = np.concatenate([middle + fine for middle in images])
    inside = inside[(inside > 0.0) & (inside < own[-1])]
    stays = np.abs(edit.course.away(low + own, edit.at)) >= edit.rim
    if not len(inside) and stays.all():
        return None
    # Ends of the part stay among its points wherever they lie.
    keeps = stays.copy()
    keeps[[0, -1]] = True
    along = np.unique(np.concatenate([own[keeps], inside]))
    made = edit.of(edit.at + edit.course.away(low + along, edit.at))
    kept = np.isin(along, own[stays])
    made[kept] = points[stays][np.searchsorted(own[stays], along[kept])]
    return made, np.interp(along, own, widths)


def _sharpest(course: Course, at: float, width: float) -> float:
    """The place near a length at which the course turns most, if it does so plainly more than there."""
    reach, arm = _SNAP_LINE_WIDTHS * width, _ARM_LINE_WIDTHS * width
    lengths = at + np.linspace(-reach, reach, 81)
    if not course.closed:
        lengths = lengths[(lengths >= arm) & (lengths <= course.total - arm)]
        if not len(lengths):
            return at
    turn = _turns(course, lengths, arm)
    there = float(np.interp(at, lengths, turn))
    best = int(turn.argmax())
    return float(lengths[best]) if np.degrees(turn[best] - there) > _SHARPER_DEG else at


def _turns(course: Course, lengths: Floats, arm: float) -> Floats:
    """By how much a course turns at lengths, over an arm to both sides, radians."""
    before, here, after = (course.of(lengths + step) for step in (-arm, 0.0, arm))
    into, out = here - before, after - here
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, (into * out).sum(axis=1))))
