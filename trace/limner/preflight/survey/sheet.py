"""The sheet measured once for all checks, apart from what the stages say of their own work.

Curves become polylines within 0.002 mm, and shapely measures those.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from limner.geometry.cubics import flatten_all, signed_area
from limner.model.geometry import CubicPath
from limner.model.sheet import PlacedLettering, PlacedSticker, Sheet
from limner.preflight.settings import PreflightSettings
from limner.preflight.survey.regions import Layer, Region, even_odd_region, is_overprinting, layers_of

__all__ = [
    "LetteringSurvey",
    "StickerSurvey",
    "Survey",
    "mean_width",
    "shortest_way",
    "shown",
]

_FLAT_MM = 0.002  # far below the 0.05 mm that a cut line may miss its distance by

# A tree of runs of so many pieces is searched three times as fast as one of single pieces; twice or half as
# many make no difference.
_RUN_PIECES = 8


class StickerSurvey:
    """One sticker, measured.

    Parameters
    ----------
    sticker : PlacedSticker
        What is measured.
    """

    def __init__(self, sticker: PlacedSticker) -> None:
        self.sticker = sticker
        self.name = shown(sticker.name)

    @cached_property
    def cut_ring(self) -> shapely.LinearRing:
        """The cut line; an open one is closed by a straight line."""
        return shapely.LinearRing(_ring_points([self.sticker.cut.path])[0])

    @cached_property
    def cut_polygon(self) -> shapely.Polygon:
        """What the blade cuts out, repaired where the line crosses itself."""
        polygon = shapely.Polygon(self.cut_ring)
        return polygon if polygon.is_valid else shapely.make_valid(polygon)

    @cached_property
    def is_sound(self) -> bool:
        """Whether the cut line bounds a simple area."""
        return bool(shapely.Polygon(self.cut_ring).is_valid)

    @cached_property
    def art(self) -> shapely.MultiLineString:
        """All outlines of the art, lines included; empty where there is none."""
        return _outlines([ring for rings in self._rings for ring in rings])

    @cached_property
    def line_widths(self) -> tuple[float, ...]:
        """Mean width of every shape of the lines, in millimetres; see `mean_width`."""
        lines = zip(self.sticker.lines, self.line_rings, strict=True)
        return tuple(_mean_width(item.shape.paths, mine) for item, mine in lines)

    @property
    def line_rings(self) -> list[list[NDArray[np.float64]]]:
        """Outlines of each shape of the lines, as closed polylines."""
        return self._rings[len(self.sticker.fills) :]

    @cached_property
    def layers(self) -> list[Layer]:
        """Colours of its ground and its art, bottom to top; lines that print over them are left out."""
        covering = [line for line in self.sticker.lines if not is_overprinting(line.colour)]
        return self.fill_layers + layers_of(covering)

    @cached_property
    def fill_layers(self) -> list[Layer]:
        """Colours of its ground and its fills, bottom to top."""
        ground = () if self.sticker.ground is None else (self.sticker.ground,)
        return layers_of((*ground, *self.sticker.fills))

    @cached_property
    def _rings(self) -> list[list[NDArray[np.float64]]]:
        """Outlines of each shape, fills first."""
        counts = [len(item.shape.paths) for item in self.sticker.shapes]
        rings = iter(_ring_points([path for item in self.sticker.shapes for path in item.shape.paths]))
        return [[next(rings) for _ in range(count)] for count in counts]

    @cached_property
    def art_outside(self) -> NDArray[np.float64]:
        """Points of the art's outlines that the cut line leaves out, shape (n, 2), the farthest first."""
        points = shapely.get_coordinates(self.art)
        shapely.prepare(self.cut_polygon)
        outside = points[~shapely.contains_xy(self.cut_polygon, points)]
        if len(outside) < 2:
            return np.asarray(outside)
        far = shapely.distance(self.cut_polygon, shapely.points(outside))
        return np.asarray(outside[np.argsort(-far, kind="stable")])

    @cached_property
    def nearest(self) -> shapely.LineString | None:
        """The shortest way from the cut line to the art; None without art."""
        if self.art.is_empty:
            return None
        return shortest_way(self.art, self.cut_ring)


class LetteringSurvey:
    """One piece of lettering, measured.

    Parameters
    ----------
    lettering : PlacedLettering
        What is measured.
    """

    def __init__(self, lettering: PlacedLettering) -> None:
        self.lettering = lettering
        self.name = shown(lettering.text)

    @cached_property
    def outlines(self) -> shapely.MultiLineString:
        """Outlines of all its glyphs."""
        return _outlines(_ring_points([path for glyph in self.lettering.glyphs for path in glyph.paths]))

    @cached_property
    def hull(self) -> shapely.Geometry:
        """Smallest convex region around all its glyphs."""
        return self.outlines.convex_hull

    @cached_property
    def region(self) -> Region:
        """What its glyphs cover."""
        return shapely.union_all([even_odd_region(glyph.paths) for glyph in self.lettering.glyphs])


@dataclass(frozen=True)
class Survey:
    """The sheet, what it is held to, and its measures, taken when first asked for.

    Parameters
    ----------
    sheet : Sheet
        What is checked.
    settings : PreflightSettings
        What it is held to.
    """

    sheet: Sheet
    settings: PreflightSettings

    @cached_property
    def stickers(self) -> tuple[StickerSurvey, ...]:
        """Every sticker."""
        return tuple(StickerSurvey(sticker) for sticker in self.sheet.stickers)

    @property
    def originals(self) -> tuple[StickerSurvey, ...]:
        """The stickers but for copies of others, in which nothing new is found."""
        return tuple(item for item in self.stickers if not item.sticker.copy_of)

    @cached_property
    def letterings(self) -> tuple[LetteringSurvey, ...]:
        """Every piece of lettering."""
        return tuple(LetteringSurvey(piece) for piece in self.sheet.letterings)

    @property
    def bleed_box(self) -> shapely.Polygon:
        """The whole page, bleed included."""
        return shapely.box(0.0, 0.0, self.sheet.page.width_mm, self.sheet.page.height_mm)

    @property
    def ground_layers(self) -> list[Layer]:
        """The background, where there is one."""
        return [] if self.sheet.background is None else [(self.sheet.background, self.bleed_box)]

    def layers_under(self, region: Region) -> list[Layer]:
        """Colours of all that lies under a region, bottom to top: the background and the art of stickers."""
        below = [
            layer for item in self.stickers if item.art.envelope.intersects(region) for layer in item.layers
        ]
        return self.ground_layers + below


def shown(text: str) -> str:
    """A name or text as it stands in a message: in quotes, on one line, not too long."""
    line = " ".join(text.split())
    return f'"{line if len(line) <= 40 else line[:39] + "…"}"'


def mean_width(paths: Iterable[CubicPath]) -> float:
    """Mean width of a shape in millimetres: that of the rectangle with its area and its outline's length.

    For a line much longer than wide, however it winds, branches or closes, this is twice the area by the
    outline's length; a dot comes out at about three quarters of its diameter.
    """
    paths = tuple(paths)
    return _mean_width(paths, _ring_points(paths))


def _mean_width(paths: Sequence[CubicPath], rings: Sequence[NDArray[np.float64]]) -> float:
    area = abs(sum(signed_area(path) for path in paths))
    length = float(shapely.length(_outlines(rings)))
    return float(length - math.sqrt(max(0.0, length**2 - 16.0 * area))) / 4.0


def shortest_way(one: shapely.Geometry, other: shapely.Geometry) -> shapely.LineString:
    """The shortest way from some lines to others, not empty.

    By a tree of their runs: GEOS is quadratic in the number of pieces without it, and its own index for
    distances brings the process down on a line that is shrunk to a point (GEOS 3.14).
    """
    runs, others = _runs(one), _runs(other)
    nearest, distances = shapely.STRtree(runs).query_nearest(others, return_distance=True, all_matches=False)
    index = int(np.argmin(distances))
    way = shapely.shortest_line(runs[nearest[1, index]], others[nearest[0, index]])
    assert isinstance(way, shapely.LineString)
    return way


def _runs(lines: shapely.Geometry) -> NDArray[np.object_]:
    """Lines cut at every few of their points."""
    points, owner = shapely.get_coordinates(shapely.get_parts(lines), return_index=True)
    begins = np.append(True, owner[1:] != owner[:-1])
    ends = np.append(begins[1:], True)
    number = np.arange(len(owner))
    place = number - np.maximum.accumulate(np.where(begins, number, 0))
    # Where a line is cut, the point ends one run and begins the next.
    cut = (place % _RUN_PIECES == 0) & ~begins & ~ends
    twice = np.repeat(number, np.where(cut, 2, 1))
    starts = begins[twice]
    starts[1:] |= twice[1:] == twice[:-1]
    return np.asarray(shapely.linestrings(points[twice], indices=np.cumsum(starts) - 1))


def _ring_points(paths: Sequence[CubicPath]) -> list[NDArray[np.float64]]:
    # A ring needs three points and its first one again; a loop shrunk to a point or a stroke has fewer.
    return [
        points if len(points) > 2 else np.concatenate([points] * 4) for points in flatten_all(paths, _FLAT_MM)
    ]


def _outlines(rings: Sequence[NDArray[np.float64]]) -> shapely.MultiLineString:
    if not rings:
        return shapely.MultiLineString()
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    return shapely.multilinestrings(shapely.linearrings(np.concatenate(rings), indices=owner))
