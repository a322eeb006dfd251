"""How large a distance is allowed where: the drawing's smoothing, an area's own, and zones."""

import numpy as np

from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.drawing import Zone

__all__ = ["FOLLOW_LINE_WIDTHS", "smoothing_at"]


# A smoothing of this share of the line's width follows the hand; a larger one calms it.
FOLLOW_LINE_WIDTHS = 0.2


def smoothing_at(points: Floats, base: Floats | float, zones: tuple[Zone, ...]) -> Floats:
    """Smoothing at each point, shape (n,), millimetres; where zones overlap the last one counts."""
    allowed = np.array(np.broadcast_to(np.asarray(base, dtype=np.float64), len(points)))
    for zone in zones:
        if zone.smoothing_mm is not None:
            allowed[inside_rings(points, zone.rings)] = zone.smoothing_mm
    return allowed
