"""Find places for irregular outlines in a rectangle with obstacles, coarsely.

Method: everything is sampled on a grid. The overlap of one outline with all others, for **every**
position at once, is a correlation with their weighted sum, computed by FFT; the outline goes to the
position and rotation of least overlap. Pairs that keep overlapping weigh more and more (guided local
search, in the spirit of Egeblad, Nielsen and Odgaard, "Fast neighborhood search for two- and
three-dimensional nesting problems", European Journal of Operational Research 183, 2007; from memory).
An overlap counts by how deep it is inside the other outline, so that the search has a slope to follow.

Limits: a cell belongs to an outline when its centre does, so that outlines may still overlap by about
half a cell: `spacing` mends that. A search that ends without success proves nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

import cv2
import numpy as np
import shapely
from numpy import fft
from numpy.typing import NDArray
from shapely import affinity

from limner.model.arrays import Flags, Floats
from limner.model.sheet import Box
from limner.sheet.layout.pose import Pose

__all__ = ["pack"]

Region = Any

# About this many cells in the sheet: fine enough for details of a sticker, coarse enough for thousands
# of correlations a second.
_CELLS = 24_000

# Copies of outlines that differ by no more than this in size are placed by turns, not one kind after another.
_ABOUT_AS_LARGE = 1.5

# Overlaps below this many cells are rounding.
_NO_OVERLAP = 0.5

# Among places without overlap, nearer ones are better, and first of all those turned less; together less
# than the least overlap that counts.
_SHIFT_WEIGHT, _TURN_WEIGHT = 0.15, 0.3

# How much more a pair weighs after a sweep in which it still overlaps: the deepest pair the most.
_LEAST_GROWTH, _MOST_GROWTH = 1.1, 1.7

# How fast the weights of pairs that no longer overlap fall back to one.
_DECAY = 0.92


@dataclass(frozen=True, slots=True, eq=False)
class _Stamp:
    """One outline at one rotation on the grid: its cells, and where its origin lies relative to them."""

    turn_deg: float
    depth: Floats
    offset: tuple[float, float]
    spectrum: NDArray[np.complex128]


def pack(
    outlines: Sequence[Region],
    turns_deg: Sequence[Sequence[float]],
    box: Box,
    obstacles: Region,
    *,
    sweeps: int,
    seed: int = 0,
) -> tuple[list[Pose], Floats]:
    """Look for places without overlap.

    Parameters
    ----------
    outlines : sequence of Polygon
        What is to be placed, each around its own origin.
    turns_deg : sequence of sequence of float
        Rotations that each may take, the best liked first.
    box : tuple of float
        x0, y0, x1, y1 of the rectangle.
    obstacles : Polygon, MultiPolygon or empty geometry
        What must stay free.
    sweeps : int
        How often each outline that overlaps is moved before the search gives up.
    seed : int
        Seed of the order of moves.

    Returns
    -------
    list of Pose
        The best found.
    ndarray of float64, shape (n,)
        Overlap of each outline in square millimetres, weighted by depth; all zero on success.
    """
    search = _Search(outlines, turns_deg, box, obstacles, np.random.default_rng(seed))
    search.place_all()
    for _ in range(sweeps):
        if not search.sweep():
            break
    return search.best


class _Search:
    def __init__(
        self,
        outlines: Sequence[Region],
        turns_deg: Sequence[Sequence[float]],
        box: Box,
        obstacles: Region,
        rng: np.random.Generator,
    ) -> None:
        self.rng = rng
        self.count = len(outlines)
        self.origin = np.array(box[:2])
        size = np.array(box[2:]) - self.origin
        self.cell = float(np.sqrt(size.prod() / _CELLS))
        # Rounded down: what lies within whole cells lies within the box.
        self.shape = (max(int(size[1] / self.cell), 1), max(int(size[0] / self.cell), 1))
        self.padded = (cv2.getOptimalDFTSize(self.shape[0]), cv2.getOptimalDFTSize(self.shape[1]))
        kinds = [(id(outline), tuple(turns)) for outline, turns in zip(outlines, turns_deg, strict=True)]
        # Copies of one outline share their stamps.
        outline_of = dict(zip(kinds, outlines, strict=True))
        self.kinds = kinds
        made = {kind: self._stamps(outline, kind[1]) for kind, outline in outline_of.items()}
        self.stamps = [made[kind] for kind in kinds]
        self.hopeless = [i for i in range(self.count) if not any(map(self._fits, self.stamps[i]))]
        self.blocked = self._cells_of(obstacles)
        self.weights = np.ones((self.count, self.count + 1))
        self.state: list[tuple[int, int, int]] = [(0, 0, 0)] * self.count
        self.placed: list[int] = []
        self.best: tuple[list[Pose], Floats] = ([], np.full(self.count, np.inf))

    def place_all(self) -> None:
        """Largest first, each where it overlaps least, towards the top left corner."""
        sizes = [float((stamps[0].depth > 0).sum()) for stamps in self.stamps]
        hopeful = [i for i in range(self.count) if i not in self.hopeless]
        for item in _alternating(sorted(hopeful, key=lambda i: -sizes[i]), sizes, self.kinds):
            self._move(item, corner=True)
            self.placed.append(item)
        self._keep_best()

    def sweep(self) -> bool:
        """Move every outline that overlaps once; False when none does."""
        overlaps = self._overlaps()
        if not overlaps.any():
            return False
        for item in self.rng.permutation(np.flatnonzero(overlaps.any(axis=1))):
            self._move(int(item), corner=False)
        self._keep_best()
        self._reweigh(self._overlaps())
        return True

    def _move(self, item: int, *, corner: bool) -> None:
        field = fft.rfft2(self._others(item), self.padded)
        best: tuple[float, tuple[int, int, int]] | None = None
        stamps = self.stamps[item]
        for number, stamp in enumerate(stamps):
            if not self._fits(stamp):
                continue
            rows = self.shape[0] - stamp.depth.shape[0] + 1
            columns = self.shape[1] - stamp.depth.shape[1] + 1
            cost = fft.irfft2(field * stamp.spectrum, self.padded)[:rows, :columns]
            cost[cost < _NO_OVERLAP] = 0.0
            cost += self._preference(item, rows, columns, corner=corner) + _TURN_WEIGHT * number / len(stamps)
            at = int(np.argmin(cost))
            value = float(cost.flat[at])
            if best is None or value < best[0] - 1e-6:
                best = (value, (number, at // columns, at % columns))
        if best is not None:
            self.state[item] = best[1]

    def _preference(self, item: int, rows: int, columns: int, *, corner: bool) -> Floats:
        """Far below any overlap: the way to the corner, or from where the outline lies now."""
        row, column = (0, 0) if corner else self.state[item][1:]
        down = np.abs(np.arange(rows) - row)[:, None]
        across = np.abs(np.arange(columns) - column)[None, :]
        return np.asarray((down + across) * (_SHIFT_WEIGHT / sum(self.shape)), dtype=np.float64)

    def _others(self, item: int) -> Floats:
        field: Floats = np.multiply(self.blocked, self.weights[item, -1])
        for other in self.placed:
            if other != item:
                depth, window = self._window(other)
                field[window] += depth * self.weights[item, other]
        return field

    def _window(self, item: int) -> tuple[Floats, tuple[slice, slice]]:
        number, row, column = self.state[item]
        depth = self.stamps[item][number].depth
        return depth, (slice(row, row + depth.shape[0]), slice(column, column + depth.shape[1]))

    def _overlaps(self) -> Floats:
        """Overlap of each outline with each other one and, in the last column, with obstacles."""
        overlaps = np.zeros((self.count, self.count + 1))
        near = self._near()
        canvas = np.zeros(self.shape)
        for item in self.placed:
            depth, window = self._window(item)
            canvas[window] = depth
            covered = depth > 0
            overlaps[item, -1] = self.blocked[window][covered].sum()
            for other in np.flatnonzero(near[item]):
                if other != item:
                    other_depth, other_window = self._window(int(other))
                    overlaps[other, item] = canvas[other_window][other_depth > 0].sum()
            canvas[window] = 0.0
        overlaps[overlaps < _NO_OVERLAP] = 0.0
        return overlaps

    def _near(self) -> Flags:
        """Which placed outlines have cells in a common box, shape (n, n)."""
        boxes = np.zeros((self.count, 4))
        for item in self.placed:
            _, (rows, columns) = self._window(item)
            boxes[item] = rows.start, columns.start, rows.stop, columns.stop
        low, high = boxes[:, None, :2], boxes[None, :, 2:]
        return np.asarray((low < high).all(axis=2) & (low < high).all(axis=2).T)

    def _fits(self, stamp: _Stamp) -> bool:
        height, width = stamp.depth.shape
        return bool(height <= self.shape[0] and width <= self.shape[1])

    def _reweigh(self, overlaps: Floats) -> None:
        both = overlaps.copy()
        both[:, :-1] += both[:, :-1].T
        deepest = both.max()
        if deepest <= 0:
            return
        growth = _LEAST_GROWTH + (_MOST_GROWTH - _LEAST_GROWTH) * both / deepest
        grown = np.where(both > 0, self.weights * growth, np.maximum(self.weights * _DECAY, 1.0))
        # Kept in range: only ratios matter.
        self.weights = np.minimum(grown, 1e6)

    def _keep_best(self) -> None:
        overlaps = self._overlaps()
        each = overlaps.sum(axis=1) + overlaps[:, :-1].sum(axis=0)
        each[self.hopeless] = self.blocked.size
        if each.sum() < self.best[1].sum():
            self.best = ([self._pose(item) for item in range(self.count)], each * self.cell**2)

    def _pose(self, item: int) -> Pose:
        number, row, column = self.state[item]
        stamp = self.stamps[item][number]
        x = self.origin[0] + column * self.cell + stamp.offset[0]
        y = self.origin[1] + row * self.cell + stamp.offset[1]
        return Pose(float(x), float(y), stamp.turn_deg)

    def _stamps(self, outline: Region, turns_deg: Sequence[float]) -> list[_Stamp]:
        stamps = []
        for turn in turns_deg:
            turned = affinity.rotate(outline, turn, origin=(0, 0))
            x0, y0, x1, y1 = shapely.bounds(turned)
            columns = max(int(np.ceil((x1 - x0) / self.cell)), 1)
            rows = max(int(np.ceil((y1 - y0) / self.cell)), 1)
            # Centred on its cells, so that the rounding up is shared between both sides.
            left = (x0 + x1 - columns * self.cell) / 2
            top = (y0 + y1 - rows * self.cell) / 2
            depth = _depth(_sampled(turned, left, top, self.cell, (rows, columns)))
            spectrum = np.conj(fft.rfft2((depth > 0).astype(float), self.padded))
            stamps.append(_Stamp(float(turn), depth, (-left, -top), spectrum))
        return stamps

    def _cells_of(self, region: Region) -> Floats:
        return _depth(_sampled(region, self.origin[0], self.origin[1], self.cell, self.shape))


def _alternating(items: Sequence[int], sizes: Sequence[float], kinds: Sequence[object]) -> list[int]:
    """Items, the largest first; copies of outlines that are about as large by turns."""
    order: list[int] = []
    rest = list(items)
    while rest:
        about = [i for i in rest if sizes[i] * _ABOUT_AS_LARGE >= sizes[rest[0]]]
        rest = rest[len(about) :]
        by_kind: dict[object, list[int]] = {}
        for i in about:
            by_kind.setdefault(kinds[i], []).append(i)
        order += [i for turn in zip_longest(*by_kind.values()) for i in turn if i is not None]
    return order


def _sampled(region: Region, left: float, top: float, cell: float, shape: tuple[int, int]) -> Flags:
    """Cells whose centres lie in a region."""
    rows, columns = np.indices(shape)
    shapely.prepare(region)
    return np.asarray(shapely.contains_xy(region, left + (columns + 0.5) * cell, top + (rows + 0.5) * cell))


def _depth(cells: NDArray[np.bool_]) -> Floats:
    """Distance of each cell from the outside, in cells."""
    ringed = np.pad(cells, 1).astype(np.uint8)
    return np.asarray(cv2.distanceTransform(ringed, cv2.DIST_L2, 5)[1:-1, 1:-1], dtype=np.float64)
