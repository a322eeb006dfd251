"""Best single cubics for many spans of samples at once.

Method: each span is seen at a fixed number of places, evenly spaced by arc length. A first cubic is the
linear least-squares one with the span's ends held (one constant matrix for all spans); it is improved by
Gauss-Newton steps on the distances along the normals with the foot points moved along (Borges and Pastva
2002 describe such total least-squares fitting; from memory). All spans advance together as arrays.

Limits: handles are free here, so that neighbouring spans agree in tangent only as far as the data do;
`polish` makes them agree exactly.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["fit_spans"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Places looked at per span, ends included: three per degree of freedom of a cubic, and some.
PLACES = 17
# Gauss-Newton steps; the error is within a few per cent of its limit after three.
STEPS = 3
# Spans per batch: the work arrays then stay in the processor's cache.
BATCH = 1024


def fit_spans(points: Floats, first: Ints, last: Ints) -> tuple[Floats, Floats, Floats]:
    """Fit a cubic to each span points[first..last].

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Samples at equal steps.
    first, last : ndarray of int, shape (b,)
        Ends of each span, last > first; its fit meets both exactly.

    Returns
    -------
    cubics : ndarray, shape (b, 4, 2)
    residuals : ndarray, shape (b, PLACES)
        Distances from the places to the cubic.
    where : ndarray, shape (b, PLACES)
        The places as fractional indices into `points`.
    """
    parts = [
        _fit_batch(points, first[k : k + BATCH], last[k : k + BATCH]) for k in range(0, len(first), BATCH)
    ]
    if not parts:
        return np.zeros((0, 4, 2)), np.zeros((0, PLACES)), np.zeros((0, PLACES))
    return (
        np.concatenate([part[0] for part in parts]),
        np.concatenate([part[1] for part in parts]),
        np.concatenate([part[2] for part in parts]),
    )


def _bernstein(t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    s = 1.0 - t
    return s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t


def _places(points: Floats, first: Ints, last: Ints) -> tuple[Floats, Floats, Floats]:
    where = first[:, None] + (last - first)[:, None] * np.linspace(0.0, 1.0, PLACES)
    low = np.minimum(where.astype(np.intp), len(points) - 2)
    part = where - low
    x, y = points[:, 0], points[:, 1]
    return x[low] * (1 - part) + x[low + 1] * part, y[low] * (1 - part) + y[low + 1] * part, where


def _start(x: Floats, y: Floats) -> Floats:
    """Linear least squares with even parameters and fixed ends."""
    b0, b1, b2, b3 = _bernstein(np.linspace(0.0, 1.0, PLACES))
    solve = np.linalg.pinv(np.stack([b1, b2], axis=1))
    inner_x = (x - x[:, :1] * b0 - x[:, -1:] * b3) @ solve.T
    inner_y = (y - y[:, :1] * b0 - y[:, -1:] * b3) @ solve.T
    cubics = np.empty((len(x), 4, 2))
    cubics[:, 0, 0], cubics[:, 0, 1], cubics[:, 3, 0], cubics[:, 3, 1] = x[:, 0], y[:, 0], x[:, -1], y[:, -1]
    cubics[:, 1:3, 0], cubics[:, 1:3, 1] = inner_x, inner_y
    return cubics


def _foot(cubics: Floats, t: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """One Newton step of the foot points; then normals and signed distances there."""
    p0, p1, p2, p3 = (cubics[:, k, :, None] for k in range(4))
    a, b, c = -p0 + 3 * p1 - 3 * p2 + p3, 3 * (p0 - 2 * p1 + p2), 3 * (p1 - p0)

    def at(t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        return (
            ((a[:, 0] * t + b[:, 0]) * t + c[:, 0]) * t + p0[:, 0] - x,
            ((a[:, 1] * t + b[:, 1]) * t + c[:, 1]) * t + p0[:, 1] - y,
            (3 * a[:, 0] * t + 2 * b[:, 0]) * t + c[:, 0],
            (3 * a[:, 1] * t + 2 * b[:, 1]) * t + c[:, 1],
        )

    rx, ry, dx, dy = at(t)
    ex, ey = 6 * a[:, 0] * t + 2 * b[:, 0], 6 * a[:, 1] * t + 2 * b[:, 1]
    speed2 = dx * dx + dy * dy
    bend = np.maximum(speed2 + rx * ex + ry * ey, 0.3 * speed2) + 1e-300
    t = np.clip(t - np.clip((rx * dx + ry * dy) / bend, -0.15, 0.15), 0.0, 1.0)
    rx, ry, dx, dy = at(t)
    speed = np.sqrt(dx * dx + dy * dy) + 1e-300
    nx, ny = -dy / speed, dx / speed
    return t, nx, ny, rx * nx + ry * ny


def _fit_batch(points: Floats, first: Ints, last: Ints) -> tuple[Floats, Floats, Floats]:
    x, y, where = _places(points, first, last)
    cubics = _start(x, y)
    t = np.broadcast_to(np.linspace(0.0, 1.0, PLACES), x.shape)
    chord = np.hypot(x[:, -1] - x[:, 0], y[:, -1] - y[:, 0])
    reach = np.maximum(chord, np.hypot(np.diff(x, axis=1), np.diff(y, axis=1)).sum(axis=1))
    for _ in range(STEPS):
        t, nx, ny, distance = _foot(cubics, t, x, y)
        _, b1, b2, _ = _bernstein(t)
        jacobian = np.stack([b1 * nx, b1 * ny, b2 * nx, b2 * ny], axis=2)
        normal = jacobian.transpose(0, 2, 1) @ jacobian
        # Sliding a handle along the curve is nearly free: a little damping keeps it from running away.
        normal[:, range(4), range(4)] += 1e-3
        change = np.linalg.solve(normal, -(jacobian.transpose(0, 2, 1) @ distance[:, :, None]))[:, :, 0]
        size = np.abs(change).max(axis=1)
        change *= np.minimum(1.0, 0.3 * reach / np.maximum(size, 1e-300))[:, None]
        cubics[:, 1:3] += change.reshape(-1, 2, 2)
    t, nx, ny, distance = _foot(cubics, t, x, y)
    return cubics, np.abs(distance), where
