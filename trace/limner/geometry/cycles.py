"""Closed walks along the edges of a planar map, as polylines."""

from collections.abc import Sequence

import numpy as np

from limner.model.arrays import Floats
from limner.model.regionmap import Cycle, Edge

__all__ = ["cycle_points"]


def cycle_points(edges: Sequence[Edge], cycle: Cycle) -> Floats:
    """Closed polyline of a cycle, shape (n, 2), the first point not repeated."""
    return np.concatenate(
        [edges[edge].points[:-1] if forward else edges[edge].points[:0:-1] for edge, forward in cycle]
    )
