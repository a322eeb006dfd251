"""Even samples of polylines: what all steps of the fit look at.

Method: each polyline is turned into a canonical direction and start (so that the fit does not depend on
either), then resampled at equal steps of arc length, as fine as its data but no finer than the tolerance
has use for. Noise is estimated from fourth differences across the curve.

Limits: sampling is linear between data points; a spike thinner than one step may be missed here, though
not by the measured error.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Samples", "canonical", "noise_of", "sample"]

Floats = NDArray[np.float64]

# A step of half the tolerance is fine enough to see every deviation that matters.
STEP_PER_TOLERANCE = 0.5
# Short paths still need enough samples to carry a shape: about a dozen per segment of a small circle.
FEWEST_SAMPLES = 48
# Finest step in relation to the data's own spacing: finer samples would only repeat straight chords.
STEP_PER_SPACING = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Equally spaced samples of one polyline.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Millimetres; the first and last are exactly the polyline's when open, not repeated when closed.
    tolerance : ndarray, shape (n,)
        Largest distance allowed there.
    step : float
        Arc length between samples.
    closed : bool
        Whether the last sample is followed by the first.
    noise : float
        Standard deviation of the data across the curve.
    breaks : ndarray of int
        Samples at which a node must lie (where the tolerance changes).
    """

    points: Floats
    tolerance: Floats
    step: float
    closed: bool
    noise: float
    breaks: NDArray[np.intp]


def canonical(points: Floats, closed: bool) -> tuple[NDArray[np.intp], bool]:
    """Order of the points that does not depend on direction or start.

    Returns
    -------
    order : ndarray of int, shape (n,)
        Indices into `points`.
    turned : bool
        Whether the direction was turned.

    Notes
    -----
    A closed polyline runs positively and starts at the point farthest from its centre; an open one
    starts at the end that comes first by (x, y).
    """
    n = len(points)
    order = np.arange(n)
    if not closed:
        turned = tuple(points[-1]) < tuple(points[0])
        return (order[::-1] if turned else order), turned
    rest = points - points[0]
    following = np.roll(rest, -1, axis=0)
    turned = float((rest[:, 0] * following[:, 1] - rest[:, 1] * following[:, 0]).sum()) < 0.0
    if turned:
        order = order[::-1]
    low, high = points.min(axis=0), points.max(axis=0)
    away = ((points[order] - (low + high) / 2.0) ** 2).sum(axis=1)
    return np.roll(order, -int(np.argmax(away))), turned


def noise_of(points: Floats, closed: bool) -> float:
    """Standard deviation of white noise across the polyline, from fourth differences.

    The fourth difference of white noise has the variance 70 (sum of squared binomials 1 4 6 4 1); that
    of a smooth, well sampled curve is next to nothing. The median keeps corners out of it.
    """
    if len(points) < 24:
        return 0.0
    run = np.concatenate([points, points[:5]]) if closed else points
    fourth = np.diff(run, 4, axis=0)
    along = run[3:-1] - run[1:-3]
    length = np.hypot(along[:, 0], along[:, 1])
    across = np.abs(along[:, 0] * fourth[:, 1] - along[:, 1] * fourth[:, 0]) / np.maximum(length, 1e-300)
    # 0.6745: the median of a normal variable's magnitude.
    return float(np.median(across) / 0.6745 / np.sqrt(70.0))


def sample(points: Floats, tolerance: Floats, closed: bool, noise: float | None) -> Samples:
    """Resample one polyline, shape (n, 2), with its tolerance at each point, shape (n,)."""
    run = np.concatenate([points, points[:1]]) if closed else points
    allowed = np.concatenate([tolerance, tolerance[:1]]) if closed else tolerance
    gaps = np.hypot(*np.diff(run, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(gaps)])
    total = float(along[-1])
    spacing = total / max(len(gaps), 1)
    step = max(STEP_PER_TOLERANCE * float(tolerance.min()), STEP_PER_SPACING * spacing)
    count = max(int(np.ceil(total / step)), FEWEST_SAMPLES)
    at = np.linspace(0.0, total, count + 1)
    even = np.stack([np.interp(at, along, run[:, 0]), np.interp(at, along, run[:, 1])], axis=1)
    even[0], even[-1] = run[0], run[-1]
    nearest = np.clip(np.searchsorted(along, at, side="right") - 1, 0, len(gaps) - 1)
    limits = allowed[nearest]
    changes = np.flatnonzero(np.diff(limits) != 0) + 1
    if closed:
        even, limits = even[:-1], limits[:-1]
        changes = np.unique(np.append(changes[changes < count], 0)) if limits[0] != limits[-1] else changes
        changes = changes[changes < count]
    if noise is None:
        noise = noise_of(points, closed)
    return Samples(even, limits, total / count, closed, noise, changes)
