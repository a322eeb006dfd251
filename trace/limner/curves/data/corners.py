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

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.curves.data.resampling import Samples, median
from limner.curves.kernels import compiled
from limner.model.arrays import Floats, Ints

__all__ = ["Corner", "drawn_back", "find_corners", "settled", "sharpen"]


# Where a corner drawn out so would leave its data by more than this share of the tolerance, less of it is
# rounded off and its tip lies nearer: shares of both, in the order in which they are tried.
LARGEST_STRAY = 0.85
LESS_ROUNDED = ((1.0, 1.0), (0.6, 1.0), (1.0, 0.5), (0.6, 0.5), (0.3, 0.3))


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


def find_corners(samples: Samples) -> list[Corner]:
    """Corners of the curve in order; the ends of an open one are not among them."""
    rows = np.empty((len(samples.points), 5))
    count = compiled.find_corners(
        points=np.ascontiguousarray(samples.points), tolerance=np.ascontiguousarray(samples.tolerance),
        corners=rows, typical=median(samples.tolerance), step=samples.step, spacing=samples.spacing,
        noise=samples.noise, closed=samples.closed,
    )  # fmt: skip
    found = (Corner(int(i), (x, y), turn, int(rounded)) for i, x, y, turn, rounded in rows[:count].tolist())
    return sorted(found, key=lambda corner: corner.index)


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


def _samples_at(samples: Samples, at: Ints, n: int) -> Floats:
    return np.asarray(samples.points[at % n if samples.closed else np.clip(at, 0, n - 1)])


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


def sharpen(samples: Samples, corners: Sequence[Corner]) -> Samples:
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
