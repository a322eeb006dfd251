"""Merge faces: those that are too small into their neighbours, and any that are to be one.

Method: disjoint sets of faces; the edges within a set are taken out and the faces walked anew.
"""

import numpy as np
from numpy.typing import NDArray

from limner.model.regionmap import LineGraph
from limner.regions.measure import edge_lengths, shown_sizes
from limner.regions.planar import OUTSIDE, Faces, find_faces

__all__ = ["Union", "fold_small", "merge_faces"]

# Adjoining small areas are a field from this many times the smallest size on.
_FIELD_SMALLEST = 8.0


class Union:
    """Disjoint sets of faces; the one after the last face stands for the outside."""

    def __init__(self, count: int) -> None:
        self._root = list(range(count))

    def find(self, item: int) -> int:
        """The set's representative: its highest member."""
        while self._root[item] != item:
            self._root[item] = self._root[self._root[item]]
            item = self._root[item]
        return item

    def join(self, one: int, other: int) -> None:
        """Make two sets one."""
        low, high = sorted((self.find(one), self.find(other)))
        self._root[low] = high


def fold_small(graph: LineGraph, faces: Faces, smallest_mm2: float) -> Faces:
    """Give areas that are too small to the neighbour with which they share the longest border.

    Adjoining small ones go together. A field of them that lies at the outline, such as scales or hatching, is
    an area of its own rather than part of the page.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Faces of the graph.
    smallest_mm2 : float
        Size below which an area is too small, as it shows between its lines.

    Returns
    -------
    Faces
    """
    if not faces.faces:
        return faces
    small = np.append(shown_sizes(graph.edges, faces, graph.line_width_mm) < smallest_mm2, False)
    if not small.any():
        return faces
    outside = len(faces.faces)
    side = np.where(faces.side == OUTSIDE, outside, faces.side)
    union = Union(outside + 1)
    for left, right in side[faces.active & small[side].all(axis=1)].tolist():
        union.join(left, right)
    sizes: dict[int, float] = {}
    for face in np.flatnonzero(small).tolist():
        sizes[union.find(face)] = sizes.get(union.find(face), 0.0) + faces.faces[face].area
    for cluster, border in sorted(_borders(graph, faces.active, side, small, union).items()):
        neighbour = max(sorted(border), key=lambda face: border[face])
        if neighbour != outside or sizes[cluster] < _FIELD_SMALLEST * smallest_mm2:
            union.join(cluster, neighbour)
    return merge_faces(graph, faces, union)


def _borders(
    graph: LineGraph,
    active: NDArray[np.bool_],
    side: NDArray[np.int64],
    small: NDArray[np.bool_],
    union: Union,
) -> dict[int, dict[int, float]]:
    """For each cluster of small faces the length that it shares with each neighbour that is not small."""
    lengths = edge_lengths(graph.edges)
    borders: dict[int, dict[int, float]] = {}
    for edge in np.flatnonzero(active & (small[side].sum(axis=1) == 1)).tolist():
        mine, other = sorted(side[edge].tolist(), key=lambda face: not small[face])
        border = borders.setdefault(union.find(mine), {})
        border[other] = border.get(other, 0.0) + float(lengths[edge])
    return borders


def merge_faces(graph: LineGraph, faces: Faces, union: Union) -> Faces:
    """Take out the edges between faces of one set."""
    outside = len(faces.faces)
    root = np.array([union.find(face) for face in range(outside + 1)])
    side = np.where(faces.side == OUTSIDE, outside, faces.side)
    return find_faces(graph.edges, faces.active & (root[side[:, 0]] != root[side[:, 1]]))
