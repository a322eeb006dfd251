"""Put linked points into walking order.

Method: the points of a skeleton or of an iso-line are known as unordered links between neighbours.
Every connected piece is then a path or a loop. A loop is cut open at its lowest point, the end of each
piece is linked to the start of the next, and a single depth-first walk (compiled, linear in the number
of points) yields all of them in order, without a loop over points in Python.

Limits: each point may have at most two links; branch points are left out by the caller.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, depth_first_order

__all__ = ["Chains", "order_chains"]

Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Chains:
    """Points in walking order, piece by piece.

    Parameters
    ----------
    order : ndarray of int64, shape (n,)
        Indices of the points; each piece is contiguous.
    offsets : ndarray of int64, shape (k + 1,)
        Piece i is ``order[offsets[i]:offsets[i + 1]]``.
    closed : ndarray of bool, shape (k,)
        Which pieces are loops.
    """

    order: Indices
    offsets: Indices
    closed: NDArray[np.bool_]


def order_chains(links: Indices, count: int) -> Chains:
    """Walk all paths and loops.

    Parameters
    ----------
    links : ndarray of int64, shape (m, 2)
        Pairs of linked points, each pair once.
    count : int
        Number of points.

    Returns
    -------
    Chains
        Pieces in the order of their lowest point. A path starts at its end of lower index, a loop at its
        lowest point.
    """
    if count == 0:
        return Chains(np.zeros(0, np.int64), np.zeros(1, np.int64), np.zeros(0, bool))
    degree = np.bincount(links.ravel(), minlength=count)
    pieces, label = connected_components(_graph(links, count), directed=False)
    index = np.arange(count)
    lowest = np.full(pieces, -1)
    lowest[label[::-1]] = index[::-1]
    first, last = lowest.copy(), lowest.copy()
    ends = np.flatnonzero(degree < 2)
    first[label[ends[::-1]]] = ends[::-1]
    last[label[ends]] = ends
    closed = np.ones(pieces, bool)
    closed[label[ends]] = False
    links, last = _cut_loops(links, label, first, last, closed)
    by_lowest = np.argsort(lowest, kind="stable")
    first, last, closed = first[by_lowest], last[by_lowest], closed[by_lowest]
    walk = np.concatenate([links, links[:, ::-1], np.stack([last[:-1], first[1:]], axis=1)])
    graph = csr_array((np.ones(len(walk), np.int8), (walk[:, 0], walk[:, 1])), shape=(count, count))
    order = depth_first_order(graph, int(first[0]), directed=True, return_predecessors=False)
    sizes = np.bincount(label, minlength=pieces)[by_lowest]
    return Chains(order.astype(np.int64), np.concatenate([[0], np.cumsum(sizes)]), closed)


def _graph(links: Indices, count: int) -> csr_array:
    return csr_array((np.ones(len(links), np.int8), (links[:, 0], links[:, 1])), shape=(count, count))


def _cut_loops(
    links: Indices, label: Indices, first: Indices, last: Indices, closed: NDArray[np.bool_]
) -> tuple[Indices, Indices]:
    """Drop one link at the first point of every loop; the point behind it becomes the loop's last."""
    at_first = closed[label[links[:, 0]]] & (
        (links[:, 0] == first[label[links[:, 0]]]) | (links[:, 1] == first[label[links[:, 1]]])
    )
    candidates = np.flatnonzero(at_first)
    piece = label[links[candidates, 0]]
    _, chosen = np.unique(piece, return_index=True)
    cut = candidates[chosen]
    last = last.copy()
    start = first[label[links[cut, 0]]]
    last[label[links[cut, 0]]] = np.where(links[cut, 0] == start, links[cut, 1], links[cut, 0])
    keep = np.ones(len(links), bool)
    keep[cut] = False
    return links[keep], last
