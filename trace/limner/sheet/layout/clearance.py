"""The signed distance of an outline on a grid around it.

Method: a tree of points along the outline (``scipy.spatial``) tells which of its pieces is nearest to each
point of the grid; the distance is then taken from that piece itself. Inside and outside are told apart by how
often a row of the grid has crossed the outline.

Limits: never too small. With points that lie s apart, a distance d may come out too large by as much as
sqrt(d^2 + s^2 / 4) - d, where another piece is as near: by 0.0003 mm for 4 mm and pieces of 0.4 mm.
"""

import numpy as np
from scipy.spatial import cKDTree

from limner.model.arrays import Flags, Floats, Ints

__all__ = ["signed_distance"]

# Points along each piece, its first end among them: twice as many take half as long again and gain nothing.
_POINTS_A_PIECE = 4


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
    row, column = np.indices(shape)
    grid = np.stack([column.ravel(), row.ravel()], axis=1).astype(np.float64)
    distance = _distances(grid, start, end).reshape(shape)
    return np.where(_inside(start, end, shape), -distance, distance) * spacing


def _distances(grid: Floats, start: Floats, end: Floats) -> Floats:
    """Distance of every point of the grid, shape (n, 2), from the nearest piece."""
    along = (np.arange(_POINTS_A_PIECE) / _POINTS_A_PIECE)[:, None]
    points = start[:, None] + along * (end - start)[:, None]
    _, nearest = cKDTree(points.reshape(-1, 2)).query(grid)
    piece = nearest // _POINTS_A_PIECE
    distance = _to_pieces(grid, piece, start, end)
    # Two pieces meet at an end.
    ends = np.flatnonzero(nearest % _POINTS_A_PIECE == 0)
    distance[ends] = np.minimum(distance[ends], _to_pieces(grid[ends], piece[ends] - 1, start, end))
    return distance


def _to_pieces(grid: Floats, piece: Ints, start: Floats, end: Floats) -> Floats:
    """Distance of every point of the grid from its piece."""
    way = (end - start)[piece]
    away = grid - start[piece]
    squared = np.maximum((way * way).sum(axis=1), np.finfo(np.float64).tiny)
    on = np.clip((away * way).sum(axis=1) / squared, 0.0, 1.0)
    away -= on[:, None] * way
    return np.hypot(away[:, 0], away[:, 1])


def _inside(start: Floats, end: Floats, shape: tuple[int, int]) -> Flags:
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
