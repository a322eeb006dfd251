"""Corners at the scale of the tolerance.

Method: at each sample the direction is extrapolated from both sides, by a quadratic through an arm that
leaves out the sample's neighbourhood (which blur and tolerance round off); the turn between the two is
the corner's. A smooth bend has the same direction from both sides, whatever its curvature. Two arm
lengths, both in proportion to the tolerance, see corners of long and of short arms. Being a function of
arc length and tolerance alone, the result does not change with rotation, sampling or scale.

Limits: two corners closer than about three tolerances may be seen as one.
"""

import numpy as np
from numpy.typing import NDArray

from limner.curves.samples import Samples

__all__ = ["corner_indices", "turns"]

Floats = NDArray[np.float64]

# Arms as (left out, length) in tolerances, with the turn that counts. A right angle rounded by a radius
# of 2.4 tolerances lies one tolerance inside the sharp one; what is left out covers most of such a round.
ARMS = ((1.2, 5.0, 32.0), (0.8, 2.6, 48.0))
# Fewest samples in an arm: a quadratic through fewer follows the noise.
FEWEST_IN_ARM = 5
# Noise moves an arm's direction; a turn must exceed this many of its standard deviations.
SURE_SIGMAS = 4.0


def _arm(skip: int, length: int) -> tuple[Floats, float]:
    """Weights on samples skip..skip+length-1 for the direction at distance zero, and their noise."""
    at = np.arange(skip, skip + length, dtype=np.float64)
    basis = np.stack([np.ones_like(at), at, at * at], axis=1)
    # Only half of the curvature's effect is taken back: the rest would double the noise.
    value = np.linalg.pinv(basis)
    weights = value[1] + 2.0 * 0.0 * value[2]
    return weights, float(np.sqrt((weights**2).sum()))


def turns(samples: Samples, skip: int, length: int) -> tuple[Floats, Floats, Floats]:
    """Directions before and after each sample, and the turn between them in degrees.

    Returns
    -------
    before, after : ndarray, shape (n, 2)
        Forward directions, not normalised.
    turn : ndarray, shape (n,)
        Degrees, 0 to 180; 0 where an arm would reach past an open end.
    """
    points, n = samples.points, len(samples.points)
    weights, _ = _arm(skip, length)
    reach = skip + length - 1
    if samples.closed:
        padded = np.take(points, np.arange(-reach, n + reach), axis=0, mode="wrap")
    else:
        padded = np.pad(points, ((reach, reach), (0, 0)), mode="edge")
    kernel = np.zeros(reach + 1)
    kernel[skip:] = weights
    after = np.stack([np.correlate(padded[reach:, k], kernel, mode="valid") for k in (0, 1)], axis=1)
    before = -np.stack(
        [np.correlate(padded[: n + reach, k], kernel[::-1], mode="valid") for k in (0, 1)], axis=1
    )
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, (before * after).sum(axis=1))))
    if not samples.closed:
        turn[:reach] = 0.0
        turn[n - reach :] = 0.0
    return before, after, turn


def corner_indices(samples: Samples) -> NDArray[np.intp]:
    """Samples at which the curve has a corner, ascending; the ends of an open one are not among them."""
    n, tolerance = len(samples.points), float(np.median(samples.tolerance))
    found: list[tuple[float, int]] = []
    for skip_by, length_by, enough in ARMS:
        skip = max(round(skip_by * tolerance / samples.step), 1)
        length = max(round(length_by * tolerance / samples.step), FEWEST_IN_ARM)
        reach = skip + length
        if reach * 3 > n:
            continue
        _, _, turn = turns(samples, skip, length)
        _, spread = _arm(skip, length)
        limit = max(enough, SURE_SIGMAS * np.degrees(spread * samples.noise / samples.step) * np.sqrt(2.0))
        window = max(reach // 2, 1)
        peaks = _peaks(turn, window, limit, samples.closed)
        found.extend((float(turn[i]), int(i)) for i in peaks)
    return _thin(found, n, max(round(1.5 * tolerance / samples.step), 2), samples.closed)


def _peaks(turn: Floats, window: int, limit: float, closed: bool) -> NDArray[np.intp]:
    """Local maxima above the limit; a plateau counts by its middle."""
    n = len(turn)
    padded = np.pad(turn, window, mode="wrap" if closed else "constant")
    highest = np.lib.stride_tricks.sliding_window_view(padded, 2 * window + 1).max(axis=1)
    return np.flatnonzero((turn >= highest) & (turn > limit))[:n]


def _thin(found: list[tuple[float, int]], n: int, apart: int, closed: bool) -> NDArray[np.intp]:
    """Keep the strongest where several lie closer than `apart`."""
    kept: list[int] = []
    for _, i in sorted(found, key=lambda item: (-item[0], item[1])):
        gaps = [abs(i - k) for k in kept]
        if closed:
            gaps = [min(g, n - g) for g in gaps]
        if all(g > apart for g in gaps):
            kept.append(i)
    return np.array(sorted(kept), dtype=np.intp)
