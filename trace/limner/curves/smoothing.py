"""How large a distance is allowed where: the drawing's smoothing, an area's own, and zones.

From one smoothing to a larger one it grows gradually, over a line's width along the line, so that no bump
or corner shows where a zone ends.
"""

import numpy as np

from limner.geometry.polylines import arc_lengths
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.drawing import Zone

__all__ = ["FOLLOW_LINE_WIDTHS", "gradual", "smoothing_at"]


# A smoothing of this share of the line's width follows the hand; a larger one calms it.
FOLLOW_LINE_WIDTHS = 0.2


def smoothing_at(points: Floats, base: Floats | float, zones: tuple[Zone, ...]) -> Floats:
    """Smoothing at each point, shape (n,), millimetres; where zones overlap the last one counts."""
    allowed = np.array(np.broadcast_to(np.asarray(base, dtype=np.float64), len(points)))
    for zone in zones:
        if zone.smoothing_mm is not None:
            allowed[inside_rings(points, zone.rings)] = zone.smoothing_mm
    return allowed


def gradual(points: Floats, allowed: Floats, closed: bool, reach_mm: float) -> Floats:
    """The smoothing, nowhere larger, that grows from the least to the largest over so long a way or more.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        A polyline, millimetres; a closed one does not repeat its first point.
    allowed : ndarray, shape (n,)
        The smoothing at each point.
    closed : bool
        Whether the last point is joined to the first.
    reach_mm : float
        The way.

    Returns
    -------
    ndarray, shape (n,)
    """
    least, most = float(allowed.min()), float(allowed.max())
    if least == most:
        return allowed
    count = len(points)
    # A closed line is walked three times over: then the second time has been reached from both sides.
    index = np.arange(3 * count if closed else count) % count
    climb = (most - least) / reach_mm * arc_lengths(points[index])
    ahead = np.minimum.accumulate(allowed[index] - climb) + climb
    back = (np.minimum.accumulate((allowed[index] + climb)[::-1]))[::-1] - climb
    grown = np.minimum(ahead, back)
    grown = grown[count : 2 * count] if closed else grown
    # Rounding must not lead out of what is allowed.
    return np.asarray(np.clip(grown, least, allowed))
