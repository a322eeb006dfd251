"""Take from ink what other shapes cover, the rest of its curves exactly as they are.

Method: both are flattened and the polygons subtracted (shapely); the borders of the result are then read back
as stretches of the curves that they come from, cut by de Casteljau's algorithm. An overlay keeps the
coordinates of the vertices that it is given, so that each edge of the result is known by its ends.

Limits: cuts lie within 0.002 mm of where the curves cross. Where a curve crosses itself, or the overlay had
to round, an edge that comes from no curve stays a straight line.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from shapely.geometry.polygon import orient

from limner.geometry.cubics import (
    concatenate,
    flatten_all,
    flatten_steps,
    polyline_path,
    reverse,
    split_segment,
)
from limner.model.arrays import Floats
from limner.model.drawing import Shape
from limner.model.geometry import CubicPath

__all__ = ["FLATTEN_MM", "Cover", "filled_region", "without"]

FLATTEN_MM = 0.002
"""Curves are compared as polygons within this of them: finer than files write coordinates apart."""

# Smaller parts are what rounding leaves.
_SLIVER_MM2 = 1e-4

# A point of an edge lies on it within this: rounding in the intersection.
_ON_EDGE_MM = 1e-7

Vertex = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class _Flat:
    """A closed path as a polygon: its vertices, and where each lies as segment number plus parameter."""

    path: CubicPath
    points: Floats
    at: Floats


@dataclass(frozen=True, slots=True)
class _Edge:
    """An edge of the result: the curve that it runs along, from where to where; number -1 for none."""

    flat: int
    start: float
    end: float
    points: tuple[Vertex, Vertex]


def filled_region(paths: Sequence[CubicPath]) -> Any:
    """What closed paths fill by the even-odd rule, as a Polygon or MultiPolygon."""
    region = shapely.Polygon()
    for points in flatten_all(paths, FLATTEN_MM):
        if len(points) > 2:
            region = shapely.symmetric_difference(region, shapely.make_valid(shapely.Polygon(points)))
    return region


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """Closed paths, each of which covers all that it encloses, and what they cover together."""

    paths: tuple[CubicPath, ...]
    region: Any

    @classmethod
    def of(cls, paths: Sequence[CubicPath]) -> "Cover":
        """Measured."""
        return cls(tuple(paths), shapely.union_all([filled_region([path]) for path in paths]))


def without(shape: Shape, cover: Cover, region: Any = None) -> Shape | None:
    """A shape without what is covered.

    Parameters
    ----------
    shape : Shape
        Filled by the even-odd rule.
    cover : Cover
        What lies on it.
    region : Polygon or MultiPolygon, optional
        What the shape fills, where that is known already.

    Returns
    -------
    Shape or None
        The shape itself where nothing of it is covered; None where all is.
    """
    region = filled_region(shape.paths) if region is None else region
    if not shapely.intersects(region, cover.region):
        return shape
    if shapely.intersection(region, cover.region).area < _SLIVER_MM2:
        return shape
    left = [
        orient(part)
        for part in shapely.get_parts(shapely.difference(region, cover.region))
        if part.geom_type == "Polygon" and part.area >= _SLIVER_MM2
    ]
    if not left:
        return None
    source = _Source([*shape.paths, *cover.paths])
    rings = [ring for part in left for ring in (part.exterior, *part.interiors)]
    return replace(shape, paths=tuple(source.path(shapely.get_coordinates(ring)[:-1]) for ring in rings))


class _Source:
    """Curves by the vertices of their polygons."""

    def __init__(self, paths: Sequence[CubicPath]) -> None:
        points = flatten_all(paths, FLATTEN_MM)
        self.flats = [
            _Flat(path, along, flatten_steps(path, FLATTEN_MM))
            for path, along in zip(paths, points, strict=True)
        ]
        self.known: dict[Vertex, list[tuple[int, int]]] = defaultdict(list)
        for i, flat in enumerate(self.flats):
            for k, (x, y) in enumerate(flat.points.tolist()):
                self.known[x, y].append((i, k))

    def path(self, ring: Floats) -> CubicPath:
        """A ring of the result, shape (n, 2), as stretches of curves."""
        vertices: list[Vertex] = [(x, y) for x, y in ring.tolist()]
        edges = [self._edge(a, b) for a, b in zip(vertices, vertices[1:] + vertices[:1], strict=True)]
        runs: list[list[_Edge]] = []
        for edge in edges:
            if runs and self._goes_on(runs[-1][-1], edge):
                runs[-1].append(edge)
            else:
                runs.append([edge])
        if len(runs) > 1 and self._goes_on(runs[-1][-1], runs[0][0]):
            runs[0] = runs.pop() + runs[0]
        if len(runs) == 1 and self._goes_on(edges[-1], edges[0]):
            whole = self.flats[edges[0].flat].path
            return whole if edges[0].end > edges[0].start else reverse(whole)
        return concatenate(self._joined(runs), closed=True)

    def _goes_on(self, edge: _Edge, other: _Edge) -> bool:
        """Whether the other edge carries on along the same curve in the same sense."""
        if edge.flat < 0 or edge.flat != other.flat:
            return False
        count = len(self.flats[edge.flat].path.segments)
        same_sense = (edge.end > edge.start) == (other.end > other.start)
        return same_sense and edge.end % count == other.start % count

    def _edge(self, a: Vertex, b: Vertex) -> _Edge:
        """The curve that an edge between two vertices runs along."""
        ends = self.known.get(b, [])
        for i, k in self.known.get(a, []):
            for step in (1, -1):
                start, end = self._span(i, k, step)
                if (i, (k + step) % len(self.flats[i].points)) in ends:
                    return _Edge(i, start, end, (a, b))
                share = self._share(i, k, step, b)
                if share is not None:
                    return _Edge(i, start, start + share * (end - start), (a, b))
        for i, k in ends:
            for step in (1, -1):
                start, end = self._span(i, k, step)
                share = self._share(i, k, step, a)
                if share is not None:
                    return _Edge(i, start + share * (end - start), start, (a, b))
        return _Edge(-1, 0.0, 0.0, (a, b))

    def _span(self, i: int, k: int, step: int) -> tuple[float, float]:
        """Places on a curve of one vertex of its polygon and of the next one that way."""
        at, count = self.flats[i].at, len(self.flats[i].path.segments)
        if step > 0:
            return float(at[k]), float(at[k + 1]) if k + 1 < len(at) else float(count)
        return (float(at[k]) if k else float(count)), float(at[k - 1])

    def _share(self, i: int, k: int, step: int, point: Vertex) -> float | None:
        """How far along an edge of a polygon a point lies, 0 to 1; None where it does not lie on it."""
        points = self.flats[i].points
        start = points[k]
        along = points[(k + step) % len(points)] - start
        away = np.array(point) - start
        length = float(along @ along)
        share = float(away @ along) / length if length > 0 else -1.0
        if not 0.0 < share < 1.0 or np.abs(away - share * along).max() > _ON_EDGE_MM:
            return None
        return share

    def _stretch(self, run: Sequence[_Edge]) -> CubicPath:
        """Edges along one curve as that part of it."""
        if run[0].flat < 0:
            return polyline_path(np.array([run[0].points[0], run[-1].points[1]]))
        path = self.flats[run[0].flat].path
        length = sum(abs(edge.end - edge.start) for edge in run)
        if run[0].end > run[0].start:
            return _part(path, run[0].start, length)
        return reverse(_part(path, run[-1].end, length))

    def _joined(self, runs: Sequence[Sequence[_Edge]]) -> list[CubicPath]:
        """Stretches that meet exactly: where two curves cross, on the one that comes first."""
        parts = [self._stretch(run) for run in runs]
        segments = [part.segments.copy() for part in parts]
        ranks = [run[0].flat if run[0].flat >= 0 else len(self.flats) for run in runs]
        for i in range(len(runs)):
            j = (i + 1) % len(runs)
            if ranks[i] <= ranks[j]:
                segments[j][0, 0] = segments[i][-1, 3]
            else:
                segments[i][-1, 3] = segments[j][0, 0]
        return [replace(part, segments=moved) for part, moved in zip(parts, segments, strict=True)]


def _part(path: CubicPath, start: float, length: float) -> CubicPath:
    """The part of a closed path from a place on, over so many segments, as an open path."""
    count = len(path.segments)
    inner = np.arange(np.floor(start) + 1.0, np.ceil(start + length))
    breaks = np.concatenate([[start], inner, [start + length]])
    pieces, straight, smooth = [], [], []
    for a, b in pairwise(breaks.tolist()):
        number = int(np.floor((a + b) / 2.0))
        segment = path.segments[number % count]
        pieces.append(_between(segment, a - number, b - number))
        straight.append(path.straight[number % count])
        smooth.append(bool(path.smooth[number % count]) and a == number)
    smooth[0] = False
    return CubicPath(np.array(pieces), np.array(straight), np.array(smooth), closed=False)


def _between(segment: Floats, a: float, b: float) -> Floats:
    if b < 1.0:
        segment = split_segment(segment, b)[0]
    if a > 0.0:
        segment = split_segment(segment, a / b)[1]
    return segment
