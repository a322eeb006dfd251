"""Corners at the scale of the tolerance.

Method: at each sample the curve is extrapolated from both sides, by a quadratic through an arm that leaves
out the sample's neighbourhood (which blur and tolerance round off); the turn between the two directions is
the corner's. A smooth bend has the same direction from both sides, whatever its curvature. Two arm
lengths, both in proportion to the tolerance, see corners of long and of short arms. Where the two sides
meet is the corner's tip: the samples around it are drawn out to the tip, so that a rounded-off corner costs
no nodes. Being a function of arc length and tolerance alone, the result does not change with rotation,
sampling or scale.

Limits: two corners closer than about two tolerances are seen as one.
"""

from bisect import bisect_left, bisect_right, insort
from dataclasses import dataclass, replace
from functools import lru_cache
from math import hypot

import numpy as np

from limner.curves.data.resampling import Samples, median
from limner.curves.kernels import compiled
from limner.model.arrays import Floats, Ints

__all__ = ["Corner", "drawn_back", "find_corners", "settled", "sharpen"]


# Arms as (left out, length) in tolerances, with the turn in degrees that counts. A right angle rounded by
# a radius of 2.4 tolerances lies one tolerance inside the sharp one; what is left out covers most of it.
ARMS = ((1.5, 6.0, 26.0), (1.2, 3.0, 40.0))
# Blur rounds corners off over about this many data spacings, however small the tolerance.
BLUR_SPACINGS = 1.5
# Fewest samples in an arm, in data spacings: a quadratic through fewer follows the noise.
SPACINGS_PER_ARM = 5.0
# A tip is found from arms that begin this many tolerances, or data spacings, away: a right angle rounded
# to lie one tolerance inside the sharp one is round for 2.4 tolerances, one blurred by a pixel for 2.4.
ROUNDED_TOLERANCES = 2.2
ROUNDED_SPACINGS = 2.6
# Straight arms may be longer by these factors, longest first; straight to within this share of the tolerance.
LONG_ARMS = (12.0, 5.0, 2.0)
LONG_ARM_STRAIGHT = 0.3
FEWEST_IN_ARM = 4
# Noise moves an arm's direction; a turn must exceed this many of its standard deviations.
SURE_SIGMAS = 4.0
# A tip is drawn out no farther than this share of the tolerance from the data.
FARTHEST_TIP = 0.85
# Where a corner drawn out so would leave its data by more than this share of the tolerance, less of it is
# rounded off and its tip lies nearer: shares of both, in the order in which they are tried.
LARGEST_STRAY = 0.85
LESS_ROUNDED = ((1.0, 1.0), (0.6, 1.0), (1.0, 0.5), (0.6, 0.5), (0.3, 0.3))
# Corners closer than this many tolerances are one.
APART = 2.0


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner.

    Parameters
    ----------
    index : int
        Its sample.
    tip : tuple of float
        Where both sides meet, as far as the tolerance lets it.
    turn_deg : float
    rounded : int
        How many samples on each side are rounded off.
    """

    index: int
    tip: tuple[float, float]
    turn_deg: float
    rounded: int


@lru_cache(maxsize=1024)
def _weights(skip: int, length: int) -> tuple[Floats, Floats, float]:
    """Weights on samples skip..skip+length-1 for value and slope at zero, and the slope's noise."""
    at = np.arange(skip, skip + length, dtype=np.float64)
    solve = np.linalg.pinv(np.stack([np.ones_like(at), at, at * at], axis=1))
    return solve[0], solve[1], float(np.sqrt((solve[1] ** 2).sum()))


def _sides(samples: Samples, skip: int, length: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Extrapolated places and forward directions before and after each sample, each (n, 2)."""
    points, n = samples.points, len(samples.points)
    value, slope, _ = _weights(skip, length)
    reach = skip + length - 1
    mode = "wrap" if samples.closed else "edge"
    padded = np.pad(points, ((reach, reach), (0, 0)), mode=mode)  # type: ignore[call-overload]

    def ahead(weights: Floats) -> Floats:
        return np.stack([np.correlate(padded[reach + skip :, k], weights, "valid") for k in (0, 1)], axis=1)

    def behind(weights: Floats) -> Floats:
        part = padded[: n + length - 1]
        return np.stack([np.correlate(part[:, k], weights[::-1], "valid") for k in (0, 1)], axis=1)

    return behind(value), -behind(slope), ahead(value), ahead(slope)


def _turn(before: Floats, after: Floats) -> Floats:
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.degrees(np.abs(np.arctan2(cross, (before * after).sum(axis=1)))))


def find_corners(samples: Samples) -> list[Corner]:
    """Corners of the curve in order; the ends of an open one are not among them."""
    if compiled is None:
        return _find_corners(samples)
    typical = median(samples.tolerance)
    made = np.empty((2 * len(samples.points), 5))
    many = compiled.corners(
        np.ascontiguousarray(samples.points), np.ascontiguousarray(samples.tolerance),
        np.array([typical, samples.step, samples.spacing, samples.noise]), _RULES, made,
        samples.closed, _apart(samples, typical),
    )  # fmt: skip
    found = (Corner(int(i), (x, y), turn, int(rounded)) for i, x, y, turn, rounded in made[:many].tolist())
    return sorted(found, key=lambda c: c.index)


# In the order of the kernel's `corner_rules`.
_RULES = np.array([
    *(value for arm in ARMS for value in arm),
    BLUR_SPACINGS, SPACINGS_PER_ARM, ROUNDED_TOLERANCES, ROUNDED_SPACINGS,
    *LONG_ARMS, LONG_ARM_STRAIGHT, FEWEST_IN_ARM, SURE_SIGMAS, FARTHEST_TIP,
])  # fmt: skip


def _apart(samples: Samples, tolerance: float) -> int:
    return max(round(max(APART * tolerance, 3 * samples.spacing) / samples.step), 2)


def _find_corners(samples: Samples) -> list[Corner]:
    n, tolerance, step = len(samples.points), median(samples.tolerance), samples.step
    found: list[tuple[float, int, int, int, float]] = []
    for skip_by, length_by, enough in ARMS:
        skip = max(round(max(skip_by * tolerance, BLUR_SPACINGS * samples.spacing) / step), 1)
        length = max(round(max(length_by * tolerance, SPACINGS_PER_ARM * samples.spacing) / step), 4)
        reach = skip + length
        if reach * 3 > n:
            continue
        _, before, _, after = _sides(samples, skip, length)
        turn = _turn(before, after)
        if not samples.closed:
            turn[:reach] = turn[n - reach :] = 0.0
        spread = _weights(skip, length)[2] * np.sqrt(max(samples.spacing / step, 1.0) * 2.0)
        limit = max(enough, SURE_SIGMAS * np.degrees(spread * samples.noise / step))
        peaks = _peaks(turn, max(reach // 2, 1), limit, samples.closed)
        found.extend((float(turn[i]), int(i), skip, length, limit) for i in peaks)
    return _accept(samples, found, _apart(samples, tolerance))


def _accept(samples: Samples, found: list[tuple[float, int, int, int, float]], apart: int) -> list[Corner]:
    """Take the strongest first; the others must hold with arms that end where one taken before lies."""
    n = len(samples.points)
    kept: list[Corner] = []
    taken: list[int] = []
    arms = _Arms(samples)
    for _, i, skip, length, limit in sorted(found, key=lambda c: (-c[0], c[1])):
        ahead, behind = _room(taken, i, n, samples.closed)
        if min(ahead, behind) <= apart:
            continue
        corner = _measured(arms, i, skip, length, (behind, ahead))
        if corner is None or corner.turn_deg < limit:
            continue
        if min(_room(taken, corner.index, n, samples.closed)) > apart:
            kept.append(corner)
            insort(taken, corner.index)
    return sorted(kept, key=lambda c: c.index)


def _room(taken: list[int], i: int, n: int, closed: bool) -> tuple[int, int]:
    """Samples to the nearest corner ahead and behind, given the indices of all in order."""
    k = bisect_left(taken, i)
    if k < len(taken):
        ahead = taken[k] - i
    else:
        ahead = taken[0] + n - i if closed and taken else n if closed else n - 1 - i
    k = bisect_right(taken, i)
    if k:
        return ahead, i - taken[k - 1]
    return ahead, i + n - taken[-1] if closed and taken else n if closed else i


class _Arms:
    """Stretches of one polyline's samples, and the straight lines nearest to them."""

    def __init__(self, samples: Samples) -> None:
        self.samples = samples
        points = samples.points
        if samples.closed:
            # Arms are shorter than once around.
            points = np.concatenate([points, points, points])
        self.points = points
        x, y = (points - samples.points.mean(axis=0)).T
        sums = np.zeros((len(points) + 1, 5))
        np.cumsum(np.stack([x, y, x * x, x * y, y * y], axis=1), axis=0, out=sums[1:])
        self.sums = sums

    def stretch(self, i: int, side: int, skip: int, length: int) -> Floats:
        """So many samples on one side of sample `i`, from the nearest one outwards."""
        n = len(self.samples.points)
        if self.samples.closed:
            i = i % n + n
        first = i + side * skip
        last = first + side * (length - 1)
        if min(first, last) < 0 or max(first, last) >= len(self.points):
            return self.points[np.clip(i + side * np.arange(skip, skip + length), 0, len(self.points) - 1)]
        if side > 0:
            return self.points[first : last + 1]
        return self.points[last : first + 1][::-1]

    def may_be_straight(self, i: int, side: int, skip: int, length: int, limit: float) -> bool:
        """Whether the root mean square distance from the nearest line is within the limit."""
        if self.samples.closed:
            n = len(self.samples.points)
            i = i % n + n
        a, b = (i + skip, i + skip + length) if side > 0 else (i - skip - length + 1, i - skip + 1)
        if a < 0 or b >= len(self.sums):
            return True
        x, y, xx, xy, yy = ((self.sums[b] - self.sums[a]) / length).tolist()
        xx, xy, yy = xx - x * x, xy - x * y, yy - y * y
        return bool(0.5 * (xx + yy - hypot(xx - yy, 2.0 * xy)) <= limit * limit)


def _measured(arms: _Arms, i: int, skip: int, length: int, room: tuple[int, int]) -> Corner | None:
    """The corner at sample `i`, seen along arms within the room; what is rounded grows with its turn."""
    samples = arms.samples
    tolerance = float(samples.tolerance[i])
    round_for = max(ROUNDED_TOLERANCES * tolerance, ROUNDED_SPACINGS * samples.spacing) / samples.step
    for _ in range(3):
        lengths = [min(length, space - skip) for space in room]
        if min(lengths) < 3:
            return None
        sides = [
            _side(arms, i, s, skip, size, space)
            for s, size, space in zip((-1, 1), lengths, room, strict=True)
        ]
        (place_a, along_a), (place_b, along_b) = sides
        turn = float(_turn(along_a[None], along_b[None])[0])
        if turn < 5.0:
            return None
        tip = _meet(place_a, along_a, place_b, along_b)
        # A sharper corner is blurred farther along its arms.
        inner = max(np.sin(np.radians(180.0 - turn) / 2.0), 0.25)
        wider = min(round(round_for * max(0.707 / inner, 1.0)), min(room) - 4)
        if wider <= skip:
            break
        skip = wider
    return _placed(samples, i, tip, turn, skip)


def _side(arms: _Arms, i: int, side: int, skip: int, length: int, room: int) -> tuple[Floats, Floats]:
    """Place and forward direction at sample `i`, extrapolated from the arm on one side.

    The arm is straight, and as long as it can be, where the curve is; else it is a short quadratic.
    """
    limit = LONG_ARM_STRAIGHT * float(arms.samples.tolerance[i])
    for share in LONG_ARMS:
        longer = min(round(share * length), room - skip)
        if longer < 2 * FEWEST_IN_ARM or longer <= length:
            continue
        if not arms.may_be_straight(i, side, skip, longer, limit):
            continue
        arm = arms.stretch(i, side, skip, longer)
        middle, along, off = _line_through(arm)
        if off <= limit:
            chord = arm[-1] - arm[0]
            return middle, along * np.sign(float(chord @ along)) * side
    arm = arms.stretch(i, side, skip, length)
    value, slope = _arm(length, skip)
    return np.asarray(value @ arm), np.asarray(side * (slope @ arm))


def _line_through(points: Floats) -> tuple[Floats, Floats, float]:
    """The line nearest to points: a place on it, its unit direction, their largest distance from it."""
    middle = points.sum(axis=0) / len(points)
    x, y = (points - middle).T
    angle = 0.5 * np.arctan2(2.0 * float(x @ y), float(x @ x - y @ y))
    cos, sin = np.cos(angle), np.sin(angle)
    return middle, np.array([cos, sin]), float(np.abs(cos * y - sin * x).max())


def _samples_at(samples: Samples, at: Ints, n: int) -> Floats:
    return np.asarray(samples.points[at % n if samples.closed else np.clip(at, 0, n - 1)])


@lru_cache(maxsize=1024)
def _arm(length: int, skip: int) -> tuple[Floats, Floats]:
    """Weights for value and slope at zero: quadratic where there are enough samples, else straight."""
    if length >= 6:
        return _weights(skip, length)[:2]
    at = np.arange(skip, skip + length, dtype=np.float64)
    solve = np.linalg.pinv(np.stack([np.ones_like(at), at], axis=1))
    return solve[0], solve[1]


def _meet(a: Floats, along: Floats, b: Floats, onward: Floats) -> Floats:
    """Where the lines from both sides meet."""
    cross = float(along[0] * onward[1] - along[1] * onward[0])
    gap = b - a
    return np.asarray(a + along * float(gap[0] * onward[1] - gap[1] * onward[0]) / cross)


def _placed(samples: Samples, i: int, tip: Floats, turn: float, skip: int) -> Corner:
    """The corner at the sample nearest to its tip, the tip not too far from the data."""
    n = len(samples.points)
    if not np.isfinite(tip).all():
        # Sides that run back on themselves meet nowhere.
        tip = samples.points[i]
    near = np.arange(i - 2 * skip, i + 2 * skip + 1)
    near = near % n if samples.closed else near[(near >= 0) & (near < n)]
    away = tip - samples.points[near]
    distance = np.hypot(away[:, 0], away[:, 1])
    k = int(distance.argmin())
    farthest = FARTHEST_TIP * float(samples.tolerance[near[k]])
    share = min(1.0, farthest / max(float(distance[k]), 1e-300))
    tip = samples.points[near[k]] + share * away[k]
    return Corner(int(near[k]), (float(tip[0]), float(tip[1])), turn, skip)


def drawn_back(samples: Samples, corner: Corner, reach: float) -> Corner:
    """The corner with its tip at a share of its way from the data; at none, nothing is drawn out any more."""
    place = samples.points[corner.index]
    x, y = place + reach * (np.array(corner.tip) - place)
    rounded = corner.rounded if reach > 0.0 else 1
    return replace(corner, tip=(float(x), float(y)), rounded=rounded)


def settled(samples: Samples, corners: list[Corner]) -> list[Corner]:
    """The corners, each drawn out only as far as the data around it are not left behind.

    The blurred tip of an acute corner may lie farther from its sharp one than the tolerance.
    """
    return [_settled(samples, corners, k) for k in range(len(corners))]


def _settled(samples: Samples, corners: list[Corner], k: int) -> Corner:
    corner, n = corners[k], len(samples.points)
    reaches = []
    for side in (-1, 1):
        gap = (side * (corners[(k + side) % len(corners)].index - corner.index)) % n or n
        reaches.append(min(corner.rounded, max(gap // 2, 1)))
    limit = LARGEST_STRAY * float(samples.tolerance[corner.index])
    for share, reach in LESS_ROUNDED:
        trial = replace(drawn_back(samples, corner, reach), rounded=max(round(share * corner.rounded), 1))
        if _stray(samples, trial, [min(trial.rounded, most) for most in reaches]) <= limit:
            return trial
    return drawn_back(samples, corner, 0.0)


def _stray(samples: Samples, corner: Corner, reaches: list[int]) -> float:
    """Largest distance of the samples around a corner from its drawn-out arms."""
    n = len(samples.points)
    tip = np.array(corner.tip)
    around = _samples_at(samples, corner.index + np.arange(-reaches[0], reaches[1] + 1), n)
    away = around - tip
    nearest = np.full(len(around), np.inf)
    for end in (away[0], away[-1]):
        share = np.clip(away @ end / max(float(end @ end), 1e-300), 0.0, 1.0)
        rest = away - share[:, None] * end
        nearest = np.minimum(nearest, np.hypot(rest[:, 0], rest[:, 1]))
    return float(nearest.max())


def _peaks(turn: Floats, window: int, limit: float, closed: bool) -> Ints:
    """Local maxima above the limit."""
    padded = np.pad(turn, window, mode="wrap" if closed else "constant")
    highest = np.lib.stride_tricks.sliding_window_view(padded, 2 * window + 1).max(axis=1)
    return np.flatnonzero((turn >= highest) & (turn > limit))


def sharpen(samples: Samples, corners: list[Corner]) -> Samples:
    """Samples with the rounded-off neighbourhood of each corner drawn out to its tip."""
    if not corners:
        return samples
    points, n = samples.points.copy(), len(samples.points)
    for k, corner in enumerate(corners):
        tip = np.array(corner.tip)
        points[corner.index] = tip
        for side in (-1, 1):
            neighbour = corners[(k + side) % len(corners)].index
            gap = (side * (neighbour - corner.index)) % n or n
            reach = min(corner.rounded, max(gap // 2, 1))
            end = corner.index + side * reach
            if not samples.closed and not 0 <= end < n:
                continue
            share = (np.arange(1, reach) / reach)[:, None]
            at = corner.index + side * np.arange(1, reach)
            points[at % n] = tip + share * (samples.points[end % n] - tip)
    return replace(samples, points=points)
