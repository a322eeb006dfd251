"""Move outlines that already lie nearly right until they keep their distances, then evenly apart.

Method: each outline carries its signed distance, sampled on a fine grid; points along the outlines are
looked up in one another's grids. A smooth penalty on distances that are too small is minimised over all
positions at once (L-BFGS, SciPy) to part what overlaps; a repulsion that falls with distance then
spreads the outlines over the free space, as even gaps look best and cut best.

Limits: local; outlines are shifted, not turned; distances are known to about a tenth of the grid's
spacing, so that the caller measures the result.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import optimize
from scipy.spatial import cKDTree

__all__ = ["part", "spread"]

Region = Any
Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]

# Spacing of the distance grids, and of the points along the outlines.
_GRID_MM = 0.4
_POINTS_MM = 0.8
# Points whose nearest outline point is looked up: dense enough for a hundredth of a millimetre.
_DENSE_MM = 0.08

# How far around an outline its distance is sampled; farther away the repulsion no longer matters.
_REACH_MM = 15.0

# The repulsion of two outlines halves about every this much of distance beyond the gap.
_SOFTNESS_MM = 2.0

# How steeply the repulsion rises where a distance is too small, relative to its slope at the gap.
_STEEP = 50.0

# Asked for beyond the gap and at the walls, so that the coarseness of the grids does not eat into it.
_SPARE_MM = 0.06
_WALL_SPARE_MM = 0.01

# The same outlines are parted and then spread: as many of them as a large sheet has.
_KEPT_BODIES = 128

_PART_ROUNDS, _SPREAD_ROUNDS = 300, 80


@dataclass(frozen=True, slots=True, eq=False)
class _Body:
    """Points along one outline and its signed distance (negative inside) on a grid, both about its origin."""

    points: Floats
    origin: Floats
    distance: Floats


def part(
    outlines: Sequence[Region], centres: Floats, box: Box, obstacles: Sequence[Region], gap_mm: float
) -> Floats:
    """Shift outlines until they keep `gap_mm` from one another and from obstacles, inside the box.

    Parameters
    ----------
    outlines : sequence of Polygon
        Around their own origins.
    centres : ndarray of float64, shape (n, 2)
        Where their origins lie now.
    box : tuple of float
        x0, y0, x1, y1 that they must not leave.
    obstacles : sequence of Polygon
        What must keep the same distance from them.
    gap_mm : float
        Smallest distance.

    Returns
    -------
    ndarray of float64, shape (n, 2)
        New places; not always without overlap.
    """
    scene = _Scene(outlines, box, obstacles)

    def penalty(distance: Floats, wanted: float) -> tuple[Floats, Floats]:
        lack = np.maximum(wanted - distance, 0.0)
        return lack * lack, -2.0 * lack

    return scene.minimise(
        centres, lambda d: penalty(d, gap_mm + _SPARE_MM), lambda d: penalty(d, _WALL_SPARE_MM), _PART_ROUNDS
    )


def spread(
    outlines: Sequence[Region], centres: Floats, box: Box, obstacles: Sequence[Region], gap_mm: float
) -> Floats:
    """Spread outlines that keep their distances evenly over the free space; arguments as for `part`."""
    scene = _Scene(outlines, box, obstacles)
    end = 1.0 / (1.0 + _REACH_MM / _SOFTNESS_MM) ** 2

    def repulsion(distance: Floats, wanted: float) -> tuple[Floats, Floats]:
        # Reciprocal beyond the wanted distance, and its tangent before it: no pole to fall into.
        beyond = np.maximum(distance - wanted, 0.0) / _SOFTNESS_MM
        near = np.minimum(distance - wanted, 0.0) / _SOFTNESS_MM
        # It ends at the reach without a step, as a minimiser stumbles over steps.
        value = np.maximum(1.0 / (1.0 + beyond) ** 2 - end, 0.0)
        slope = np.where(value > 0.0, -2.0 / (1.0 + beyond) ** 3, 0.0)
        return value - 2.0 * near + _STEEP * near * near, (slope + 2 * _STEEP * near) / _SOFTNESS_MM

    return scene.minimise(
        centres,
        lambda d: repulsion(d, gap_mm + _SPARE_MM),
        lambda d: repulsion(d, _WALL_SPARE_MM),
        _SPREAD_ROUNDS,
    )


class _Scene:
    def __init__(self, outlines: Sequence[Region], box: Box, obstacles: Sequence[Region]) -> None:
        self.bodies = [_body(outline) for outline in outlines]
        self.fixed = [_body(obstacle) for obstacle in obstacles]
        self.box = np.array(box)
        self.bounds = np.array([shapely.bounds(outline) for outline in outlines])

    def minimise(self, centres: Floats, pair_law: Any, wall_law: Any, rounds: int) -> Floats:
        def energy(flat: Floats) -> tuple[float, Floats]:
            return self._energy(flat.reshape(-1, 2), pair_law, wall_law)

        result = optimize.minimize(
            energy, centres.ravel(), jac=True, method="L-BFGS-B", options={"maxiter": rounds, "maxcor": 12}
        )
        return np.asarray(result.x).reshape(-1, 2)

    def _energy(self, centres: Floats, pair_law: Any, wall_law: Any) -> tuple[float, Floats]:
        total, gradient = 0.0, np.zeros_like(centres)
        near = self._near(centres)
        for i, body in enumerate(self.bodies):
            points = body.points + centres[i]
            for j, other in enumerate(self.bodies):
                if near[i][j]:
                    value, push = _contact(points, other, centres[j], pair_law)
                    total += value
                    gradient[i] += push
                    gradient[j] -= push
            for other in self.fixed:
                value, push = _contact(points, other, np.zeros(2), pair_law)
                total += 2 * value
                gradient[i] += 2 * push
        value, pushes = self._walls(centres, wall_law)
        return total + value, (gradient + pushes).ravel()

    def _near(self, centres: Floats) -> list[list[bool]]:
        """Whether any point of one outline can lie on the grid of another."""
        low, high = centres + self.bounds[:, :2], centres + self.bounds[:, 2:]
        # A grid reaches beyond the box of its outline by the reach and less than two of its cells.
        reach = _REACH_MM + 2 * _GRID_MM
        apart = (low[:, None] > high[None] + reach) | (high[:, None] < low[None] - reach)
        near = ~apart.any(axis=2)
        np.fill_diagonal(near, val=False)
        return [row.tolist() for row in near]

    def _walls(self, centres: Floats, law: Any) -> tuple[float, Floats]:
        """A wall counts like as many points as a side has on it."""
        low = self.bounds[:, :2] + centres - self.box[:2]
        high = self.box[2:] - self.bounds[:, 2:] - centres
        weight = (self.bounds[:, 2:] - self.bounds[:, :2])[:, ::-1] / _POINTS_MM / 2
        low_value, low_slope = law(low)
        high_value, high_slope = law(high)
        total = (weight * (low_value + high_value)).sum()
        return float(total), weight * (low_slope - high_slope)


def _contact(points: Floats, other: _Body, centre: Floats, law: Any) -> tuple[float, Floats]:
    """Energy between points and a body, and its gradient with respect to shifting the points."""
    places = (points - other.origin - centre) / _GRID_MM
    limit = np.array(other.distance.shape[::-1]) - 1.0
    near = np.flatnonzero(((places > 0) & (places < limit)).all(axis=1))
    if not len(near):
        return 0.0, np.zeros(2)
    distance, slopes = _interpolated(other.distance, places[near])
    value, slope = law(distance)
    return float(value.sum()), np.asarray(slope @ slopes)


def _interpolated(grid: Floats, places: Floats) -> tuple[Floats, Floats]:
    """Bilinear values at places, shape (n, 2), in cells (x, y), and their exact slopes per millimetre.

    The slope must be that of the interpolated surface itself: a minimiser stumbles over any other.
    """
    column, row = np.floor(places).astype(int).T
    across, down = (places - np.floor(places)).T
    a, b = grid[row, column], grid[row, column + 1]
    c, d = grid[row + 1, column], grid[row + 1, column + 1]
    top, bottom = a + across * (b - a), c + across * (d - c)
    slope_x = (1 - down) * (b - a) + down * (d - c)
    return top + down * (bottom - top), np.stack([slope_x, bottom - top], axis=1) / _GRID_MM


@lru_cache(maxsize=_KEPT_BODIES)
def _body(outline: Region) -> _Body:
    ring = outline.exterior
    points = shapely.get_coordinates(shapely.segmentize(ring, _POINTS_MM))[:-1]
    dense = shapely.get_coordinates(shapely.segmentize(ring, _DENSE_MM))
    x0, y0, x1, y1 = shapely.bounds(outline)
    origin = np.array([x0, y0]) - _REACH_MM
    columns = int(np.ceil((x1 - x0 + 2 * _REACH_MM) / _GRID_MM)) + 1
    rows = int(np.ceil((y1 - y0 + 2 * _REACH_MM) / _GRID_MM)) + 1
    row, column = np.indices((rows, columns))
    grid = np.stack([column, row], axis=-1) * _GRID_MM + origin
    distance, _ = cKDTree(dense).query(grid.reshape(-1, 2))
    distance = distance.reshape(rows, columns)
    shapely.prepare(outline)
    inside = shapely.contains_xy(outline, grid[..., 0], grid[..., 1])
    signed = np.where(inside, -distance, distance)
    return _Body(points, origin, signed)
