"""Put linked points into walking order.

Method: the points of a skeleton or of an iso-line are known as unordered links between neighbours. Every
connected piece is then a path or a loop; a loop is cut open at its lowest point. How many steps a point
lies from the start of its path is found for all points at once (list ranking with random mates: from posts
scattered along all paths walkers go forwards, each to the next post, and the few posts are then ranked by
pointer doubling; Wyllie 1979, "The complexity of parallel computations", from memory: each knows how far
back it looks and what it sees there, and looks twice as far in every round). There is no loop over points in
Python, and every point is visited once each way.

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
    # Half as wide as usual: the rounds below take as long as memory does.
    steps = np.arange(len(tail), dtype=np.int32)
    leaving = np.bincount(tail, steps, len(start)).astype(np.int32)
    degree = np.bincount(tail, minlength=len(start))
    # The step before is the other one that leaves from this step's tail, backwards.
    back = np.where(degree[tail] == 2, (leaving[tail] - steps) ^ 1, -1)
    owner, beyond, posts = _walked(back)
    first, far = _doubled(
        owner[np.maximum(back[posts], 0)], np.where(back[posts] < 0, 0, beyond[back[posts]] + 1)
    )
    rank = np.zeros(len(start), np.int64)
    from_start = tail[posts[first[owner]]] == start[head]
    rank[head[from_start]] = (far[owner] + beyond)[from_start] + 1
    return rank


def _walked(back: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int32], Indices]:
    """Walk lists forwards from posts that are scattered along them, each up to the next, all at once.

    Parameters
    ----------
    back : ndarray of int32, shape (n,)
        The step before each; -1 at the beginning of a list.

    Returns
    -------
    owner : ndarray of int32, shape (n,)
        The last post before each step, or at it.
    beyond : ndarray of int32, shape (n,)
        How many steps it lies beyond that post.
    posts : ndarray of int64, shape (k,)
        Their steps; the first of each list is one.
    """
    count = len(back)
    ahead = np.full(count, -1, np.int32)
    follows = np.flatnonzero(back >= 0)
    ahead[back[follows]] = follows
    # Scattered by multiplication (Knuth's constant): at even intervals they could lie all beside one another.
    scattered = (np.arange(count, dtype=np.uint32) * np.uint32(2654435761)) >> np.uint32(28) == 0
    posts = np.flatnonzero(scattered | (back < 0))
    owner, beyond = np.full(count, -1, np.int32), np.zeros(count, np.int32)
    owner[posts] = np.arange(len(posts))
    walker, at = np.arange(len(posts), dtype=np.int32), posts.astype(np.int32)
    steps = 0
    while len(at):
        steps += 1
        at = ahead[at]
        # At the end of a list there is no place, at the next post another begins.
        goes_on = (at >= 0) & (owner[at] < 0)
        walker, at = walker[goes_on], at[goes_on]
        owner[at] = walker
        beyond[at] = steps
    return owner, beyond, posts


def _doubled(
    before: NDArray[np.int32], steps: NDArray[np.int32]
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Beginning of each list, and how many steps lie between, by pointer doubling.

    Parameters
    ----------
    before : ndarray of int32, shape (k,)
        The one before each; anything at the beginning.
    steps : ndarray of int32, shape (k,)
        How many steps it lies back; 0 at the beginning.

    Returns
    -------
    first, far : ndarray of int32, shape (k,)
    """
    first = np.where(steps > 0, before, np.arange(len(before), dtype=np.int32))
    far = steps.copy()
    going = np.flatnonzero(steps > 0)
    while len(going):
        at = first[going]
        onward = far[at]
        moved = onward > 0
        going, at = going[moved], at[moved]
        ahead, gained = first[at], onward[moved]
        first[going] = ahead
        far[going] += gained
    return first, far
