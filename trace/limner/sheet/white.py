"""White ink under art and lettering, for stock that is not white.

Inks are translucent: what is to show in its own colour on clear, brown or metallic stock lies on white. So
white lies under all that stickers print, their grounds included, and under lettering, wherever that stands;
the background of the sheet alone is let through.

Method: all of that as polygons, shrunk by a disc (shapely's buffers), so that no white shows beside colours
whose plates are a little off.

Limits: polygons within 0.01 mm; what is narrower than twice the inset has no white under it.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from limner.geometry.cubics import polygon_path, signed_area
from limner.model.geometry import CubicPath
from limner.model.sheet import PlacedLettering, PlacedSticker
from limner.sheet.art import path_polygon

__all__ = ["white_paths"]

_DETAIL_MM = 0.01


def white_paths(
    stickers: Iterable[PlacedSticker], letterings: Iterable[PlacedLettering], inset_mm: float
) -> tuple[CubicPath, ...]:
    """What white ink covers, for even-odd filling: all but the background, less so much all round."""
    regions = [region for sticker in stickers for region in _regions(sticker)]
    regions += [_non_zero(glyph.paths) for lettering in letterings for glyph in lettering.glyphs]
    printed = shapely.union_all(regions)
    white = shapely.simplify(shapely.buffer(printed, -inset_mm), _DETAIL_MM)
    parts = [part for part in shapely.get_parts(white) if not part.is_empty]
    return tuple(_path(ring) for part in parts for ring in (part.exterior, *part.interiors))


def _regions(sticker: PlacedSticker) -> list[shapely.Geometry]:
    return [_even_odd(item.shape.paths) for item in sticker.printed]


def _even_odd(paths: Sequence[CubicPath]) -> shapely.Geometry:
    region = path_polygon(paths[0])
    for path in paths[1:]:
        region = shapely.symmetric_difference(region, path_polygon(path))
    return region


def _non_zero(paths: Sequence[CubicPath]) -> shapely.Geometry:
    """What a glyph's outlines fill: outer ones add, holes take away, from the largest to the smallest."""
    region = shapely.Polygon()
    areas = [signed_area(path) for path in paths]
    order = sorted(range(len(paths)), key=lambda i: -abs(areas[i]))
    for i in order:
        # Fonts differ in which way their outer outlines run.
        is_hole = areas[i] * areas[order[0]] < 0
        change = shapely.difference if is_hole else shapely.union
        region = change(region, path_polygon(paths[i]))
    return region


def _path(ring: shapely.LinearRing) -> CubicPath:
    return polygon_path(np.asarray(shapely.get_coordinates(ring))[:-1])
