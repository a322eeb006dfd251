"""Where a finding points to, rounded to 0.001 mm."""

import shapely

from limner.model.sheet import ColouredShape, PlacedSticker

__all__ = ["Place", "centre_of", "middle_of", "place", "start_of"]

Place = tuple[float, float]
"""A point in sheet coordinates."""


def place(x: float, y: float) -> Place:
    """A point."""
    return round(float(x), 3), round(float(y), 3)


def middle_of(geometry: shapely.Geometry) -> Place:
    """A point in the midst of a geometry."""
    point = geometry.representative_point()
    return place(point.x, point.y)


def start_of(item: ColouredShape) -> Place:
    """Where the outline of a shape begins."""
    return place(*item.shape.paths[0].segments[0, 0])


def centre_of(sticker: PlacedSticker) -> Place:
    """The centre of a sticker's art."""
    return place(sticker.x_mm, sticker.y_mm)
