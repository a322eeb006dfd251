"""Points found by place.

Method: points are sorted into the square cells of a grid, row by row, so that the cells beside each other
in a row are one run of the sorted points. A query looks at one run in each row of cells that its circle
meets; all queries are answered together, without a loop over points.

Limits: made for points that are spread out, such as those along lines, and radii of a few cells. Many
points in one cell cost their number for every query that looks there.

A tree (``scipy.spatial``) finds as much; importing it takes a quarter of a second, more than all
queries of a drawing together.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limner.model.arrays import Floats, Indices

__all__ = ["PointGrid"]


class PointGrid:
    """Points that are asked for by their distance from a place.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Rows (x, y).
    cell : float
        Side of a cell, in the unit of the points; best near the radius of the queries.
    """

    def __init__(self, points: Floats, cell: float) -> None:
        self._points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        self._cell = float(cell)
        self._corner = self._points.min(axis=0) if len(self._points) else np.zeros(2)
        place = self._cell_of(self._points)
        self._columns, self._rows = (int(n) for n in (place.max(axis=0) + 1 if len(place) else (0, 0)))
        key = place[:, 1] * self._columns + place[:, 0]
        self._order = np.argsort(key, kind="stable")
        self._key = key[self._order]

    def _cell_of(self, points: Floats) -> Indices:
        return np.asarray(np.floor((points - self._corner) / self._cell), dtype=np.int64)

    def within(self, places: ArrayLike, radius: float) -> tuple[Indices, Indices]:
        """All pairs of a place and a point that lie no farther apart than the radius.

        Parameters
        ----------
        places : array_like of float, shape (m, 2)
            Rows (x, y).
        radius : float
            Largest distance.

        Returns
        -------
        tuple of two ndarray of int64, shape (k,)
            Index of the place and of the point, ascending by place and, at one place, by point.
        """
        centres = np.asarray(places, dtype=np.float64).reshape(-1, 2)
        place, start, stop = self._runs(centres, radius)
        count = stop - start
        at = np.repeat(start - (np.cumsum(count) - count), count) + np.arange(count.sum())
        place, point = np.repeat(place, count), self._order[at]
        apart = self._points[point] - centres[place]
        near = apart[:, 0] ** 2 + apart[:, 1] ** 2 <= radius * radius
        place, point = place[near], point[near]
        ascending = np.lexsort((point, place))
        return place[ascending], point[ascending]

    def _runs(self, centres: Floats, radius: float) -> tuple[Indices, Indices, Indices]:
        """For each place and each row of cells that its circle may meet: the run of sorted points there."""
        low = np.maximum(self._cell_of(centres - radius), 0)
        high = np.minimum(self._cell_of(centres + radius), [self._columns - 1, self._rows - 1])
        meets = np.flatnonzero((low <= high).all(axis=1))
        low, high = low[meets], high[meets]
        rows = high[:, 1] - low[:, 1] + 1
        place = np.repeat(np.arange(len(meets)), rows)
        row = low[place, 1] + np.arange(len(place)) - np.repeat(np.cumsum(rows) - rows, rows)
        start = np.searchsorted(self._key, row * self._columns + low[place, 0], "left")
        stop = np.searchsorted(self._key, row * self._columns + high[place, 0], "right")
        return meets[place], start, stop

    def any_within(self, places: ArrayLike, radius: float) -> NDArray[np.bool_]:
        """Whether any point lies no farther from each place than the radius; shape (m,)."""
        centres = np.asarray(places, dtype=np.float64).reshape(-1, 2)
        found = np.zeros(len(centres), bool)
        found[self.within(centres, radius)[0]] = True
        return found
