"""Largest distance between a fitted path and its data, both ways.

Method: every data point and the middle of every data chord is followed to its foot on the path by Newton
steps from a known neighbourhood, and every path segment is sampled densely against the chords near the
place that it was fitted to. Both never understate the distance: a nearer place that they miss can only
make the true figure smaller.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["two_way_error"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Places per segment at which the path is held against the data.
PLACES = 64
# Data chords on either side of the expected one that are tried.
NEIGHBOURS = 3


def _at(segments: Floats, which: Ints, t: Floats) -> tuple[Floats, Floats, Floats]:
    p = segments[which]
    p0, p1, p2, p3 = p[:, 0], p[:, 1], p[:, 2], p[:, 3]
    a, b, c = -p0 + 3 * p1 - 3 * p2 + p3, 3 * (p0 - 2 * p1 + p2), 3 * (p1 - p0)
    t = t[:, None]
    return ((a * t + b) * t + c) * t + p0, (3 * a * t + 2 * b) * t + c, 6 * a * t + 2 * b


def _forward(segments: Floats, closed: bool, points: Floats, u: Floats) -> Floats:
    """Distance of each point from the path, from its foot near parameter `u` (segment + t)."""
    count = len(segments)
    best = np.full(len(points), np.inf)
    for _ in range(5):
        which = np.clip(np.floor(u), 0, count - 1).astype(np.intp)
        t = np.clip(u - which, 0.0, 1.0)
        place, first, second = _at(segments, which, t)
        gap = place - points
        best = np.minimum(best, np.hypot(gap[:, 0], gap[:, 1]))
        speed2 = (first**2).sum(axis=1)
        bend = np.maximum(speed2 + (gap * second).sum(axis=1), 0.3 * speed2) + 1e-300
        u = which + t - np.clip((gap * first).sum(axis=1) / bend, -0.3, 0.3)
        u = np.mod(u, count) if closed else np.clip(u, 0.0, count)
    return best


def _backward(places: Floats, at: Ints, chords: Floats, closed: bool) -> Floats:
    """Distance of each place from the chords near index `at`."""
    count = len(chords) - 1
    best = np.full(len(places), np.inf)
    for step in range(-NEIGHBOURS, NEIGHBOURS + 1):
        k = at + step
        k = np.mod(k, count) if closed else np.clip(k, 0, count - 1)
        a, along = chords[k], chords[k + 1] - chords[k]
        rest = places - a
        share = (rest * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-300)
        gap = rest - np.clip(share, 0.0, 1.0)[:, None] * along
        best = np.minimum(best, np.hypot(gap[:, 0], gap[:, 1]))
    return best


def two_way_error(
    segments: Floats, closed: bool, points: Floats, at: Floats, u: Floats
) -> tuple[Floats, Floats]:
    """Largest distance between a path and a polyline.

    Parameters
    ----------
    segments : ndarray, shape (s, 4, 2)
    closed : bool
    points : ndarray, shape (n, 2)
        The polyline; a closed one does not repeat its first point.
    at, u : ndarray, shape (k,)
        Arc lengths along the polyline and, for each, the parameter (segment + t) of its foot; `at`
        ascends.

    Returns
    -------
    forward : ndarray, shape (n,)
        Distance of each of the polyline's points, or of the middle of the chord that follows, from the
        path, whichever is larger.
    backward : ndarray, shape (s,)
        Largest distance of each segment from the polyline.
    """
    chords = np.concatenate([points, points[:1]]) if closed else points
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chords, axis=0).T))])
    count = len(segments)
    if closed:
        u = np.unwrap(u, period=count)
        at = np.concatenate([at, [at[0] + along[-1]]])
        u = np.concatenate([u, [u[0] + count]])
    u = np.maximum.accumulate(u)
    middles = (chords[:-1] + chords[1:]) / 2.0
    where = np.concatenate([along[: len(points)], (along[:-1] + along[1:]) / 2.0])
    if closed:
        where = np.where(where < at[0], where + along[-1], where)
    hint = np.interp(where, at, u)
    forward = _forward(
        segments, closed, np.concatenate([points, middles]), np.mod(hint, count) if closed else hint
    )
    t = np.linspace(0.0, 1.0, PLACES)
    which = np.repeat(np.arange(count), PLACES)
    places, _, _ = _at(segments, which, np.tile(t, count))
    grid = which + np.tile(t, count)
    if closed:
        grid = u[0] + np.mod(grid - u[0], count)
    strictly = u + np.arange(len(u)) * 1e-12
    back_at = np.interp(grid, strictly, at)
    if closed:
        back_at = np.mod(back_at, along[-1])
    edge = np.clip(np.searchsorted(along, back_at, side="right") - 1, 0, len(chords) - 2)
    backward = _backward(places, edge, chords, closed)
    n = len(points)
    both = forward[:n].copy()
    both[: len(middles)] = np.maximum(both[: len(middles)], forward[n:])
    return both, backward.reshape(count, PLACES).max(axis=1)
