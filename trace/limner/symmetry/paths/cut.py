"""Closed paths cut exactly at an axis.

Method: the distance of a cubic from a line is itself a cubic in Bernstein form, whose coefficients are the
distances of the control points. Its roots are the crossings; the path is split there by de Casteljau's
algorithm. Ends that already lie on the axis are factored out of the polynomial first, so that a node on
the axis is never cut off again as a sliver.

Limits: a root within `ROOT_MARGIN` (in the parameter) of a segment's end counts as that end.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.geometry.cubics import split_segment
from limner.model.arrays import Floats
from limner.model.geometry import CubicPath
from limner.symmetry.frame import Frame

__all__ = ["Piece", "cut_path"]


# A node this near to the axis is meant to lie on it, and is moved there: a hundredth of a millimetre is
# below what a cutter or the eye resolves, and ten times the rounding of the coordinates written.
SNAP_MM = 0.01

# A node that is nearer than this is on the axis as it stands: moving it would only change its last bits.
ON_AXIS_MM = 1e-11

# A piece that never gets farther from the axis than this is a sliver, with no visible width.
SLIVER_MM = 0.02

ROOT_MARGIN = 1e-9

_BERNSTEIN_TO_POWER = {
    1: np.array([[1.0, 0], [-1, 1]]),
    2: np.array([[1.0, 0, 0], [-2, 2, 0], [1, -2, 1]]),
    3: np.array([[1.0, 0, 0, 0], [-3, 3, 0, 0], [3, -6, 3, 0], [-1, 3, -3, 1]]),
}


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A part of a path on the kept side, from a point on the axis to a point on the axis.

    Parameters
    ----------
    segments : ndarray of float64, shape (n, 4, 2)
        Control points, millimetres.
    straight, smooth : ndarray of bool, shape (n,)
        As in `CubicPath`; `smooth[0]` is False.
    """

    segments: Floats
    straight: NDArray[np.bool_]
    smooth: NDArray[np.bool_]


def cut_path(path: CubicPath, frame: Frame) -> tuple[CubicPath | None, list[Piece]]:
    """Cut a closed path at the axis.

    Parameters
    ----------
    path : CubicPath
        A closed path.
    frame : Frame
        The axis and its kept side.

    Returns
    -------
    whole : CubicPath or None
        The path itself where all of it lies on the kept side (it may touch the axis).
    pieces : list of Piece
        Otherwise its parts on the kept side; empty where there is none.
    """
    segments = _snapped(path.segments, frame)
    distances = frame.distance(segments)
    if (distances >= -ON_AXIS_MM).all() and not _lies_on_axis(distances).any():
        if distances.max() <= SLIVER_MM:
            return None, []
        return CubicPath(segments, path.straight, path.smooth, closed=True), []
    parts, signs = _split(segments, path, frame)
    if (signs > 0).all():
        return CubicPath(segments, path.straight, path.smooth, closed=True), []
    return None, _collect(parts, signs, frame)


def _snapped(segments: Floats, frame: Frame) -> Floats:
    """Nodes near the axis moved onto it, their handles with them."""
    distances = np.abs(frame.distance(segments[:, 0]))
    near = (distances < SNAP_MM) & (distances > ON_AXIS_MM)
    if not near.any():
        return segments
    shift = np.where(near[:, None], frame.foot(segments[:, 0]) - segments[:, 0], 0.0)
    moved = segments.copy()
    moved[:, :2] += shift[:, None]
    moved[:, 2:] += np.roll(shift, -1, axis=0)[:, None]
    # The last bits of the sums may differ from the node's: take the node.
    moved[:, 3] = np.roll(moved[:, 0], -1, axis=0)
    return moved


def _lies_on_axis(distances: Floats) -> NDArray[np.bool_]:
    return np.asarray(np.abs(distances).max(axis=1) < SNAP_MM)


def _split(
    segments: Floats, path: CubicPath, frame: Frame
) -> tuple[list[tuple[Floats, bool, bool]], NDArray[np.int8]]:
    """All segments, cut at the axis: (control points, straight, smooth at the start), and their sides."""
    distances = frame.distance(segments)
    on_axis = _lies_on_axis(distances)
    parts: list[tuple[Floats, bool, bool]] = []
    signs: list[int] = []
    for index, segment in enumerate(segments):
        row = np.where(np.abs(distances[index]) <= ON_AXIS_MM, 0.0, distances[index])
        cuts, sides = ([], [0]) if on_axis[index] else _crossings(row)
        straight, smooth = bool(path.straight[index]), bool(path.smooth[index])
        rest, done = segment, 0.0
        for t in cuts:
            head, rest = split_segment(rest, (t - done) / (1.0 - done))
            crossing = frame.foot(head[3])
            head[3] = rest[0] = crossing
            parts.append((head, straight, smooth))
            smooth, done = True, t
        parts.append((rest, straight, smooth))
        signs.extend(sides)
    return parts, np.array(signs, np.int8)


def _crossings(row: Floats) -> tuple[list[float], list[int]]:
    """Parameters where a segment changes sides, and the side of each stretch between them.

    `row` holds the distances of the four control points, exactly 0 where an end lies on the axis.
    """
    if (row >= 0).all() or (row <= 0).all():
        return [], [1 if row.max() > 0 else -1]
    roots = [0.0, *_inner_roots(row), 1.0]
    middles = [(a + b) / 2 for a, b in itertools.pairwise(roots)]
    sides = [1 if _value(row, t) > 0 else -1 for t in middles]
    cuts = [roots[i + 1] for i in range(len(sides) - 1) if sides[i] != sides[i + 1]]
    kept = [sides[0]] + [b for a, b in itertools.pairwise(sides) if a != b]
    return cuts, kept


def _value(row: Floats, t: float) -> float:
    s = 1.0 - t
    return float(row[0] * s**3 + 3 * row[1] * s * s * t + 3 * row[2] * s * t * t + row[3] * t**3)


def _inner_roots(row: Floats) -> list[float]:
    """Roots strictly inside (0, 1) of a cubic in Bernstein form; roots at the ends are factored out."""
    weighted = row * np.array([1.0, 3.0, 3.0, 1.0])
    while len(weighted) > 2 and weighted[0] == 0:
        weighted = weighted[1:]
    while len(weighted) > 2 and weighted[-1] == 0:
        weighted = weighted[:-1]
    degree = len(weighted) - 1
    binomials = {1: [1.0, 1.0], 2: [1.0, 2.0, 1.0], 3: [1.0, 3.0, 3.0, 1.0]}[degree]
    power = _BERNSTEIN_TO_POWER[degree] @ (weighted / np.array(binomials))
    roots = np.polynomial.polynomial.polyroots(np.trim_zeros(power, "b"))
    real = roots[np.abs(roots.imag) < ROOT_MARGIN].real if np.iscomplexobj(roots) else roots
    inside = np.sort(real[(real > ROOT_MARGIN) & (real < 1 - ROOT_MARGIN)])
    return [float(t) for t in inside]


def _collect(parts: list[tuple[Floats, bool, bool]], signs: NDArray[np.int8], frame: Frame) -> list[Piece]:
    """Runs of parts on the kept side, each from the axis to the axis."""
    if not (signs > 0).any():
        return []
    count = len(parts)
    first = next(i for i in range(count) if signs[i] > 0 and signs[i - 1] <= 0)
    order = [(first + i) % count for i in range(count)]
    runs: list[list[int]] = []
    for position, index in enumerate(order):
        if signs[index] <= 0:
            continue
        if position == 0 or signs[order[position - 1]] <= 0:
            runs.append([])
        runs[-1].append(index)
    pieces = [_piece([parts[i] for i in run], frame) for run in runs]
    return [piece for piece in pieces if frame.distance(piece.segments).max() > SLIVER_MM]


def _piece(parts: list[tuple[Floats, bool, bool]], frame: Frame) -> Piece:
    segments = np.stack([part[0] for part in parts])
    for row, handle, node in ((0, 1, 0), (-1, 2, 3)):
        end = segments[row, node].copy()
        if abs(float(frame.distance(end))) > ON_AXIS_MM:
            shift = frame.foot(end) - end
            segments[row, node] = end + shift
            segments[row, handle] += shift
    smooth = np.array([part[2] for part in parts])
    smooth[0] = False
    return Piece(segments, np.array([part[1] for part in parts]), smooth)
