"""The grey in which the ink shows best.

Graphite is dark in every colour, so the plain grey with its low noise serves. A coloured pencil is pale
in the grey but dark in its weakest channel. Where lines are neutral and wide areas are coloured, the
colour is paint: in the strongest channel crayon is pale and the outline stays dark.
"""

import cv2
import numpy as np

from limner.ink.filters import Floats, closing, odd, quantile
from limner.ink.scale import resample
from limner.model.raster import FlatPage

__all__ = ["ink_signal"]

_COLOURED = 0.18
"""Chroma (largest minus smallest channel, 0 to 1) from which a mark is coloured: paper under a warm lamp
stays below it after the light is evened out."""


def ink_signal(page: FlatPage, step: float, line_width: float) -> Floats:
    """Grey picture on the working raster in which ink is dark and paper is near 1.

    Parameters
    ----------
    page : FlatPage
        The page.
    step : float
        Page pixels per working pixel.
    line_width : float
        Typical width of the lines, in page pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
        The signal, 0 to 1.
    """
    grey = resample(page.grey, step)
    colour = resample(page.colour, step)
    red, green, blue = cv2.split(colour)
    least = np.asarray(cv2.min(cv2.min(red, green), blue), np.float32)
    chroma = cv2.max(cv2.max(red, green), blue) - least
    hat = closing(least, odd(2.6 * line_width / step, 5)) - least
    strong = hat > max(0.08, 0.5 * quantile(hat, 0.995))
    if quantile(chroma, 0.5, strong) < _COLOURED:
        return grey
    return np.asarray(np.minimum(grey, least), np.float32)
