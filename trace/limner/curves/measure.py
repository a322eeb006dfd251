"""Largest distance between fitted paths and their data, both ways, for many paths at once.

Method: every data point is followed to its foot on the path by Newton steps from a known neighbourhood, and
so is the middle of every data chord that may lie farther off than all points; every path segment is sampled
densely against the chords near the place that it was fitted to. What could be the largest distance is looked
at ever more closely, at last against all chords; what cannot, is left with an upper bound. Both never
understate the largest distance: a nearer place that they miss can only make the true figure smaller.

Limits: feet are found from near ones, so that a path far from its data may be given too large an error.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.curves.kernels import compiled
from limner.curves.nodes import power_of, unwrapped, whole
from limner.geometry.cubics import evaluate

__all__ = ["Course", "two_way_errors"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Places per segment at which the path is held against the data.
PLACES = 64
# Data chords on either side of the expected one that are tried.
NEIGHBOURS = 3
# Newton steps of the feet: all points get the first number, those that are farther off than the given
# share of the farthest, all.
SURE_STEPS = 2
FOOT_STEPS = 6
FAR_SHARE = 0.6
# So many of each path's farthest places are held against all chords, in blocks of so many pairs.
CLOSELY = 64
CLOSELY_BLOCK = 1 << 17


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A path and the polyline that it was fitted to.

    Parameters
    ----------
    segments : ndarray, shape (s, 4, 2)
    closed : bool
    points : ndarray, shape (n, 2)
        The polyline; a closed one does not repeat its first point.
    at, u : ndarray, shape (k,)
        Arc lengths along the polyline and, for each, the parameter (segment + t) of its foot; `at`
        ascends.
    limit : float
        Distance above which every point and segment is of interest, not the farthest alone.
    """

    segments: Floats
    closed: bool
    points: Floats
    at: Floats
    u: Floats
    limit: float


def two_way_errors(courses: Sequence[Course]) -> list[tuple[Floats, Floats]]:
    """Largest distances between paths and polylines.

    Parameters
    ----------
    courses : sequence of Course

    Returns
    -------
    list of (forward, backward)
        Forward, shape (n,): distance of each of the polyline's points, or of the middle of the chord that
        follows, from the path, whichever is larger. Backward, shape (s,): largest distance of each
        segment from the polyline. Below both the largest of all and the limit, middles may be left out
        of the first, and the second may be too large, though not above them.
    """
    if not courses:
        return []
    lines = [_Line(course) for course in courses]
    first = np.concatenate([[0], np.cumsum([len(line.points) for line in lines])]).astype(np.intp)
    first_seg = np.concatenate([[0], np.cumsum([len(course.segments) for course in courses])]).astype(np.intp)
    forward = _forward(lines, first, first_seg)
    limit = np.array([course.limit for course in courses])
    limit = np.minimum(np.maximum.reduceat(forward, first[:-1]), limit)
    backward = _backward(lines, first_seg, limit)
    return [
        (forward[first[k] : first[k + 1]], backward[first_seg[k] : first_seg[k + 1]])
        for k in range(len(lines))
    ]


class _Line:
    """A course with its arc lengths and, for points and places of the path, where to look first."""

    def __init__(self, course: Course) -> None:
        self.course = course
        points = self.points = course.points
        closed = course.closed
        self.chords = np.concatenate([points, points[:1]]) if closed else points
        steps = self.chords[1:] - self.chords[:-1]
        self.along = np.zeros(len(self.chords))
        np.cumsum(np.sqrt((steps * steps).sum(axis=1)), out=self.along[1:])
        count = len(course.segments)
        at, u = course.at, course.u
        if closed:
            at, u = np.append(at, at[0] + self.along[-1]), unwrapped(np.append(u, u[0]), count)
            u[-1] = u[0] + count
        u = np.maximum.accumulate(u)
        where = self.along[: len(points)]
        if closed:
            where = np.where(where < at[0], where + self.along[-1], where)
        hint = np.interp(where, at, u)
        self.hint = np.mod(hint, count) if closed else hint
        grid = (np.arange(count)[:, None] + _GRID).ravel()
        if closed:
            grid = u[0] + np.mod(grid - u[0], count)
        back_at = np.interp(grid, u + np.arange(len(u)) * 1e-12, at)
        if closed:
            back_at = np.mod(back_at, self.along[-1])
        edge = self.along.searchsorted(back_at, side="right") - 1
        self.edge = np.minimum(np.maximum(edge, 0), len(self.chords) - 2)


_GRID = np.linspace(0.0, 1.0, PLACES)


@dataclass(frozen=True, slots=True, eq=False)
class _Paths:
    """The segments of all paths, and which of them belong to each."""

    segments: Floats
    power: Floats
    first: Ints
    closed: NDArray[np.bool_]

    def follow(self, owner: Ints, x: Floats, y: Floats, u: Floats) -> tuple[Floats, Floats]:
        """Squared distances at the parameters `u` of each point's own path, and the next `u`."""
        first, count = self.first[owner], self.first[owner + 1] - self.first[owner]
        which = np.minimum(u.astype(np.intp), count - 1)
        t = np.minimum(u - which, 1.0)
        a_x, a_y, b_x, b_y, c_x, c_y, d_x, d_y = self.power[:, first + which]
        rx = ((a_x * t + b_x) * t + c_x) * t + (d_x - x)
        ry = ((a_y * t + b_y) * t + c_y) * t + (d_y - y)
        t3 = 3.0 * t
        ex, ey = 2.0 * (a_x * t3 + b_x), 2.0 * (a_y * t3 + b_y)
        dx, dy = (a_x * t3 + 2.0 * b_x) * t + c_x, (a_y * t3 + 2.0 * b_y) * t + c_y
        speed2 = dx * dx + dy * dy
        bend = np.maximum(speed2 + rx * ex + ry * ey, 0.3 * speed2) + 1e-300
        u = u - np.minimum(np.maximum((rx * dx + ry * dy) / bend, -0.3), 0.3)
        # Once around a closed path, to the end of an open one; a step is shorter than any path.
        low, high = u < 0.0, u >= count
        wraps = self.closed[owner]
        u = np.where(low, np.where(wraps, u + count, 0.0), u)
        u = np.where(high, np.where(wraps, u - count, count), u)
        return rx * rx + ry * ry, u

    def nearest(self, owner: Ints, x: Floats, y: Floats, u: Floats, best: Floats, steps: int) -> Floats:
        """Smaller squared distances, and the parameters reached, after so many steps."""
        if compiled is not None:
            u, as_is = np.array(u), np.ascontiguousarray
            compiled.nearest(
                self.segments,
                whole(self.first),
                self.closed,
                whole(owner),
                as_is(x),
                as_is(y),
                u,
                best,
                steps,
            )
            return u
        for _ in range(steps):
            squared, u = self.follow(owner, x, y, u)
            np.minimum(best, squared, out=best)
        return u


def _forward(lines: list[_Line], first: Ints, first_seg: Ints) -> Floats:
    """Distance of each point, or of the middle of the chord that follows, from the path."""
    segments = np.concatenate([line.course.segments for line in lines])
    paths = _Paths(
        np.ascontiguousarray(segments),
        power_of(segments),
        first_seg,
        np.array([line.course.closed for line in lines]),
    )
    points = np.concatenate([line.points for line in lines])
    owner = np.repeat(np.arange(len(lines)), np.diff(first))
    x, y = np.ascontiguousarray(points.T)
    best = np.full(len(points), np.inf)
    u = paths.nearest(owner, x, y, np.concatenate([line.hint for line in lines]), best, SURE_STEPS)
    # Only what may be the largest, or too large, is worth more steps.
    limit = np.array([line.course.limit for line in lines])
    far = np.maximum.reduceat(best, first[:-1])
    far = np.flatnonzero(best >= FAR_SHARE**2 * np.minimum(far, limit * limit)[owner])
    closer = best[far]
    u[far] = paths.nearest(owner[far], x[far], y[far], u[far], closer, FOOT_STEPS - SURE_STEPS)
    best[far] = closer
    _from_anywhere(paths, owner, x, y, best, limit)
    forward = np.sqrt(best)
    largest = np.minimum(np.maximum.reduceat(forward, first[:-1]), limit)
    onward = np.arange(1, len(points) + 1)
    onward[first[1:] - 1] = np.where(paths.closed, first[:-1], first[1:] - 1)
    half = 0.5 * np.sqrt((x[onward] - x) ** 2 + (y[onward] - y) ** 2)
    # The middle of a chord lies no farther off than its ends and half its length.
    some = np.flatnonzero((np.minimum(forward, forward[onward]) + half > largest[owner]) & (half > 0.0))
    middle = 0.5 * (points[some] + points[onward[some]])
    mine = owner[some]
    squared = np.full(len(some), np.inf)
    for start in (u[some], u[onward[some]]):
        paths.nearest(mine, middle[:, 0], middle[:, 1], start, squared, FOOT_STEPS)
    forward[some] = np.maximum(forward[some], np.sqrt(squared))
    return np.asarray(forward)


def _from_anywhere(paths: "_Paths", owner: Ints, x: Floats, y: Floats, best: Floats, limit: Floats) -> None:
    """Smaller squared distances of the points that seem too far off: their feet may lie elsewhere."""
    over = np.flatnonzero(best > (limit * limit)[owner])
    for k in np.unique(owner[over]):
        mine = over[owner[over] == k]
        mine = mine[np.argsort(-best[mine], kind="stable")[:CLOSELY]]
        a_x, a_y, b_x, b_y, c_x, c_y, d_x, d_y = paths.power[:, paths.first[k] : paths.first[k + 1], None]
        place_x = (((a_x * _GRID + b_x) * _GRID + c_x) * _GRID + d_x).ravel()
        place_y = (((a_y * _GRID + b_y) * _GRID + c_y) * _GRID + d_y).ravel()
        most = max(1, CLOSELY_BLOCK // len(place_x))
        for first in range(0, len(mine), most):
            some = mine[first : first + most]
            away = (x[some, None] - place_x) ** 2 + (y[some, None] - place_y) ** 2
            near = away.argmin(axis=1)
            u = near // PLACES + _GRID[near % PLACES]
            squared = best[some]
            paths.nearest(owner[some], x[some], y[some], u, squared, FOOT_STEPS - SURE_STEPS)
            best[some] = squared


def _backward(lines: list[_Line], first_seg: Ints, limit: Floats) -> Floats:
    """Largest distance of each segment from the chords; where it is below the limit, an upper bound."""
    places = np.concatenate([evaluate(line.course.segments, _GRID).reshape(-1, 2) for line in lines])
    number = np.array([len(line.chords) - 1 for line in lines])
    base = np.cumsum(number) - number
    owner = np.repeat(np.arange(len(lines)), np.diff(first_seg) * PLACES)
    at = np.concatenate([line.edge for line in lines])
    starts = np.concatenate([line.chords[:-1] for line in lines])
    steps = np.concatenate([line.chords[1:] - line.chords[:-1] for line in lines])
    rows = np.ascontiguousarray(np.concatenate([starts, steps], axis=1).T)
    closed = np.array([line.course.closed for line in lines])
    x, y = np.ascontiguousarray(places.T)
    best = _squared(x, y, rows[:, base[owner] + at])
    some = np.flatnonzero(best > limit[owner] ** 2)
    mine, count = owner[some], number[owner[some]]
    for step in (*range(-NEIGHBOURS, 0), *range(1, NEIGHBOURS + 1)):
        k = at[some] + step
        k = np.where(closed[mine], np.mod(k, count), np.minimum(np.maximum(k, 0), count - 1))
        best[some] = np.minimum(best[some], _squared(x[some], y[some], rows[:, base[mine] + k]))
    for k in np.unique(owner[some][best[some] > limit[mine] ** 2]):
        a, b = first_seg[k] * PLACES, first_seg[k + 1] * PLACES
        chords = rows[:, base[k] : base[k] + number[k]]
        best[a:b] = _looked_at_closely(x[a:b], y[a:b], best[a:b], chords, float(limit[k]))
    return np.asarray(np.sqrt(best.reshape(-1, PLACES).max(axis=1)))


def _squared(x: Floats, y: Floats, chords: Floats) -> Floats:
    """Squared distances of places from chords, given as rows of start and step."""
    a_x, a_y, step_x, step_y = chords
    length2 = np.maximum(step_x * step_x + step_y * step_y, 1e-300)
    x0, y0 = x - a_x, y - a_y
    share = np.minimum(np.maximum((x0 * step_x + y0 * step_y) / length2, 0.0), 1.0)
    x0, y0 = x0 - share * step_x, y0 - share * step_y
    return np.asarray(x0 * x0 + y0 * y0)


def _looked_at_closely(x: Floats, y: Floats, best: Floats, chords: Floats, limit: float) -> Floats:
    """The farthest places held against all chords: their nearest one may lie elsewhere."""
    far = np.argsort(-best, kind="stable")[:CLOSELY]
    far = far[best[far] > limit * limit]
    closer = best.copy()
    most = max(1, CLOSELY_BLOCK // chords.shape[1])
    for first in range(0, len(far), most):
        some = far[first : first + most]
        closer[some] = _squared(x[some, None], y[some, None], chords[:, None]).min(axis=1)
    return closer
