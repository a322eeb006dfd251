"""A drawn guide line along the axis, or what is left of a faint one, erased from the ink.

Method: the ink along the axis is resampled in the axis's own coordinates and opened there with a segment
across the axis that is longer than the guide is wide: lines that cross the axis or end on it pass, a stroke
along it does not, and the two are told apart where they run into one another. Of what does not pass, the
pieces are erased that a guide leaves: all of them where the guide was seen as such, or where several thin
strokes lie in a row; else short ones, for of a faint guide the ink keeps a few bits, mostly where the lines
that end on it lend them their darkness.

Limits: without a guide that was seen, one longer thin stroke on the axis is art (a parting of which one half
was drawn); a line that meets the axis within about 25 degrees of its direction and is thinner than the others
is erased near the axis like a remnant of a guide.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats, Singles
from limner.model.geometry import Axis
from limner.model.raster import ScaledInk
from limner.model.regionmap import LineGraph
from limner.symmetry.find.evidence import line_samples
from limner.symmetry.find.guide import Guide
from limner.symmetry.frame import Frame, frame_of, in_pixels
from limner.symmetry.ink.keep import unmirrored_pixels

__all__ = ["erase_guide"]

_Reals = NDArray[np.floating[Any]]

# A remnant is thinner than this many line widths; a guide that was seen, than so many of its own.
REMNANT_WIDTHS, GUIDE_WIDTHS = 0.75, 1.6

# Remnants lie within so many line widths of the axis: how far the ends of the lines let it miss the guide.
NEAR_WIDTHS = 1.5

# A remnant is from so many to so many line widths long: less is the roughness of a line that crosses, more a
# line that is meant. It is longer than wide by this factor, where it stands alone: a dot on the axis is not.
SHORTEST_WIDTHS, LONGEST_WIDTHS, ELONGATION = 0.4, 5.0, 2.5

# Attached to a line it is no flatter than this: flatter is the rounded tip of a stroke along the axis.
FLATTEST = 1.0

# So many strokes, each at least a line width long, over this share of the drawing's extent are a guide line
# in pieces; what is thinner than so many line widths then goes, however long.
BROKEN_PIECES, BROKEN_SPAN, BROKEN_WIDTHS = 3, 0.4, 1.1

# It strays from the direction of the axis by no more than this.
SLANT_DEG = 25.0

# Ink by which coverage must fall in the opening to count as erased: half of what is seen as ink at all, since
# faint bits next to dark ones show.
LEAST_FALL = 0.12

# A line's soft edge reaches so far beyond it.
SOFT_EDGE_PX = 1.5

# Beside the strip, so that the opening sees the lines whole (in lengths of its segment).
MARGIN_SEGMENTS = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """A strip along the axis: where it lies in the raster, and how far into it is erased."""

    frame: Frame
    start: float
    rows: int
    half: int
    near: float
    segment: int
    seen: bool

    def in_raster(self, rows: _Reals, columns: _Reals) -> tuple[_Reals, _Reals]:
        """Where rows and columns of the strip lie in the raster, x and y."""
        (x, y), along, normal = self.frame.origin, self.frame.along, self.frame.normal
        u, t = self.start + rows, columns - self.half
        return x + u * along[0] + t * normal[0], y + u * along[1] + t * normal[1]

    def spots(self) -> tuple[Singles, Singles]:
        """Columns and rows in the raster, by cv2's centres at integers, of each pixel of the strip."""
        rows = np.arange(self.rows, dtype=np.float32)[:, None]
        columns = np.arange(2 * self.half + 1, dtype=np.float32)[None, :]
        x, y = self.in_raster(rows, columns)
        return (x - 0.5).astype(np.float32), (y - 0.5).astype(np.float32)


def erase_guide(
    ink: ScaledInk,
    graph: LineGraph,
    axis: Axis,
    guide: Guide | None = None,
    *,
    one_sided: Sequence[Floats] = (),
    within: Sequence[Floats] | None = None,
) -> ScaledInk:
    """Erase a guide line drawn along the axis of a half-drawn figure, or what the ink kept of it.

    Parameters
    ----------
    ink : ScaledInk
        What is drawn.
    graph : LineGraph
        Its centrelines, in millimetres of the same raster.
    axis : Axis
        The axis.
    guide : Guide or None
        The guide line by which the axis was found: all of it is erased.
    one_sided : sequence of ndarray, shape (n, 2)
        Closed rings in millimetres: what is drawn inside them stays.
    within : sequence of ndarray, shape (n, 2), optional
        Closed rings in millimetres: only what is drawn inside them is looked at (one figure of several).

    Returns
    -------
    ScaledInk
        The same object where there is nothing to erase; else the centrelines are no longer its own.
    """
    strip = _strip(ink, graph, axis, guide)
    if strip is None:
        return ink
    drawn, opened = _opened(ink, strip)
    pieces = _pieces(drawn, opened, strip, ink.line_width_px)
    if not strip.seen and _in_a_row(pieces, strip, ink.line_width_px):
        strip = replace(strip, seen=True, segment=_odd(BROKEN_WIDTHS * ink.line_width_px))
        drawn, opened = _opened(ink, strip)
        pieces = _pieces(drawn, opened, strip, ink.line_width_px)
    if not strip.seen:
        pieces = _remnants(pieces, opened, ink.line_width_px)
    if not pieces.any():
        return ink
    # With their soft edges.
    gone = np.asarray(cv2.dilate(pieces.astype(np.uint8), np.ones((5, 3), np.uint8)), np.uint8)
    # Away from the soft edges of what stays, nothing of a piece is left.
    kept = cv2.dilate((opened >= np.float32(0.5)).astype(np.uint8), np.ones((7, 7), np.uint8))
    falls = np.where(kept > 0, np.maximum(drawn - opened, 0), drawn) * (gone > 0)
    coverage = _lowered(ink.coverage, falls, gone, strip)
    unmirrored = unmirrored_pixels(ink, one_sided, within)
    if unmirrored is not None:
        coverage = np.where(unmirrored, ink.coverage, coverage)
    return replace(ink, coverage=coverage, solid=ink.solid & (coverage >= np.float32(0.5)))


def _strip(ink: ScaledInk, graph: LineGraph, axis: Axis, guide: Guide | None) -> _Strip | None:
    """The strip that is looked at, pixels; None where the axis misses the drawing."""
    scale, width = ink.mm_per_px, ink.line_width_px
    frame, near = in_pixels(frame_of(axis), scale), NEAR_WIDTHS * width
    segment = REMNANT_WIDTHS * width
    if guide is not None:
        near = guide.half_width_mm / scale + SOFT_EDGE_PX
        segment = max(segment, GUIDE_WIDTHS * guide.width_mm / scale)
    samples = line_samples(graph)
    if len(samples.points) == 0:
        return None
    position = frame.position(samples.points / scale)
    low, high = float(position.min()) - 2 * width, float(position.max()) + 2 * width
    odd = _odd(segment)
    half = math.ceil(near + MARGIN_SEGMENTS * max(odd, BROKEN_WIDTHS * width))
    return _Strip(frame, low, math.ceil(high - low), half, near, odd, guide is not None)


def _odd(length: float) -> int:
    return 2 * math.ceil(length / 2) + 1


def _opened(ink: ScaledInk, strip: _Strip) -> tuple[Singles, Singles]:
    """The ink in the strip, and what of it passes the opening."""
    columns, rows = strip.spots()
    drawn = np.asarray(cv2.remap(ink.coverage, columns, rows, cv2.INTER_LINEAR, borderValue=0.0), np.float32)
    across = np.ones((1, strip.segment), np.uint8)
    return drawn, np.asarray(cv2.morphologyEx(drawn, cv2.MORPH_OPEN, across), np.float32)


def _pieces(drawn: Singles, opened: Singles, strip: _Strip, width: float) -> NDArray[np.bool_]:
    """Pixels of the strip that belong to strokes along it near its middle."""
    fallen = drawn - opened > LEAST_FALL
    if strip.seen:
        across = np.abs(np.arange(-strip.half, strip.half + 1))
        return np.asarray(fallen & (across <= strip.near)[None, :])
    labels, left, wide, tall = _boxes(fallen)
    farthest = np.maximum(np.abs(left - strip.half), np.abs(left + wide - 1 - strip.half))
    chosen = (farthest <= strip.near) & (tall >= SHORTEST_WIDTHS * width)
    chosen &= tall >= FLATTEST * wide
    chosen &= wide <= strip.segment + math.tan(math.radians(SLANT_DEG)) * tall
    chosen[0] = False
    return np.asarray(chosen[labels])


def _in_a_row(pieces: NDArray[np.bool_], strip: _Strip, width: float) -> bool:
    """Whether the strokes are so many, and so far apart, that they are one guide line in pieces."""
    _, _, _, tall = _boxes(pieces)
    count = int((tall[1:] >= width).sum())
    rows = np.flatnonzero(pieces.any(axis=1))
    return count >= BROKEN_PIECES and float(np.ptp(rows)) >= BROKEN_SPAN * strip.rows


def _remnants(pieces: NDArray[np.bool_], opened: Singles, width: float) -> NDArray[np.bool_]:
    """Those of the strokes that may be left of a guide of which nothing else is seen."""
    labels, _, wide, tall = _boxes(pieces)
    # A piece that stands alone has no ink left beside it.
    beside = cv2.dilate((opened >= np.float32(0.5)).astype(np.uint8), np.ones((5, 3), np.uint8)) > 0
    attached = np.bincount(labels[beside], minlength=len(tall)) > 0
    chosen = (tall <= LONGEST_WIDTHS * width) & (attached | (tall >= ELONGATION * wide))
    chosen[0] = False
    return np.asarray(chosen[labels])


def _boxes(flags: NDArray[np.bool_]) -> tuple[NDArray[np.int_], Floats, Floats, Floats]:
    """Connected pieces: labels (0 = none), and the left side, width and height of the box of each."""
    _, labels, boxes, _ = cv2.connectedComponentsWithStats(flags.astype(np.uint8), connectivity=8)
    left, _, wide, tall = (boxes[:, k].astype(np.float64) for k in range(4))
    return np.asarray(labels), left, wide, tall


def _lowered(coverage: Singles, falls: Singles, gone: NDArray[np.uint8], strip: _Strip) -> Singles:
    """Coverage less what falls away in the strip, where it is gone."""
    frame = strip.frame
    rows, columns = np.nonzero(gone)
    x, y = strip.in_raster(rows.astype(np.float64), columns.astype(np.float64))
    # The pixels that hold those spots, each once, and its neighbours: the strip is as fine as the raster.
    height, width = coverage.shape
    low = max(0, math.floor(x.min()) - 1), max(0, math.floor(y.min()) - 1)
    high = min(width, math.ceil(x.max()) + 2), min(height, math.ceil(y.max()) + 2)
    result = coverage.copy()
    if low[0] >= high[0] or low[1] >= high[1]:
        return result
    window = np.s_[low[1] : high[1], low[0] : high[0]]
    dx = (np.arange(low[0], high[0]) + 0.5 - frame.origin[0])[None, :]
    dy = (np.arange(low[1], high[1]) + 0.5 - frame.origin[1])[:, None]
    at_u = (dx * frame.along[0] + dy * frame.along[1] - strip.start).astype(np.float32)
    at_t = (dx * frame.normal[0] + dy * frame.normal[1] + strip.half).astype(np.float32)
    fall = cv2.remap(falls, at_t, at_u, cv2.INTER_LINEAR, borderValue=0.0)
    left = result[window] - fall
    # What remains of a soft edge is nothing.
    result[window] = np.where(fall > 0, np.where(left < LEAST_FALL, 0, left), result[window])
    return result
