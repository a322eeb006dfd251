"""From the photograph to the page as if scanned: straight, evenly lit, at a known scale."""

import numpy as np

from limner.capture.light import even_light, measure_light
from limner.capture.settings import CaptureSettings
from limner.model.raster import FlatPage, Photo

__all__ = ["flatten_page"]

_MM_PER_INCH = 25.4


def flatten_page(photo: Photo, settings: CaptureSettings) -> FlatPage:
    """Take the page from the photograph.

    Parameters
    ----------
    photo : Photo
        The upright photograph.
    settings : CaptureSettings
        Whether to look for the sheet of paper, and what is known of its size.

    Returns
    -------
    FlatPage
    """
    grey, colour = even_light(photo.rgb, measure_light(photo.rgb))
    mm_per_px, scale_from = None, ""
    if settings.width_mm is not None:
        mm_per_px, scale_from = settings.width_mm / photo.rgb.shape[1], "width"
    elif photo.dpi is not None:
        mm_per_px, scale_from = _MM_PER_INCH / photo.dpi, "dpi"
    grey.flags.writeable = False
    colour.flags.writeable = False
    return FlatPage(grey, colour, mm_per_px, np.eye(3), scale_from, photo.source)
