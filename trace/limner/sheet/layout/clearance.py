"""The signed distance of an outline on a grid around it.

Method: the outline is cut into pieces no longer than a cell. Which piece is nearest is found on a grid of
twice the spacing first, that one's on a grid of twice that, and so on; each grid point then looks along the
outline and at what its neighbours found. The distance is taken from the nearest piece and those beside it
themselves. Inside and outside are told apart by how often a row of the grid has crossed the outline.

Limits: a few points in a hundred thousand, most of them deep inside, take the distance of a piece that is not
quite the nearest one: it is never too small, and too large by less than half the grid's spacing. A tree
(``scipy.spatial``) finds as much; importing it takes a quarter of a second, as long as a sheet's outlines.
"""

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats, Ints

__all__ = ["signed_distance"]


# A grid of so many points a side is small enough to look at all pieces from all of its points.
_SMALLEST_GRID = 12
# From the piece that was nearest on the coarser grid along the outline to the nearest one.
_ALONG = (8, -8, 4, -4, 2, -2, 1, -1)
# Pieces beside the one whose middle is nearest.
_BESIDE = (-1, 0, 1)

_AROUND = tuple((down, across) for down in (-1, 0, 1) for across in (-1, 0, 1) if down or across)


def signed_distance(ring: Floats, origin: Floats, spacing: float, shape: tuple[int, int]) -> Floats:
    """Distances of grid points from a ring, negative inside.

    Parameters
    ----------
    ring : ndarray of float64, shape (n, 2)
        Closed polyline, first point not repeated, no two neighbours farther apart than the spacing.
    origin : ndarray of float64, shape (2,)
        The grid's first point (x, y); all of the ring lies on the grid.
    spacing : float
        Distance between neighbouring points of the grid.
    shape : tuple of int
        Its rows and columns.

    Returns
    -------
    ndarray of float64, shape (rows, columns)
        In the unit of the ring.
    """
    # In cells from here on.
    start = (ring - origin) / spacing
    end = np.roll(start, -1, axis=0)
    distance = _to_pieces(_nearest((start + end) / 2, shape), start, end)
    return np.where(_inside(start, end, shape), -distance, distance) * spacing


def _nearest(middles: Floats, shape: tuple[int, int]) -> Ints:
    """For every grid point the piece whose middle is nearest."""
    x, y = middles.T
    down, across = np.arange(shape[0])[:, None], np.arange(shape[1])[None, :]
    nearest = _first_guess(middles, shape)
    squares = (x[nearest] - across) ** 2 + (y[nearest] - down) ** 2

    def keep_nearer(other: Ints, here: tuple[slice, slice]) -> None:
        found = (x[other] - across[:, here[1]]) ** 2 + (y[other] - down[here[0]]) ** 2
        nearer = found < squares[here]
        np.copyto(squares[here], found, where=nearer)
        np.copyto(nearest[here], other, where=nearer)

    for step in _ALONG:
        keep_nearer((nearest + step) % len(middles), (slice(None), slice(None)))
    for way in _AROUND:
        here, there = _shifted(shape, way)
        keep_nearer(nearest[there], here)
    return nearest


def _first_guess(middles: Floats, shape: tuple[int, int]) -> Ints:
    """Pieces that are nearest on a grid of twice the spacing."""
    if max(shape) <= _SMALLEST_GRID:
        down, across = np.indices(shape)
        squares = (middles[:, 0] - across[..., None]) ** 2 + (middles[:, 1] - down[..., None]) ** 2
        return np.asarray(np.argmin(squares, axis=2))
    coarse = _nearest(middles / 2, (shape[0] // 2 + 1, shape[1] // 2 + 1))
    return np.repeat(np.repeat(coarse, 2, axis=0), 2, axis=1)[: shape[0], : shape[1]]


def _shifted(shape: tuple[int, int], by: tuple[int, int]) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """The part of a grid that has a partner so far away, and the partners."""
    here = tuple(
        slice(max(-step, 0), max(size - max(step, 0), 0)) for size, step in zip(shape, by, strict=True)
    )
    there = tuple(
        slice(max(step, 0), max(size + min(step, 0), 0)) for size, step in zip(shape, by, strict=True)
    )
    return (here[0], here[1]), (there[0], there[1])


def _to_pieces(nearest: Ints, start: Floats, end: Floats) -> Floats:
    """Distance of every grid point from the nearest piece or one beside it."""
    rows, columns = nearest.shape
    down, across = np.arange(rows)[:, None], np.arange(columns)[None, :]
    (ax, ay), (bx, by) = start.T, (end - start).T
    squared = np.maximum(bx * bx + by * by, 1e-300)
    least = np.full(nearest.shape, np.inf)
    for beside in _BESIDE:
        piece = (nearest + beside) % len(start)
        x, y, u, v = across - ax[piece], down - ay[piece], bx[piece], by[piece]
        along = np.clip((x * u + y * v) / squared[piece], 0.0, 1.0)
        np.minimum(least, (x - along * u) ** 2 + (y - along * v) ** 2, out=least)
    return np.asarray(np.sqrt(least))


def _inside(start: Floats, end: Floats, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Whether an odd number of pieces lies to the left of a grid point."""
    low, high = np.minimum(start[:, 1], end[:, 1]), np.maximum(start[:, 1], end[:, 1])
    # A piece is no longer than a cell, so that it meets one row at most: its upper end counts, its lower not.
    row = np.ceil(low)
    meets = row < high
    a, b, row = start[meets], end[meets], row[meets]
    at = a[:, 0] + (row - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    crossed = np.zeros(shape, np.intp)
    np.add.at(crossed, (row.astype(np.intp), np.floor(at).astype(np.intp) + 1), 1)
    return np.asarray(np.cumsum(crossed, axis=1) % 2 == 1)
