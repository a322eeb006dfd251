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

from limner.curves.kernels import compiled, in_halves, whole
from limner.curves.refine.paths import power_of
from limner.geometry.cubics import evaluate
from limner.model.arrays import Floats, Ints

__all__ = ["Course", "two_way_errors"]


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
    lines = _Lines.of(courses)
    forward = _forward(lines)
    limit = np.minimum(np.maximum.reduceat(forward, lines.first[:-1]), lines.limit)
    backward = _backward(lines, limit)
    a, b = lines.first, lines.first_segment
    return [(forward[a[k] : a[k + 1]], backward[b[k] : b[k + 1]]) for k in range(len(courses))]


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Many courses in a row and, for points and places of the paths, where to look first.

    Parameters
    ----------
    segments : ndarray, shape (s, 4, 2)
    first_segment : ndarray of int, shape (paths + 1,)
    closed : ndarray of bool, shape (paths,)
    limit : ndarray, shape (paths,)
    points : ndarray, shape (n, 2)
    first : ndarray of int, shape (paths + 1,)
        The first point of each polyline.
    owner : ndarray of int, shape (n,)
    chords : ndarray, shape (c, 2)
        Points of the polylines, closed ones with their first at their end, too.
    first_chord : ndarray of int, shape (paths + 1,)
        The first of those of each polyline.
    hint : ndarray, shape (n,)
        Parameter near each point's foot.
    edge : ndarray of int, shape (places of all segments,)
        The chord, counted from the polyline's first, near each place.
    """

    segments: Floats
    first_segment: Ints
    closed: NDArray[np.bool_]
    limit: Floats
    points: Floats
    first: Ints
    owner: Ints
    chords: Floats
    first_chord: Ints
    hint: Floats
    edge: Ints

    @staticmethod
    def of(courses: Sequence[Course]) -> "_Lines":
        closed = np.array([course.closed for course in courses])
        limit = np.array([course.limit for course in courses])
        segments = np.concatenate([course.segments for course in courses])
        points = np.concatenate([course.points for course in courses])
        first = _firsts([len(course.points) for course in courses])
        first_segment = _firsts([len(course.segments) for course in courses])
        owner = np.repeat(np.arange(len(courses)), first[1:] - first[:-1])
        chords, first_chord = _with_ends(points, first, closed, points[first[:-1]])
        along, length = _along(chords, first_chord)
        hint, back_at = _hints(courses, closed, first, first_segment, along, first_chord, length)
        # Each polyline gets a stretch of its own, in which its arc lengths are looked up.
        base = _stretches(length)
        place_of = np.repeat(np.arange(len(courses)), (first_segment[1:] - first_segment[:-1]) * PLACES)
        chord_of = np.repeat(np.arange(len(courses)), first_chord[1:] - first_chord[:-1])
        edge = (along + base[chord_of]).searchsorted(back_at + base[place_of], side="right") - 1
        edge = edge - first_chord[place_of]
        most = (first_chord[1:] - first_chord[:-1] - 2)[place_of]
        edge = np.minimum(np.maximum(edge, 0), most)
        return _Lines(
            np.ascontiguousarray(segments), first_segment, closed, limit, points, first, owner, chords,
            first_chord, hint, edge,
        )  # fmt: skip


def _stretches(sizes: Floats | Ints) -> Floats:
    """Where stretches begin that hold twice these sizes each and do not touch."""
    return np.asarray(2.0 * (np.cumsum(sizes + 1.0) - sizes))


def _firsts(sizes: list[int]) -> Ints:
    return np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)


def _with_ends(values: Floats, first: Ints, closed: NDArray[np.bool_], ends: Floats) -> tuple[Floats, Ints]:
    """Values of many paths in a row, closed ones with one more at their end; and the first of each path."""
    return np.insert(values, first[1:][closed], ends[closed], axis=0), first + _firsts(closed.tolist())


def _along(chords: Floats, first: Ints) -> tuple[Floats, Floats]:
    """Arc length at each point from its polyline's first, and the lengths of the polylines."""
    steps = chords[1:] - chords[:-1]
    size = np.concatenate([[0.0], np.sqrt((steps * steps).sum(axis=1))])
    size[first[:-1]] = 0.0
    total = np.cumsum(size)
    along = total - np.repeat(total[first[:-1]], first[1:] - first[:-1])
    return along, along[first[1:] - 1]


def _hints(
    courses: Sequence[Course], closed: NDArray[np.bool_], first: Ints, first_segment: Ints, along: Floats,
    first_chord: Ints, length: Floats,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Parameter near the foot of each point, and arc length near each place of the paths."""
    count = first_segment[1:] - first_segment[:-1]
    start = _firsts([len(course.u) for course in courses])
    at, u = (np.concatenate([getattr(course, name) for course in courses]) for name in ("at", "u"))
    begin = at[start[:-1]]
    at, knots = _with_ends(at, start, closed, begin + length)
    u, _ = _with_ends(u, start, closed, u[start[:-1]])
    path = np.repeat(np.arange(len(courses)), knots[1:] - knots[:-1])
    u = _running_on(u, knots, path, np.where(closed, count, np.inf))
    u[knots[1:][closed] - 1] = u[knots[:-1][closed]] + count[closed]
    # Stretches of their own, in which parameters and arc lengths only rise.
    u_base, at_base = _stretches(count), _stretches(length)
    u = np.maximum.accumulate(u + u_base[path])
    at = at + at_base[path]
    owner = np.repeat(np.arange(len(courses)), first[1:] - first[:-1])
    where = along[np.arange(len(owner)) + (first_chord[:-1] - first[:-1])[owner]]
    where = np.where(closed[owner] & (where < begin[owner]), where + length[owner], where)
    hint = np.interp(where + at_base[owner], at, u) - u_base[owner]
    hint = np.where(closed[owner], np.mod(hint, count[owner]), hint)
    of_segment = np.repeat(np.arange(len(courses)), count)
    local = np.arange(len(of_segment)) - first_segment[of_segment]
    grid = (local[:, None] + _GRID).ravel()
    place_of = np.repeat(of_segment, PLACES)
    head = (u[knots[:-1]] - u_base)[place_of]
    grid = np.where(closed[place_of], head + np.mod(grid - head, count[place_of]), grid)
    back_at = np.interp(grid + u_base[place_of], u + np.arange(len(u)) * 1e-12, at) - at_base[place_of]
    return hint, np.where(closed[place_of], np.mod(back_at, length[place_of]), back_at)


def _running_on(u: Floats, first: Ints, path: Ints, count: Floats) -> Floats:
    """Parameters that run on where they pass their path's first node; `count` is infinite for open paths."""
    laps = np.zeros(len(u))
    laps[1:] = np.round((u[1:] - u[:-1]) / count[path[1:]])
    laps[first[:-1]] = 0.0
    laps = np.cumsum(laps)
    laps -= laps[first[:-1]][path]
    return np.where(laps != 0.0, u - np.where(laps != 0.0, count[path], 0.0) * laps, u)


_GRID = np.linspace(0.0, 1.0, PLACES)


@dataclass(frozen=True, slots=True, eq=False)
class _Paths:
    """The segments of all paths, and which of them belong to each."""

    segments: Floats
    power: Floats
    first: Ints
    closed: NDArray[np.bool_]

    def nearest(self, owner: Ints, points: Floats, u: Floats, best: Floats, steps: int) -> Floats:
        """Smaller squared distances, in place, and the parameters reached, after so many steps."""
        u, owner, points = np.array(u), whole(owner), np.ascontiguousarray(points)
        curves, first, closed = self.segments, whole(self.first), self.closed

        def work(k: slice) -> None:
            compiled.nearest(
                curves=curves, first=first, closed=closed, owner=owner[k], points=points[k], u=u[k],
                squared=best[k], steps=steps,
            )  # fmt: skip

        in_halves(work, len(u))
        return u


def _forward(lines: _Lines) -> Floats:
    """Distance of each point, or of the middle of the chord that follows, from the path."""
    paths = _Paths(lines.segments, power_of(lines.segments), lines.first_segment, lines.closed)
    points, owner, first, limit = lines.points, lines.owner, lines.first, lines.limit
    x, y = np.ascontiguousarray(points.T)
    best = np.full(len(points), np.inf)
    u = paths.nearest(owner, points, lines.hint, best, SURE_STEPS)
    # Only what may be the largest, or too large, is worth more steps.
    far = np.maximum.reduceat(best, first[:-1])
    far = np.flatnonzero(best >= FAR_SHARE**2 * np.minimum(far, limit * limit)[owner])
    closer = best[far]
    u[far] = paths.nearest(owner[far], points[far], u[far], closer, FOOT_STEPS - SURE_STEPS)
    best[far] = closer
    _from_anywhere(paths, owner, points, best, limit)
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
        paths.nearest(mine, middle, start, squared, FOOT_STEPS)
    forward[some] = np.maximum(forward[some], np.sqrt(squared))
    return np.asarray(forward)


def _from_anywhere(paths: "_Paths", owner: Ints, points: Floats, best: Floats, limit: Floats) -> None:
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
            away = (points[some, 0, None] - place_x) ** 2 + (points[some, 1, None] - place_y) ** 2
            near = away.argmin(axis=1)
            u = near // PLACES + _GRID[near % PLACES]
            squared = best[some]
            paths.nearest(owner[some], points[some], u, squared, FOOT_STEPS - SURE_STEPS)
            best[some] = squared


def _backward(lines: _Lines, limit: Floats) -> Floats:
    """Largest distance of each segment from the chords; where it is below the limit, an upper bound."""
    first_seg, closed = lines.first_segment, lines.closed
    places = evaluate(lines.segments, _GRID).reshape(-1, 2)
    number = lines.first_chord[1:] - lines.first_chord[:-1] - 1
    base = np.cumsum(number) - number
    owner = np.repeat(np.arange(len(number)), np.diff(first_seg) * PLACES)
    at = lines.edge
    begins = np.delete(np.arange(len(lines.chords)), lines.first_chord[1:] - 1)
    starts = lines.chords[begins]
    steps = lines.chords[begins + 1] - starts
    rows = np.ascontiguousarray(np.concatenate([starts, steps], axis=1).T)
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
