"""Closed cubic paths cut by a polygon: the part inside it, or the part outside.

Method: crossings of the curves with the polygon's sides are found on a close polyline of each curve and moved
onto the curve by Newton's method; the curves are split there (de Casteljau), the parts on the wanted side are
kept, and their ends are joined along the polygon (Weiler and Atherton, "Hidden surface removal using polygon
area sorting", SIGGRAPH 1977, from memory).

Limits: outer paths must run one way and their holes the other, as they do in a drawing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.geometry.cubics import (
    derivative,
    evaluate,
    flatten,
    polygon_path,
    reverse,
    signed_area,
    split_segment,
    straight_segments,
)
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.geometry import CubicPath

__all__ = ["clip_paths"]


# Steps per segment of the polyline on which crossings are found: a segment bends little between them.
STEPS = 24

# A remaining part with less area than this, in square millimetres, has no visible extent.
LEAST_AREA_MM2 = 1e-3

FLATTEN_MM = 0.01

_NEWTON_ROUNDS = 4


@dataclass(frozen=True, slots=True, eq=False)
class _Crossing:
    """Where a path crosses a side of a ring: segment and parameter of the path; ring and position on it."""

    segment: int
    t: float
    ring: int
    position: float


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """A run of segments between two crossings."""

    segments: Floats
    straight: NDArray[np.bool_]
    smooth: NDArray[np.bool_]
    start: tuple[int, float]
    end: tuple[int, float]


def clip_paths(paths: Sequence[CubicPath], rings: Sequence[Floats], *, inside: bool) -> list[CubicPath]:
    """The part of a filled shape inside or outside a polygon.

    Parameters
    ----------
    paths : sequence of CubicPath
        Closed; outer ones positive and holes negative, or all the other way about.
    rings : sequence of ndarray, shape (n, 2)
        The polygon's rings, first point not repeated: outer ones positive, holes negative.
    inside : bool
        Which part is wanted.

    Returns
    -------
    list of CubicPath
        Closed paths, outer ones positive; empty where nothing is left.
    """
    if sum(signed_area(path) for path in paths) < 0:
        paths = [reverse(path) for path in paths]
    whole: list[CubicPath] = []
    parts: list[_Part] = []
    for path in paths:
        crossings = _crossings(path, rings)
        if crossings:
            parts += _parts(path, crossings, rings, inside)
        elif bool(inside_rings(path.segments[:1, 0], rings)[0]) == inside:
            whole.append(path)
    crossed = {part.start[0] for part in parts}
    outlines = [flatten(path, FLATTEN_MM) for path in paths]
    for number, ring in enumerate(rings):
        # A ring that nothing crosses bounds the result where it lies within the shape.
        if number not in crossed and inside_rings(ring[:1], outlines)[0]:
            whole.append(polygon_path(ring if inside else ring[::-1]))
    loops = _linked(parts, rings, 1 if inside else -1)
    return whole + [loop for loop in loops if abs(signed_area(loop)) > LEAST_AREA_MM2]


def _crossings(path: CubicPath, rings: Sequence[Floats]) -> list[_Crossing]:
    """All crossings, in order along the path."""
    t = np.linspace(0.0, 1.0, STEPS + 1)
    points = evaluate(path.segments, t)
    start, step = points[:, :-1].reshape(-1, 2), np.diff(points, axis=1).reshape(-1, 2)
    found: list[_Crossing] = []
    for number, ring in enumerate(rings):
        side = np.roll(ring, -1, axis=0) - ring
        low, high = ring.min(axis=0), ring.max(axis=0)
        ends = start + step
        near = (np.maximum(start, ends) >= low).all(axis=1) & (np.minimum(start, ends) <= high).all(axis=1)
        which = np.flatnonzero(near)
        if len(which) == 0:
            continue
        cross = step[which, None, 0] * side[None, :, 1] - step[which, None, 1] * side[None, :, 0]
        gap = ring[None] - start[which, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            s = (gap[..., 0] * side[None, :, 1] - gap[..., 1] * side[None, :, 0]) / cross
            u = (gap[..., 0] * step[which, None, 1] - gap[..., 1] * step[which, None, 0]) / cross
        rows, columns = np.nonzero((s >= 0) & (s < 1) & (u >= 0) & (u < 1))
        for row, column in zip(rows, columns, strict=True):
            segment, at = divmod(int(which[row]), STEPS)
            guess = (at + float(s[row, column])) / STEPS
            refined = _refined(path.segments[segment], guess, ring[column], side[column])
            found.append(_Crossing(segment, refined, number, float(column) + float(u[row, column])))
    return sorted(found, key=lambda crossing: (crossing.segment, crossing.t))


def _refined(segment: Floats, t: float, corner: Floats, side: Floats) -> float:
    """Parameter at which a segment meets the line of a side, by Newton's method from a close guess."""
    first = t
    for _ in range(_NEWTON_ROUNDS):
        off = evaluate(segment[None], [t])[0, 0] - corner
        speed = derivative(segment[None], [t])[0, 0]
        slope = float(speed[0] * side[1] - speed[1] * side[0])
        if slope == 0.0:
            break
        t -= float(off[0] * side[1] - off[1] * side[0]) / slope
    # A wild step means a touch rather than a crossing: keep the guess.
    return float(np.clip(t if abs(t - first) < 1.0 / STEPS else first, 1e-9, 1 - 1e-9))


def _parts(path: CubicPath, crossings: list[_Crossing], rings: Sequence[Floats], inside: bool) -> list[_Part]:
    """Runs between neighbouring crossings that lie on the wanted side."""
    kept: list[_Part] = []
    for crossing, following in zip(crossings, [*crossings[1:], crossings[0]], strict=True):
        part = _run(path, crossing, following)
        middle = part.segments[len(part.segments) // 2][None]
        if bool(inside_rings(evaluate(middle, [0.5])[0], rings)[0]) == inside:
            kept.append(part)
    return kept


def _run(path: CubicPath, first: _Crossing, last: _Crossing) -> _Part:
    """The part of a closed path from one crossing to another."""
    count = len(path.segments)
    around = last.segment - first.segment
    if around < 0 or (around == 0 and last.t <= first.t):
        around += count
    index = [(first.segment + k) % count for k in range(around + 1)]
    segments = path.segments[index].copy()
    if around == 0:
        tail = split_segment(segments[0], first.t)[1]
        segments[0] = split_segment(tail, (last.t - first.t) / (1.0 - first.t))[0]
    else:
        segments[0] = split_segment(segments[0], first.t)[1]
        segments[-1] = split_segment(segments[-1], last.t)[0]
    smooth = path.smooth[index].copy()
    smooth[0] = False
    return _Part(
        segments, path.straight[index], smooth, (first.ring, first.position), (last.ring, last.position)
    )


def _linked(parts: list[_Part], rings: Sequence[Floats], way: int) -> list[CubicPath]:
    """Parts joined end to start along the rings, walked in the direction `way`."""
    left = set(range(len(parts)))
    loops: list[CubicPath] = []
    while left:
        first = min(left)
        chain, current = [first], first
        left.discard(first)
        bridges: list[Floats] = []
        while True:
            nearest = _next(parts, current, [first, *sorted(left)], rings, way)
            bridges.append(_along(parts[current], parts[nearest], rings, way))
            if nearest == first:
                break
            chain.append(nearest)
            left.discard(nearest)
            current = nearest
        loops.append(_loop([parts[i] for i in chain], bridges))
    return loops


def _next(parts: list[_Part], current: int, candidates: list[int], rings: Sequence[Floats], way: int) -> int:
    """The part whose start comes first along the ring; the loop's own first part where there is none."""
    ring, position = parts[current].end
    length = len(rings[ring])
    ahead = {
        i: (way * (parts[i].start[1] - position)) % length for i in candidates if parts[i].start[0] == ring
    }
    return min(ahead, key=lambda i: ahead[i]) if ahead else candidates[0]


def _along(part: _Part, following: _Part, rings: Sequence[Floats], way: int) -> Floats:
    """Points from the end of one part along the ring to the start of the next."""
    start, end = part.segments[-1, 3], following.segments[0, 0]
    if part.end[0] != following.start[0]:
        return np.stack([start, end])
    ring, a, b = rings[part.end[0]], part.end[1], following.start[1]
    count = len(ring)
    distance = (way * (b - a)) % count
    if way > 0:
        first = int(np.floor(a)) + 1
        corners = np.arange(first, int(np.floor(a + distance)) + 1)
    else:
        first = int(np.ceil(a)) - 1
        corners = np.arange(first, int(np.ceil(a - distance)) - 1, -1)
    return np.concatenate([start[None], ring[corners % count], end[None]])


def _loop(parts: list[_Part], bridges: list[Floats]) -> CubicPath:
    pieces, straight, smooth = [], [], []
    for part, bridge in zip(parts, bridges, strict=True):
        pieces.append(part.segments)
        straight.append(part.straight)
        smooth.append(part.smooth)
        keep = np.concatenate([[True], (np.diff(bridge, axis=0) != 0).any(axis=1)])
        bridge = bridge[keep]
        if len(bridge) > 1:
            pieces.append(straight_segments(bridge))
            straight.append(np.ones(len(bridge) - 1, bool))
            smooth.append(np.zeros(len(bridge) - 1, bool))
    return CubicPath(np.concatenate(pieces), np.concatenate(straight), np.concatenate(smooth), closed=True)
