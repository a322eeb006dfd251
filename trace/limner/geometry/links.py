"""Connected pieces of linked points."""

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from limner.model.arrays import Indices

__all__ = ["connected_pieces"]


def connected_pieces(links: Indices, count: int) -> tuple[int, Indices]:
    """Label the pieces that linked points form.

    Parameters
    ----------
    links : ndarray of int64, shape (m, 2)
        Pairs of linked points, in any number and order.
    count : int
        Number of points.

    Returns
    -------
    int
        Number of pieces; a point without links is one.
    ndarray of int64, shape (count,)
        Piece of each point, counted in the order of the pieces' lowest points.
    """
    if count == 0:
        return 0, np.zeros(0, np.int64)
    ends = links[:, 0], links[:, 1]
    graph = coo_array((np.ones(len(links)), ends), shape=(count, count))
    pieces, label = connected_components(graph, directed=False)
    return int(pieces), label.astype(np.int64)
