"""Circles, ellipses and dots that were meant as such.

Method: a circle is fitted to the samples of a closed curve by least squares (Kasa's equations, then
Gauss-Newton steps on the distances), an ellipse by the direct method of Halir and Flusser (1998, from
memory). It is taken where the residuals are small against the tolerance, both at their largest and on
average: a curve that strays from it on purpose does so in one place, a wavering hand everywhere.

Limits: whole closed curves only; arcs stay with the free fit.
"""

import numpy as np
from numpy.typing import NDArray

from limner.curves.samples import Samples

__all__ = ["ARM", "ellipse_segments", "round_shape"]

Floats = NDArray[np.float64]

# Arm of the classical four-cubic circle, in radii: 4/3 (sqrt 2 - 1). Its radius is off by 2.7e-4 at most.
ARM = 0.5522847498
# Largest and root-mean-square distance, in tolerances, up to which a shape counts as round. A wavering line
# of which the largest distance is one tolerance has about a third of it on average.
LARGEST = 0.95
TYPICAL = 0.34
# An ellipse with axes closer than this share is tried as a circle first, and only flatter ones count.
FLATTEST = 0.1


def ellipse_segments(centre: Floats, axes: tuple[float, float], angle: float) -> Floats:
    """Four cubics, shape (4, 4, 2), around an ellipse, positive, from the end of its first axis."""
    quarter = np.array([[1.0, 0.0], [1.0, ARM], [ARM, 1.0], [0.0, 1.0]])
    turns = [quarter]
    for _ in range(3):
        turns.append(turns[-1] @ np.array([[0.0, 1.0], [-1.0, 0.0]]))
    cos, sin = np.cos(angle), np.sin(angle)
    made = np.stack(turns) * np.array(axes) @ np.array([[cos, sin], [-sin, cos]]) + centre
    made[:-1, 3] = made[1:, 0]
    made[-1, 3] = made[0, 0]
    return np.asarray(made)


def round_shape(samples: Samples) -> tuple[Floats, Floats] | None:
    """The circle or ellipse that a closed curve was meant to be.

    Returns
    -------
    segments : ndarray, shape (4, 4, 2)
    u : ndarray, shape (n,)
        Parameter (segment + t) near the foot of each sample.
    or None where it is neither.
    """
    if not samples.closed:
        return None
    points, limit = samples.points, samples.tolerance
    centre, radius = _circle(points)
    rest = points - centre
    off = np.abs(np.hypot(rest[:, 0], rest[:, 1]) - radius) / limit
    if _is_small(off):
        u = np.arctan2(rest[:, 1], rest[:, 0])
        return ellipse_segments(centre, (radius, radius), 0.0), _parameter(u)
    found = _ellipse(points)
    if found is None:
        return None
    centre, axes, angle = found
    cos, sin = np.cos(angle), np.sin(angle)
    local = (points - centre) @ np.array([[cos, -sin], [sin, cos]]) / np.array(axes)
    # Distance to first order: the implicit function over its gradient (Sampson's).
    value = (local**2).sum(axis=1) - 1.0
    slope = 2.0 * np.hypot(local[:, 0] / axes[0], local[:, 1] / axes[1])
    if not _is_small(np.abs(value) / np.maximum(slope, 1e-300) / limit):
        return None
    return ellipse_segments(centre, axes, angle), _parameter(np.arctan2(local[:, 1], local[:, 0]))


def _is_small(off: Floats) -> bool:
    return float(off.max()) <= LARGEST and float(np.sqrt((off**2).mean())) <= TYPICAL


def _parameter(angle: Floats) -> Floats:
    return np.asarray(np.mod(angle, 2.0 * np.pi) * 2.0 / np.pi)


def _circle(points: Floats) -> tuple[Floats, float]:
    middle = points.mean(axis=0)
    rest = points - middle
    system = np.column_stack([2.0 * rest, np.ones(len(rest))])
    solution = np.linalg.lstsq(system, (rest**2).sum(axis=1), rcond=None)[0]
    centre, radius = solution[:2], float(np.sqrt(max(solution[2] + solution[:2] @ solution[:2], 1e-300)))
    for _ in range(3):
        away = rest - centre
        size = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-300)
        change = np.linalg.lstsq(
            np.column_stack([away / size[:, None], np.ones(len(size))]), size - radius, rcond=None
        )[0]
        centre, radius = centre + change[:2], radius + float(change[2])
    return middle + centre, radius


def _ellipse(points: Floats) -> tuple[Floats, tuple[float, float], float] | None:
    middle = points.mean(axis=0)
    scale = float(np.abs(points - middle).max())
    x, y = ((points - middle) / scale).T
    quadratic = np.column_stack([x * x, x * y, y * y])
    linear = np.column_stack([x, y, np.ones(len(x))])
    s1, s2, s3 = quadratic.T @ quadratic, quadratic.T @ linear, linear.T @ linear
    if np.linalg.cond(s3) > 1e12:
        return None
    reduce = -np.linalg.solve(s3, s2.T)
    reduced = s1 + s2 @ reduce
    values, vectors = np.linalg.eig(np.stack([reduced[2] / 2.0, -reduced[1], reduced[0] / 2.0]))
    vectors = np.real(vectors)
    fine = 4.0 * vectors[0] * vectors[2] - vectors[1] ** 2 > 0.0
    if not fine.any():
        return None
    conic = vectors[:, int(np.flatnonzero(fine)[np.abs(values[fine]).argmin()])]
    return _axes(conic, reduce @ conic, middle, scale)


def _axes(
    conic: Floats, rest: Floats, middle: Floats, scale: float
) -> tuple[Floats, tuple[float, float], float] | None:
    """Centre, half axes (the longer first) and direction of the longer one, from the conic."""
    form = np.array([[conic[0], conic[1] / 2.0], [conic[1] / 2.0, conic[2]]])
    centre = np.linalg.solve(-2.0 * form, rest[:2])
    level = -(rest[2] + rest[:2] @ centre / 2.0)
    values, vectors = np.linalg.eigh(form / level)
    if values.min() <= 0.0:
        return None
    axes = 1.0 / np.sqrt(values)
    if axes[1] < FLATTEST * axes[0]:
        return None
    angle = float(np.arctan2(vectors[1, 0], vectors[0, 0]))
    return middle + scale * centre, (float(scale * axes[0]), float(scale * axes[1])), angle
