"""Circles, ellipses and dots that were meant as such.

Method: a circle is fitted to the samples of a closed curve by least squares (Kasa's equations, then
Gauss-Newton steps on the distances), an ellipse by the direct method of Halir and Flusser (1998, from
memory). It is taken where the residuals are small against the tolerance, both at their largest and on
average: a curve that strays from it on purpose does so in one place, a wavering hand everywhere.

Limits: whole closed curves only; arcs stay with the free fit.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.curves.data.resampling import Samples
from limner.geometry.cubics import ellipse_segments
from limner.model.arrays import Floats, Ints

__all__ = ["round_shapes"]


# Largest and root-mean-square distance, in tolerances, up to which a shape counts as round. A wavering line
# of which the largest distance is one tolerance has about a third of it on average.
LARGEST = 0.95
TYPICAL = 0.34
# An ellipse with axes closer than this share is tried as a circle first, and only flatter ones count.
FLATTEST = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class _Rings:
    """Samples of many closed curves in a row, each seen from its middle."""

    middle: Floats
    x: Floats
    y: Floats
    tolerance: Floats
    first: Ints
    owner: Ints

    @staticmethod
    def of(rings: Sequence[Samples]) -> "_Rings":
        size = np.array([len(ring.points) for ring in rings])
        first = np.cumsum(size) - size
        owner = np.repeat(np.arange(len(rings)), size)
        points = np.concatenate([ring.points for ring in rings])
        # Counted from one of its own samples first: sums of large numbers would lose digits.
        start = points[first]
        rest = points - start[owner]
        middle = np.add.reduceat(rest, first, axis=0) / size[:, None]
        x, y = np.ascontiguousarray((rest - middle[owner]).T)
        tolerance = np.concatenate([ring.tolerance for ring in rings])
        return _Rings(start + middle, x, y, tolerance, first, owner)

    def sums(self, *values: Floats) -> Floats:
        """Sums over each curve, shape (rings, values)."""
        return np.stack([np.add.reduceat(value, self.first) for value in values], axis=1)

    def are_small(self, off: Floats) -> NDArray[np.bool_]:
        """Which curves have small distances, given those of all samples in tolerances."""
        size = np.diff(np.append(self.first, len(off)))
        typical = np.sqrt(np.add.reduceat(off * off, self.first) / size)
        return (np.maximum.reduceat(off, self.first) <= LARGEST) & (typical <= TYPICAL)


def round_shapes(rings: Sequence[Samples]) -> list[Floats | None]:
    """The circles and ellipses that closed curves were meant to be.

    Returns
    -------
    list of ndarray or None
        For each curve four cubics, shape (4, 4, 2), or None where it is neither.
    """
    if not rings:
        return []
    all_ = _Rings.of(rings)
    made: list[Floats | None] = [None] * len(rings)
    # Whatever is no circle or ellipse may lead to divisions by nothing, and is not small then.
    with np.errstate(all="ignore"):
        centre, radius = _circles(all_)
        x, y = all_.x - centre[all_.owner, 0], all_.y - centre[all_.owner, 1]
        circles = all_.are_small(np.abs(np.hypot(x, y) - radius[all_.owner]) / all_.tolerance)
        for k in np.flatnonzero(circles):
            made[k] = ellipse_segments(all_.middle[k] + centre[k], radius[k] * np.eye(2))
        rest = np.flatnonzero(~circles)
        if len(rest):
            for k, found in zip(rest, _ellipses(_Rings.of([rings[int(k)] for k in rest])), strict=True):
                made[k] = found
    return made


def _circles(rings: _Rings) -> tuple[Floats, Floats]:
    """Centres, from the curves' middles, and radii."""
    x, y, one = rings.x, rings.y, np.ones(len(rings.x))
    square = x * x + y * y
    found = _least_squares(rings, [2.0 * x, 2.0 * y, one], square)
    centre = found[:, :2]
    radius = np.sqrt(np.maximum(found[:, 2] + (centre * centre).sum(axis=1), 1e-300))
    for _ in range(3):
        away_x, away_y = x - centre[rings.owner, 0], y - centre[rings.owner, 1]
        size = np.maximum(np.hypot(away_x, away_y), 1e-300)
        change = _least_squares(rings, [away_x / size, away_y / size, one], size - radius[rings.owner])
        centre, radius = centre + change[:, :2], radius + change[:, 2]
    return centre, radius


def _least_squares(rings: _Rings, columns: list[Floats], wanted: Floats) -> Floats:
    """For each curve, the combination of three columns nearest to what is wanted, shape (rings, 3)."""
    a, b, c = columns
    sums = rings.sums(a * a, a * b, a * c, b * b, b * c, c * c, a * wanted, b * wanted, c * wanted)
    return _solved(sums[:, [0, 1, 2, 1, 3, 4, 2, 4, 5]].reshape(-1, 3, 3), sums[:, 6:])


def _solved(matrix: Floats, right: Floats) -> Floats:
    """Solutions of symmetric systems of three unknowns by Cramer's rule: not a number where there is none."""
    a, b, c = matrix.transpose(1, 0, 2)
    across = np.cross(b, c)
    whole = (a * across).sum(axis=1)
    turned = np.stack([across, np.cross(c, a), np.cross(a, b)], axis=2)
    return np.asarray((turned @ right[:, :, None])[:, :, 0] / whole[:, None])


def _ellipses(rings: _Rings) -> list[Floats | None]:
    """The ellipses that curves were meant to be."""
    count = len(rings.first)
    scale = np.maximum.reduceat(np.maximum(np.abs(rings.x), np.abs(rings.y)), rings.first)
    centre, axes, angle, able = _conics(rings, scale)
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = rings.x - centre[rings.owner, 0], rings.y - centre[rings.owner, 1]
    along = (cos[rings.owner] * x + sin[rings.owner] * y) / axes[rings.owner, 0]
    across = (cos[rings.owner] * y - sin[rings.owner] * x) / axes[rings.owner, 1]
    # Distance to first order: the implicit function over its gradient (Sampson's).
    value = along * along + across * across - 1.0
    slope = 2.0 * np.hypot(along / axes[rings.owner, 0], across / axes[rings.owner, 1])
    small = able & rings.are_small(np.abs(value) / np.maximum(slope, 1e-300) / rings.tolerance)
    made: list[Floats | None] = [None] * count
    for k in np.flatnonzero(small):
        half_axes = axes[k, :, None] * np.array([[cos[k], sin[k]], [-sin[k], cos[k]]])
        made[k] = ellipse_segments(rings.middle[k] + centre[k], half_axes)
    return made


def _conics(rings: _Rings, scale: Floats) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Centres from the curves' middles, half axes (the longer first), its direction; and which count."""
    x, y = rings.x / scale[rings.owner], rings.y / scale[rings.owner]
    one = np.ones(len(x))
    parts = [x * x, x * y, y * y, x, y, one]
    sums = rings.sums(*(parts[i] * parts[j] for i in range(6) for j in range(i, 6)))
    whole = np.zeros((len(scale), 6, 6))
    rows, columns = np.triu_indices(6)
    whole[:, rows, columns] = whole[:, columns, rows] = sums
    s1, s2, s3 = whole[:, :3, :3], whole[:, :3, 3:], whole[:, 3:, 3:]
    reduce = -np.stack([_solved(s3, s2[:, k]) for k in range(3)], axis=2)
    reduced = s1 + s2 @ reduce
    form = np.stack([reduced[:, 2] / 2.0, -reduced[:, 1], reduced[:, 0] / 2.0], axis=1)
    able = np.asarray(np.isfinite(form).all(axis=(1, 2)))
    values, vectors = np.linalg.eig(np.where(able[:, None, None], form, np.eye(3)))
    vectors = np.real(vectors)
    fine = 4.0 * vectors[:, 0] * vectors[:, 2] - vectors[:, 1] ** 2 > 0.0
    able &= fine.any(axis=1)
    best = np.where(fine, np.abs(values), np.inf).argmin(axis=1)
    conic = np.take_along_axis(vectors, best[:, None, None], axis=2)[:, :, 0]
    rest = (reduce @ conic[:, :, None])[:, :, 0]
    a, b, c = conic[:, 0], conic[:, 1] / 2.0, conic[:, 2]
    centre = -0.5 * np.stack([c * rest[:, 0] - b * rest[:, 1], a * rest[:, 1] - b * rest[:, 0]], axis=1)
    centre /= (a * c - b * b)[:, None]
    level = -(rest[:, 2] + (rest[:, :2] * centre).sum(axis=1) / 2.0)
    a, b, c = a / level, b / level, c / level
    half, off = (a + c) / 2.0, np.hypot((a - c) / 2.0, b)
    axes = scale[:, None] / np.sqrt(np.stack([half - off, half + off], axis=1))
    able &= (half - off > 0.0) & (axes[:, 1] >= FLATTEST * axes[:, 0])
    # The longer axis lies along the vector of the smaller value.
    angle = 0.5 * np.arctan2(2.0 * b, a - c) + np.pi / 2.0
    return scale[:, None] * centre, axes, angle, able
