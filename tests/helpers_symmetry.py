"""What tests of symmetry share: half a face of analytic curves, its ink, and how near an axis comes."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.geometry import Axis
from limner.model.raster import ScaledInk
from limner.symmetry.frame import frame_of

__all__ = [
    "MM_PER_PX",
    "SIDE_PX",
    "WIDTH_PX",
    "arc",
    "assert_axis",
    "dense",
    "half_face",
    "inked",
    "turned",
]

Floats = NDArray[np.float64]

SIDE_PX = 480
MM_PER_PX = 0.25
WIDTH_PX = 6.0


def arc(x: float, y: float, rx: float, ry: float, start: float, stop: float) -> Floats:
    turn = np.radians(np.linspace(start, stop, 160))
    return np.stack([x + rx * np.cos(turn), y + ry * np.sin(turn)], axis=1)


def half_face(gap: float = 0.0) -> list[Floats]:
    """The right half of a face about x = 0, lines ending at x = `gap` (short of or over the axis), pixels."""
    lines = [
        arc(0, 0, 130, 160, -90, 90),
        arc(0, 60, 60, 30, 0, 90),
        arc(0, -10, 18, 40, 20, 90),
        arc(55, -40, 25, 15, 0, 360),
    ]
    for k in range(3):
        line = lines[k][lines[k][:, 0] >= gap]
        first = [[gap, line[0, 1]]] if k == 0 else np.zeros((0, 2))
        lines[k] = np.concatenate([first, line, [[gap, line[-1, 1]]]]) if gap else line
    return lines


def dense(points: list[list[float]]) -> Floats:
    """Points along a polyline, close enough to draw its corners without notches."""
    nodes = np.array(points, float)
    arc_length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(nodes, axis=0).T))])
    at = np.arange(0.0, arc_length[-1], 2.0)
    return np.stack([np.interp(at, arc_length, nodes[:, axis]) for axis in (0, 1)], axis=1)


def turned(lines: list[Floats], angle_deg: float, x: float, y: float) -> list[Floats]:
    turn = math.radians(angle_deg)
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return [line @ matrix + [x, y] for line in lines]


def inked(lines: list[Floats], widths: list[float] | None = None) -> ScaledInk:
    """Coverage of lines with flat ends (pixels), oversampled four times."""
    cover = np.zeros((SIDE_PX, SIDE_PX), np.float32)
    widths = widths or [WIDTH_PX] * len(lines)
    for line, width in zip(lines, widths, strict=True):
        step = np.gradient(line, axis=0)
        across = np.stack([-step[:, 1], step[:, 0]], axis=1) / np.hypot(*step.T)[:, None] * width / 2
        mask = np.zeros((SIDE_PX * 4, SIDE_PX * 4), np.uint8)
        quads = [
            np.stack(
                [
                    line[k] + across[k],
                    line[k + 1] + across[k + 1],
                    line[k + 1] - across[k + 1],
                    line[k] - across[k],
                ]
            )
            for k in range(len(line) - 1)
        ]
        for quad in quads:
            cv2.fillConvexPoly(mask, np.rint((quad * 4 - 0.5) * 16).astype(np.int32), 255, cv2.LINE_8, 4)
        small = cv2.resize(mask, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA)
        cover = np.maximum(cover, small.astype(np.float32) / 255)
    return ScaledInk(cover, np.zeros(cover.shape, bool), WIDTH_PX, np.eye(3), MM_PER_PX)


def assert_axis(axis: Axis, angle_deg: float, x_px: float, y_px: float, *, degrees: float, px: float) -> None:
    assert abs((axis.angle_deg - angle_deg + 90) % 180 - 90) < degrees
    assert abs(float(frame_of(axis).distance(np.array([x_px, y_px]) * MM_PER_PX))) < px * MM_PER_PX
