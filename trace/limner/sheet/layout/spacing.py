"""Move outlines that already lie nearly right until they keep their distances, then evenly apart.

Method: each outline carries its signed distance, sampled on a fine grid; points along the outlines are
looked up in one another's grids. A smooth penalty on distances that are too small is minimised over all
positions at once (`descent`) to part what overlaps; a repulsion that falls with distance then
spreads the outlines over the free space, as even gaps look best and cut best.

Limits: local; outlines are shifted, not turned; distances are known to about a tenth of the grid's
spacing, so that the caller measures the result.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from limner.model.arrays import Floats, Ints
from limner.model.sheet import Box
from limner.sheet.layout.clearance import signed_distance
from limner.sheet.layout.descent import minimise

__all__ = ["Body", "part", "sample_body", "spread"]

Region = Any
Law = Callable[[Floats], tuple[Floats, Floats]]
"""What distances cost, and how that changes with them."""

# Spacing of the distance grids, and of the points along the outlines.
_GRID_MM = 0.4
_POINTS_MM = 0.8

# How far around an outline its distance is sampled; farther away the repulsion no longer matters.
_REACH_MM = 15.0

# The repulsion of two outlines halves about every this much of distance beyond the gap.
_SOFTNESS_MM = 2.0

# How steeply the repulsion rises where a distance is too small, relative to its slope at the gap.
_STEEP = 50.0

# Asked for beyond the gap and at the walls, so that the coarseness of the grids does not eat into it.
_SPARE_MM = 0.06
_WALL_SPARE_MM = 0.01

_PART_ROUNDS, _SPREAD_ROUNDS = 300, 80

# Nothing jumps over its neighbour, and less than half of what places are rounded to is no move.
_LONGEST_STEP_MM = 5.0
_SHORTEST_STEP_MM = 0.004


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """An outline as it is spaced, about its own origin.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Points along it.
    box : ndarray of float64, shape (4,)
        x0, y0, x1, y1 around it.
    origin : ndarray of float64, shape (2,)
        First point (x, y) of the grid on which its distance is known.
    distance : ndarray of float64, shape (rows, columns)
        Its signed distance there, negative inside, in millimetres.
    """

    points: Floats
    box: Floats
    origin: Floats
    distance: Floats


def part(
    bodies: Sequence[Body], centres: Floats, box: Box, obstacles: Sequence[Body], gap_mm: float
) -> Floats:
    """Shift outlines until they keep `gap_mm` from one another and from obstacles, inside the box.

    Parameters
    ----------
    bodies : sequence of Body
        The outlines.
    centres : ndarray of float64, shape (n, 2)
        Where their origins lie now.
    box : tuple of float
        x0, y0, x1, y1 that they must not leave.
    obstacles : sequence of Body
        What must keep the same distance from them.
    gap_mm : float
        Smallest distance.

    Returns
    -------
    ndarray of float64, shape (n, 2)
        New places; not always without overlap.
    """
    scene = _Scene(bodies, box, obstacles)

    def penalty(distance: Floats, wanted: float) -> tuple[Floats, Floats]:
        lack = np.maximum(wanted - distance, 0.0)
        return lack * lack, -2.0 * lack

    return scene.minimise(
        centres, lambda d: penalty(d, gap_mm + _SPARE_MM), lambda d: penalty(d, _WALL_SPARE_MM), _PART_ROUNDS
    )


def spread(
    bodies: Sequence[Body], centres: Floats, box: Box, obstacles: Sequence[Body], gap_mm: float
) -> Floats:
    """Spread outlines that keep their distances evenly over the free space; arguments as for `part`."""
    scene = _Scene(bodies, box, obstacles)
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


def sample_body(outline: Region) -> Body:
    """Sample an outline, a Polygon around its own origin, for spacing."""
    ring = outline.exterior
    points = shapely.get_coordinates(shapely.segmentize(ring, _POINTS_MM))[:-1]
    pieces = shapely.get_coordinates(shapely.segmentize(ring, _GRID_MM))[:-1]
    x0, y0, x1, y1 = box = shapely.bounds(outline)
    origin = np.array([x0, y0]) - _REACH_MM
    columns = int(np.ceil((x1 - x0 + 2 * _REACH_MM) / _GRID_MM)) + 1
    rows = int(np.ceil((y1 - y0 + 2 * _REACH_MM) / _GRID_MM)) + 1
    return Body(points, box, origin, signed_distance(pieces, origin, _GRID_MM, (rows, columns)))


class _Scene:
    """Outlines that are shifted, and what stands still: moving bodies first, fixed ones after them.

    All points and all grids lie one after another in flat arrays, so that one evaluation is a few operations
    on long arrays instead of some for each pair.
    """

    def __init__(self, moving: Sequence[Body], box: Box, fixed: Sequence[Body]) -> None:
        bodies = [*moving, *fixed]
        self.box = np.array(box)
        self.bounds = np.array([body.box for body in bodies])
        self.moving = len(moving)
        counts = np.array([len(body.points) for body in bodies])
        self.first, self.counts = np.cumsum(counts) - counts, counts
        # Everything that is looked up is in cells of the grids.
        self.x, self.y = np.concatenate([body.points for body in bodies]).T / _GRID_MM
        self.origins = np.array([body.origin for body in bodies]) / _GRID_MM
        self.rows, self.columns = np.array([body.distance.shape for body in bodies]).T
        sizes = self.rows * self.columns
        self.grid_start = np.cumsum(sizes) - sizes
        self.grids = np.concatenate([body.distance.ravel() for body in bodies])
        self.pairs: tuple[bytes, _Pairs] = (b"", _Pairs(*[np.zeros(0, np.intp)] * 4))

    def minimise(self, centres: Floats, pair_law: Law, wall_law: Law, rounds: int) -> Floats:
        def energy(flat: Floats) -> tuple[float, Floats]:
            return self._energy(flat.reshape(-1, 2), pair_law, wall_law)

        found = minimise(
            energy,
            np.array(centres, dtype=np.float64).ravel(),
            rounds=rounds,
            longest_step=_LONGEST_STEP_MM,
            shortest_step=_SHORTEST_STEP_MM,
        )
        return found.reshape(-1, 2)

    def _energy(self, centres: Floats, pair_law: Law, wall_law: Law) -> tuple[float, Floats]:
        total, gradient = self._walls(centres, wall_law)
        pairs = self._near(centres)
        if len(pairs.one):
            value, pushes = self._contacts(pairs, centres, pair_law)
            total += value
            for axis in (0, 1):
                gradient[:, axis] += _sums(pairs.one, pushes[axis], self.moving)
                # What stands still is not pushed back.
                gradient[:, axis] -= _sums(pairs.other, pushes[axis], len(self.counts))[: self.moving]
        return total, gradient.ravel()

    def _near(self, centres: Floats) -> "_Pairs":
        """Moving bodies any of whose points can lie on the grid of another body."""
        places = np.zeros((len(self.counts), 2))
        places[: self.moving] = centres
        low, high = places + self.bounds[:, :2], places + self.bounds[:, 2:]
        # A grid reaches beyond the box of its outline by the reach and less than two of its cells.
        reach = _REACH_MM + 2 * _GRID_MM
        mine = slice(0, self.moving)
        apart = (low[mine, None] > high[None] + reach) | (high[mine, None] < low[None] - reach)
        near = ~apart.any(axis=2)
        near[np.arange(self.moving), np.arange(self.moving)] = False
        # Outlines move little from one evaluation to the next.
        name = near.tobytes()
        if name != self.pairs[0]:
            self.pairs = name, self._pairs(*np.nonzero(near))
        return self.pairs[1]

    def _pairs(self, one: Ints, other: Ints) -> "_Pairs":
        counts = self.counts[one]
        pair = np.repeat(np.arange(len(one)), counts)
        point = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts - self.first[one], counts)
        return _Pairs(one, other, pair, point)

    def _contacts(self, pairs: "_Pairs", centres: Floats, law: Law) -> tuple[float, tuple[Floats, Floats]]:
        """Energy between all near bodies, and for each pair its gradient by x and y of the first one."""
        places = np.zeros((len(self.counts), 2))
        places[: self.moving] = centres / _GRID_MM
        by = places[pairs.one] - places[pairs.other] - self.origins[pairs.other]
        x = self.x[pairs.point] + by[pairs.pair, 0]
        y = self.y[pairs.point] + by[pairs.pair, 1]
        columns, rows = self.columns[pairs.other], self.rows[pairs.other]
        on_grid = (x > 0) & (x < (columns - 1)[pairs.pair]) & (y > 0) & (y < (rows - 1)[pairs.pair])
        x, y, pair = x[on_grid], y[on_grid], pairs.pair[on_grid]
        distance, slope_x, slope_y = self._interpolated(
            x, y, columns[pair], self.grid_start[pairs.other][pair]
        )
        value, slope = law(distance)
        # Two moving bodies meet twice, each one's points on the other's grid.
        weight = np.where(pairs.other < self.moving, 1.0, 2.0)
        per_pair = _sums(pair, value, len(weight)) * weight
        by_x, by_y = (_sums(pair, slope * along, len(weight)) * weight for along in (slope_x, slope_y))
        return float(per_pair.sum()), (by_x, by_y)

    def _interpolated(
        self, x: Floats, y: Floats, columns: Ints, start: Ints
    ) -> tuple[Floats, Floats, Floats]:
        """Bilinear values at places in cells, and their exact slopes per millimetre by x and y.

        The slope must be that of the interpolated surface itself: a minimiser stumbles over any other.
        """
        column, row = x.astype(np.intp), y.astype(np.intp)
        across, down = x - column, y - row
        at = start + row * columns + column
        a, b = self.grids[at], self.grids[at + 1]
        at += columns
        c, d = self.grids[at], self.grids[at + 1]
        top_slope, bottom_slope = b - a, d - c
        top, bottom = a + across * top_slope, c + across * bottom_slope
        steep = bottom - top
        slope_x = top_slope + down * (bottom_slope - top_slope)
        return top + down * steep, slope_x / _GRID_MM, steep / _GRID_MM

    def _walls(self, centres: Floats, law: Law) -> tuple[float, Floats]:
        """A wall counts like as many points as a side has on it."""
        bounds = self.bounds[: self.moving]
        low = bounds[:, :2] + centres - self.box[:2]
        high = self.box[2:] - bounds[:, 2:] - centres
        weight = (bounds[:, 2:] - bounds[:, :2])[:, ::-1] / _POINTS_MM / 2
        low_value, low_slope = law(low)
        high_value, high_slope = law(high)
        total = (weight * (low_value + high_value)).sum()
        return float(total), np.asarray(weight * (low_slope - high_slope))


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Pairs of bodies; for each point of the first one, which the other's grid is asked for: pair, number."""

    one: Ints
    other: Ints
    pair: Ints
    point: Ints


def _sums(of: Ints, values: Floats, count: int) -> Floats:
    """The sum of the values of each number up to a count."""
    return np.asarray(np.bincount(of, values, count), dtype=np.float64)
