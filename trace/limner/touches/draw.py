"""A line added to the ink: like the pencil's own, it meets the lines that it touches or nearly touches.

Method: where an end lies in ink, or would with a little more or a little less of the line, it is led to the
middle of that ink, so that it neither stops short of the line that it meets, nor pokes out beyond it, nor
lies beside it for long and makes it a blot. Then the ink of the stroke is joined to what is there.

Limits: a line that runs beside another one for its whole length stays where it is drawn.
"""

import cv2
import numpy as np

from limner.geometry.polylines import arc_lengths
from limner.geometry.strokes import Window, ink_of, window_around
from limner.model.arrays import Floats, Singles
from limner.touches.strokes import smooth_line

__all__ = ["drawn"]

# How far beyond its end a line is led on to meet another one, and how much of it may lie beyond that one: a
# hand that closes a line misses it by about so much.
_REACH_LINE_WIDTHS = 1.5

# Where in the ink it ends is sought over this much of the way into it: the middle of a line that is met
# at a slant, or of a blob.
_DEEP_LINE_WIDTHS = 2.0


def drawn(coverage: Singles, points: Floats, width: float, line_width: float) -> Singles:
    """Add a line.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        The ink.
    points : ndarray of float64, shape (n, 2)
        What the line goes through, pixels.
    width, line_width : float
        Widths of the line and of the drawing's lines, pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
    """
    line = smooth_line(points)
    margin = width / 2 + (_REACH_LINE_WIDTHS + _DEEP_LINE_WIDTHS + 1.0) * line_width
    window = window_around(line, margin, (coverage.shape[0], coverage.shape[1]))
    there = _Depth(coverage, window)
    for _ in range(2):
        line = _met(line, there, line_width)[::-1]
    result = coverage.copy()
    result[window] = np.maximum(result[window], ink_of(line, width, window))
    return result


class _Depth:
    """How deep places lie in the ink, in pixels; 0 on paper."""

    def __init__(self, coverage: Singles, window: Window) -> None:
        self.top, self.left = window[0].start, window[1].start
        # A rim of paper, so that nothing is in ink outside of the window.
        ink = np.pad(coverage[window] >= np.float32(0.5), 1)
        self.depth = cv2.distanceTransform(ink.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)

    def at(self, points: Floats) -> Floats:
        height, width = self.depth.shape
        column = np.clip(np.floor(points[:, 0]).astype(int) - self.left + 1, 0, width - 1)
        row = np.clip(np.floor(points[:, 1]).astype(int) - self.top + 1, 0, height - 1)
        return np.asarray(self.depth[row, column], dtype=np.float64)

    def nearest_ink(self, point: Floats, reach: float) -> Floats | None:
        """Centre of the nearest pixel of ink within reach."""
        rows, columns = np.nonzero(self.depth > 0)
        if not len(rows):
            return None
        centres = np.stack([columns + self.left - 0.5, rows + self.top - 0.5], axis=1)
        distance = np.hypot(*(centres - point).T)
        best = int(distance.argmin())
        return np.asarray(centres[best]) if distance[best] <= reach else None


def _met(line: Floats, there: _Depth, line_width: float) -> Floats:
    """The line with its last end led to the middle of the ink that it meets, if it meets any."""
    in_ink = there.at(line) > 0
    if in_ink.all():
        return line
    reach = _REACH_LINE_WIDTHS * line_width
    after = _beyond(line, in_ink, reach)
    if after is None:
        onward = _onward(line, there, reach)
        if onward is None:
            return line
        line = np.concatenate([line, onward])
        in_ink = there.at(line) > 0
        after = len(line)
    entered = int(np.flatnonzero(~in_ink[:after]).max(initial=-1)) + 1
    inside = _straight_on(line[:after], _DEEP_LINE_WIDTHS * line_width)
    return _to_the_middle(inside, entered, there, _DEEP_LINE_WIDTHS * line_width)


def _beyond(line: Floats, in_ink: np.ndarray, reach: float) -> int | None:
    """How many samples are left without a short end beyond the ink; None where no ink is near the end."""
    if in_ink[-1]:
        return len(line)
    last = np.flatnonzero(in_ink)
    if not len(last):
        return None
    tail = line[last[-1] :]
    return int(last[-1]) + 1 if np.hypot(*np.diff(tail, axis=0).T).sum() <= reach else None


def _onward(line: Floats, there: _Depth, reach: float) -> Floats | None:
    """Samples from the end of the line to ink ahead of it, or else beside it."""
    ahead = _straight_on(line, reach)[len(line) :]
    met = np.flatnonzero(there.at(ahead) > 0)
    if len(met):
        return np.asarray(ahead[: met[0] + 1])
    beside = there.nearest_ink(line[-1], reach)
    return None if beside is None else smooth_line(np.stack([line[-1], beside]))[1:]


def _straight_on(line: Floats, length: float) -> Floats:
    """The line with a straight piece of its last direction added."""
    back = line[max(0, len(line) - 6)]
    way = line[-1] - back
    size = float(np.hypot(*way))
    if size == 0.0:
        return line
    return np.concatenate([line, smooth_line(np.stack([line[-1], line[-1] + way / size * length]))[1:]])


def _to_the_middle(line: Floats, entered: int, there: _Depth, far: float) -> Floats:
    """The line up to where it is deepest in the ink that it entered at a sample."""
    depth = there.at(line[entered:])
    way = arc_lengths(line[entered:])
    left = np.flatnonzero((depth == 0) | (way > far))
    depth = depth[: left[0]] if len(left) else depth
    return line[: entered + int(depth.argmax()) + 1] if len(depth) else line[:entered]
