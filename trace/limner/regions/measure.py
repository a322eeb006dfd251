"""Lengths and sizes on the planar map."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from limner.model.regionmap import Edge
from limner.regions.planar import OUTSIDE, Faces

__all__ = ["edge_lengths", "shown_sizes"]

Floats = NDArray[np.float64]


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
