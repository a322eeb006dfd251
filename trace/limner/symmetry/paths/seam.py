"""Pieces cut at the axis joined to their own mirror images.

Method: a piece that runs from the axis to the axis is followed by its reflection, walked backwards; the two
share their nodes on the axis bit for bit. The even-odd region of all such loops is the kept half of the
figure together with its mirror image: a ray that leaves the axis at a right angle meets on the kept side
exactly the boundary that it met before.

Where a piece meets the axis near perpendicular its last handle is turned to be exactly perpendicular, which
makes the seam smooth; its handle lengths and the place of its end along the axis are then chosen by least
squares so that the segment strays least from where it was drawn. Where the whole segment would stray too far,
only its end is turned; where that does not do either, the seam is a corner. Straight segments that meet
across the axis become one.

Limits: a piece that arrives more steeply than the seam angle makes a corner, even where a smooth curve of a
larger bend was meant.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from limner.geometry.cubics import evaluate, split_segment, straight_segments
from limner.model.arrays import Flags, Floats
from limner.model.geometry import CubicPath
from limner.symmetry.frame import Frame
from limner.symmetry.paths.cut import Piece

__all__ = ["Joined", "join_to_reflection", "reflect_path"]


# Lines drawn to end on an axis arrive within this angle of perpendicular where a smooth line is meant.
SEAM_DEG = 25.0

# Nearer to perpendicular than this an arrival is left as it is: turning it would only change last bits.
EXACT_RAD = 1e-7

# A straight segment is turned perpendicular only within this angle; beyond it a ridge is meant.
STRAIGHT_SEAM_DEG = 3.0

# Of the last segment, the longest end is turned that strays little enough: all of it, or this share of it (in
# its parameter), or of that again, and so on, so many times at most (down to half a hundredth).
END_SHARE, MOST_SHARES = 0.7, 15

# An end that is turned is at least so many times as long as it may stray: turned by the whole seam angle it
# strays by a ninth of its length, so that what is shorter bends no more than a corner would.
SHORTEST_BEND_STRAYS = 4.0

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


def join_to_reflection(piece: Piece, frame: Frame, stray_mm: float) -> Joined:
    """Close a piece with its own mirror image.

    Parameters
    ----------
    piece : Piece
        Runs from the axis to the axis on the kept side.
    frame : Frame
        The axis.
    stray_mm : float
        How far a smooth seam may lead away from what was drawn; where that does not do, there is a corner.

    Returns
    -------
    Joined
        Its path starts on the axis where the piece starts (or, where a straight segment runs across the
        axis there, at the piece's first node after it).
    """
    end = _arrived(_Run(piece.segments, piece.straight, piece.smooth[1:]), frame, stray_mm)
    # The start of the piece is treated as the end of the piece walked backwards.
    start = _arrived(end.run.backwards(), frame, stray_mm)
    run = start.run.backwards()

    loop = np.concatenate([run.segments, _mirrored_back(run.segments, frame)])
    flags = np.concatenate([run.straight, run.straight[::-1]])
    smooth = np.concatenate([[start.how != "corner"], run.smooth, [end.how != "corner"], run.smooth[::-1]])
    if end.how == "straight":
        loop, flags, smooth = _merge_across(loop, flags, smooth, len(run.segments) - 1)
    if start.how == "straight" and len(loop) > 2:
        loop, flags, smooth = np.roll(loop, -1, axis=0), np.roll(flags, -1), np.roll(smooth, -1)
        loop, flags, smooth = _merge_across(loop, flags, smooth, len(loop) - 2)
    return Joined(CubicPath(loop, flags, smooth, closed=True), max(start.strayed_mm, end.strayed_mm))


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Segments from the axis to the axis; `smooth` tells of the nodes between them, one fewer."""

    segments: Floats
    straight: Flags
    smooth: Flags

    def backwards(self) -> "_Run":
        return _Run(self.segments[::-1, ::-1], self.straight[::-1], self.smooth[::-1])


@dataclass(frozen=True, slots=True, eq=False)
class _Arrival:
    """A run whose last segment meets the axis as it should: smoothly, in a corner, or straight across it."""

    run: _Run
    how: Literal["smooth", "corner", "straight"]
    strayed_mm: float = 0.0


def _mirrored_back(segments: Floats, frame: Frame) -> Floats:
    """The reflection walked backwards, which starts and ends at the very nodes on the axis."""
    mirrored = frame.reflect(segments)[::-1, ::-1].copy()
    mirrored[0, 0], mirrored[-1, 3] = segments[-1, 3], segments[0, 0]
    return np.asarray(mirrored)


def _merge_across(loop: Floats, straight: Flags, smooth: Flags, index: int) -> tuple[Floats, Flags, Flags]:
    """One straight segment in place of the two at `index` and `index + 1`."""
    merged = straight_segments(np.stack([loop[index, 0], loop[index + 1, 3]]))
    loop = np.concatenate([loop[:index], merged, loop[index + 2 :]])
    return loop, np.delete(straight, index + 1), np.delete(smooth, index + 1)


def _arrived(run: _Run, frame: Frame, stray_mm: float) -> _Arrival:
    """The run with its last segment turned perpendicular to the axis, where it was meant to be."""
    normal = np.array(frame.normal)
    leaving = _leaving(run.segments[-1])
    angle = math.atan2(abs(_cross(leaving, normal)), -float(leaving @ normal))
    straight = bool(run.straight[-1])
    if angle <= EXACT_RAD:
        return _Arrival(run, "straight" if straight else "smooth")
    if angle > math.radians(STRAIGHT_SEAM_DEG if straight else SEAM_DEG):
        return _Arrival(run, "corner")
    turned = [_levelled(run, frame)] if straight else _turned_ends(run, normal, stray_mm)
    for candidate in turned:
        if candidate.strayed_mm <= stray_mm:
            return candidate
    return _Arrival(run, "corner")


def _leaving(segment: Floats) -> Floats:
    """Direction in which a segment ends, from the last handle that has one."""
    for handle in (2, 1, 0):
        step = segment[3] - segment[handle]
        if float(np.hypot(step[0], step[1])) > NO_HANDLE_MM:
            return np.asarray(step)
    return np.asarray(segment[3] - segment[0])


def _cross(a: Floats, b: Floats) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _levelled(run: _Run, frame: Frame) -> _Arrival:
    """The last, straight segment turned perpendicular about its start, and the handle before it alike."""
    segments = run.segments.copy()
    start = segments[-1, 0].copy()
    before, end = segments[-1, 3] - start, frame.foot(start)
    segments[-1] = straight_segments(np.stack([start, end]))[0]
    if len(segments) > 1 and not run.straight[-2] and run.smooth[-1]:
        after = end - start
        turn = math.atan2(_cross(before, after), float(before @ after))
        (x, y), cos, sin = segments[-2, 2] - start, math.cos(turn), math.sin(turn)
        segments[-2, 2] = start + np.array([cos * x - sin * y, sin * x + cos * y])
    strayed = max(_strayed(old, new) for old, new in zip(run.segments[-2:], segments[-2:], strict=True))
    return _Arrival(_Run(segments, run.straight, run.smooth), "straight", strayed)


def _turned_ends(run: _Run, normal: Floats, stray_mm: float) -> Iterator[_Arrival]:
    """The last segment turned, all of it or only its end, the longest end first.

    The shorter the end that turns, the less it strays and the tighter it bends; an end that is not much
    longer than it may stray is a corner.
    """
    last = run.segments[-1]
    whole = _turned(last, normal)
    yield _Arrival(
        _Run(np.concatenate([run.segments[:-1], whole[None]]), run.straight, run.smooth),
        "smooth",
        _strayed(last, whole),
    )
    for k in range(1, MOST_SHARES + 1):
        head, tail = split_segment(last, 1.0 - END_SHARE**k)
        if float(np.hypot(*(tail[3] - tail[0]))) < SHORTEST_BEND_STRAYS * stray_mm:
            return
        end = _turned(tail, normal)
        segments = np.concatenate([run.segments[:-1], head[None], end[None]])
        longer = _Run(segments, np.append(run.straight, False), np.append(run.smooth, True))
        yield _Arrival(longer, "smooth", _strayed(tail, end))


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
    """Largest distance, both ways, between two segments, shape (4, 2) each."""
    if (drawn == joined).all():
        return 0.0
    before, after = evaluate(np.stack([drawn, joined]), _DENSE)
    return max(_off(before, after), _off(after, before))


def _off(points: Floats, polyline: Floats) -> float:
    """Largest distance of points from a polyline."""
    start, step = polyline[:-1], np.diff(polyline, axis=0)
    square = np.maximum((step * step).sum(axis=1), 1e-300)
    to = points[:, None] - start[None]
    t = np.clip((to * step).sum(axis=2) / square, 0.0, 1.0)
    gap = to - t[..., None] * step
    return float(np.sqrt((gap * gap).sum(axis=2).min(axis=1).max()))
