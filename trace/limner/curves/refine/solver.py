"""Solves the damped normal equations of many paths.

Method: a handle belongs to one segment only and is eliminated there (Schur's complement). What is left are
the place and the direction of each node. The paths are solved side by side as dense systems of like size;
very long ones by a banded solver, their nodes in an order in which those joined by a segment are at most two
places apart.

Limits: a node has one direction unless it is an end of an open path, where it has one segment.

A banded solver (``scipy.linalg``) would do for all; importing it takes an eighth of a second, more than all
steps of a drawing together.
"""

from dataclasses import dataclass

import numpy as np

from limner.curves.refine.paths import Nodes
from limner.model.arrays import Flags, Floats, Ints

__all__ = ["System"]


# Sizes of the dense systems, padded where a path has fewer unknowns: of open paths of one segment, two, and
# so on. Beyond the last, banded solving takes less time, its import included.
DENSE = (2, 5, 8, 14, 26, 50, 98, 194)
# Unknowns of a node, apart from its handles, and how far apart those joined by a segment are at most.
EACH = 3
BAND = 3 * EACH

# The unknowns of a segment: place and direction of its start and its end, and the handles of both.
_NODE = np.array([0, 1, 2, 4, 5, 6])
_HANDLE = np.array([3, 7])


@dataclass(frozen=True, slots=True, eq=False)
class System:
    """Where the segments' equations go among those of their paths; the same for every step.

    Parameters
    ----------
    nodes : Nodes
    of_node : ndarray of int, shape (m,)
        The path of each node.
    live : ndarray of bool, shape (s, 8)
        Which unknowns of each segment are free.
    unknown : ndarray of int, shape (m, 3)
        Number of each node's unknowns, -1 where they are given.
    pairs, places : ndarray of int
        From the entries of the segments' matrices, shape (s, 6, 6), to those of the systems.
    diagonal : ndarray of int
        Where the unknowns' own entries are.
    dense : list of (int, int, int)
        Size, number and first unknown of the systems that lie next to each other.
    banded : int
        The first unknown of the banded system.
    """

    nodes: Nodes
    of_node: Ints
    live: Flags
    unknown: Ints
    pairs: Ints
    places: Ints
    diagonal: Ints
    dense: list[tuple[int, int, int]]
    banded: int
    total: int

    @staticmethod
    def of(nodes: Nodes) -> "System":
        """The system of some paths."""
        of_node = np.zeros(len(nodes.place), dtype=np.intp)
        of_node[nodes.start], of_node[nodes.end] = nodes.path, nodes.path
        live = _live(nodes)
        ends = np.stack([nodes.start, nodes.end], axis=1)
        free = np.zeros((len(nodes.place), EACH), bool)
        for side in (0, 1):
            free[ends[:, side]] |= live[:, 4 * side : 4 * side + EACH]
        number = np.bincount(of_node, free.sum(axis=1)).astype(np.intp)
        size = np.array([*DENSE, 0])[np.searchsorted(DENSE, number)]
        size = np.where(size > 0, size, number)
        banded = size > DENSE[-1]
        # Paths by size; within a path, its unknowns node by node.
        order = np.lexsort((np.arange(len(size)), size, banded))
        first = np.empty(len(size), dtype=np.intp)
        first[order] = np.cumsum(size[order]) - size[order]
        # Where the square, or the band, of each path begins.
        area = np.where(banded, 0, size * size)
        corner = np.empty(len(size), dtype=np.intp)
        corner[order] = np.cumsum(area[order]) - area[order]
        unknown = _numbered(nodes, free, of_node, first, banded)
        dense = []
        for each in np.unique(size[~banded]):
            mine = order[size[order] == each]
            dense.append((int(each), len(mine), int(first[mine[0]])))
        begin = int(size[~banded].sum())
        total = int(size.sum())
        mine = np.concatenate([unknown[nodes.start], unknown[nodes.end]], axis=1)
        rows, columns = np.broadcast_arrays(mine[:, :, None], mine[:, None, :])
        alive = live[:, _NODE]
        wanted = alive[:, :, None] & alive[:, None, :]
        wanted &= ~banded[nodes.path][:, None, None] | (rows >= columns)
        pairs = np.flatnonzero(wanted)
        row, column = rows.ravel()[pairs], columns.ravel()[pairs]
        path = np.repeat(nodes.path, len(_NODE) ** 2)[pairs]
        places = np.where(
            banded[path],
            area.sum() + (row - column) * (total - begin) + column - begin,
            corner[path] + (row - first[path]) * size[path] + column - first[path],
        )
        owner = np.repeat(order, size[order])
        at = np.arange(total)
        diagonal = np.where(
            banded[owner], area.sum() + at - begin, corner[owner] + (at - first[owner]) * (size[owner] + 1)
        )
        return System(nodes, of_node, live, unknown, pairs, places, diagonal, dense, begin, total)

    def solve(self, matrix: Floats, right: Floats, damping: Floats) -> Floats:
        """Changes of all nodes, shape (m, 6): place, direction and handle before, direction and handle after.

        Parameters
        ----------
        matrix, right : ndarray, shapes (s, 8, 8), (s, 8)
            Normal equations of the segments.
        damping : ndarray, shape (paths,)
            What is added to each unknown's own entries, as a share of them.
        """
        live = self.live
        matrix = matrix * (live[:, :, None] & live[:, None, :])
        right = right * live
        every = np.arange(8)
        matrix[:, every, every] *= 1.0 + damping[self.nodes.path][:, None]
        inverse = _inverse(matrix[:, _HANDLE[:, None], _HANDLE])
        across = matrix[:, _HANDLE[:, None], _NODE]
        share = inverse @ across
        rest = matrix[:, _NODE[:, None], _NODE] - across.transpose(0, 2, 1) @ share
        own = inverse @ right[:, _HANDLE, None]
        gradient = right[:, _NODE] - (across.transpose(0, 2, 1) @ own)[:, :, 0]
        change = self._changes(rest, gradient)
        nodes = self.nodes
        ends = np.concatenate([change[nodes.start], change[nodes.end]], axis=1)
        handles = -(own + share @ ends[:, :, None])[:, :, 0]
        out = np.zeros((len(change), 6))
        out[:, :2], out[:, 2], out[:, 4] = change[:, :2], change[:, 2], change[:, 2]
        out[nodes.start, 5], out[nodes.end, 3] = handles[:, 0], handles[:, 1]
        return out

    def _changes(self, rest: Floats, gradient: Floats) -> Floats:
        """Changes of places and directions, shape (m, 3)."""
        size = int(self.diagonal.max(initial=-1)) + 1
        width = self.total - self.banded
        size += width * (BAND - 1)
        flat = np.bincount(self.places, rest.ravel()[self.pairs], size)
        own = flat[self.diagonal]
        flat[self.diagonal] = np.where(own > 0.0, own, 1.0)
        nodes = self.nodes
        mine = np.concatenate([self.unknown[nodes.start], self.unknown[nodes.end]], axis=1)
        known = np.where(self.live[:, _NODE], mine, self.total)
        wanted = -np.bincount(known.ravel(), gradient.ravel(), self.total + 1)
        found = np.zeros(self.total + 1)
        corner = 0
        for each, count, first in self.dense:
            square = flat[corner : corner + count * each * each].reshape(count, each, each)
            corner += count * each * each
            some = wanted[first : first + count * each].reshape(count, each, 1)
            found[first : first + count * each] = np.linalg.solve(square, some).ravel()
        if width:
            from scipy.linalg.lapack import dpbsv

            band = flat[corner : corner + BAND * width].reshape(BAND, width)
            _, part, failed = dpbsv(band, wanted[self.banded : -1, None], lower=1)
            found[self.banded : -1] = 0.0 if failed else np.asarray(part)[:, 0]
        return np.asarray(found[self.unknown])


def _live(nodes: Nodes) -> Flags:
    """Which of each segment's unknowns are free."""
    live = np.ones((len(nodes.start), 8), bool)
    for side, node, before in ((0, nodes.start, 1), (4, nodes.end, 0)):
        live[:, side : side + 2] = ~nodes.fixed[node][:, None]
        # A straight line has no handles; it has a say in the direction of a smooth node.
        live[:, side + 2] = ~nodes.held[node, before] & (~nodes.straight | nodes.smooth[node])
        live[:, side + 3] = ~nodes.straight
    return live


def _numbered(nodes: Nodes, free: Flags, of_node: Ints, first: Ints, banded: Flags) -> Ints:
    """Numbers of the nodes' unknowns, path by path; -1 where they are given."""
    order = np.argsort(np.where(banded[of_node], _fold(nodes), np.arange(len(of_node))), kind="stable")
    count = free[order].ravel().cumsum().reshape(-1, EACH)
    before = np.bincount(of_node, free.sum(axis=1))
    number = np.empty(free.shape, dtype=np.intp)
    number[order] = count - 1
    number += (first - (np.cumsum(before) - before).astype(np.intp))[of_node][:, None]
    return np.where(free, number, -1)


def _fold(nodes: Nodes) -> Ints:
    """Order of the nodes in which those joined by a segment are at most two places apart."""
    rank = np.arange(len(nodes.place))
    for k in np.flatnonzero(nodes.end < nodes.start):
        low, high = int(nodes.end[k]), int(nodes.start[k])
        size = high - low + 1
        half = np.arange(size)
        rank[low : high + 1] = low + np.where(half < (size + 1) // 2, 2 * half, 2 * (size - 1 - half) + 1)
    return rank


def _inverse(matrix: Floats) -> Floats:
    """Inverses of symmetric 2 x 2 matrices, shape (s, 2, 2); an unknown without a say keeps its value."""
    a, b, d = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 1, 1]
    a, d = np.where(a > 0.0, a, 1.0), np.where(d > 0.0, d, 1.0)
    scale = 1.0 / (a * d - b * b)
    return np.stack([d * scale, -b * scale, -b * scale, a * scale], axis=1).reshape(-1, 2, 2)
