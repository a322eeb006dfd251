"""Largest distance between fitted paths and their data, both ways, for many paths at once.

Method: a path is looked at in many places of each segment. The distance of each place from the data is that
from the nearest of all their chords. Each point of the data, and places of each chord that may be farther off
than all points, are held against the chords between the path's places in the same way, and from the nearest
of these followed to their feet on the path by Newton steps.

Limits: what a path does between two of its places is not seen; a sixty-fourth of a cubic is nearly straight.
Nor is what lies between two places of a chord.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limner.curves.kernels import compiled, in_halves
from limner.geometry.cubics import evaluate
from limner.model.arrays import Flags, Floats, Indices

__all__ = ["Course", "two_way_errors"]


# Places per segment, both ends included.
PLACES = 64
# Newton steps of the feet from the nearest chord between two places: their error is squared by each.
FOOT_STEPS = 4
# Places of a chord: so many to a tolerance, as what is farthest off may lie between two branches of the path,
# but no more than the second.
PLACES_PER_TOLERANCE = 8.0
MOST_PLACES = 255

_GRID = np.linspace(0.0, 1.0, PLACES)


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A path and the polyline that it was fitted to.

    Parameters
    ----------
    segments : ndarray, shape (s, 4, 2)
    closed : bool
    points : ndarray, shape (n, 2)
        The polyline; a closed one does not repeat its first point.
    limit : float
        Distance above which every point is of interest, not the farthest alone.
    """

    segments: Floats
    closed: bool
    points: Floats
    limit: float


def two_way_errors(courses: Sequence[Course]) -> list[tuple[Floats, Floats]]:
    """Largest distances between paths and polylines.

    Parameters
    ----------
    courses : sequence of Course

    Returns
    -------
    list of (forward, backward)
        Forward, shape (n,): distance of each of the polyline's points, or of places of the chord that
        follows, from the path, whichever is largest; chords that lie below both the largest of all and the
        limit may be left out. Backward, shape (s,): largest distance of each segment from the polyline.
    """
    if not courses:
        return []
    paths = _Paths.of(courses)
    data = _Polylines.of([_ring(course) for course in courses])
    forward = np.split(_forward(courses, paths, data), np.cumsum([len(c.points) for c in courses])[:-1])
    # The places of a path are the vertices of its polyline.
    squared, _ = data.nearest(paths.places.owner, paths.places.vertices)
    away = np.sqrt(squared).reshape(-1, PLACES).max(axis=1)
    return list(zip(forward, np.split(away, paths.first[1:-1]), strict=True))


def _ring(course: Course) -> Floats:
    """The data, closed ones with their first point at their end, too."""
    return np.concatenate([course.points, course.points[:1]]) if course.closed else course.points


@dataclass(frozen=True, slots=True, eq=False)
class _Polylines:
    """Polylines in a row.

    Parameters
    ----------
    vertices : ndarray, shape (v, 2)
    first : ndarray of int, shape (polylines + 1,)
        The first vertex of each and, last, their number.
    owner : ndarray of int, shape (v,)
        The polyline of each vertex.
    """

    vertices: Floats
    first: Indices
    owner: Indices

    @staticmethod
    def of(lines: Sequence[Floats]) -> "_Polylines":
        sizes = [len(line) for line in lines]
        return _Polylines(np.concatenate(lines), _fences(sizes), np.repeat(np.arange(len(lines)), sizes))

    def nearest(self, owner: Indices, points: Floats) -> tuple[Floats, Floats]:
        """Squared distance of each point from its own polyline, and the place there: chord and share."""
        squared, place = np.empty(len(points)), np.empty(len(points))

        def work(k: slice) -> None:
            compiled.nearest_chords(
                vertices=self.vertices, first=self.first, owner=owner[k], points=points[k],
                squared=squared[k], place=place[k],
            )  # fmt: skip

        in_halves(work, len(points))
        return squared, place


def _fences(sizes: Sequence[int]) -> Indices:
    return np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class _Paths:
    """Paths in a row.

    Parameters
    ----------
    segments : ndarray, shape (s, 4, 2)
    first : ndarray of int, shape (paths + 1,)
        The first segment of each and, last, their number.
    closed : ndarray of bool, shape (paths,)
    places : _Polylines
        Through `PLACES` places of each segment.
    """

    segments: Floats
    first: Indices
    closed: Flags
    places: _Polylines

    @staticmethod
    def of(courses: Sequence[Course]) -> "_Paths":
        segments = np.concatenate([course.segments for course in courses])
        first = _fences([len(course.segments) for course in courses])
        ends = first[1:-1] * PLACES
        places = _Polylines.of(np.split(evaluate(segments, _GRID).reshape(-1, 2), ends))
        return _Paths(segments, first, np.array([course.closed for course in courses]), places)

    def distances(self, owner: Indices, points: Floats) -> Floats:
        """Distance of each point from its own path."""
        squared, place = self.places.nearest(owner, points)
        # From a chord between places to the segment and its parameter; those between segments have no length.
        chord = place.astype(np.int64)
        t = np.minimum(chord % PLACES + (place - chord), PLACES - 1.0) / (PLACES - 1.0)
        u = chord // PLACES + t
        squared[:] = np.inf

        def work(k: slice) -> None:
            compiled.nearest(
                curves=self.segments, first=self.first, closed=self.closed, owner=owner[k],
                points=points[k], u=u[k], squared=squared[k], steps=FOOT_STEPS,
            )  # fmt: skip

        in_halves(work, len(points))
        return np.asarray(np.sqrt(squared))


def _forward(courses: Sequence[Course], paths: _Paths, data: _Polylines) -> Floats:
    """Distance of each point, or of places of the chord that follows, from the path."""
    away = paths.distances(data.owner, data.vertices)
    tolerance = np.array([course.limit for course in courses])
    limit = np.minimum(np.maximum.reduceat(away, data.first[:-1]), tolerance)
    # No place of a chord lies farther off than its ends and half its length.
    start, step, owner = data.vertices[:-1], np.diff(data.vertices, axis=0), data.owner[:-1]
    length = np.hypot(step[:, 0], step[:, 1])
    reach = np.minimum(away[:-1], away[1:]) + 0.5 * length
    chords = np.flatnonzero((owner == data.owner[1:]) & (reach > limit[owner]))
    if len(chords):
        wanted = PLACES_PER_TOLERANCE * length[chords] / tolerance[owner[chords]]
        count = np.clip(np.ceil(wanted), 1, MOST_PLACES).astype(np.intp)
        first = np.cumsum(count) - count
        of_chord = np.repeat(chords, count)
        share = (np.arange(1, len(of_chord) + 1) - np.repeat(first, count)) / np.repeat(count + 1, count)
        between = paths.distances(owner[of_chord], start[of_chord] + share[:, None] * step[of_chord])
        away[chords] = np.maximum(away[chords], np.maximum.reduceat(between, first))
    # Where a closed polyline's first point is repeated at its end, it counts once.
    return np.asarray(np.delete(away, data.first[1:][paths.closed] - 1))
