"""Places at which an outline is to have a corner, or none.

Method: the place is the nearest point of a line, or the sharpest one near to it. There the centreline and
both edges of its ink get a mark each; what a mark does to a line is the business of those who fit curves.

Limits: where several lines meet, the mark says which of them run on smoothly, and no more. Lines rebuilt
with an even width are pointed where a corner is asked for, but have one only where it is plain.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limner.errors import GeometryError
from limner.geometry.courses import Course
from limner.model.arrays import Floats
from limner.model.regionmap import CornerMark, Edge, RegionMap
from limner.touches.rows import bounding_edges, row_through

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


def mark_corner(regions: RegionMap, at_mm: tuple[float, float], *, sharp: bool) -> RegionMap:
    """Ask for a corner in the outlines at a place, or for none.

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
        The same with more marks.

    Raises
    ------
    GeometryError
        No outline is near.
    """
    width = regions.graph.line_width_mm
    reach = (_DRAWN_OUT_LINE_WIDTHS if sharp else _SMOOTHED_LINE_WIDTHS) * width
    place, edge = _place(regions, np.array(at_mm))
    marks = []
    beside = 1e-6
    if edge is not None:
        place, room, turn = _on_row(row_through(regions, edge), place, width)
        marks.append(_mark(place, min(reach, room), sharp))
        across = max(width, _width_at(regions.graph.edges[edge], place))
        beside = _INK_WIDTHS * across / max(float(np.cos(turn / 2.0)), _SHALLOWEST)
    for ring in regions.ink:
        course = Course(ring.points, True)
        passing = [_sharpest(course, at, width) for at in _passing(course, place, beside, width)]
        there = course.of(np.array(passing))
        marks += [_mark(point, min(reach, course.total / 6.0), sharp) for point in there]
    return replace(regions, marks=(*_others(regions.marks, marks), *marks))


def _mark(place: Floats, reach: float, sharp: bool) -> CornerMark:
    return CornerMark((float(place[0]), float(place[1])), reach, sharp)


def _on_row(course: Course, place: Floats, width: float) -> tuple[Floats, float, float]:
    """The place that is meant on a line, how far a mark may reach there, and by how much the line turns."""
    at = _sharpest(course, course.foot(place), width)
    ends = () if course.closed else (0.0, course.total)
    room = min((abs(at - end) for end in ends), default=course.total / 3.0)
    if ends and room < _JUNCTION_LINE_WIDTHS * width:
        at = min(ends, key=lambda end: abs(at - end))
        return course.of(np.array([at]))[0], np.inf, 0.0
    turn = float(_turns(course, np.array([at]), _ARM_LINE_WIDTHS * width)[0])
    return course.of(np.array([at]))[0], room / 2.0, turn


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
