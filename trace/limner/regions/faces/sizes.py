"""Lengths and sizes on the planar map."""

from collections.abc import Sequence

import numpy as np

from limner.model.arrays import Floats
from limner.model.regionmap import Edge
from limner.regions.faces.walk import OUTSIDE, Faces

__all__ = ["edge_lengths", "shown_sizes", "shown_spans"]


def edge_lengths(edges: Sequence[Edge]) -> Floats:
    """Length of every edge in millimetres, shape (edges,)."""
    if not edges:
        return np.zeros(0)
    counts = np.array([len(edge.points) for edge in edges])
    step = np.zeros(int(counts.sum()))
    step[1:] = np.hypot(*np.diff(np.concatenate([edge.points for edge in edges]), axis=0).T)
    starts = np.cumsum(counts) - counts
    step[starts] = 0.0
    return np.asarray(np.add.reduceat(step, starts))


def shown_sizes(edges: Sequence[Edge], faces: Faces, line_width_mm: float) -> Floats:
    """Size of every face between its lines, in square millimetres, shape (faces,).

    The line covers half its width inside of the centreline; Steiner's formula for what remains is exact
    for a disc and nearly so for convex shapes: A - P w / 2 + pi w^2 / 4.
    """
    shown = np.array([face.visible for face in faces.faces])
    strip = edge_lengths(edges) * np.array([float(edge.width_mm.mean()) for edge in edges]) / 2.0
    for column in (0, 1):
        mine = faces.active & (faces.side[:, column] != OUTSIDE)
        np.subtract.at(shown, faces.side[mine, column], strip[mine])
    return np.asarray(shown + np.pi / 4.0 * line_width_mm**2)


def shown_spans(edges: Sequence[Edge], faces: Faces, line_width_mm: float) -> Floats:
    """Width and length of every face between its lines, in millimetres, shape (faces, 2).

    They are the sides of the rectangle of the same size and outline (Steiner's formula again: the outline
    between the lines is shorter by pi w for a line all around); of the square of the same size where the
    outline is too short for a rectangle.
    """
    lengths = edge_lengths(edges)
    around = np.zeros(len(faces.faces))
    for column in (0, 1):
        mine = faces.active & (faces.side[:, column] != OUTSIDE)
        np.add.at(around, faces.side[mine, column], lengths[mine])
    half = np.maximum(around - np.pi * line_width_mm, 0.0) / 2.0
    size = np.maximum(shown_sizes(edges, faces, line_width_mm), 0.0)
    apart = np.sqrt(np.maximum(half**2 - 4.0 * size, 0.0))
    width = np.where(apart > 0.0, (half - apart) / 2.0, np.sqrt(size))
    return np.stack([width, np.where(apart > 0.0, (half + apart) / 2.0, width)], axis=1)
