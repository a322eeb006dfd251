"""Paths of an SVG as closed cubic paths that are filled by the even-odd rule.

Method: picosvg reads path data and basic shapes and turns arcs into cubics; quadratics are raised to cubics
exactly. Where the non-zero rule fills otherwise than the even-odd rule, and where a stroke is to become a
shape, the region is made of polylines by shapely and its outlines are fitted anew.

Limits: fitted outlines are within the tolerance that is asked for; all others are as they were.
"""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import shapely

from limner.geometry.cubics import flatten, polygon_path
from limner.model.arrays import Flags, Floats
from limner.model.geometry import CubicPath

__all__ = ["Fitter", "Subpath", "even_odd_paths", "stroke_paths", "subpaths_of"]

Fitter = Callable[[Floats, float], CubicPath]
"""Fits a closed path to a dense closed polyline within a tolerance."""

Subpath = tuple[CubicPath, bool]
"""A path in user units, closed by a straight line where it was open; and whether it was closed."""

# Two segments that meet at less than this run smoothly into each other.
_SMOOTH_DEG = 1.0

# A polyline for a region is this much finer than what is then fitted to it.
_FINER = 0.1

# Regions whose difference is less than this share of the larger one are the same but for rounding.
_SAME_SHARE = 1e-4

_JOINS = {"miter": "mitre", "round": "round", "bevel": "bevel"}
_CAPS = {"butt": "flat", "round": "round", "square": "square"}


def subpaths_of(path: Any) -> list[Subpath]:
    """The subpaths of one of picosvg's paths.

    Raises
    ------
    ValueError
        Its data are no path.
    """
    plain = path.explicit_lines().expand_shorthand().absolute().arcs_to_cubics()
    found: list[Subpath] = []
    segments: list[tuple[list[tuple[float, float]], bool]] = []
    start = here = (0.0, 0.0)

    def finish(*, closed: bool) -> None:
        made = _closed(segments, start, here)
        if made is not None:
            found.append((made, closed))
        segments.clear()

    for command, numbers in plain.as_cmd_seq():
        points = list(zip(numbers[::2], numbers[1::2], strict=True))
        if command == "M":
            finish(closed=False)
            start = here = points[0]
        elif command == "Z":
            finish(closed=True)
            here = start
        else:
            segments.append(_segment(command, here, points))
            here = points[-1]
    finish(closed=False)
    return found


def _segment(
    command: str, here: tuple[float, float], points: list[tuple[float, float]]
) -> tuple[list[tuple[float, float]], bool]:
    if command == "L":
        return _line(here, points[0]), True
    if command == "Q":
        (ax, ay), (bx, by), (cx, cy) = here, *points
        first = (ax + 2 * (bx - ax) / 3, ay + 2 * (by - ay) / 3)
        return [here, first, (cx + 2 * (bx - cx) / 3, cy + 2 * (by - cy) / 3), (cx, cy)], False
    if command != "C":
        raise ValueError(f"unknown command {command}")
    return [here, *points], False


def _line(start: tuple[float, float], end: tuple[float, float]) -> list[tuple[float, float]]:
    third = ((end[0] - start[0]) / 3, (end[1] - start[1]) / 3)
    return [start, (start[0] + third[0], start[1] + third[1]), (end[0] - third[0], end[1] - third[1]), end]


def _closed(
    parts: list[tuple[list[tuple[float, float]], bool]], start: tuple[float, float], end: tuple[float, float]
) -> CubicPath | None:
    """Segments as a closed path; None where they go nowhere."""
    if not parts:
        return None
    closing = [(_line(end, start), True)] if end != start else []
    segments = np.array([points for points, _ in [*parts, *closing]], dtype=np.float64)
    if not np.isfinite(segments).all():
        raise ValueError("a number that is none")
    straight = np.array([is_line for _, is_line in [*parts, *closing]])
    return CubicPath(segments, straight, _smooth_starts(segments), closed=True)


def _smooth_starts(segments: Floats) -> Flags:
    """Whether the segment before each one arrives in the direction in which it leaves."""
    leaving = _directions(segments)
    arriving = np.roll(-_directions(segments[:, ::-1]), 1, axis=0)
    return np.asarray(np.sum(leaving * arriving, axis=1) > np.cos(np.radians(_SMOOTH_DEG)))


def _directions(segments: Floats) -> Floats:
    """Unit direction at the start of each segment: towards the first control point that lies elsewhere."""
    steps = segments[:, 1:] - segments[:, :1]
    lengths = np.linalg.norm(steps, axis=2)
    first = np.argmax(lengths > 0, axis=1)
    row = np.arange(len(segments))
    return np.asarray(steps[row, first] / np.maximum(lengths[row, first], 1e-300)[:, None])


def even_odd_paths(paths: Sequence[CubicPath], tolerance: float, fit: Fitter) -> list[CubicPath]:
    """Paths that fill by the even-odd rule what the given ones fill by the non-zero rule.

    They are the given ones where that is the same, as it is for all but overlapping and nested ones that run
    the same way round.
    """
    rings = [flatten(path, _FINER * tolerance) for path in paths]
    rings = [ring for ring in rings if len(ring) > 2]
    if not rings or (len(rings) == 1 and shapely.LinearRing(rings[0]).is_simple):
        return list(paths)
    faces = _faces(rings)
    turns = np.array([_turns(face.representative_point(), rings) for face in faces])
    filled = shapely.union_all([face for face, turn in zip(faces, turns, strict=True) if turn != 0])
    even_odd = shapely.union_all([face for face, turn in zip(faces, turns, strict=True) if turn % 2 != 0])
    if filled.symmetric_difference(even_odd).area <= _SAME_SHARE * filled.area:
        return list(paths)
    return _fitted(filled, tolerance, fit)


def _faces(rings: Sequence[Floats]) -> list[Any]:
    lines = shapely.union_all([shapely.LinearRing(ring) for ring in rings])
    return list(shapely.get_parts(shapely.polygonize([lines])))


def _turns(point: Any, rings: Sequence[Floats]) -> int:
    """How often rings go around a point."""
    total = 0.0
    for ring in rings:
        away = ring - (point.x, point.y)
        after = np.roll(away, -1, axis=0)
        cross = away[:, 0] * after[:, 1] - away[:, 1] * after[:, 0]
        total += float(np.sum(np.arctan2(cross, np.sum(away * after, axis=1))))
    return round(total / (2 * np.pi))


def stroke_paths(
    subpaths: Sequence[Subpath],
    width: float,
    cap: str,
    join: str,
    limit: float,
    *,
    tolerance: float,
    fit: Fitter,
) -> list[CubicPath]:
    """The outlines of a stroke.

    Parameters
    ----------
    subpaths : sequence of Subpath
        What it goes along, in the units of `width`.
    width, limit : float
        Its width, and the limit of its mitres in widths.
    cap, join : str
        As SVG 2 names them; others count as the defaults.
    tolerance : float
        How far the outline may be off.
    fit : Fitter
        Fits the outline.
    """
    lines = []
    for path, closed in subpaths:
        points = flatten(path, _FINER * tolerance)
        # An open path was closed by a straight line at its end.
        lines.append(shapely.LinearRing(points) if closed and len(points) > 2 else shapely.LineString(points))
    region = shapely.union_all(
        [
            shapely.buffer(
                line,
                width / 2,
                quad_segs=32,
                cap_style=_CAPS.get(cap, "flat"),
                join_style=_JOINS.get(join, "mitre"),
                mitre_limit=max(limit, 1.0),
            )
            for line in lines
        ]
    )
    return _fitted(region, tolerance, fit)


def _fitted(region: Any, tolerance: float, fit: Fitter) -> list[CubicPath]:
    """The outlines of a region; holes run the other way round."""
    paths = []
    for part in shapely.get_parts(region):
        if part.geom_type != "Polygon" or part.area <= tolerance**2:
            continue
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring.segmentize(4 * tolerance))[:-1]
            # Too small for curves: what is left is a dot.
            paths.append(fit(points, tolerance) if len(points) > 8 else polygon_path(points))
    return paths
