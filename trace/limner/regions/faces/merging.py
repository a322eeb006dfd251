"""Merge faces: those that are too small into their neighbours, and any that are to be one.

Method: faces that are one are linked; the edges between them are taken out and the faces walked anew.
"""

from collections.abc import Sequence

import numpy as np

from limner.geometry.links import connected_pieces
from limner.model.arrays import Flags, Indices
from limner.model.regionmap import Cycle, LineGraph
from limner.regions.faces.sizes import edge_lengths, shown_sizes, shown_spans
from limner.regions.faces.walk import OUTSIDE, Faces, find_faces

__all__ = ["merge_faces", "merge_small_faces", "outlines_of", "sliver_width_mm"]

# Adjoining small areas are a field from this many times the smallest size on.
_FIELD_SMALLEST = 8.0

# Between the two lines of an outline that was gone over twice lies paper that nobody meant as an area: so
# many line widths wide on average at most, and so many times as long. The slimmest areas that were meant in
# the drawings of fixtures/ are 1.3 line widths wide but for one of 0.9; of pencil sketches nearly all that
# were not meant are under 1.2. What is shorter is a shape.
_SLIVER_WIDTHS = 1.25
_SLIVER_LENGTHS = 8.0
# Below this, in line widths, the width is not known: at junctions the lines' halves are counted twice.
_KNOWN_WIDTHS = 0.3
# On a drawing with broad lines they are no wider than this share of the page's diagonal.
_SLIVER_SHARE = 0.005

# A sliver at the outline of the drawing belongs to it rather than to the page where at least this share of
# its border is an area's.
_INNER_SHARE = 0.25


def merge_small_faces(graph: LineGraph, faces: Faces, smallest_mm2: float, sliver_mm: float = 0.0) -> Faces:
    """Give areas that are too small or too slim to the neighbour with which they share the longest border.

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
    sliver_mm : float
        Width below which a long area is too slim, as it shows between its lines.

    Returns
    -------
    Faces
    """
    if not faces.faces:
        return faces
    width, length = shown_spans(graph.edges, faces, graph.line_width_mm).T
    slim = (width > _KNOWN_WIDTHS * graph.line_width_mm) & (width < sliver_mm)
    slim &= length > _SLIVER_LENGTHS * width
    small = shown_sizes(graph.edges, faces, graph.line_width_mm) < smallest_mm2
    small = np.append(small | slim, False)
    if not small.any():
        return faces
    outside = len(faces.faces)
    side = np.where(faces.side == OUTSIDE, outside, faces.side)
    inner = side[faces.active & small[side].all(axis=1)]
    cluster_of = connected_pieces(inner, outside + 1)[1]
    sizes = np.bincount(cluster_of[:-1], small[:-1] * np.array([face.area for face in faces.faces]))
    slivers = set(cluster_of[:-1][slim].tolist())
    links = inner.tolist()
    for cluster, (member, border) in _borders(graph, faces.active, side, small, cluster_of).items():
        neighbour = _receiver(border, outside if cluster in slivers else None)
        if neighbour != outside or sizes[cluster] < _FIELD_SMALLEST * smallest_mm2:
            links.append([member, neighbour])
    return merge_faces(graph, faces, links)


def sliver_width_mm(line_width_mm: float, page_mm: tuple[float, float]) -> float:
    """Width below which a long area is the inside of a line that was drawn twice."""
    return min(_SLIVER_WIDTHS * line_width_mm, _SLIVER_SHARE * float(np.hypot(*page_mm)))


def _receiver(border: dict[int, float], shunned: int | None) -> int:
    """The face that gets a cluster, by the lengths of its borders; the shunned one only where it has most."""
    inner = {face: length for face, length in border.items() if face != shunned}
    if inner and sum(inner.values()) >= _INNER_SHARE * sum(border.values()):
        border = inner
    return max(sorted(border), key=lambda face: border[face])


def _borders(
    graph: LineGraph, active: Flags, side: Indices, small: Flags, cluster_of: Indices
) -> dict[int, tuple[int, dict[int, float]]]:
    """For each cluster of small faces one of them, and the length that it shares with each neighbour."""
    lengths = edge_lengths(graph.edges)
    borders: dict[int, tuple[int, dict[int, float]]] = {}
    for edge in np.flatnonzero(active & (small[side].sum(axis=1) == 1)).tolist():
        mine, other = sorted(side[edge].tolist(), key=lambda face: not small[face])
        _, border = borders.setdefault(int(cluster_of[mine]), (mine, {}))
        border[other] = border.get(other, 0.0) + float(lengths[edge])
    return borders


def merge_faces(graph: LineGraph, faces: Faces, alike: Sequence[Sequence[int]]) -> Faces:
    """Take out the edges between faces that are to be one.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Faces of the graph.
    alike : sequence of pairs of int
        Pairs of faces that are one; the number after the last face stands for the outside.
    """
    outside = len(faces.faces)
    one = connected_pieces(np.array(alike, np.int64).reshape(-1, 2), outside + 1)[1]
    side = np.where(faces.side == OUTSIDE, outside, faces.side)
    return find_faces(graph.edges, faces.active & (one[side[:, 0]] != one[side[:, 1]]))


def outlines_of(graph: LineGraph, faces: Faces, chosen: Flags) -> list[Cycle]:
    """Outer boundaries of what some faces cover together, positive.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Faces of the graph.
    chosen : ndarray of bool, shape (faces + 1,)
        Which faces; the last entry stands for the outside.
    """
    # The outside is number -1, and so the last entry.
    beside = chosen[faces.side]
    merged = find_faces(graph.edges, faces.active & (beside[:, 0] != beside[:, 1]))
    outlines = [face.outline for face in merged.faces]
    return [cycle for cycle in outlines if beside[cycle[0][0], 0 if cycle[0][1] else 1]]
