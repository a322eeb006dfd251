"""A half-drawn figure completed in its ink, so that the next stages see the whole figure.

Method: lines that stop a little short of the axis are drawn on to it, with their own width and direction;
then every pixel shows what is drawn at its mirror image on the kept side (bicubic). In a narrow band along
the axis the ink is read a little farther in and carried straight across, so that lines cut at the axis join
without a notch and what runs over the axis is trimmed. The curves that are fitted to the completed ink are
made exactly symmetric afterwards (`limner.symmetry.paths.mirror`). A guide line drawn along the axis is
erased before (`limner.symmetry.ink.erase`).

Limits: lines are carried on straight; in the band, a fraction of a line wide, they cross the axis at a
right angle.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.errors import GeometryError
from limner.model.arrays import Floats, Singles
from limner.model.geometry import Axis
from limner.model.raster import ScaledInk
from limner.model.regionmap import LineGraph
from limner.symmetry.find.axis import settle_side, slack_of
from limner.symmetry.find.evidence import line_ends, line_samples
from limner.symmetry.frame import Frame, frame_of, in_pixels
from limner.symmetry.ink.keep import unmirrored_pixels

__all__ = ["Completed", "complete_half"]


# Half the width of the band along the axis that is filled from farther in: the soft edge of a cut line
# (1.5 px), and a share of the line width for ends that are not cut alike.
BAND_PX, BAND_WIDTHS = 1.5, 0.2

# Ends that arrive more steeply than this are not drawn on: they would run along the axis.
STEEPEST_DEG = 75.0

# Paper kept around the completed figure, in line widths.
MARGIN_WIDTHS = 3.0

# What interpolation leaves of nothing.
NOTHING = np.float32(0.004)


@dataclass(frozen=True, slots=True, eq=False)
class Completed:
    """A completed figure.

    Parameters
    ----------
    ink : ScaledInk
        The whole figure; its page is grown where the mirror image would leave it.
    axis : Axis
        The axis in millimetres of the new page.
    offset_px : tuple of int
        What was added at the left and at the top: a point (x, y) of the old raster is at
        (x + offset_px[0], y + offset_px[1]) in the new one.
    """

    ink: ScaledInk
    axis: Axis
    offset_px: tuple[int, int]


def complete_half(
    ink: ScaledInk,
    graph: LineGraph,
    axis: Axis,
    *,
    one_sided: Sequence[Floats] = (),
    within: Sequence[Floats] | None = None,
) -> Completed:
    """Mirror the ink of the kept side onto the other.

    Parameters
    ----------
    ink : ScaledInk
        What is drawn.
    graph : LineGraph
        Its centrelines, in millimetres of the same raster.
    axis : Axis
        The axis; where `keep` is None, the better drawn side is kept.
    one_sided : sequence of ndarray, shape (n, 2)
        Closed rings in millimetres: what is drawn inside them, and the ink of these outlines, stays as it
        is, on whichever side.
    within : sequence of ndarray, shape (n, 2), optional
        Closed rings in millimetres: only what is drawn inside them is mirrored (one figure of several).

    Returns
    -------
    Completed

    Raises
    ------
    GeometryError
        Nothing is drawn on the kept side.
    """
    axis = settle_side(ink, graph, axis)
    scale = ink.mm_per_px
    frame = in_pixels(frame_of(axis), scale)
    unmirrored = unmirrored_pixels(ink, one_sided, within)
    moving = ink.coverage.copy() if unmirrored is None else np.where(unmirrored, np.float32(0), ink.coverage)
    slack = slack_of(graph, line_samples(graph)) / scale
    box = _box(moving, frame, slack)
    _draw_on(moving, ink, graph, frame, slack)
    band = BAND_PX + BAND_WIDTHS * ink.line_width_px
    shape, offset = _page(ink, box)
    coverage, solid = _mirrored(moving, ink.solid, frame, band, shape, offset)
    top, left = offset[1], offset[0]
    if unmirrored is not None:
        height, width = ink.coverage.shape
        window = np.s_[top : top + height, left : left + width]
        coverage[window] = np.maximum(coverage[window], np.where(unmirrored, ink.coverage, 0))
        solid[window] |= ink.solid & unmirrored
    back = np.array([[1.0, 0.0, -left], [0.0, 1.0, -top], [0.0, 0.0, 1.0]])
    whole = replace(ink, coverage=coverage, solid=solid, to_photo=ink.to_photo @ back)
    moved = replace(axis, x_mm=axis.x_mm + left * scale, y_mm=axis.y_mm + top * scale)
    return Completed(whole, moved, offset)


def _box(moving: Singles, frame: Frame, slack: float) -> Floats:
    """Lowest and highest corner of a box around the mirror image of the kept side, shape (2, 2), pixels."""
    rows, columns = np.nonzero(moving[::4, ::4] > 0.25)
    spots = np.stack([columns * 4 + 2.0, rows * 4 + 2.0], axis=1)
    kept = spots[frame.distance(spots) > 0]
    # The tips of lines that run over the axis are not a drawing.
    if not (frame.distance(kept) > slack).any():
        raise GeometryError(
            "Nothing is drawn on the side of the axis that is to be kept: keep the other side, "
            "or set the axis by hand with a point and an angle."
        )
    mirrored = frame.reflect(kept)
    return np.stack([mirrored.min(axis=0), mirrored.max(axis=0)])


def _page(ink: ScaledInk, box: Floats) -> tuple[tuple[int, int], tuple[int, int]]:
    """Size (height, width) of the grown page, and what is added at its left and top."""
    height, width = ink.coverage.shape
    margin = MARGIN_WIDTHS * ink.line_width_px + 4
    left, top = (max(0, math.ceil(margin - float(low))) for low in box[0])
    right = max(0, math.ceil(float(box[1, 0]) + margin - width))
    bottom = max(0, math.ceil(float(box[1, 1]) + margin - height))
    return (height + top + bottom, width + left + right), (left, top)


def _draw_on(moving: Singles, ink: ScaledInk, graph: LineGraph, frame: Frame, slack: float) -> None:
    """Draw lines that stop short of the axis on to it, in place."""
    scale = ink.mm_per_px
    ends = line_ends(ink, graph)
    tips = ends.tips / scale
    distance = frame.distance(tips)
    arrive = -(ends.outward[:, 0] * frame.normal[0] + ends.outward[:, 1] * frame.normal[1])
    use = (distance < slack) & (distance > -slack) & (arrive > math.cos(math.radians(STEEPEST_DEG)))
    for tip, outward, width, cos, far in zip(
        tips[use], ends.outward[use], ends.width[use] / scale, arrive[use], distance[use], strict=True
    ):
        # From well inside the line to a little over the axis, so that the band finds it whole.
        length = max(0.0, float(far) / float(cos)) + 2.0
        _stroke(moving, tip - outward * width, tip + outward * length, float(width))


def _stroke(image: Singles, start: Floats, end: Floats, width: float) -> None:
    """Lay a straight line with flat ends into the coverage, in place."""
    border = width / 2 + 2
    low = np.floor(np.minimum(start, end) - border).astype(int)
    high = np.ceil(np.maximum(start, end) + border).astype(int)
    x0, y0 = max(low[0], 0), max(low[1], 0)
    x1, y1 = min(high[0], image.shape[1]), min(high[1], image.shape[0])
    if x1 <= x0 or y1 <= y0:
        return
    x = np.arange(x0, x1)[None, :] + 0.5 - start[0]
    y = np.arange(y0, y1)[:, None] + 0.5 - start[1]
    length = float(np.hypot(*(end - start)))
    unit = (end - start) / max(length, 1e-9)
    along, across = x * unit[0] + y * unit[1], np.abs(y * unit[0] - x * unit[1])
    depth = np.minimum(width / 2 - across, np.minimum(along, length - along))
    window = image[y0:y1, x0:x1]
    np.maximum(window, np.clip(depth + 0.5, 0, 1).astype(np.float32), out=window)


def _mirrored(
    moving: Singles,
    solid: NDArray[np.bool_],
    frame: Frame,
    band: float,
    shape: tuple[int, int],
    offset: tuple[int, int],
) -> tuple[Singles, NDArray[np.bool_]]:
    """Coverage and solid of the whole figure, each pixel read from the kept side."""
    coverage = np.empty(shape, np.float32)
    blacks = np.empty(shape, bool)
    normal = np.array(frame.normal, np.float32)
    x = np.arange(shape[1], dtype=np.float32) + np.float32(0.5 - offset[0])
    black = solid.astype(np.uint8)
    strip = 512
    for top in range(0, shape[0], strip):
        y = np.arange(top, min(top + strip, shape[0]), dtype=np.float32) + np.float32(0.5 - offset[1])
        across = (x - np.float32(frame.origin[0]))[None, :] * normal[0]
        across = across + (y - np.float32(frame.origin[1]))[:, None] * normal[1]
        step = np.maximum(np.abs(across), np.float32(band)) - across
        columns = x[None, :] + step * normal[0] - np.float32(0.5)
        rows = y[:, None] + step * normal[1] - np.float32(0.5)
        part = cv2.remap(moving, columns, rows, cv2.INTER_CUBIC, borderValue=0.0)
        coverage[top : top + strip] = np.where(part < NOTHING, np.float32(0), np.minimum(part, np.float32(1)))
        blacks[top : top + strip] = cv2.remap(black, columns, rows, cv2.INTER_NEAREST, borderValue=0) > 0
    return coverage, blacks
