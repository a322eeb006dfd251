"""Which pixels of the ink are left as they are while a figure is mirrored."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.geometry.rasters import fill_rings
from limner.model.arrays import Floats
from limner.model.raster import ScaledInk
from limner.symmetry.paths.one_sided import AROUND_WIDTHS

__all__ = ["unmirrored_pixels"]


def unmirrored_pixels(
    ink: ScaledInk, one_sided: Sequence[Floats], within: Sequence[Floats] | None
) -> NDArray[np.bool_] | None:
    """Pixels that are not to be mirrored, or None where all are.

    Parameters
    ----------
    ink : ScaledInk
        The ink.
    one_sided : sequence of ndarray, shape (n, 2)
        Closed rings in millimetres around what is on one side only; their own ink unmirrored, too.
    within : sequence of ndarray, shape (n, 2), or None
        Closed rings in millimetres around what is mirrored; None: everything.

    Returns
    -------
    ndarray of bool, shape (H, W), or None
    """
    if not one_sided and within is None:
        return None
    scale = ink.mm_per_px
    unmirrored = np.zeros(ink.coverage.shape, np.uint8)
    if within is not None:
        unmirrored = 1 - _filled(within, unmirrored, scale)
    if one_sided:
        # With the ink of its outline, half of which lies outside.
        diameter = 2 * round(AROUND_WIDTHS * ink.line_width_px) + 1
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (diameter, diameter))
        around = cv2.dilate(_filled(one_sided, np.zeros_like(unmirrored), scale), disc)
        unmirrored = np.maximum(unmirrored, around)
    return unmirrored.astype(bool)


def _filled(rings: Sequence[Floats], canvas: NDArray[np.uint8], scale: float) -> NDArray[np.uint8]:
    filled = canvas.copy()
    fill_rings(filled, [np.asarray(ring) / scale for ring in rings])
    return filled
