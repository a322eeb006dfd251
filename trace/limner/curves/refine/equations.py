"""Normal equations of the segments: how the distances change with nodes, directions and handles.

Method: every change of a distance is a polynomial in the foot's parameter times a component of its normal.
So the sums over the samples are needed only for the powers of the parameter ("moments"); the equations
follow from them by one small matrix per segment. A weak pull on the handles decides what the data leave
open, and heavy equations keep the directions at the smooth ends of straight lines along these.

Limits: the parameters of the feet must lie in 0..1.
"""

import numpy as np

from limner.curves.refine.paths import Nodes, lengths
from limner.model.arrays import Floats, Ints

__all__ = ["normal_equations"]


# Weight of the pull on handles towards a third of the chord, against that of the data: it decides only
# what the data leave open.
PULL = 1e-8
# Where the pull leads, in chords: a little above a third, as curves are longer than their chords.
PULLED_TO = 1.0 / 2.7
# Weight of a straight line's say in the direction of its smooth ends, against that of its data.
LINE_WEIGHT = 100.0

# Coefficients, by powers of the parameter, of the weights of start, first handle, second handle and end:
# a node's place moves its handle along. The second table is that of straight lines.
_CURVED = np.array([[1.0, 0, -3, 2], [0, 3, -6, 3], [0, 0, 3, -3], [0, 0, 3, -2]])
_STRAIGHT = np.array([[1.0, -1, 0, 0], [0, 0, 0, 0], [0, 0, 0, 0], [0, 1, 0, 0]])
# Which of the weights each unknown has.
_KIND = np.array([0, 0, 1, 1, 3, 3, 2, 2])
_POWERS = np.arange(4)
# Which moment stands where: for powers i, j of the parameter and components a, b of the normal.
_MOMENT = (
    3 * (_POWERS[:, None, None, None] + _POWERS[:, None])
    + np.arange(2)[:, None, None]
    + np.arange(2)
).reshape(8, 8)  # fmt: skip


def normal_equations(
    nodes: Nodes, curves: Floats, segment: Ints, t: Floats, normal_x: Floats, normal_y: Floats,
    distance: Floats, weights: Floats,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Normal matrices and right-hand sides of all segments.

    Parameters
    ----------
    nodes : Nodes
    curves : ndarray, shape (s, 4, 2)
        Their control points.
    segment, t, normal_x, normal_y, distance, weights : ndarray, shape (n,)
        Foot of each sample, unit direction and signed distance to it, and how much it counts.

    Returns
    -------
    matrix, right : ndarray, shapes (s, 8, 8), (s, 8)
        Unknowns: x, y, direction and handle of the start, and those of the end.
    """
    square, mixed = _moments(len(curves), segment, t, normal_x, normal_y, distance, weights)
    change = _changes(nodes)
    matrix = change @ square @ change.transpose(0, 2, 1)
    right = (change @ mixed[:, :, None])[:, :, 0]
    _add_pull(nodes, curves, matrix, right)
    _add_lines(nodes, curves, matrix, right)
    return matrix, right


def _moments(
    count: int, segment: Ints, t: Floats, nx: Floats, ny: Floats, distance: Floats, weights: Floats
) -> tuple[Floats, Floats]:
    """Weighted sums of products of the eight basic changes, and of these with the distances."""
    if (segment[1:] < segment[:-1]).any():
        order = np.argsort(segment, kind="stable")
        segment, t, nx, ny = segment[order], t[order], nx[order], ny[order]
        distance, weights = distance[order], weights[order]
    rows = np.empty((29, len(t)))
    wx, wy = weights * nx, weights * ny
    np.multiply(wx, nx, out=rows[0])
    np.multiply(wx, ny, out=rows[1])
    np.multiply(wy, ny, out=rows[2])
    for k in range(3, 21, 3):
        np.multiply(rows[k - 3 : k], t, out=rows[k : k + 3])
    np.multiply(wx, distance, out=rows[21])
    np.multiply(wy, distance, out=rows[22])
    for k in range(23, 29, 2):
        np.multiply(rows[k - 2 : k], t, out=rows[k : k + 2])
    first = np.flatnonzero(np.concatenate([[True], segment[1:] != segment[:-1]]))
    sums = np.zeros((count, 29))
    sums[segment[first]] = np.add.reduceat(rows, first, axis=1).T
    return sums[:, _MOMENT], sums[:, 21:]


def _changes(nodes: Nodes) -> Floats:
    """How the distances change with each unknown, by the eight basic changes, shape (s, 8, 8)."""
    out, into = nodes.angle[nodes.start, 1], nodes.angle[nodes.end, 0]
    h_out, h_into = nodes.handle[nodes.start, 1], nodes.handle[nodes.end, 0]
    cos_a, sin_a, cos_b, sin_b = np.cos(out), np.sin(out), -np.cos(into), -np.sin(into)
    axis = np.zeros((len(out), 8, 2))
    axis[:, [0, 4], 0] = axis[:, [1, 5], 1] = 1.0
    axis[:, 2, 0], axis[:, 2, 1], axis[:, 3, 0], axis[:, 3, 1] = -h_out * sin_a, h_out * cos_a, cos_a, sin_a
    axis[:, 6, 0], axis[:, 6, 1], axis[:, 7, 0], axis[:, 7, 1] = -h_into * sin_b, h_into * cos_b, cos_b, sin_b
    table = np.where(nodes.straight[:, None, None], _STRAIGHT, _CURVED)
    return np.asarray((table[:, _KIND, :, None] * axis[:, :, None, :]).reshape(-1, 8, 8))


def _add_pull(nodes: Nodes, curves: Floats, matrix: Floats, right: Floats) -> None:
    chord = lengths(curves[:, 3] - curves[:, 0])
    weight = PULL * (matrix[:, 0, 0] + matrix[:, 1, 1] + matrix[:, 4, 4] + matrix[:, 5, 5])
    weight[nodes.straight] = 0.0
    for column, handle in ((3, nodes.handle[nodes.start, 1]), (7, nodes.handle[nodes.end, 0])):
        matrix[:, column, column] += weight
        right[:, column] += weight * (handle - PULLED_TO * chord)


def _add_lines(nodes: Nodes, curves: Floats, matrix: Floats, right: Floats) -> None:
    """Make the directions at smooth ends of straight lines follow the lines."""
    which = np.flatnonzero(nodes.straight)
    if not len(which):
        return
    chord = curves[which, 3] - curves[which, 0]
    length = np.maximum(lengths(chord), 1e-300)
    along = np.arctan2(chord[:, 1], chord[:, 0])
    # Divided twice: the square of a length may be too small for a number.
    across = np.stack([-chord[:, 1], chord[:, 0]], axis=1) / length[:, None] / length[:, None]
    weight = LINE_WEIGHT * (matrix[which, 0, 0] + matrix[which, 1, 1] + 1e-300) * length**2
    for column, end, side in ((2, nodes.start[which], 1), (6, nodes.end[which], 0)):
        off = nodes.angle[end, side] - along
        off = np.arctan2(np.sin(off), np.cos(off))
        row = np.zeros((len(which), 8))
        row[:, 0:2], row[:, 4:6], row[:, column] = across, -across, 1.0
        row *= (np.sqrt(weight) * nodes.smooth[end])[:, None]
        matrix[which] += row[:, :, None] * row[:, None, :]
        right[which] += row * (np.sqrt(weight) * off)[:, None]
