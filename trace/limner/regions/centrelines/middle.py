"""Draw skeleton branches towards the true middle of the ink.

Method: across each point of a branch the ink's two edges are sought as the crossings of the coverage with
one half, between pixels; the middle between them is the centreline and their distance the width. Where a
junction spoils that (within its own disc of ink), the branch is cut back, the node goes to the point that
is nearest to all its arms, prolonged straight (least squares), and the arms run straight to it. At free
ends the line is prolonged to the tip of the ink. All branches are handled at once, end to end in one
array.

Limits: sub-pixel where both edges of the line are visible; inside a junction the arms are straight.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats, Indices

__all__ = ["CUT_END_RADII", "CUT_RADII", "DIRECTION_WIDTHS", "Strands", "centre", "meet", "tips"]


_LEVEL = 0.5

# Smoothing along the line, in line widths (standard deviation): takes the staircase and the grain out,
# and rounds a corner by less than a tenth of a width.
_SMOOTHING_WIDTHS = 0.3

# Edges of the ink are sought as far as this many local radii from the skeleton, in so many steps.
_REACH_RADII = 1.7
_STEPS = 20

# Points whose edges are sought at once.
_BLOCK = 2048

# Arms of a junction are cut back by so many of its radii ...
CUT_RADII = 1.15
# ... and ends by so many of theirs, as the skeleton may turn into a corner of the tip there.
CUT_END_RADII = 1.6

# Length of line, in line widths, whose direction prolongs it.
DIRECTION_WIDTHS = 1.2

# Pull of a junction towards its centre on the skeleton, against one arm's pull of 1: decides only where
# arms are nearly parallel.
_CENTRE_PULL = 0.02


@dataclass(frozen=True, eq=False)
class Strands:
    """Many polylines in one array.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        In pixels.
    offsets : ndarray of int64, shape (k + 1,)
        Strand i is ``points[offsets[i]:offsets[i + 1]]``.
    loop : ndarray of bool, shape (k,)
        Which strands are closed and have no junction.
    """

    points: Floats
    offsets: Indices
    loop: NDArray[np.bool_]

    @cached_property
    def strand(self) -> Indices:
        """The strand of each point, shape (n,)."""
        return np.repeat(np.arange(len(self.loop)), np.diff(self.offsets))

    @cached_property
    def first(self) -> Indices:
        """The first point of each point's own strand, shape (n,)."""
        return self.offsets[self.strand]

    @cached_property
    def last(self) -> Indices:
        """The last point of each point's own strand, shape (n,)."""
        return self.offsets[self.strand + 1] - 1

    def neighbour(self, step: int) -> tuple[Indices, NDArray[np.bool_]]:
        """Index of the point `step` further on in the same strand, and where that overshoots its ends."""
        index = np.arange(step, len(self.points) + step)
        outside = (index < self.first) | (index > self.last)
        over = np.flatnonzero(outside)
        there, first, last = index[over], self.first[over], self.last[over]
        loop = self.loop[self.strand[over]]
        wrapped = first + (there - first) % (last - first + 1)
        mirrored = np.where(there < first, 2 * first - there, 2 * last - there)
        index[over] = np.where(loop, wrapped, np.clip(mirrored, first, last))
        outside[over] = ~loop
        return index, outside

    def anchor(self) -> tuple[Floats, Floats]:
        """First and last point of each point's own strand."""
        return self.points[self.first], self.points[self.last]


def bilinear(field: NDArray[np.float32], x: NDArray[Any], y: NDArray[Any]) -> Floats:
    """Values of a field between its pixel centres (at half-integers); the rim repeats outwards."""
    height, width = field.shape
    x = np.clip(x - 0.5, 0.0, width - 1.001)
    y = np.clip(y - 0.5, 0.0, height - 1.001)
    column, row = x.astype(np.int32), y.astype(np.int32)
    x -= column
    y -= row
    flat = field.ravel()
    row *= width
    row += column
    # What indices have to be: the library would copy them for each of the four look-ups.
    at = row.astype(np.intp)
    left = 1 - x
    upper = flat.take(at)
    upper *= left
    at += 1
    upper += flat.take(at) * x
    at += width - 1
    lower = flat.take(at)
    lower *= left
    at += 1
    lower += flat.take(at) * x
    upper *= 1 - y
    lower *= y
    upper += lower
    return np.asarray(upper)


def smooth(strands: Strands, values: Floats, weights: Floats, sigma: float) -> Floats:
    """Weighted Gaussian mean along each strand; ends are reflected.

    Parameters
    ----------
    strands : Strands
        Which values lie beside each other.
    values : ndarray, shape (n,)
        One value a point.
    weights : ndarray, shape (n,)
        How much each counts.
    sigma : float
        Standard deviation in points.

    Returns
    -------
    ndarray, shape (n,)
        0 where all weights nearby are 0.
    """
    reach = max(1, round(2.5 * sigma))
    total = np.zeros(len(values))
    norm = np.zeros(len(values))
    for step in range(-reach, reach + 1):
        factor = np.exp(-0.5 * (step / sigma) ** 2)
        index, _ = strands.neighbour(step)
        total += factor * weights[index] * values[index]
        norm += factor * weights[index]
    return np.where(norm > 1e-9, total / np.maximum(norm, 1e-9), 0.0)


def smooth_points(strands: Strands, sigma: float) -> Floats:
    """Gaussian mean of the points along each strand; open strands keep their ends."""
    reach = max(1, round(2.5 * sigma))
    first, last = strands.anchor()
    middle = (strands.first + strands.last + 1) / 2.0
    total = np.zeros_like(strands.points)
    norm = 0.0
    for step in range(-reach, reach + 1):
        factor = np.exp(-0.5 * (step / sigma) ** 2)
        index, outside = strands.neighbour(step)
        there = strands.points[index]
        end = np.where((np.arange(len(middle)) + step < middle)[:, None], first, last)
        total += factor * np.where(outside[:, None], 2 * end - there, there)
        norm += factor
    return total / norm


def normals(strands: Strands) -> Floats:
    """Unit vectors across each strand, shape (n, 2)."""
    ahead, _ = strands.neighbour(2)
    behind, _ = strands.neighbour(-2)
    # At an end the reflected neighbour would be the same point as the real one: clamp instead.
    loop = strands.loop[strands.strand]
    index = np.arange(len(strands.points))
    ahead = np.where(loop, ahead, np.minimum(index + 2, strands.last))
    behind = np.where(loop, behind, np.maximum(index - 2, strands.first))
    along = strands.points[ahead] - strands.points[behind]
    length = np.hypot(along[:, 0], along[:, 1])
    along /= np.maximum(length, 1e-9)[:, None]
    return np.stack([-along[:, 1], along[:, 0]], axis=1)


def centre(
    strands: Strands,
    coverage: NDArray[np.float32],
    radius: Floats,
    trusted: NDArray[np.bool_],
    line_width: float,
) -> tuple[Strands, Floats, NDArray[np.bool_]]:
    """Move strands to the middle of the ink.

    Parameters
    ----------
    strands : Strands
        Skeleton branches.
    coverage : ndarray of float32, shape (H, W)
        Ink coverage.
    radius : ndarray, shape (n,)
        Radius of the ink at each point.
    trusted : ndarray of bool, shape (n,)
        Points away from junctions and tips.
    line_width : float
        Typical width of lines in pixels.

    Returns
    -------
    strands : Strands
        Centred.
    width : ndarray, shape (n,)
        Width of the ink at each point.
    trusted : ndarray of bool, shape (n,)
        Points where both edges were found.
    """
    sigma = max(_SMOOTHING_WIDTHS * line_width, 1.0)
    strands = Strands(smooth_points(strands, sigma), strands.offsets, strands.loop)
    good = trusted
    width = 2.0 * radius
    for _ in range(2):
        across = normals(strands)
        left, right = _edges(strands.points, across, coverage, radius)
        # A point that cannot see both edges, or sees far more ink than its own disc, is in a junction.
        good = trusted & np.isfinite(left) & np.isfinite(right)
        weight = good.astype(np.float64)
        shift = smooth(strands, np.where(good, (left - right) / 2.0, 0.0), weight, sigma)
        measured = smooth(strands, np.where(good, left + right, 0.0), weight, sigma)
        width = np.where(measured > 0, measured, 2.0 * radius)
        strands = Strands(strands.points + shift[:, None] * across, strands.offsets, strands.loop)
    return strands, width, good


def _edges(
    points: Floats, across: Floats, coverage: NDArray[np.float32], radius: Floats
) -> tuple[Floats, Floats]:
    """Distances to the ink's edge on both sides; nan where there is none in reach."""
    reach = _REACH_RADII * np.maximum(radius, 1.0)
    # Single precision knows a place on the raster to a thousandth of a pixel, in half the time.
    points, across = points.astype(np.float32), across.astype(np.float32)
    share = np.linspace(0.0, 1.0, _STEPS + 1, dtype=np.float32)
    found = np.empty((2, len(points)))
    # In blocks whose working arrays stay in the processor's cache.
    for low in range(0, len(points), _BLOCK):
        here = slice(low, low + _BLOCK)
        for row, side in enumerate((1.0, -1.0)):
            steps = np.float32(side) * reach[here, None].astype(np.float32) * share[None, :]
            x = points[here, 0, None] + steps * across[here, 0, None]
            y = points[here, 1, None] + steps * across[here, 1, None]
            found[row, here] = _first_crossing(bilinear(coverage, x, y)) * reach[here] / _STEPS
    return found[0], found[1]


def _first_crossing(values: Floats) -> Floats:
    """Where each row first falls below the level, in steps; nan where it never does or starts below."""
    below = values < _LEVEL
    at = below.argmax(axis=1)
    row = np.arange(len(values))
    inner, outer = values[row, np.maximum(at - 1, 0)], values[row, at]
    with np.errstate(divide="ignore", invalid="ignore"):
        place = at - 1 + (inner - _LEVEL) / (inner - outer)
    return np.asarray(np.where(at > 0, place, np.nan))


def meet(
    centres: Floats, radius: Floats, node: Indices, base: Floats, direction: Floats, weight: Floats
) -> Floats:
    """Move each junction to the point nearest to its prolonged arms.

    Parameters
    ----------
    centres : ndarray, shape (k, 2)
        Where the skeleton has the nodes.
    radius : ndarray, shape (k,)
        How far each may move at most.
    node : ndarray of int64, shape (m,)
        Node of each arm.
    base, direction : ndarray, shape (m, 2)
        A point on each arm and its unit direction.
    weight : ndarray, shape (m,)
        Weight of each arm.

    Returns
    -------
    ndarray, shape (k, 2)
    """
    across = np.stack([-direction[:, 1], direction[:, 0]], axis=1)
    distance = np.einsum("ij,ij->i", across, base - centres[node])
    xx = np.full(len(centres), _CENTRE_PULL)
    yy = xx.copy()
    xy, bx, by = np.zeros(len(centres)), np.zeros(len(centres)), np.zeros(len(centres))
    np.add.at(xx, node, weight * across[:, 0] ** 2)
    np.add.at(yy, node, weight * across[:, 1] ** 2)
    np.add.at(xy, node, weight * across[:, 0] * across[:, 1])
    np.add.at(bx, node, weight * across[:, 0] * distance)
    np.add.at(by, node, weight * across[:, 1] * distance)
    determinant = xx * yy - xy * xy
    move = np.stack([yy * bx - xy * by, xx * by - xy * bx], axis=1) / determinant[:, None]
    length = np.hypot(move[:, 0], move[:, 1])
    move *= np.minimum(1.0, radius / np.maximum(length, 1e-9))[:, None]
    return np.asarray(centres + move)


def tips(base: Floats, direction: Floats, coverage: NDArray[np.float32], reach: Floats) -> Floats:
    """Prolong lines to where the ink ends.

    Parameters
    ----------
    base, direction : ndarray, shape (m, 2)
        Last sure point of each line and its unit direction outwards.
    coverage : ndarray of float32, shape (H, W)
        Ink coverage.
    reach : ndarray, shape (m,)
        How far to look.

    Returns
    -------
    ndarray, shape (m, 2)
        The tips; the base itself where the ink does not end within reach.
    """
    steps = 2 * _STEPS
    share = np.linspace(0.0, 1.0, steps + 1)
    along = reach[:, None] * share[None, :]
    x, y = (base[:, k, None] + along * direction[:, k, None] for k in (0, 1))
    values = bilinear(coverage, x, y)
    distance = _first_crossing(values) * reach / steps
    return base + np.where(np.isfinite(distance), distance, 0.0)[:, None] * direction
