"""Evaluate, split, measure and transform cubic paths.

All functions are vectorised over segments. Formulae: de Casteljau's algorithm and the Bernstein form
as in Farin, *Curves and Surfaces for CAGD* (from memory); area by Green's theorem.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from limner.model.arrays import Flags, Floats, Ints
from limner.model.geometry import CubicPath

__all__ = [
    "QUARTER_ARM",
    "area_within",
    "bounds",
    "concatenate",
    "derivative",
    "ellipse_segments",
    "evaluate",
    "flatten",
    "flatten_all",
    "polygon_path",
    "polyline_path",
    "reverse",
    "signed_area",
    "split_segment",
    "straight_segments",
    "transform",
]


# Arm of a quarter circle by one cubic, in radii, with which its middle lies on the circle: 4/3 (sqrt 2 - 1).
# Its radius is off by 2.7e-4 at most, outwards only (Goldapp 1991, CAGD 8).
QUARTER_ARM = 0.5522847498307936


def evaluate(segments: Floats, t: ArrayLike) -> Floats:
    """Points of every segment at every parameter.

    Parameters
    ----------
    segments : ndarray, shape (n, 4, 2)
        Control points.
    t : array_like, shape (k,)
        Parameters, 0 to 1.

    Returns
    -------
    ndarray, shape (n, k, 2)
    """
    t = np.asarray(t, dtype=np.float64)
    s = 1.0 - t
    basis = np.stack([s**3, 3 * s * s * t, 3 * s * t * t, t**3], axis=-1)
    return np.asarray(basis @ segments)


def derivative(segments: Floats, t: ArrayLike) -> Floats:
    """First derivatives of every segment at every parameter; shapes as in `evaluate`."""
    t = np.asarray(t, dtype=np.float64)
    s = 1.0 - t
    basis = np.stack([s * s, 2 * s * t, t * t], axis=-1)
    return np.asarray(3.0 * (basis @ np.diff(segments, axis=1)))


def split_segment(segment: Floats, t: float) -> tuple[Floats, Floats]:
    """Cut one segment, shape (4, 2), at parameter `t` by de Casteljau's algorithm."""
    a = segment[:-1] + t * (segment[1:] - segment[:-1])
    b = a[:-1] + t * (a[1:] - a[:-1])
    c = b[0] + t * (b[1] - b[0])
    return np.stack([segment[0], a[0], b[0], c]), np.stack([c, b[1], a[2], segment[3]])


def ellipse_segments(centre: Floats, half_axes: Floats) -> Floats:
    """Four cubics around an ellipse, from the end of its first half axis.

    Parameters
    ----------
    centre : ndarray, shape (2,)
    half_axes : ndarray, shape (2, 2)
        Two conjugate half diameters as rows, such as the half axes; walked from the first to the second.

    Returns
    -------
    ndarray, shape (4, 4, 2)
        Closed: the last cubic ends exactly where the first one starts.
    """
    corners = np.concatenate([half_axes, -half_axes])
    onward = np.roll(corners, -1, axis=0)
    arms = corners + QUARTER_ARM * onward, onward + QUARTER_ARM * corners
    return np.stack([corners, *arms, onward], axis=1) + centre


def straight_segments(points: Floats) -> Floats:
    """Cubics, shape (n - 1, 4, 2), that run straight from each point, shape (n, 2), to the next."""
    start, end = points[:-1], points[1:]
    third = (end - start) / 3.0
    return np.stack([start, start + third, end - third, end], axis=1)


def polyline_path(points: Floats) -> CubicPath:
    """Open path of straight lines through `points`, shape (n, 2)."""
    segments = straight_segments(np.asarray(points, dtype=np.float64))
    count = len(segments)
    return CubicPath(segments, np.ones(count, bool), np.zeros(count, bool), closed=False)


def polygon_path(points: Floats) -> CubicPath:
    """Closed path of straight lines through `points`, shape (n, 2), the first one not repeated."""
    points = np.asarray(points, dtype=np.float64)
    segments = straight_segments(np.concatenate([points, points[:1]]))
    count = len(segments)
    return CubicPath(segments, np.ones(count, bool), np.zeros(count, bool), closed=True)


def reverse(path: CubicPath) -> CubicPath:
    """The same path walked the other way."""
    smooth = np.roll(path.smooth[::-1], 1) if path.closed else np.concatenate([[False], path.smooth[:0:-1]])
    return CubicPath(path.segments[::-1, ::-1], path.straight[::-1], smooth, path.closed)


def concatenate(paths: Sequence[CubicPath], *, closed: bool) -> CubicPath:
    """Join open paths end to end; every joint is a corner.

    Parameters
    ----------
    paths : sequence of CubicPath
        Each starts exactly where the one before it ends.
    closed : bool
        Whether the last one ends exactly where the first one starts.

    Returns
    -------
    CubicPath

    Raises
    ------
    ValueError
        The ends do not meet.
    """
    return CubicPath(
        np.concatenate([path.segments for path in paths]),
        np.concatenate([path.straight for path in paths]),
        np.concatenate([path.smooth for path in paths]),
        closed,
    )


def transform(path: CubicPath, matrix: ArrayLike) -> CubicPath:
    """Map a path by an affine matrix, shape (2, 3) or (3, 3), that acts on columns (x, y, 1)."""
    matrix = np.asarray(matrix, dtype=np.float64)
    mapped = path.segments @ matrix[:2, :2].T + matrix[:2, 2]
    return CubicPath(mapped, path.straight, path.smooth, path.closed)


def flatten(path: CubicPath, tolerance_mm: float) -> Floats:
    """Polyline within `tolerance_mm` of the path.

    Returns
    -------
    ndarray, shape (m, 2)
        Closed paths do not repeat their first point.
    """
    return flatten_all([path], tolerance_mm)[0]


def flatten_all(paths: Sequence[CubicPath], tolerance_mm: float) -> list[Floats]:
    """Polylines of many paths, as by `flatten`, in much less time than one by one.

    Returns
    -------
    list of ndarray, shape (m, 2)
        In the order of the paths.

    Notes
    -----
    A cubic cut into k equal steps of its parameter stays within |B''|max / (8 k^2) of its chords, and
    |B''| <= 6 max|P[i] - 2 P[i+1] + P[i+2]| (the classical bound, from memory).
    """
    if not paths:
        return []
    segments = np.concatenate([path.segments for path in paths])
    straight = np.concatenate([path.straight for path in paths])
    steps, which, t = _steps(segments, straight, tolerance_mm)
    t = t[:, None]
    s = 1.0 - t
    p = segments[which]
    points = s**3 * p[:, 0] + 3 * s * s * t * p[:, 1] + 3 * s * t * t * p[:, 2] + t**3 * p[:, 3]
    ends = np.cumsum(steps)[np.cumsum([len(path.segments) for path in paths]) - 1]
    return [
        part if path.closed else np.concatenate([part, path.segments[-1:, 3]])
        for path, part in zip(paths, np.split(points, ends[:-1]), strict=True)
    ]


def flatten_steps(path: CubicPath, tolerance_mm: float) -> Floats:
    """Where each point of a flattened closed path lies on it: number of its segment plus parameter."""
    _, which, t = _steps(path.segments, path.straight, tolerance_mm)
    return np.asarray(which + t)


def _steps(segments: Floats, straight: Flags, tolerance_mm: float) -> tuple[Ints, Ints, Floats]:
    """Steps of each segment, and for each step its segment and parameter."""
    bend = np.linalg.norm(segments[:, :-2] - 2 * segments[:, 1:-1] + segments[:, 2:], axis=2).max(axis=1)
    steps = np.ceil(np.sqrt(0.75 * bend / tolerance_mm)).astype(int)
    steps = np.where(straight, 1, np.maximum(steps, 1))
    which = np.repeat(np.arange(len(segments)), steps)
    step = np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps)
    return steps, which, step / steps[which]


# The area under a cubic is a sum of cross products of its control points: Bernstein polynomials integrated.
_CROSSES = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20.0


def signed_area(path: CubicPath) -> float:
    """Exact signed area of a closed path (positive: clockwise to the eye, as y runs down)."""
    return area_within(path.segments)


def area_within(segments: Floats) -> float:
    """Exact signed area within closed segments, shape (n, 4, 2)."""
    p = segments - segments[0, 0]
    return float(((p[:, :, 0] @ _CROSSES) * p[:, :, 1]).sum())


def bounds(path: CubicPath) -> tuple[float, float, float, float]:
    """Exact box (x0, y0, x1, y1) around the curve itself, not its handles."""
    p = path.segments
    a = -p[:, 0] + 3 * p[:, 1] - 3 * p[:, 2] + p[:, 3]
    b = 2 * (p[:, 0] - 2 * p[:, 1] + p[:, 2])
    c = p[:, 1] - p[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        # The stable form of the quadratic formula: no cancellation where a is small.
        q = -0.5 * (b + np.where(b < 0, -1.0, 1.0) * np.sqrt(b * b - 4 * a * c))
        roots = np.stack([q / a, c / q])
    t = np.where((roots > 0) & (roots < 1), roots, 0.0)
    s = 1.0 - t
    extremes = s**3 * p[:, 0] + 3 * s * s * t * p[:, 1] + 3 * s * t * t * p[:, 2] + t**3 * p[:, 3]
    points = np.concatenate([extremes.reshape(-1, 2), p[:, 0], p[:, 3]])
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
