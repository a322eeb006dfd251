"""Outlines of the ink that cross each other or themselves, which turns ink into paper.

Two edges of a thin line may both lie within a large smoothing of where they were drawn and still have changed
places.
"""

from collections.abc import Sequence

import shapely

from limner.geometry.cubics import flatten_all
from limner.model.geometry import CubicPath

__all__ = ["crossing_rings"]


# Outlines are looked at as polylines within this share of a line's width.
FLAT_LINE_WIDTHS = 0.02
# A loop of less than this share of a square line width is a corner's, which nobody sees.
SMALLEST_LOOP_WIDTHS2 = 0.05


def crossing_rings(
    paths: Sequence[CubicPath], pieces: Sequence[int], line_width_mm: float
) -> tuple[int, ...]:
    """Which outlines cross others of the same piece of ink, or themselves.

    Parameters
    ----------
    paths : sequence of CubicPath
        Closed.
    pieces : sequence of int
        The piece of ink that each belongs to.
    line_width_mm : float
        Typical width of the lines.

    Returns
    -------
    tuple of int
        Ascending.
    """
    flat = flatten_all(paths, FLAT_LINE_WIDTHS * line_width_mm)
    known = [k for k, ring in enumerate(flat) if len(ring) > 2]
    rings = [shapely.LinearRing(flat[k]) for k in known]
    smallest_mm2 = SMALLEST_LOOP_WIDTHS2 * line_width_mm**2
    found = {known[k] for k, ring in enumerate(rings) if _loops(ring, smallest_mm2)}
    for one, other in shapely.STRtree(rings).query(rings, predicate="crosses").T.tolist():
        a, b = known[one], known[other]
        if pieces[a] == pieces[b]:
            found |= {a, b}
    return tuple(sorted(found))


def _loops(ring: shapely.LinearRing, smallest_mm2: float) -> bool:
    """Whether a ring crosses itself so that more than one part of it counts."""
    if ring.is_simple:
        return False
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.node(ring))))
    return int((shapely.area(faces) > smallest_mm2).sum()) > 1
