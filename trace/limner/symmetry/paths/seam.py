"""Pieces cut at the axis joined to their own mirror images.

Method: a piece that runs from the axis to the axis is followed by its reflection, walked backwards; the two
share their nodes on the axis bit for bit. The even-odd region of all such loops is the kept half of the
figure together with its mirror image: a ray that leaves the axis at a right angle meets on the kept side
exactly the boundary that it met before.

Where a piece meets the axis near perpendicular its last handle is turned to be exactly perpendicular, which
makes the seam smooth; its handle lengths and the place of its end along the axis are then chosen by least
squares so that the segment strays least from where it was drawn. Straight segments that meet across the axis
become one.

Limits: a piece that arrives more steeply than the seam angle makes a corner, even where a smooth curve of a
larger bend was meant.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.geometry.cubics import evaluate, straight_segments
from limner.model.arrays import Floats
from limner.model.geometry import CubicPath
from limner.symmetry.frame import Frame
from limner.symmetry.paths.cut import Piece

__all__ = ["SEAM_DEG", "Joined", "join_to_reflection", "reflect_path"]


# Lines drawn to end on an axis arrive within this angle of perpendicular where a smooth line is meant.
SEAM_DEG = 25.0

# Nearer to perpendicular than this an arrival is left as it is: turning it would only change last bits.
EXACT_RAD = 1e-7

# A straight segment is turned perpendicular only within this angle; beyond it a ridge is meant.
STRAIGHT_SEAM_DEG = 3.0

# A handle shorter than this has no direction of its own.
NO_HANDLE_MM = 1e-9

# Parameters at which the turned segment is compared with the drawn one.
_SAMPLES = np.linspace(0.0, 1.0, 33)

# Parameters at which the distance between the two is measured.
_DENSE = np.linspace(0.0, 1.0, 65)


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """A closed path across the axis.

    Parameters
    ----------
    path : CubicPath
        The path.
    strayed_mm : float
        How far the seams moved it from what was drawn on the kept side.
    """

    path: CubicPath
    strayed_mm: float


def reflect_path(path: CubicPath, frame: Frame) -> CubicPath:
    """Mirror image of a path, walked backwards so that a closed one keeps its orientation.

    The image of a closed path starts at the image of its first node.
    """
    mirrored = frame.reflect(path.segments)[::-1, ::-1]
    smooth = np.roll(path.smooth[::-1], 1) if path.closed else np.concatenate([[False], path.smooth[:0:-1]])
    return CubicPath(mirrored, path.straight[::-1], smooth, path.closed)


def join_to_reflection(piece: Piece, frame: Frame, seam_deg: float) -> Joined:
    """Close a piece with its own mirror image.

    Parameters
    ----------
    piece : Piece
        Runs from the axis to the axis on the kept side.
    frame : Frame
        The axis.
    seam_deg : float
        Largest angle from perpendicular at which the seam is smooth.

    Returns
    -------
    Joined
        Its path starts on the axis where the piece starts (or, where a straight segment runs across the
        axis there, at the piece's first node after it).
    """
    segments, straight = piece.segments.copy(), piece.straight.copy()
    drawn = segments.copy()
    # The start of the piece is treated as the end of the piece walked backwards.
    start = _arrive(segments[::-1, ::-1], straight[::-1], piece.smooth[1:][::-1], frame, seam_deg)
    end = _arrive(segments, straight, piece.smooth[1:], frame, seam_deg)
    strayed = _strayed(drawn, segments)

    mirrored = _mirrored_back(segments, frame)
    loop = np.concatenate([segments, mirrored])
    flags = np.concatenate([straight, straight[::-1]])
    inner = piece.smooth[1:]
    smooth = np.concatenate([[start != "corner"], inner, [end != "corner"], inner[::-1]])
    if end == "straight":
        loop, flags, smooth = _merge_across(loop, flags, smooth, len(segments) - 1)
    if start == "straight" and len(loop) > 2:
        loop, flags, smooth = np.roll(loop, -1, axis=0), np.roll(flags, -1), np.roll(smooth, -1)
        loop, flags, smooth = _merge_across(loop, flags, smooth, len(loop) - 2)
    return Joined(CubicPath(loop, flags, smooth, closed=True), strayed)


def _mirrored_back(segments: Floats, frame: Frame) -> Floats:
    """The reflection walked backwards, which starts and ends at the very nodes on the axis."""
    mirrored = frame.reflect(segments)[::-1, ::-1].copy()
    mirrored[0, 0], mirrored[-1, 3] = segments[-1, 3], segments[0, 0]
    return np.asarray(mirrored)


def _merge_across(
    loop: Floats, straight: NDArray[np.bool_], smooth: NDArray[np.bool_], index: int
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.bool_]]:
    """One straight segment in place of the two at `index` and `index + 1`."""
    merged = straight_segments(np.stack([loop[index, 0], loop[index + 1, 3]]))
    loop = np.concatenate([loop[:index], merged, loop[index + 2 :]])
    return loop, np.delete(straight, index + 1), np.delete(smooth, index + 1)


def _arrive(
    segments: Floats, straight: NDArray[np.bool_], smooth: NDArray[np.bool_], frame: Frame, seam_deg: float
) -> str:
    """Make the last segment meet the axis as it should, in place.

    Returns "smooth", "corner" or "straight" (one straight segment runs across the axis).
    `smooth[-1]` says whether the path is smooth where the last segment starts.
    """
    last = segments[-1]
    leaving = _leaving(last)
    normal = np.array(frame.normal)
    angle = math.atan2(abs(_cross(leaving, normal)), -float(leaving @ normal))
    if straight[-1]:
        if angle > math.radians(min(seam_deg, STRAIGHT_SEAM_DEG)):
            return "corner"
        if angle > EXACT_RAD:
            _level_straight(segments, straight, smooth, frame)
        return "straight"
    if angle > math.radians(seam_deg):
        return "corner"
    if angle > EXACT_RAD:
        segments[-1] = _turned(last, normal)
    return "smooth"


def _leaving(segment: Floats) -> Floats:
    """Direction in which a segment ends, from the last handle that has one."""
    for handle in (2, 1, 0):
        step = segment[3] - segment[handle]
        if float(np.hypot(step[0], step[1])) > NO_HANDLE_MM:
            return np.asarray(step)
    return np.asarray(segment[3] - segment[0])


def _cross(a: Floats, b: Floats) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _level_straight(
    segments: Floats, straight: NDArray[np.bool_], smooth: NDArray[np.bool_], frame: Frame
) -> None:
    """Turn the last, straight segment perpendicular about its start, and the handle before it alike."""
    start = segments[-1, 0].copy()
    before = segments[-1, 3] - start
    end = frame.foot(start)
    segments[-1] = straight_segments(np.stack([start, end]))[0]
    if len(segments) < 2 or straight[-2] or not smooth[-1]:
        return
    after = end - start
    turn = math.atan2(_cross(before, after), float(before @ after))
    handle = segments[-2, 2] - start
    cos, sin = math.cos(turn), math.sin(turn)
    segments[-2, 2] = start + np.array([cos * handle[0] - sin * handle[1], sin * handle[0] + cos * handle[1]])


def _turned(segment: Floats, normal: Floats) -> Floats:
    """The segment with its last handle perpendicular to the axis, straying least from the one drawn.

    Its start and the direction of its first handle stay. The lengths of both handles and the place of its end
    along the axis are those of the least squared distance, parameter by parameter.
    """
    first = segment[1] - segment[0]
    length, out = float(np.hypot(*first)), float(np.hypot(*(segment[3] - segment[2])))
    turned = segment.copy()
    if out <= NO_HANDLE_MM:
        out = float(np.hypot(*(segment[3] - segment[0]))) / 3.0
    turned[2] = segment[3] + normal * out
    if length <= NO_HANDLE_MM:
        return turned
    along = np.array([-normal[1], normal[0]])
    t, s = _SAMPLES, 1.0 - _SAMPLES
    ends = segment[[0, 0, 3, 3]]
    gap = evaluate(segment[None], t)[0] - evaluate(ends[None], t)[0]
    columns = [
        (3 * s * s * t)[:, None] * (first / length),
        (3 * s * t * t)[:, None] * normal,
        (3 * s * t * t + t**3)[:, None] * along,
    ]
    basis = np.stack([column.ravel() for column in columns], axis=1)
    alpha, beta, slide = (float(v) for v in np.linalg.lstsq(basis, gap.ravel(), rcond=None)[0])
    # Lengths far from the drawn ones make loops and cusps: keep to the drawn ones then.
    if 0.3 * length < alpha < 3.0 * length and 0.3 * out < beta < 3.0 * out and abs(slide) < 0.5 * out:
        turned[1] = segment[0] + first / length * alpha
        turned[3] = segment[3] + along * slide
        turned[2] = turned[3] + normal * beta
    return turned


def _strayed(drawn: Floats, joined: Floats) -> float:
    """Largest distance, both ways, between the curves of the segments that changed."""
    changed = (drawn != joined).any(axis=(1, 2))
    if not changed.any():
        return 0.0
    before, after = evaluate(drawn[changed], _DENSE), evaluate(joined[changed], _DENSE)
    return max(max(_off(one, other), _off(other, one)) for one, other in zip(before, after, strict=True))


def _off(points: Floats, polyline: Floats) -> float:
    """Largest distance of points from a polyline."""
    start, step = polyline[:-1], np.diff(polyline, axis=0)
    square = np.maximum((step * step).sum(axis=1), 1e-300)
    to = points[:, None] - start[None]
    t = np.clip((to * step).sum(axis=2) / square, 0.0, 1.0)
    gap = to - t[..., None] * step
    return float(np.sqrt((gap * gap).sum(axis=2).min(axis=1).max()))
