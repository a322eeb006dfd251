"""The region that a drawing covers on paper, as a polygon.

Every shape counts, lines included; what lies inside an outline counts as covered, since a sticker has
no holes.
"""

from collections.abc import Iterable
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from limner.errors import GeometryError
from limner.geometry.cubics import bounds, flatten
from limner.model.drawing import Drawing
from limner.model.geometry import CubicPath

__all__ = ["FLATTEN_MM", "art_box", "covered_region", "path_polygon"]

Region = Any
"""A shapely Polygon or MultiPolygon; shapely publishes no types."""

# Curves are flattened to a tenth of what a cut line may be off by.
FLATTEN_MM = 0.005


def art_box(drawing: Drawing) -> tuple[float, float, float, float]:
    """Exact box (x0, y0, x1, y1) around everything that is drawn.

    Raises
    ------
    GeometryError
        Nothing is drawn.
    """
    boxes = np.array([bounds(path) for shape in drawing.shapes for path in shape.paths])
    if not len(boxes):
        raise GeometryError("The drawing has no shapes: there is nothing to make a sticker of.")
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def path_polygon(path: CubicPath, tolerance_mm: float = FLATTEN_MM) -> Region:
    """The region inside a closed path, made valid where the path crosses itself."""
    points: NDArray[np.float64] = flatten(path, tolerance_mm)
    if len(points) < 3:
        return shapely.Polygon()
    polygon = shapely.Polygon(points)
    return polygon if polygon.is_valid else shapely.make_valid(polygon)


def covered_region(paths: Iterable[CubicPath]) -> Region:
    """Union of the insides of closed paths, holes filled.

    Returns
    -------
    Polygon or MultiPolygon
        Empty where there are no paths.
    """
    union = shapely.union_all([path_polygon(path) for path in paths])
    return without_holes(union)


def without_holes(region: Region) -> Region:
    """The region with its holes filled, lines and points dropped."""
    parts = [part for part in shapely.get_parts(region) if part.geom_type == "Polygon" and not part.is_empty]
    nested = [inner for part in shapely.get_parts(region) for inner in shapely.get_parts(part)]
    parts = [part for part in nested if part.geom_type == "Polygon" and not part.is_empty] or parts
    return shapely.union_all([shapely.Polygon(part.exterior) for part in parts])
