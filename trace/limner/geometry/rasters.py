"""Closed rings painted into rasters.

The library that fills them counts pixel centres from whole numbers, everything here from half-integers: the
shift between the two is made in this module alone.

Limits: a pixel that the outline itself runs through is filled, too, as far as the library's outline goes:
within about half a pixel of the ring.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats

__all__ = ["fill_rings"]

# Binary places of a pixel that the library reads: a sixteenth keeps the shape of a small area.
_FRACTION_BITS = 4


def fill_rings(
    canvas: NDArray[np.uint8] | NDArray[np.int32], rings: Sequence[Floats], value: int = 1
) -> None:
    """Set the pixels inside closed rings, by the even-odd rule.

    Parameters
    ----------
    canvas : ndarray of uint8 or int32, shape (H, W)
        Changed in place; rings may reach beyond it.
    rings : sequence of ndarray of float64, shape (n, 2)
        Closed polylines (x, y) in pixels of the canvas, pixel centres at half-integers, first point not
        repeated.
    value : int
        What the pixels become.
    """
    unit = 1 << _FRACTION_BITS
    points = [np.rint((np.asarray(ring) - 0.5) * unit).astype(np.int32) for ring in rings]
    cv2.fillPoly(canvas, points, value, cv2.LINE_8, _FRACTION_BITS)
