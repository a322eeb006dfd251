"""What tests of the touches share: strokes on a raster, and how far two inks lie apart."""

import cv2
import numpy as np

from limner.geometry.strokes import ink_of
from limner.model.raster import ScaledInk
from limner.regions import build_graph
from limner.touches import touch_ink
from limner.touches.strokes import smooth_line

__all__ = ["SIZE", "WIDTH", "apart_px", "f1", "ink_map", "strokes", "touched"]

SIZE = 400
"""Side of the raster."""

WIDTH = 8.0
"""Width of a line, pixels."""


def strokes(*lines, width=WIDTH, size=SIZE):
    """Coverage of round strokes through points."""
    whole = (slice(0, size), slice(0, size))
    inks = [ink_of(smooth_line(np.array(line, float)), width, whole) for line in lines]
    return np.maximum.reduce(inks) if inks else np.zeros((size, size), np.float32)


def ink_map(coverage, solid=None, mm_per_px=0.1):
    solid = np.zeros(coverage.shape, bool) if solid is None else solid
    return ScaledInk(coverage.astype(np.float32), solid, WIDTH, np.eye(3), mm_per_px=mm_per_px)


def f1(first, second):
    """Agreement of two masks: 2 |both| / (|one| + |other|)."""
    return 2.0 * float((first & second).sum()) / max(int(first.sum() + second.sum()), 1)


def apart_px(first, second):
    """Largest distance of a pixel of one mask from the other mask, both ways."""
    away = [
        float(
            cv2.distanceTransform((~b).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[a].max(initial=0)
        )
        for a, b in ((first, second), (second, first))
    ]
    return max(away)


def touched(ink, *touches):
    """Ink after touches, one after the other."""
    for touch in touches:
        ink = touch_ink(ink, touch, build_graph)
    return ink
