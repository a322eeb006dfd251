"""Best single cubics for many spans of samples at once.

Method: each span is seen at a fixed number of places, evenly spaced by arc length. A first cubic is the
linear least-squares one with the span's ends held (one constant matrix for all spans); it is improved by
Gauss-Newton steps on the distances along the normals with the foot points moved along (Borges and Pastva
2002 describe such total least-squares fitting; from memory). All spans advance together as arrays; where
only the error is asked for, those that are clearly met, or clearly not, drop out at once.

Limits: handles are free here, so that neighbouring spans agree in tangent only as far as the data do;
`polish` makes them agree exactly.
"""

import numpy as np

from limner.curves.kernels import compiled, in_halves, whole
from limner.model.arrays import Floats, Ints

__all__ = ["fit_spans", "span_errors"]


# Places looked at per span, ends included: three per degree of freedom of a cubic, and some.
PLACES = 17
# Gauss-Newton steps; the error is within a few per cent of its limit after three.
STEPS = 3
# Spans per batch: the work arrays then stay in the processor's cache.
BATCH = 1024
# A span whose error is below this many tolerances will not decide where nodes go; one that after the first
# step is still worse than this many will not come down to what is looked at.
SURELY_MET = 0.1
SURELY_NOT = 24.0


def fit_spans(points: Floats, first: Ints, last: Ints) -> Floats:
    """Fit a cubic to each span points[first..last].

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Samples at equal steps.
    first, last : ndarray of int, shape (b,)
        Ends of each span, last > first; its fit meets both exactly.

    Returns
    -------
    ndarray, shape (b, 4, 2)
    """
    if compiled is None:
        return _fit_spans(points, first, last)
    out = np.empty((len(first), 4, 2))
    compiled.fit_spans(np.ascontiguousarray(points), whole(first), whole(last), _EVEN, _INNER, out, STEPS)
    return out


def _fit_spans(points: Floats, first: Ints, last: Ints) -> Floats:
    parts = [np.zeros((0, 4, 2))]
    for k in range(0, len(first), BATCH):
        x, y, _ = _places(points, first[k : k + BATCH], last[k : k + BATCH])
        cubics, t, reach = _start(x, y), _EVEN + np.zeros_like(x), _reach(x, y)
        for _ in range(STEPS):
            t, nx, ny, distance = _foot(cubics, t, x, y)
            _improve(cubics, t, nx, ny, distance, reach)
        parts.append(cubics)
    return np.concatenate(parts)


def span_errors(points: Floats, tolerance: Floats, first: Ints, last: Ints) -> Floats:
    """Largest distance of each span points[first..last] from its best cubic.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Samples at equal steps.
    tolerance : ndarray, shape (n,)
        Largest distance allowed at each.
    first, last : ndarray of int, shape (b,)
        Ends of each span, last > first.

    Returns
    -------
    ndarray, shape (b,)
        In tolerances; an upper bound where the span is clearly met or clearly not.
    """
    if compiled is None:
        return _span_errors(points, tolerance, first, last)
    out, first, last = np.empty(len(first)), whole(first), whole(last)
    points, tolerance = np.ascontiguousarray(points), np.ascontiguousarray(tolerance)
    errors = compiled.span_errors

    def some(k: slice) -> None:
        errors(points, tolerance, first[k], last[k], _EVEN, _INNER, _LIMITS, out[k], STEPS)

    in_halves(some, len(first))
    return out


def _span_errors(points: Floats, tolerance: Floats, first: Ints, last: Ints) -> Floats:
    parts = [
        _errors(points, tolerance, first[k : k + BATCH], last[k : k + BATCH])
        for k in range(0, len(first), BATCH)
    ]
    return np.concatenate(parts) if parts else np.zeros(0)


def _errors(points: Floats, tolerance: Floats, first: Ints, last: Ints) -> Floats:
    x, y, where = _places(points, first, last)
    allowed = tolerance[(where + 0.5).astype(np.intp)]
    off_x, off_y = x @ _MISFIT, y @ _MISFIT
    error = np.asarray(np.sqrt((off_x * off_x + off_y * off_y).max(axis=1)) / allowed.min(axis=1))
    todo = np.flatnonzero(error > SURELY_MET)
    x, y, allowed = x[todo], y[todo], allowed[todo]
    cubics, t, reach = _start(x, y), _EVEN + np.zeros_like(x), _reach(x, y)
    for step in range(STEPS + 1):
        t, nx, ny, distance = _foot(cubics, t, x, y)
        if step:
            error[todo] = (np.abs(distance) / allowed).max(axis=1)
        if step == STEPS:
            break
        if step:
            on = np.flatnonzero((error[todo] > SURELY_MET) & (error[todo] < SURELY_NOT))
            if len(on) < 0.8 * len(todo):
                todo, cubics, t, reach = todo[on], cubics[on], t[on], reach[on]
                x, y, allowed = x[on], y[on], allowed[on]
                nx, ny, distance = nx[on], ny[on], distance[on]
        if not len(todo):
            break
        _improve(cubics, t, nx, ny, distance, reach)
    return error


def _bernstein(t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    s = 1.0 - t
    return s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t


_EVEN = np.linspace(0.0, 1.0, PLACES)


def _linear() -> tuple[Floats, Floats]:
    """Matrices, from the right, from places to inner control points and to the misfit of the linear fit."""
    b0, b1, b2, b3 = _bernstein(_EVEN)
    ends = np.zeros((PLACES, PLACES))
    ends[0], ends[-1] = b0, b3
    inner = (np.eye(PLACES) - ends) @ np.linalg.pinv(np.stack([b1, b2], axis=1)).T
    return inner, np.eye(PLACES) - ends - inner @ np.stack([b1, b2])


_INNER, _MISFIT = (np.ascontiguousarray(matrix) for matrix in _linear())
_LIMITS = np.array([SURELY_MET, SURELY_NOT])


def _places(points: Floats, first: Ints, last: Ints) -> tuple[Floats, Floats, Floats]:
    where = first[:, None] + (last - first)[:, None] * _EVEN
    low = np.minimum(where.astype(np.intp), len(points) - 2)
    part = where - low
    a, b = points[low], points[low + 1]
    x = a[..., 0] + part * (b[..., 0] - a[..., 0])
    y = a[..., 1] + part * (b[..., 1] - a[..., 1])
    return x, y, where


def _start(x: Floats, y: Floats) -> Floats:
    """Linear least squares with even parameters and fixed ends."""
    cubics = np.empty((len(x), 4, 2))
    cubics[:, 0, 0], cubics[:, 0, 1], cubics[:, 3, 0], cubics[:, 3, 1] = x[:, 0], y[:, 0], x[:, -1], y[:, -1]
    cubics[:, 1:3, 0], cubics[:, 1:3, 1] = x @ _INNER, y @ _INNER
    return cubics


def _reach(x: Floats, y: Floats) -> Floats:
    """Length of each span as seen at its places."""
    step_x, step_y = x[:, 1:] - x[:, :-1], y[:, 1:] - y[:, :-1]
    return np.asarray(np.sqrt(step_x * step_x + step_y * step_y).sum(axis=1))


def _foot(cubics: Floats, t: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """One Newton step of the foot points; then normals and signed distances there."""
    p0, p1, p2, p3 = (cubics[:, k].T[..., None] for k in range(4))
    (a_x, a_y), (b_x, b_y), (c_x, c_y) = p3 - p0 + 3 * (p1 - p2), 3 * (p0 - 2 * p1 + p2), 3 * (p1 - p0)
    x, y = x - p0[0], y - p0[1]

    def at(t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        at_x, at_y = a_x * t, a_y * t
        qx, qy = at_x + b_x, at_y + b_y
        return (
            (qx * t + c_x) * t - x,
            (qy * t + c_y) * t - y,
            (at_x + 2.0 * qx) * t + c_x,
            (at_y + 2.0 * qy) * t + c_y,
        )

    rx, ry, dx, dy = at(t)
    ex, ey = 6.0 * a_x * t + 2.0 * b_x, 6.0 * a_y * t + 2.0 * b_y
    speed2 = dx * dx + dy * dy
    bend = np.maximum(speed2 + rx * ex + ry * ey, 0.3 * speed2) + 1e-300
    move = np.minimum(np.maximum((rx * dx + ry * dy) / bend, -0.15), 0.15)
    t = np.minimum(np.maximum(t - move, 0.0), 1.0)
    rx, ry, dx, dy = at(t)
    speed = np.sqrt(dx * dx + dy * dy) + 1e-300
    nx, ny = -dy / speed, dx / speed
    return t, nx, ny, rx * nx + ry * ny


def _improve(cubics: Floats, t: Floats, nx: Floats, ny: Floats, distance: Floats, reach: Floats) -> None:
    """One Gauss-Newton step of the inner control points, in place."""
    _, b1, b2, _ = _bernstein(t)
    jacobian = np.stack([b1 * nx, b1 * ny, b2 * nx, b2 * ny], axis=1)
    normal = jacobian @ jacobian.transpose(0, 2, 1)
    # Sliding a handle along the curve is nearly free: a little damping keeps it from running away.
    normal[:, range(4), range(4)] += 1e-3
    change = np.linalg.solve(normal, -(jacobian @ distance[:, :, None]))[:, :, 0]
    size = np.abs(change).max(axis=1)
    change *= np.minimum(1.0, 0.3 * reach / np.maximum(size, 1e-300))[:, None]
    cubics[:, 1:3] += change.reshape(-1, 2, 2)
