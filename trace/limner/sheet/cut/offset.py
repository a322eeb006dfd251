"""Offsetting a region outwards so that a blade can follow its border.

Method: Minkowski sums with discs (shapely's buffers, arcs as fine polygons). Out by the distance plus
the smallest radius, then in by that radius: a morphological closing, after which every inner corner is
an arc of at least that radius and every slit narrower than twice of it is bridged. Parts that stay
apart are joined along a minimum spanning tree of their nearest distances. An opening by a disc no larger than
the distance then rounds what points outwards, and takes nothing from the distance: what is grown by a disc
keeps its shape when it is opened by a smaller one.

Limits: arcs are polygons inside the true ones by at most `_SAGITTA_MM`.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from limner.sheet.art import without_holes

__all__ = ["ART_DETAIL_MM", "Neck", "blade_outline", "closing", "join_parts", "opening"]

Region = Any

# A polygonal arc lies inside the true one by r (1 - cos(pi / 4q)) for q segments a quarter; with this an
# arc of 1 mm turns by 3 degrees at each corner, so that its direction is known well enough for smooth
# joints.
_SAGITTA_MM = 0.0003

# Detail below this in the art moves the cut line by no more than itself.
ART_DETAIL_MM = 0.003


@dataclass(frozen=True, slots=True)
class Neck:
    """What joins two parts that lie apart.

    Parameters
    ----------
    at : tuple of float
        Its middle (x, y), in the coordinates of the art.
    length_mm : float
        The distance that it spans.
    """

    at: tuple[float, float]
    length_mm: float


def blade_outline(
    art: Region, distance_mm: float, radius_mm: float, neck_mm: float
) -> tuple[Region, tuple[Neck, ...]]:
    """One polygon without holes around `art`, ready to be cut.

    Parameters
    ----------
    art : Polygon or MultiPolygon
        What is to lie inside.
    distance_mm : float
        Its distance from the border.
    radius_mm : float
        Smallest radius of an inner corner.
    neck_mm : float
        Width of necks between parts.

    Returns
    -------
    Polygon
    tuple of Neck
    """
    art = shapely.simplify(art, ART_DETAIL_MM)
    grown = without_holes(_buffer(art, distance_mm + radius_mm))
    outline = without_holes(_buffer(grown, -radius_mm))
    if shapely.get_num_geometries(outline) == 1:
        return shapely.get_parts(outline)[0], ()
    joined, necks = join_parts(outline, neck_mm)
    return shapely.get_parts(closing(joined, radius_mm))[0], necks


def closing(region: Region, radius_mm: float) -> Region:
    """Round inner corners to `radius_mm`, bridge slits narrower than twice that, fill holes."""
    return without_holes(_buffer(without_holes(_buffer(region, radius_mm)), -radius_mm))


def opening(region: Region, radius_mm: float) -> Region:
    """Round outer corners to `radius_mm`, or to a half or quarter of it, or not, lest parts fall off."""
    for radius in (radius_mm, radius_mm / 2, radius_mm / 4):
        opened = _buffer(_buffer(region, -radius), radius)
        if shapely.get_num_geometries(opened) == 1 and not shapely.is_empty(opened):
            return shapely.get_parts(opened)[0]
    return region


def join_parts(region: Region, neck_mm: float) -> tuple[Region, tuple[Neck, ...]]:
    """Join the parts of a region by the shortest straight necks (Prim's minimum spanning tree)."""
    parts = list(shapely.get_parts(region))
    joined, waiting, necks = parts[0], parts[1:], []
    while waiting:
        distances = shapely.distance(joined, waiting)
        nearest = waiting.pop(int(np.argmin(distances)))
        line = shapely.shortest_line(joined, nearest)
        middle = line.interpolate(0.5, normalized=True)
        necks.append(Neck((float(middle.x), float(middle.y)), float(line.length)))
        joined = shapely.union_all([joined, nearest, _buffer(line, neck_mm / 2)])
    return without_holes(joined), tuple(necks)


def _buffer(region: Region, distance_mm: float) -> Region:
    radius = max(abs(distance_mm), _SAGITTA_MM)
    per_quarter = math.ceil(math.pi / 4 / math.acos(1.0 - min(_SAGITTA_MM / radius, 0.29)))
    return shapely.buffer(region, distance_mm, quad_segs=max(per_quarter, 4))
