"""Fit a closed curve by few cubics that stay within a band and bend no more than they may.

Method: nodes lie on the curve and take its tangents, so that every joint is smooth by construction. Between
any two of many candidate nodes the two arms of a cubic are found by Gauss-Newton steps on its distances from
the curve; the cubic may be used where it stays in the band and its curvature within the bounds. The fewest
such cubics around the ring are found by dynamic programming.

Limits: the curve must itself bend less than the bounds allow and be smooth but for what a band's width hides.
Distances and curvatures are looked at in steps; the caller measures the result.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Flags, Floats, Ints
from limner.model.geometry import CubicPath

__all__ = ["Band", "curvatures", "fit_ring"]

Complexes = NDArray[np.complex128]

Ends = tuple[Complexes, Complexes, Complexes, Complexes]
"""Where cubics start and in which direction, where they end and in which."""

_TINY = np.finfo(np.float64).tiny

# Candidate nodes lie no farther apart than this along the curve, and by how much it may turn between them:
# twice as many take four times as long and save no node in twenty.
_LONGEST_STEP_MM = 1.6
_STEP_DEG = 12.0

# Directions are those of a chord over so much of the curve, or over that share of the smallest radius:
# several corners of the polygon that an arc is.
_CHORD_MM, _CHORD_RADII = 0.3, 0.3

# Where that finds no way around, candidates so many times as close, with shorter chords, are tried.
_FINER = (1.0, 2.0, 4.0)

# Edges from this length on are straight lines of the art, and kept as such.
_STRAIGHT_MM = 1.5

# Ways along the ring are told apart to this.
_WAY_DECIMALS = 6

# A cubic turns by no more than this: beyond it has no use for its two arms.
_MOST_TURN_RAD = 2.6

# Places along a cubic at which distance and curvature are looked at.
_PLACES = 20

# At so many are those that were chosen looked at again; one that fails is not used, and others are chosen
# instead, so often at most.
_MANY_PLACES, _MENDS = 128, 20

# Steps towards the best arms: with two more no ring of two hundred needs a node less.
_ROUNDS = 5

# Longer spans of a candidate are no longer tried after so many failures in a row.
_PATIENCE = 4

# An arm that differs from a third of its span by all of it weighs like a place that strays by this.
_HOLD_MM = 0.01

# Arms, in lengths of the span.
_SHORTEST_ARM, _LONGEST_ARM = 0.05, 1.1

# Laps of the way that looks for nodes to open the ring at, and at how many of them it is opened.
_LAPS, _STARTS = 3, 4

# Among equally few cubics those that stray less: together less than one cubic more.
_STRAY_WEIGHT = 0.002


@dataclass(frozen=True, slots=True)
class Band:
    """Where a curve may run, and how it may bend.

    Parameters
    ----------
    inward_mm, outward_mm : float
        How far it may stray from the given ring to either side.
    inner_radius_mm, outer_radius_mm : float
        Its smallest radius where it bends inwards, and where it bends outwards.
    """

    inward_mm: float
    outward_mm: float
    inner_radius_mm: float
    outer_radius_mm: float


def fit_ring(ring: Floats, band: Band) -> CubicPath | None:
    """Fit a ring.

    Parameters
    ----------
    ring : ndarray of float64, shape (n, 2)
        Closed polyline in millimetres, first point not repeated, with positive area.
    band : Band
        What the fit keeps to.

    Returns
    -------
    CubicPath or None
        Closed, positive, every node smooth; None where no such curve is found.
    """
    radius = min(band.inner_radius_mm, band.outer_radius_mm)
    for finer in _FINER:
        course = _Course(ring, min(_CHORD_MM, _CHORD_RADII * radius) / finer, finer)
        spans = _usable_spans(course, band)
        count = len(course.places)
        opened = _good_nodes(spans, count)
        for _ in range(_MENDS):
            chosen = _fewest(spans, count, opened)
            if chosen is None:
                break
            sound = _are_sound(course, spans, chosen, band)
            if sound.all():
                return _path(course, spans, chosen)
            spans.usable[chosen[~sound]] = False
            # What is mended is mended in few places: the ring may stay open where it is.
            opened = spans.first[chosen[sound]][:1]
    return None


class _Course:
    """A ring by the way along it, with candidate nodes: their ways, points and directions."""

    def __init__(self, ring: Floats, chord_mm: float, finer: float) -> None:
        steps = np.diff(ring, axis=0, append=ring[:1])
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        self._chord, self._finer = chord_mm, finer
        self._ways = np.concatenate([[0.0], np.cumsum(lengths)])
        self.length = float(self._ways[-1])
        self._x, self._y = np.concatenate([ring, ring[:1]]).T
        edges = np.flatnonzero(lengths >= _STRAIGHT_MM)
        self._begins, self._ends = self._ways[edges], self._ways[edges + 1]
        self._headings = steps[edges] / lengths[edges, None]
        self.places = self._candidates()
        self.points = self.at(self.places)
        self.directions = self._directions(self.places)
        turns = _turns(self.directions, np.roll(self.directions, -1, axis=0))
        self.turned = np.concatenate([[0.0], np.cumsum(np.tile(np.abs(turns), 2))])

    def at(self, ways: Floats) -> Floats:
        """Points, shape (..., 2)."""
        ways = np.mod(ways, self.length)
        return np.stack([np.interp(ways, self._ways, self._x), np.interp(ways, self._ways, self._y)], axis=-1)

    def _candidates(self) -> Floats:
        """Ways of the candidate nodes: the closer together the more the ring turns, and all ends of edges."""
        count = int(np.ceil(2 * self.length / self._chord))
        step = self.length / count
        ways = np.arange(count) * step
        headings = self._directions(np.asarray(ways, dtype=np.float64))
        turns = np.abs(_turns(headings, np.roll(headings, -1, axis=0)))
        share = step / _LONGEST_STEP_MM + turns / np.radians(_STEP_DEG)
        crowd = np.concatenate([[0.0], np.cumsum(self._finer * share)])
        levels = np.linspace(0.0, crowd[-1], int(np.ceil(crowd[-1])), endpoint=False)
        even: Floats = np.interp(levels, crowd, np.append(ways, self.length))
        even = even[self._to_edges(even) > self._chord / 3]
        ends = np.mod(np.concatenate([self._begins, self._ends]), self.length)
        return np.unique(np.round(np.concatenate([even, ends]), _WAY_DECIMALS))

    def _to_edges(self, ways: Floats) -> Floats:
        """How far it is along the ring to the nearest end of a straight edge."""
        ends = np.sort(np.concatenate([self._begins, self._ends]))
        if not len(ends):
            return np.full(len(ways), self.length)
        ends = np.concatenate([[ends[-1] - self.length], ends, [ends[0] + self.length]])
        after = np.clip(np.searchsorted(ends, ways), 1, len(ends) - 1)
        return np.asarray(np.minimum(np.abs(ends[after] - ways), np.abs(ways - ends[after - 1])))

    def _directions(self, ways: Floats) -> Floats:
        """Directions of travel, shape (n, 2): those of chords, which do not reach into straight edges."""
        half = np.clip(self._to_edges(ways), self._chord / 10, self._chord / 2)
        chord = self.at(ways + half) - self.at(ways - half)
        chord /= np.maximum(np.hypot(chord[:, 0], chord[:, 1]), _TINY)[:, None]
        slack = 10.0**-_WAY_DECIMALS
        for begin, end, heading in zip(self._begins, self._ends, self._headings, strict=True):
            on = (ways >= begin - slack) & (ways <= end + slack)
            if end + slack >= self.length:
                on |= ways <= end + slack - self.length
            chord[on] = heading
        return np.asarray(chord)


@dataclass(frozen=True, slots=True, eq=False)
class _Spans:
    """Cubics between candidates: from which, over how many, arms, stray in bands, and which may be used."""

    first: Ints
    steps: Ints
    arms: Floats
    stray: Floats
    usable: Flags


def _turns(one: Floats, other: Floats) -> Floats:
    """Angle from one direction to another, each shape (n, 2)."""
    cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    return np.asarray(np.arctan2(cross, (one * other).sum(axis=1)))


def _usable_spans(course: _Course, band: Band) -> _Spans:
    count = len(course.places)
    failures = np.zeros(count, np.intp)
    found: list[tuple[Ints, Ints, Floats, Floats]] = []
    for steps in range(1, count):
        first = np.flatnonzero(failures < _PATIENCE)
        first = first[course.turned[first + steps] - course.turned[first] < _MOST_TURN_RAD]
        if not len(first):
            break
        arms, stray, fine = _fitted(course, first, (first + steps) % count, band)
        found.append((first[fine], np.full(fine.sum(), steps), arms[fine], stray[fine]))
        failures[first[fine]] = 0
        failures[first[~fine]] += 1
    starts, counts, arms, stray = (np.concatenate(part) for part in zip(*found, strict=True))
    return _Spans(starts, counts, arms, stray, np.ones(len(starts), bool))


def _are_sound(course: _Course, spans: _Spans, chosen: Ints, band: Band) -> Flags:
    """Which of the chosen spans keep to the band at many more places than were looked at before."""
    first = spans.first[chosen]
    last = (first + spans.steps[chosen]) % len(course.places)
    data, u = _data(course, first, last, _MANY_PLACES)
    ends = _ends(course, first, last)
    for _ in range(_ROUNDS):
        u, _ = _improved(ends, spans.arms[chosen], np.ones(len(first)), u, data)
    return _judged(_cubics(*ends, spans.arms[chosen]), u, data, band)[1]


def _fitted(course: _Course, first: Ints, last: Ints, band: Band) -> tuple[Floats, Floats, Flags]:
    """Arms of the cubics between candidates, their stray in bands, and whether they may be used."""
    data, u = _data(course, first, last, _PLACES)
    length = np.mod(course.places[last] - course.places[first], course.length)
    ends = _ends(course, first, last)
    arms = np.repeat(length[:, None] / 3.0, 2, axis=1)
    for _ in range(_ROUNDS):
        u, arms = _improved(ends, arms, length, u, data)
    return arms, *_judged(_cubics(*ends, arms), u, data, band)


def _data(course: _Course, first: Ints, last: Ints, places: int) -> tuple[Complexes, Floats]:
    """Points of the ring between candidates, shape (n, places), and their shares of the way."""
    start = course.places[first]
    length = np.mod(course.places[last] - start, course.length)
    share = np.arange(1, places + 1) / (places + 1)
    return _complex(course.at(start[:, None] + length[:, None] * share)), np.tile(share, (len(first), 1))


def _ends(course: _Course, first: Ints, last: Ints) -> Ends:
    points, ways = _complex(course.points), _complex(course.directions)
    return points[first], ways[first], points[last], ways[last]


def _judged(cubics: Complexes, u: Floats, data: Complexes, band: Band) -> tuple[Floats, Flags]:
    """How many times its band each cubic strays, and whether it may be used."""
    point, slope, _ = _derivatives(cubics, u)
    off = (np.conj(slope) * (data - point)).imag / np.maximum(np.abs(slope), _TINY)
    stray = np.maximum((off / band.outward_mm).max(axis=1), (-off / band.inward_mm).max(axis=1))
    bends = _bends(cubics, np.linspace(0.0, 1.0, u.shape[1] + 1)[None])
    fine = bends.min(axis=1) >= -1.0 / band.inner_radius_mm
    fine &= bends.max(axis=1) <= 1.0 / band.outer_radius_mm
    # A foot that stays at an end, or beside its neighbour's, has lost its point.
    fine &= (np.diff(u, axis=1) > 0.0).all(axis=1)
    return stray, fine & (stray <= 1.0)


def _complex(points: Floats) -> Complexes:
    """Points (x, y) as x + iy: dot and cross products are then the parts of one product."""
    return np.asarray(points[..., 0] + 1j * points[..., 1])


def _cubics(start: Complexes, way: Complexes, end: Complexes, last_way: Complexes, arms: Floats) -> Complexes:
    """Cubics, shape (n, 4), from points with directions to points with directions."""
    return np.stack([start, start + arms[:, 0] * way, end - arms[:, 1] * last_way, end], axis=1)


def _derivatives(cubics: Complexes, u: Floats) -> tuple[Complexes, Complexes, Complexes]:
    """Points of each cubic at its own parameters, shape (n, k), and their first and second derivatives."""
    a, b, c, d = (cubics[:, i, None] for i in range(4))
    first, second, third = 3.0 * (b - a), 3.0 * (c - 2 * b + a), d - a + 3.0 * (b - c)
    point = ((third * u + second) * u + first) * u + a
    slope = (3.0 * third * u + 2.0 * second) * u + first
    return point, slope, 6.0 * third * u + 2.0 * second


def _improved(ends: Ends, arms: Floats, length: Floats, u: Floats, data: Complexes) -> tuple[Floats, Floats]:
    """One Newton step of the parameters towards the data's feet, and one of Gauss and Newton of the arms."""
    point, slope, bend = _derivatives(_cubics(*ends, arms), u)
    away = data - point
    turned = np.conj(slope)
    along = (turned * away).real
    speed = np.maximum(np.abs(slope), _TINY)
    off = (turned * away).imag / speed
    s = 1.0 - u
    one = 3.0 * s * s * u * (turned * ends[1][:, None]).imag / speed
    other = -3.0 * s * u * u * (turned * ends[3][:, None]).imag / speed
    # Where arms hardly matter, as on a straight line, they stay near a third of the way.
    hold = (_HOLD_MM / length) ** 2
    aa, ab, bb = (one * one).sum(axis=1) + hold, (one * other).sum(axis=1), (other * other).sum(axis=1) + hold
    ra = (one * off).sum(axis=1) + hold * (length / 3.0 - arms[:, 0])
    rb = (other * off).sum(axis=1) + hold * (length / 3.0 - arms[:, 1])
    change = np.stack([bb * ra - ab * rb, aa * rb - ab * ra], axis=1) / (aa * bb - ab * ab)[:, None]
    longest = 0.3 * length[:, None]
    moved = arms + np.clip(change, -longest, longest)
    steep = speed * speed - (np.conj(away) * bend).real
    step = along / np.where(steep > 0.0, steep, np.inf)
    nearer = np.clip(u + np.clip(step, -0.1, 0.1), 0.0, 1.0)
    return nearer, np.clip(moved, _SHORTEST_ARM * length[:, None], _LONGEST_ARM * length[:, None])


def _bends(cubics: Complexes, u: Floats) -> Floats:
    _, slope, bend = _derivatives(cubics, u)
    return np.asarray((np.conj(slope) * bend).imag / np.maximum(np.abs(slope), _TINY) ** 3)


def curvatures(segments: Floats, t: Floats) -> Floats:
    """Signed curvatures in 1/mm, shape (n, k), of cubics, shape (n, 4, 2), at parameters, shape (k,).

    Positive where a positive path bends outwards.
    """
    return _bends(_complex(segments), np.asarray(t)[None])


def _leaving(spans: _Spans, count: int) -> list[Ints]:
    """The usable spans that begin at each candidate."""
    order = np.flatnonzero(spans.usable)
    order = order[np.argsort(spans.first[order], kind="stable")]
    return np.split(order, np.searchsorted(spans.first[order], np.arange(1, count)))


def _cost(spans: _Spans) -> Floats:
    return 1.0 + _STRAY_WEIGHT * spans.stray**2


def _good_nodes(spans: _Spans, count: int) -> Ints:
    """Candidates at which the fewest spans around the ring may well begin.

    A way of several laps that is free to begin anywhere has found them by its middle.
    """
    free = _cheapest(np.zeros(count), _LAPS * count, _leaving(spans, count), spans.steps, _cost(spans))
    middle = free[len(free) // 3 : 2 * len(free) // 3 + 1]
    return spans.first[np.array(middle[:_STARTS], dtype=np.intp)]


def _fewest(spans: _Spans, count: int, opened: Ints) -> Ints | None:
    """The fewest usable spans around the ring, which is opened at some candidates in turn; or None."""
    leaving, cost = _leaving(spans, count), _cost(spans)
    best: tuple[float, list[int]] | None = None
    for start in opened:
        turned = [leaving[(start + k) % count] for k in range(count)]
        used = _cheapest(np.zeros(1), count, turned, spans.steps, cost)
        total = float(cost[used].sum())
        if used and (best is None or total < best[0]):
            best = total, used
    return None if best is None else np.array(best[1])


def _cheapest(begin: Floats, end: int, leaving: list[Ints], steps: Ints, cost: Floats) -> list[int]:
    """The cheapest row of spans from one of the first places to the end, by dynamic programming; or none."""
    total = np.full(end + 1, np.inf)
    total[: len(begin)] = begin
    came = np.full(end + 1, -1, np.intp)
    for k in range(end):
        mine = leaving[k % len(leaving)]
        mine = mine[steps[mine] <= end - k]
        to, sums = k + steps[mine], total[k] + cost[mine]
        better = sums < total[to]
        total[to[better]] = sums[better]
        came[to[better]] = mine[better]
    used: list[int] = []
    at = end if len(begin) == 1 else int(np.flatnonzero(np.isfinite(total))[-1])
    while came[at] >= 0:
        used.append(int(came[at]))
        at -= int(steps[came[at]])
    return used[::-1] if at < len(begin) else []


def _path(course: _Course, spans: _Spans, chosen: Ints) -> CubicPath:
    first, arms = spans.first[chosen], spans.arms[chosen]
    last = (first + spans.steps[chosen]) % len(course.places)
    points, ways = course.points, course.directions
    segments = np.stack(
        [
            points[first],
            points[first] + arms[:, :1] * ways[first],
            points[last] - arms[:, 1:] * ways[last],
            points[last],
        ],
        axis=1,
    )
    chord = points[last] - points[first]
    chord /= np.hypot(chord[:, 0], chord[:, 1])[:, None]
    straight = (np.abs(_turns(ways[first], chord)) < 1e-6) & (np.abs(_turns(chord, ways[last])) < 1e-6)
    thirds = np.arange(4)[:, None] / 3.0
    segments[straight] = (points[first, None] + thirds * (points[last] - points[first])[:, None])[straight]
    segments[:, 3] = np.roll(segments[:, 0], -1, axis=0)
    return CubicPath(segments, straight, np.ones(len(segments), bool), closed=True)
