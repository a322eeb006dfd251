"""Ink taken away along a line, as by an eraser that knows which line is meant.

Method: the centrelines of the ink around are looked at. What runs along the rubbed band, within it, is what
is to go; where there is such a stroke, other lines that cross it or touch it stay whole: of the ink in the
band what their own width covers is kept. A piece that two lines share, as where they cross at a small
angle, stays when another line runs on at both of its ends. Where the band follows no stroke, all ink under
it goes, as it would on paper: hatching rubbed across, a smudge, a line cut short. Crumbs that are left
beside the band go, too.

Limits: it is the centrelines that tell lines apart: what was drawn over several times goes as one.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np

from limner.geometry.polylines import arc_lengths, points_at
from limner.geometry.strokes import ink_of, ink_of_points, window_around
from limner.model.arrays import Flags, Floats, Singles
from limner.model.regionmap import Edge, LineGraph
from limner.touches.strokes import smooth_line

__all__ = ["Centrelines", "rubbed"]

Centrelines = Callable[[Singles], LineGraph]
"""Finds the centrelines of a coverage, in pixels of its raster."""

_INK = np.float32(0.5)

# What is left of a line beside the band and is smaller than this is a crumb, in square line widths: less than
# a dot made by touching the paper once (pi / 4).
_CRUMB_WIDTHS2 = 0.6

# What leads through the band at a smaller angle than this runs along it: half way to a right angle and a
# little less, as a stroke that is followed by hand is hardly ever left by so much.
_ALONG_DEG = 40.0

# What leaves the band sideways is another line, unless it was in it for long: then the hand that rubbed was
# less steady than the one that drew.
_LEAVING_DEG = 12.0

# A stroke is followed where some of it lies this near along the band: farther than a crossing line is wide.
_FOLLOWED_LINE_WIDTHS = 2.0

# Two lines run on into each other where they turn by less than this.
_ONWARD_DEG = 50.0

# Two lines that cross at 15 degrees share so many of their widths (1 / sin 15): a longer piece is a line of
# its own.
_SHARED_WIDTHS = 4.0

# A line is drawn again at most so much wider than it is in the mean: at a crossing its width is that of both.
_MOST_WIDTHS = 1.15

# Ink wider than this is no line but a solid: it is cut into.
_WIDEST_LINE = 2.5

_MARGIN_LINE_WIDTHS = 4.0


def rubbed(
    coverage: Singles, points: Floats, width: float, line_width: float, centrelines: Centrelines
) -> Singles:
    """Take ink away along a line.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        The ink.
    points : ndarray of float64, shape (n, 2)
        What the line goes through, pixels.
    width, line_width : float
        Widths of what is rubbed out and of the drawing's lines, pixels.
    centrelines : callable
        Finds the centrelines of a piece of the raster.

    Returns
    -------
    ndarray of float32, shape (H, W)
    """
    line = smooth_line(points)
    margin = width / 2 + _MARGIN_LINE_WIDTHS * line_width
    window = window_around(line, margin, (coverage.shape[0], coverage.shape[1]))
    before = coverage[window]
    if 0 in before.shape:
        return coverage
    origin = np.array([window[1].start, window[0].start], dtype=np.float64)
    whole = (slice(0, before.shape[0]), slice(0, before.shape[1]))
    band = ink_of(line - origin, width, whole)
    if not (before[band > 0] > 0).any():
        return coverage
    keep = _kept_ink(before, _Band(line - origin, width / 2), centrelines(before), line_width)
    left = np.maximum(np.minimum(before, np.float32(1.0) - band), np.minimum(before, keep))
    result = coverage.copy()
    result[window] = _without_crumbs(left, before, band, _CRUMB_WIDTHS2 * line_width**2)
    return result


class _Band:
    """The rubbed line: how far points are from it, and which way it goes there."""

    def __init__(self, line: Floats, radius: float) -> None:
        from scipy.spatial import cKDTree

        self.line, self.radius, self.tree = line, radius, cKDTree(line)
        self.way = arc_lengths(line)
        self.direction = _directions(line)

    def near(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """Distance from the line, how far along it, and how far to the side of it, with a sign."""
        away, at = self.tree.query(points)
        normal = np.stack([-self.direction[at, 1], self.direction[at, 0]], axis=1)
        return np.asarray(away), self.way[at], ((points - self.line[at]) * normal).sum(axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """A centreline in the window: which of its points are to go, and where along the band they lie."""

    edge: Edge
    goes: Flags
    along: Floats


def _kept_ink(before: Singles, band: _Band, graph: LineGraph, line_width: float) -> Singles:
    """Ink of the lines that stay, where the band follows a stroke."""
    lines = [
        _line(edge, band) for edge in graph.edges if np.median(edge.width_mm) <= _WIDEST_LINE * line_width
    ]
    lines = _with_shared(lines)
    gone = [line.along[line.goes] for line in lines if line.goes.any()]
    keep = np.zeros_like(before)
    if not gone:
        return keep
    points, radii = _strokes(_straightened([line for line in lines if not line.goes.all()], band))
    if len(points):
        keep = ink_of_points(points, radii, before.shape)
    return np.where(_followed(before.shape, band, np.concatenate(gone), line_width), keep, np.float32(0.0))


def _line(edge: Edge, band: _Band) -> _Line:
    """Each stretch of a line in the band goes where it leads along it, not across it or out of it."""
    points, width = _dense(edge)
    away, along, side = band.near(points)
    inside = away <= band.radius
    goes = np.zeros(len(inside), bool)
    change = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(np.int8)))
    for first, last in zip(change[::2], change[1::2], strict=True):
        out = [k for k in (first - 1, last) if 0 <= k < len(inside) and 0.0 < along[k] < band.way[-1]]
        least = _LEAVING_DEG if out else _ALONG_DEG
        across = np.ptp(side[first:last])
        goes[first:last] = across < np.tan(np.radians(least)) * np.ptp(along[first:last])
    return _Line(replace(edge, points=points, width_mm=width), goes, along)


def _dense(edge: Edge) -> tuple[Floats, Floats]:
    """Points of a line half a pixel apart, as its discs must run into each other, and its width there."""
    walked = arc_lengths(edge.points)
    at = np.linspace(0.0, walked[-1], int(np.ceil(2.0 * walked[-1])) + 2)
    return points_at(edge.points, walked, at), np.interp(at, walked, edge.width_mm)


def _with_shared(lines: list[_Line]) -> list[_Line]:
    """The lines, those that another one runs on through at both ends no longer to go."""
    staying: dict[int, list[Floats]] = {}
    for line in lines:
        for end, node in ((0, line.edge.start), (-1, line.edge.end)):
            if not line.goes[end]:
                staying.setdefault(node, []).append(_outward(line.edge, end))
    return [
        _Line(line.edge, np.zeros_like(line.goes), line.along) if _runs_on(line, staying) else line
        for line in lines
    ]


def _runs_on(line: _Line, staying: dict[int, list[Floats]]) -> bool:
    length = float(np.hypot(*np.diff(line.edge.points, axis=0).T).sum())
    shared = length <= _SHARED_WIDTHS * float(np.median(line.edge.width_mm))
    if not shared or not line.goes.all() or line.edge.start == line.edge.end:
        return False
    least = np.cos(np.radians(_ONWARD_DEG))
    return all(
        any(float(-_outward(line.edge, end) @ other) >= least for other in staying.get(node, []))
        for end, node in ((0, line.edge.start), (-1, line.edge.end))
    )


def _outward(edge: Edge, end: int) -> Floats:
    """Direction in which a line leaves one of its ends, over a few line widths."""
    reach = 3.0 * float(np.median(edge.width_mm))
    points = edge.points if end == 0 else edge.points[::-1]
    far = np.flatnonzero(np.hypot(*(points - points[0]).T) >= reach)
    way = points[far[0] if len(far) else -1] - points[0]
    return np.asarray(way / max(float(np.hypot(*way)), 1e-12))


def _straightened(lines: list[_Line], band: _Band) -> list[_Line]:
    """Lines that stay, those that run on into each other at a node in the band led straight through it.

    Where two lines cross at a slant their common ink has a middle of its own, towards which both of them
    bend.
    """
    arms: dict[int, list[tuple[int, int, int]]] = {}
    for number, line in enumerate(lines):
        outside = np.flatnonzero(band.near(line.edge.points)[0] > band.radius)
        for end, node in ((0, line.edge.start), (-1, line.edge.end)):
            if len(outside) and not line.goes[end]:
                arms.setdefault(node, []).append((number, end, int(outside[end])))
    least = np.cos(np.radians(_ONWARD_DEG))
    for meeting in arms.values():
        pairs = [
            (float(-_outward(lines[a[0]].edge, a[1]) @ _outward(lines[b[0]].edge, b[1])), i, j)
            for i, a in enumerate(meeting)
            for j, b in enumerate(meeting[:i])
        ]
        used = set[int]()
        for onward, i, j in sorted(pairs, reverse=True):
            if onward < least or {i, j} & used:
                continue
            used |= {i, j}
            ends = [lines[number].edge.points[place] for number, _, place in (meeting[i], meeting[j])]
            for (number, end, place), towards in zip(
                (meeting[i], meeting[j]), (ends, ends[::-1]), strict=True
            ):
                lines[number] = _led_straight(lines[number], end, place, (towards[0] + towards[1]) / 2.0)
    return lines


def _led_straight(line: _Line, end: int, place: int, goal: Floats) -> _Line:
    """A line that runs straight from one of its points to a goal at one of its ends."""
    points = line.edge.points.copy()
    count = place if end == 0 else len(points) - 1 - place
    share = np.linspace(0.0, 1.0, count + 1)[:, None]
    way = points[place] + share * (goal - points[place])
    points[: place + 1] = way[::-1] if end == 0 else points[: place + 1]
    if end == -1:
        points[place:] = way
    return replace(line, edge=replace(line.edge, points=points))


def _strokes(lines: list[_Line]) -> tuple[Floats, Floats]:
    """Points of what stays, and half the width there."""
    if not lines:
        return np.zeros((0, 2)), np.zeros(0)
    usual = [np.minimum(line.edge.width_mm, _MOST_WIDTHS * np.median(line.edge.width_mm)) for line in lines]
    points = np.concatenate([line.edge.points[~line.goes] for line in lines])
    radii = np.concatenate([width[~line.goes] / 2.0 for line, width in zip(lines, usual, strict=True)])
    return points, radii


def _followed(shape: tuple[int, ...], band: _Band, gone: Floats, line_width: float) -> Flags:
    """Pixels beside those parts of the band that follow a stroke."""
    gone = np.sort(gone)
    place = np.searchsorted(gone, band.way)
    before = band.way - gone[np.clip(place - 1, 0, len(gone) - 1)]
    after = gone[np.clip(place, 0, len(gone) - 1)] - band.way
    follows = np.minimum(np.abs(before), np.abs(after)) <= _FOLLOWED_LINE_WIDTHS * line_width
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    away, at = band.tree.query(
        np.stack([x.ravel() + 0.5, y.ravel() + 0.5], axis=1), distance_upper_bound=band.radius + 2.0
    )
    there = np.isfinite(away)
    result = np.zeros(len(away), bool)
    result[there] = follows[at[there]]
    return result.reshape(shape)


def _directions(line: Floats) -> Floats:
    if len(line) < 2:
        return np.tile([1.0, 0.0], (len(line), 1))
    way = np.gradient(line, axis=0)
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-12)[:, None])


def _without_crumbs(left: Singles, before: Singles, band: Singles, smallest: float) -> Singles:
    """Take away what the rubbing left beside the band of a line or a dot that it met."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats((left >= _INK).view(np.uint8), connectivity=8)
    small = stats[:, cv2.CC_STAT_AREA] < smallest
    small[0] = False
    around = np.ones((3, 3), np.uint8)
    touched = cv2.dilate(((band > 0) & (before >= _INK)).view(np.uint8), around) > 0
    crumb = small & (np.bincount(labels[touched], minlength=count) > 0)
    # A piece that reaches the edge of what is looked at goes on beyond it.
    crumb[np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])] = False
    if not crumb.any():
        return left
    beside = cv2.dilate(crumb[labels].view(np.uint8), around) > 0
    return np.where(beside & ~((labels > 0) & ~crumb[labels]), np.float32(0.0), left)
