"""Drawings in white on a dark ground: chalk on a board, a white pencil on black paper.

Method: what is thin and lighter than its surroundings is what an opening takes away, what is thin and darker
is what a closing fills in. The ground is dark, and the drawing is light, where a page is mostly dark and its
light thin marks are by far the stronger ones; such a page is turned into its negative.

Limits: coloured chalk is taken as grey.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["drawn_in_white", "turned_dark"]

Bytes8 = NDArray[np.uint8]

# Level under which half of the page must be: slate and black paper in any light stay below, grey and kraft
# paper above.
_DARK_GROUND = 110

# Lines are narrower than this share of the longest side, as where the light is measured.
_LINE_SHARE = 0.03

# The strongest of the thin marks, as a share of all pixels: a drawing covers more, reflections and dust less.
_MARKS_SHARE = 0.01

# Contrast, in steps of 1/255, that the light marks reach, and how many times that of the dark ones it is.
_LEAST_CONTRAST = 40
_STRONGER = 2.0


def drawn_in_white(coarse: Bytes8) -> bool:
    """Whether the drawing is lighter than its ground.

    Parameters
    ----------
    coarse : ndarray of uint8, shape (h, w, 3)
        The page, small.

    Returns
    -------
    bool
    """
    grey = np.asarray(cv2.cvtColor(coarse, cv2.COLOR_RGB2GRAY), np.uint8)
    if np.median(grey) >= _DARK_GROUND:
        return False
    box = np.ones((2 * round(_LINE_SHARE * max(grey.shape) / 2) + 1,) * 2, np.uint8)
    light, dark = (
        float(np.quantile(np.asarray(cv2.morphologyEx(grey, hat, box)), 1.0 - _MARKS_SHARE))
        for hat in (cv2.MORPH_TOPHAT, cv2.MORPH_BLACKHAT)
    )
    return light >= _LEAST_CONTRAST and light > _STRONGER * dark


def turned_dark(rgb: Bytes8) -> Bytes8:
    """The negative of a picture, without its colours, which would come out as their opposites."""
    grey = cv2.bitwise_not(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY))
    return np.asarray(cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB), np.uint8)
