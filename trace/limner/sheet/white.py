"""White ink under the art of stickers, for stock that is not white.

Method: what a sticker prints, its ground included, as polygons, shrunk by a disc (shapely's buffers), so that
no white shows beside colours whose plates are a little off.

Limits: polygons within 0.01 mm; what is narrower than twice the inset has no white under it.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from limner.geometry.cubics import polygon_path
from limner.model.geometry import CubicPath
from limner.model.sheet import PlacedSticker
from limner.sheet.art import path_polygon

__all__ = ["white_paths"]

_DETAIL_MM = 0.01


def white_paths(stickers: Iterable[PlacedSticker], inset_mm: float) -> tuple[CubicPath, ...]:
    """What white ink covers, for even-odd filling: all that stickers print, less so much all round."""
    printed = shapely.union_all([region for sticker in stickers for region in _regions(sticker)])
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


def _path(ring: shapely.LinearRing) -> CubicPath:
    return polygon_path(np.asarray(shapely.get_coordinates(ring))[:-1])
