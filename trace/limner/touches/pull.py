"""Lines of a map pulled over, everything on them together.

Method: the plane itself is bent, by an elliptical bump around the point that is taken hold of: its long
axis lies along the line and is as long as the pull is to reach, its short axis across is as short as it can
be without folding. What moves is a smooth function of place alone, so ink, edges of fills on both sides,
silhouettes and bridges stay together, what was one edge stays one, and nothing crosses that did not before.
The bump is (1 - q^2)^3, whose first and second derivatives vanish at its rim; its steepest slope is 1.717
of its height per half axis (at q^2 = 1/5), and a map x + d b(x) is one to one while the slope along d stays
under 1.

Limits: on a line that bends away within the reach the bump fades by the distance across, too; lines that
run within the short axis beside the one that is pulled give way a little.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from limner.errors import GeometryError
from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Floats
from limner.model.regionmap import Edge, InkRing, LineGraph, RegionMap
from limner.model.touch import Pull
from limner.touches.sizes import resized

__all__ = ["pull_map", "pulled_back"]

# Steepest slope of (1 - q^2)^3, that at q = 1 / sqrt(5): 6 q (1 - q^2)^2.
_STEEPEST = 6.0 / np.sqrt(5.0) * (1.0 - 0.2) ** 2

# How much of a fold's slope a pull may have: spacing along what is pulled grows at most to 1 / (1 - 0.7) of
# what it was on one side, and shrinks to 0.3 on the other.
_LARGEST_SLOPE = 0.7

# So that 0.7 to this power of a line width is less than a micrometre.
_STEPS_BACK = 40

# Without a reach of its own a pull fades out over so many times its own length, or so many line widths.
_REACH_LENGTHS, _REACH_LINE_WIDTHS = 4.0, 6.0

# Across the line, both edges of its ink go along wholly: the bump falls by under a tenth over half a line
# width.
_ACROSS_LINE_WIDTHS = 3.0

# The direction of a line is taken over so many line widths to both sides.
_TANGENT_LINE_WIDTHS = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class _Bump:
    """Where a pull takes hold, which way it goes, and its half axes along and across the line."""

    at: Floats
    move: Floats
    along: Floats
    across: Floats

    def of(self, points: Floats) -> Floats:
        """Where points come to lie."""
        away = points - self.at
        q2 = (away @ self.along) ** 2 + (away @ self.across) ** 2
        return np.asarray(points + np.clip(1.0 - q2, 0.0, None)[:, None] ** 3 * self.move)

    def back(self, points: Floats) -> Floats:
        """Which points come to lie on these: each step of this brings them nearer by a share of the slope."""
        found = points
        for _ in range(_STEPS_BACK):
            found = points - (self.of(found) - found)
        return np.asarray(found)


def pull_map(regions: RegionMap, pull: Pull) -> RegionMap:
    """Pull a line of a map over.

    Parameters
    ----------
    regions : RegionMap
        The map.
    pull : Pull
        From where to where, in millimetres of the map.

    Returns
    -------
    RegionMap
        The same edges, areas and outlines of ink, with other points within the reach of the pull.

    Raises
    ------
    GeometryError
        No line lies within reach, or the pull is too long for its reach.
    """
    bump = _bump(regions, pull)
    graph = regions.graph
    edges = tuple(_with_points(edge, bump) for edge in graph.edges)
    pulled = LineGraph(bump.of(graph.nodes), edges, graph.line_width_mm)
    areas = (replace(area, inside=_moved(area.inside, bump)) for area in regions.areas)
    return replace(
        regions,
        graph=pulled,
        areas=resized(tuple(areas), graph, pulled),
        ink=tuple(_with_points(ring, bump) for ring in regions.ink),
        marks=tuple(replace(mark, at_mm=_moved(mark.at_mm, bump)) for mark in regions.marks),
    )


Outline = TypeVar("Outline", Edge, InkRing)


def _with_points(line: Outline, bump: _Bump) -> Outline:
    """The line where it comes to lie; itself where nothing of it moves."""
    points = bump.of(line.points)
    return line if np.array_equal(points, line.points) else replace(line, points=points)


def pulled_back(regions: RegionMap, pulls: Sequence[Pull], points: Floats) -> Floats:
    """Where points lay before lines were pulled over: what is drawn there comes to lie on them.

    Parameters
    ----------
    regions : RegionMap
        The map before all of it.
    pulls : sequence of Pull
        In their order.
    points : ndarray of float64, shape (n, 2)
        Points in millimetres of the map after them.

    Returns
    -------
    ndarray of float64, shape (n, 2)

    Raises
    ------
    GeometryError
        As `pull_map`.
    """
    bumps = []
    for pull in pulls:
        bumps.append(_bump(regions, pull))
        regions = pull_map(regions, pull)
    for bump in reversed(bumps):
        points = bump.back(points)
    return points


def _bump(regions: RegionMap, pull: Pull) -> _Bump:
    width = regions.graph.line_width_mm
    wanted = np.array(pull.from_mm)
    line, place = _nearest(regions, wanted)
    at = line[place]
    move = np.array(pull.to_mm) - at
    length = float(np.hypot(*move))
    usual = max(_REACH_LENGTHS * length, _REACH_LINE_WIDTHS * width)
    reach = usual if pull.reach_mm is None else pull.reach_mm
    away = float(np.hypot(*(at - wanted)))
    if away > reach:
        raise GeometryError(
            f"finds no line within its reach of {reach:.2f} mm: the nearest one is {away:.2f} mm away; "
            "begin on a line."
        )
    tangent = _tangent(line, place, _TANGENT_LINE_WIDTHS * width)
    normal = np.array([-tangent[1], tangent[0]])
    steepness = _STEEPEST / _LARGEST_SLOPE
    least = steepness * abs(float(move @ tangent))
    if reach < least:
        raise GeometryError(
            f"moves the line by {length:.2f} mm, which is too far for a reach of {reach:.2f} mm: "
            f"give it a reach of {np.ceil(least * 10.0) / 10.0:.1f} mm or more."
        )
    across = max(steepness * abs(float(move @ normal)), min(_ACROSS_LINE_WIDTHS * width, reach))
    return _Bump(at, move, tangent / reach, normal / across)


def _nearest(regions: RegionMap, point: Floats) -> tuple[Floats, int]:
    """The nearest line or outline of ink, and which of its points is the nearest."""
    lines: Sequence[Floats] = [edge.points for edge in regions.graph.edges]
    rings = [np.concatenate([ring.points, ring.points[:1]]) for ring in regions.ink]
    best, found = np.inf, None
    for line in [*lines, *rings]:
        away = np.hypot(*(line - point).T)
        place = int(away.argmin())
        if away[place] < best:
            best, found = float(away[place]), (line, place)
    if found is None:
        raise GeometryError("finds no line at all: the drawing is empty.")
    return _with_foot(found[0], found[1], point)


def _with_foot(line: Floats, place: int, point: Floats) -> tuple[Floats, int]:
    """The line with the foot of a point on it as one of its points."""
    best, at, foot = np.inf, place, line[place]
    for first in range(max(0, place - 1), min(len(line) - 1, place + 1)):
        way = line[first + 1] - line[first]
        share = float(np.clip((point - line[first]) @ way / max(float(way @ way), 1e-18), 0.0, 1.0))
        here = line[first] + share * way
        away = float(np.hypot(*(here - point)))
        if away < best:
            best, at, foot = away, first + 1, here
    return np.insert(line, at, foot, axis=0), at


def _tangent(line: Floats, place: int, reach: float) -> Floats:
    """Direction of a line around one of its points, by the spread of its points within reach."""
    walked = arc_lengths(line)
    near = line[np.abs(walked - walked[place]) <= reach]
    if len(near) < 2:
        near = line[max(0, place - 1) : place + 2]
    spread = near - near.mean(axis=0)
    _, vectors = np.linalg.eigh(spread.T @ spread)
    return np.asarray(vectors[:, -1])


def _moved(point: tuple[float, float], bump: _Bump) -> tuple[float, float]:
    x, y = bump.of(np.array([point]))[0].tolist()
    return x, y
