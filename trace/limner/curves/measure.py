"""Largest distance between a fitted path and its data, both ways.

Method: every data point and the middle of every data chord is followed to its foot on the path by Newton
steps from a known neighbourhood, and every path segment is sampled densely against the chords near the
place that it was fitted to. Both never understate the distance: a nearer place that they miss can only
make the true figure smaller.
"""

import numpy as np
from numpy.typing import NDArray

from limner.geometry.cubics import evaluate

__all__ = ["two_way_error"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Places per segment at which the path is held against the data.
PLACES = 64
# Data chords on either side of the expected one that are tried.
NEIGHBOURS = 3
# Newton steps of the feet: all points get the first number, those that are farther off than the given
# share of the farthest, all.
SURE_STEPS = 3
FOOT_STEPS = 6
FAR_SHARE = 0.6
# So many of the path's farthest places are held against all chords, in blocks of so many pairs.
CLOSELY = 64
CLOSELY_BLOCK = 1 << 17


def _powers(segments: Floats) -> Floats:
    """Coefficients of the segments' powers, shape (8, s): cubic x, y, quadratic x, y, and so on."""
    p0, p1, p2, p3 = (segments[:, k].T for k in range(4))
    return np.concatenate([p3 - p0 + 3 * (p1 - p2), 3 * (p0 - 2 * p1 + p2), 3 * (p1 - p0), p0])


def _forward(segments: Floats, closed: bool, points: Floats, u: Floats) -> Floats:
    """Distance of each point from the path, from its foot near parameter `u` (segment + t)."""
    power = _powers(segments)
    best = np.full(len(points), np.inf)
    todo = np.arange(len(points))
    x, y = np.ascontiguousarray(points.T)
    for step in range(FOOT_STEPS):
        u, squared = _newton(power, closed, x, y, u)
        best[todo] = np.minimum(best[todo], squared)
        if step == SURE_STEPS - 1:
            # Only what may be the largest is worth more steps.
            far = best >= FAR_SHARE**2 * best.max()
            todo, x, y, u = todo[far], x[far], y[far], u[far]
    return np.asarray(np.sqrt(best))


def _newton(power: Floats, closed: bool, x: Floats, y: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Squared distances at `u`, and the next `u`."""
    count = power.shape[1]
    which = np.minimum(u.astype(np.intp), count - 1)
    t = np.minimum(u - which, 1.0)
    a_x, a_y, b_x, b_y, c_x, c_y, d_x, d_y = power[:, which]
    rx = ((a_x * t + b_x) * t + c_x) * t + (d_x - x)
    ry = ((a_y * t + b_y) * t + c_y) * t + (d_y - y)
    t3 = 3.0 * t
    ex, ey = 2.0 * (a_x * t3 + b_x), 2.0 * (a_y * t3 + b_y)
    dx, dy = (a_x * t3 + 2.0 * b_x) * t + c_x, (a_y * t3 + 2.0 * b_y) * t + c_y
    speed2 = dx * dx + dy * dy
    bend = np.maximum(speed2 + rx * ex + ry * ey, 0.3 * speed2) + 1e-300
    u = u - np.minimum(np.maximum((rx * dx + ry * dy) / bend, -0.3), 0.3)
    u = np.mod(u, count) if closed else np.minimum(np.maximum(u, 0.0), count)
    return u, rx * rx + ry * ry


def _backward(places: Floats, at: Ints, chords: Floats, closed: bool) -> Floats:
    """Distance of each place from the chords near index `at`."""
    count = len(chords) - 1
    rows = np.concatenate([chords[:-1], np.diff(chords, axis=0)], axis=1).T
    length2 = np.maximum(rows[2] * rows[2] + rows[3] * rows[3], 1e-300)
    x, y = np.ascontiguousarray(places.T)
    best = np.full(len(places), np.inf)
    for step in range(-NEIGHBOURS, NEIGHBOURS + 1):
        k = at + step
        k = np.mod(k, count) if closed else np.minimum(np.maximum(k, 0), count - 1)
        a_x, a_y, along_x, along_y = rows[:, k]
        x0, y0 = x - a_x, y - a_y
        share = np.minimum(np.maximum((x0 * along_x + y0 * along_y) / length2[k], 0.0), 1.0)
        x0 -= share * along_x
        y0 -= share * along_y
        best = np.minimum(best, x0 * x0 + y0 * y0)
    return _looked_at_closely(x, y, np.sqrt(best), rows, length2)


def _looked_at_closely(x: Floats, y: Floats, best: Floats, rows: Floats, length2: Floats) -> Floats:
    """The farthest places held against all chords: their nearest one may lie elsewhere."""
    far = np.argsort(-best, kind="stable")[:CLOSELY]
    most = max(1, CLOSELY_BLOCK // len(length2))
    for first in range(0, len(far), most):
        some = far[first : first + most]
        x0, y0 = x[some, None] - rows[0], y[some, None] - rows[1]
        share = np.clip((x0 * rows[2] + y0 * rows[3]) / length2, 0.0, 1.0)
        x0 -= share * rows[2]
        y0 -= share * rows[3]
        best[some] = np.sqrt((x0 * x0 + y0 * y0).min(axis=1))
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
    places = evaluate(segments, t).reshape(-1, 2)
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
