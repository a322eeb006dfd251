"""Outlines without the grain's tremor: coverage is averaged along the edge, never across it.

The direction of the edge comes from the structure tensor (Weickert 1999, doi:10.1023/A:1008009714131) of
the coverage itself. From each pixel of an edge the line of that direction is followed a little way to
both sides (in steps, so that it bends with the edge), and the coverage met there is averaged. At
corners, ends and junctions the tensor has no single direction, and coverage stays as it is.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.ink.filters import box_mean, halved, odd
from limner.model.arrays import Singles

__all__ = ["smooth_along_edges"]

_STEP_LINES = 0.35
_STEPS = 3
"""Three steps of a third of a line width to each side: grain is finer than a line is wide, and what the hand
meant is coarser."""

_WEIGHTS = (1.0, 0.75, 0.35)
"""Weights of the steps, the pixel itself having 1: falls off like a bell."""

_TENSOR_LINES = 0.8
"""Side of the tensor's window in line widths: one edge of a line, not both."""

_CLEAR, _UNCLEAR = 0.75, 0.45
"""Coherence from which the direction is trusted wholly, and below which it is not at all: at a right-angled
corner it is 0, on a straight edge near 1."""


def smooth_along_edges(coverage: Singles, line_width: float) -> Singles:
    """Average coverage along its edges.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        Soft coverage.
    line_width : float
        Typical width of the lines, pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
        Coverage whose iso-line is smooth at the scale of the line width; 0 stays 0 away from edges.
    """
    rows, columns = np.nonzero(_edge_band(coverage))
    if len(rows) == 0:
        return coverage
    tangent, trust = _direction(coverage, rows, columns, odd(0.5 * _TENSOR_LINES * line_width))
    flow = np.zeros((*coverage.shape, 2), np.float32)
    flow[rows, columns] = np.stack(tangent, axis=1)
    total = coverage[rows, columns].copy()
    step = np.float32(_STEP_LINES * line_width)
    weight = 1.0
    for side in (1.0, -1.0):
        x, y = columns.astype(np.float32), rows.astype(np.float32)
        way_x, way_y = side * tangent[0], side * tangent[1]
        for share in _WEIGHTS[:_STEPS]:
            on_x, on_y = _onward(flow, x + step * way_x, y + step * way_y, way_x, way_y)
            # Half by the direction here, half by that ahead (Heun): an edge that bends is not left.
            x, y = x + step / 2 * (way_x + on_x), y + step / 2 * (way_y + on_y)
            way_x, way_y = on_x, on_y
            total += np.float32(share) * _sample(coverage, x, y)
            weight += share
    result = coverage.copy()
    mean = total / np.float32(weight)
    result[rows, columns] += trust * (mean - result[rows, columns])
    return result


def _edge_band(coverage: Singles) -> NDArray[np.bool_]:
    """Pixels within reach of the 0.5 iso-line."""
    around = np.ones((3, 3), np.uint8)
    most, least = cv2.dilate(coverage, around), cv2.erode(coverage, around)
    return np.asarray((most > np.float32(0.3)) & (least < np.float32(0.7)))


def _direction(
    coverage: Singles, rows: NDArray[np.intp], columns: NDArray[np.intp], side: int
) -> tuple[tuple[Singles, Singles], Singles]:
    """Unit tangent (x, y) of the edge at each place, and how far it can be trusted, 0 to 1.

    The tensor is smooth: it is worked out at half the resolution.
    """
    rows, columns = rows // 2, columns // 2
    dx = cv2.Sobel(coverage, cv2.CV_32F, 1, 0, ksize=3)
    dy = cv2.Sobel(coverage, cv2.CV_32F, 0, 1, ksize=3)
    xx, xy, yy = (
        box_mean(box_mean(halved(product), side), side)[rows, columns]
        for product in (dx * dx, dx * dy, dy * dy)
    )
    spread = np.hypot(xx - yy, 2 * xy)
    coherence = spread / np.maximum(xx + yy, np.float32(1e-6))
    # The normal is at half the angle of (xx - yy, 2 xy); the tangent is at right angles to it.
    half = np.float32(0.5) * np.arctan2(2 * xy, xx - yy)
    trust = np.clip((coherence - _UNCLEAR) / (_CLEAR - _UNCLEAR), 0, 1).astype(np.float32)
    return (-np.sin(half), np.cos(half)), trust


def _onward(flow: Singles, x: Singles, y: Singles, way_x: Singles, way_y: Singles) -> tuple[Singles, Singles]:
    """Direction of the flow at a place, turned so that it goes on; the old one where there is none."""
    ahead = _sample(flow, x, y, cv2.INTER_NEAREST)
    next_x, next_y = ahead[:, 0], ahead[:, 1]
    along = next_x * way_x + next_y * way_y
    # A turn by more than 60 degrees within a step is another edge.
    goes_on = np.abs(along) > np.float32(0.5)
    turn = np.copysign(np.float32(1), along)
    return np.where(goes_on, turn * next_x, way_x), np.where(goes_on, turn * next_y, way_y)


def _sample(values: Singles, x: Singles, y: Singles, how: int = cv2.INTER_LINEAR) -> Singles:
    """Values at (x, y), in pixels from the first pixel's centre, shape (n,) or (n, channels)."""
    width = 1024
    count = len(x)
    padded = -count % width
    map_x = np.pad(x, (0, padded)).reshape(-1, width)
    map_y = np.pad(y, (0, padded)).reshape(-1, width)
    sampled = cv2.remap(values, map_x, map_y, how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(sampled.reshape(-1, *values.shape[2:])[:count], np.float32)
