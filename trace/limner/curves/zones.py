"""How large a distance is allowed where: the drawing's smoothing, an area's own, and zones."""

import numpy as np
from numpy.typing import NDArray

from limner.model.drawing import Zone

__all__ = ["inside", "smoothing_at"]

Floats = NDArray[np.float64]


def inside(points: Floats, rings: tuple[Floats, ...]) -> NDArray[np.bool_]:
    """Which points, shape (n, 2), lie within closed rings by the even-odd rule."""
    crossings = np.zeros(len(points), dtype=np.intp)
    x, y = points[:, 0], points[:, 1]
    for ring in rings:
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            if a[1] == b[1]:
                continue
            between = (a[1] <= y) != (b[1] <= y)
            crossings += between & (x < a[0] + (y - a[1]) * (b[0] - a[0]) / (b[1] - a[1]))
    return np.asarray(crossings % 2 == 1)


def smoothing_at(points: Floats, base: Floats | float, zones: tuple[Zone, ...]) -> Floats:
    """Smoothing at each point, shape (n,), millimetres; where zones overlap the last one counts."""
    allowed = np.array(np.broadcast_to(np.asarray(base, dtype=np.float64), len(points)))
    for zone in zones:
        if zone.smoothing_mm is not None:
            allowed[inside(points, zone.rings)] = zone.smoothing_mm
    return allowed
