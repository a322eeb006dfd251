"""The ground of a sticker: a colour under all of its art, out to the cut line and past it.

Method: the region inside the cut line, grown by a disc (shapely's buffer) and fitted as cut lines are.
"""

import numpy as np
import shapely

from limner.geometry.cubics import flatten, polygon_path
from limner.model.geometry import CubicPath
from limner.sheet.cut.band_fit import Band, fit_ring

__all__ = ["ground_path"]

# The border of a ground is cut off: it may stray by more than a cut line, and bend as it likes.
_BAND = Band(0.05, 0.05, 0.1, 0.3)

# Where nothing is fitted, a polygon within this of the border does.
_POLYGON_MM = 0.02

_FINE_MM = 0.002
_ARC_SEGMENTS = 32


def ground_path(cut: CubicPath, past_mm: float) -> CubicPath:
    """The border of a ground.

    Parameters
    ----------
    cut : CubicPath
        The cut line: closed, positive.
    past_mm : float
        How far the ground reaches past it.

    Returns
    -------
    CubicPath
        Closed, positive.
    """
    grown = shapely.buffer(shapely.Polygon(flatten(cut, _FINE_MM)), past_mm, quad_segs=_ARC_SEGMENTS)
    ring = grown.exterior
    points = np.asarray(shapely.get_coordinates(ring))[:-1]
    fitted = fit_ring(points if ring.is_ccw else points[::-1], _BAND)
    if fitted is not None:
        return fitted
    corners = np.asarray(shapely.get_coordinates(shapely.simplify(ring, _POLYGON_MM)))[:-1]
    return polygon_path(corners if ring.is_ccw else corners[::-1])
