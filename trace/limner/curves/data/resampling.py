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

from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Flags, Floats

__all__ = ["Samples", "canonical", "median", "noise_of", "sample", "sampled_flags", "simplified"]


# A step of half the tolerance is fine enough to see every deviation that matters.
STEP_PER_TOLERANCE = 0.5
# Short paths still need enough samples to carry a shape: about a dozen per segment of a small circle.
FEWEST_SAMPLES = 48
# Finest step in relation to the data's own spacing: finer samples would only repeat straight chords.
STEP_PER_SPACING = 0.9
# Most samples between two data points, on average.
SAMPLES_PER_GAP = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Equally spaced samples of one polyline.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Millimetres; the first and last are exactly the polyline's when open, not repeated when closed.
    tolerance : ndarray, shape (n,)
        Largest distance allowed there.
    room : ndarray, shape (n,)
        How much of it a fit of these samples may take: all of it, but where they are not as drawn.
    step : float
        Arc length between samples.
    closed : bool
        Whether the last sample is followed by the first.
    noise : float
        Standard deviation of the data across the curve.
    spacing : float
        Mean distance between the data points.
    breaks : ndarray of int
        Samples at which a node must lie (where the tolerance changes).
    """

    points: Floats
    tolerance: Floats
    room: Floats
    step: float
    closed: bool
    noise: float
    spacing: float
    breaks: NDArray[np.intp]

    @property
    def varies(self) -> bool:
        """Whether the tolerance is not the same everywhere."""
        return float(self.tolerance.min()) < float(self.tolerance.max())


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
    # The first is at the origin: what joins the last to it encloses nothing.
    x, y = rest.T
    turned = float((x[:-1] * y[1:] - y[:-1] * x[1:]).sum()) < 0.0
    if turned:
        order = order[::-1]
    away = ((points[order] - points.mean(axis=0)) ** 2).sum(axis=1)
    start = int(np.argmax(away))
    return np.concatenate([order[start:], order[:start]]), turned


def noise_of(points: Floats, closed: bool) -> float:
    """Standard deviation of white noise across the polyline, from fourth differences.

    The fourth difference of white noise has the variance 70 (sum of squared binomials 1 4 6 4 1); that
    of a smooth, well sampled curve is next to nothing. The median keeps corners out of it. Every second
    point is taken, as neighbours on an iso-line share a pixel and thus their noise.
    """
    if len(points) < 48:
        return 0.0
    run = np.concatenate([points, points[:8]]) if closed else points
    fourth = run[:-8] - 4.0 * run[2:-6] + 6.0 * run[4:-4] - 4.0 * run[6:-2] + run[8:]
    along = run[6:-2] - run[2:-6]
    length = np.hypot(along[:, 0], along[:, 1])
    across = np.abs(along[:, 0] * fourth[:, 1] - along[:, 1] * fourth[:, 0]) / np.maximum(length, 1e-300)
    # 0.6745: the median of a normal variable's magnitude.
    return median(across) / 0.6745 / float(np.sqrt(70.0))


def median(values: Floats) -> float:
    """As NumPy's, which takes ten times as long for short rows."""
    low, high = (len(values) - 1) // 2, len(values) // 2
    part = np.partition(values, (low, high))
    return float(0.5 * (part[low] + part[high]))


def sample(
    points: Floats, tolerance: Floats, closed: bool, noise: float | None, finest_mm: float = np.inf
) -> Samples:
    """Resample one polyline, shape (n, 2), with its tolerance at each point, shape (n,).

    The step is as fine as for a tolerance of `finest_mm` at the most.
    """
    run = np.concatenate([points, points[:1]]) if closed else points
    allowed = np.concatenate([tolerance, tolerance[:1]]) if closed else tolerance
    gaps = np.hypot(*(run[1:] - run[:-1]).T)
    along = np.concatenate([[0.0], np.cumsum(gaps)])
    total = float(along[-1])
    spacing = total / max(len(gaps), 1)
    finest = min(float(tolerance.min()), finest_mm)
    # Sparse points are corners more often than not: step between them so as not to cut those off.
    between = min(spacing, max(2.0 * finest, spacing / SAMPLES_PER_GAP))
    step = max(STEP_PER_TOLERANCE * finest, STEP_PER_SPACING * between)
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
    return Samples(even, limits, limits, total / count, closed, noise, spacing, changes)


def sampled_flags(flags: Flags, points: Floats, samples: Samples) -> Flags:
    """What is said of each of a polyline's points, for its samples."""
    closed, count = samples.closed, len(samples.points)
    along = arc_lengths(np.concatenate([points, points[:1]]) if closed else points)
    known = np.append(flags, flags[0]) if closed else flags
    at = np.linspace(0.0, float(along[-1]), count + closed)[:count]
    return np.asarray(np.interp(at, along, known.astype(np.float64)) > 0.5)


def simplified(points: Floats, tolerance: float) -> NDArray[np.intp]:
    """Indices of the points, shape (n, 2), that a polyline within `tolerance` needs, ends included.

    Ramer's method (1972), from memory: split at the farthest point until all are near enough.
    """
    kept = {0, len(points) - 1}
    todo = [(0, len(points) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        chord, rest = points[b] - points[a], points[a + 1 : b] - points[a]
        t = np.clip(rest @ chord / max(float(chord @ chord), 1e-300), 0.0, 1.0)
        off = np.hypot(*(rest - t[:, None] * chord).T)
        k = int(off.argmax())
        if off[k] > tolerance:
            kept.add(a + 1 + k)
            todo += [(a, a + 1 + k), (a + 1 + k, b)]
    return np.array(sorted(kept), dtype=np.intp)
