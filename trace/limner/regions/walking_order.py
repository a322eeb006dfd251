"""Put linked points into walking order.

Method: the points of a skeleton are known as unordered links between neighbours. Every connected piece is
then a path or a loop; a loop is cut open at its lowest point. How many steps a point lies from the start of
its path is found for all points at once by pointer doubling (list ranking; Wyllie 1979, "The complexity of
parallel computations", from memory): each step knows how far back it looks and what it sees there, and looks
twice as far in every round.

Limits: each point may have at most two links; branch points are left out by the caller.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.geometry.links import connected_pieces
from limner.model.arrays import Indices

__all__ = ["Chains", "order_chains"]


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
    degree = np.bincount(links.ravel(), minlength=count)
    pieces, label = connected_pieces(links, count)
    first = np.full(pieces, -1)
    first[label[::-1]] = np.arange(count)[::-1]
    ends = np.flatnonzero(degree < 2)
    first[label[ends[::-1]]] = ends[::-1]
    closed = np.ones(pieces, bool)
    closed[label[ends]] = False
    rank = _ranks(_without_cuts(links, label, first, closed), first[label])
    sizes = np.bincount(label, minlength=pieces)
    offsets = np.concatenate([[0], np.cumsum(sizes)])
    order = np.empty(count, np.int64)
    order[offsets[label] + rank] = np.arange(count)
    return Chains(order, offsets, closed)


def _without_cuts(links: Indices, label: Indices, first: Indices, closed: NDArray[np.bool_]) -> Indices:
    """Drop one link at the first point of every loop."""
    piece = label[links[:, 0]]
    candidates = np.flatnonzero(closed[piece] & (links == first[piece][:, None]).any(axis=1))
    _, chosen = np.unique(piece[candidates], return_index=True)
    return np.delete(links, candidates[chosen], axis=0)


def _ranks(links: Indices, start: Indices) -> Indices:
    """How many links lie between each point of a path and the path's start.

    A step is a link taken in one direction; step s and step s ^ 1 are the two of one link.
    """
    tail, head = links.ravel(), links[:, ::-1].ravel()
    steps = np.arange(len(tail))
    leaving = np.bincount(tail, steps, len(start)).astype(np.int64)
    degree = np.bincount(tail, minlength=len(start))
    # The step before is the other one that leaves from this step's tail, backwards; the first is its own.
    back = np.where(degree[tail] == 2, (leaving[tail] - steps) ^ 1, steps)
    far = (back != steps).astype(np.int64)
    while far[back].any():
        far += far[back]
        back = back[back]
    rank = np.zeros(len(start), np.int64)
    from_start = tail[back] == start[head]
    rank[head[from_start]] = far[from_start] + 1
    return rank
