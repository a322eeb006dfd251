"""A small tide-pool sheet made by hand: real shapes, inks, lettering and cut lines, without any tracing."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import font_fredoka_one
import numpy as np
import shapely
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont
from numpy.typing import ArrayLike, NDArray

from limner.geometry.cubics import bounds, flatten, polygon_path, reverse, signed_area, transform
from limner.model.colour import PressColour
from limner.model.drawing import Shape, ShapeRole
from limner.model.geometry import CubicPath
from limner.model.sheet import (
    ColouredShape,
    CutLine,
    Glyph,
    Page,
    PlacedLettering,
    PlacedSticker,
    Sheet,
)

Points = NDArray[np.float64]

INK = PressColour("ink", (0, 0, 0, 100), "#231f20", "given", 0.0)
SAND = PressColour("sand", (5, 13, 26, 0), "#f2dec0", "given", 0.0)
SHELL = PressColour("shell", (0, 55, 55, 0), "#f58f73", "given", 0.0)
KELP = PressColour("kelp", (60, 10, 65, 5), "#6aae7d", "given", 0.0)
FOAM = PressColour("foam", (25, 0, 8, 0), "#bfe4ea", "given", 0.0)
SUN = PressColour("sun", (0, 25, 80, 0), "#ffc74f", "given", 0.0)
WHITE = PressColour("white", (0, 0, 0, 0), "#ffffff", "given", 0.0)
CUTTING = PressColour("Cutting", (0, 100, 0, 0), "#ec008c", "given", 0.0)

ASKED_MM = 2.5
ARM = 0.5522847498307936  # of a quarter circle, relative to its radius


def ellipse(x: float, y: float, rx: float, ry: float, angle_deg: float = 0.0) -> CubicPath:
    """An ellipse of four cubics, positive."""
    corners = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)]
    segments = []
    for index, (a, b) in enumerate(corners):
        c, d = corners[(index + 1) % 4]
        segments.append([(a, b), (a + ARM * c, b + ARM * d), (c + ARM * a, d + ARM * b), (c, d)])
    path = CubicPath(np.array(segments), np.zeros(4, bool), np.ones(4, bool), closed=True)
    turn = math.radians(angle_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    return transform(path, [[rx * cos, -ry * sin, x], [rx * sin, ry * cos, y]])


def smooth_loop(points: ArrayLike) -> CubicPath:
    """A smooth closed curve through points, shape (n, 2), by Catmull and Rom's tangents."""
    nodes = np.asarray(points, dtype=np.float64)
    handle = (np.roll(nodes, -1, axis=0) - np.roll(nodes, 1, axis=0)) / 6.0
    after = np.roll(nodes, -1, axis=0)
    segments = np.stack([nodes, nodes + handle, after - np.roll(handle, -1, axis=0), after], axis=1)
    path = CubicPath(segments, np.zeros(len(nodes), bool), np.ones(len(nodes), bool), closed=True)
    return path if signed_area(path) > 0 else reverse(path)


def polar(x: float, y: float, radius: Callable[[Points], Points], count: int) -> CubicPath:
    """A smooth closed curve at a distance from (x, y) that depends on the angle."""
    angles = np.arange(count) * (2 * math.pi / count)
    r = radius(angles)
    return smooth_loop(np.stack([x + r * np.cos(angles), y + r * np.sin(angles)], axis=1))


def ring(path: CubicPath, width_mm: float) -> tuple[CubicPath, ...]:
    """A drawn line along a closed path: its outer and its inner outline."""
    polygon = shapely.Polygon(flatten(path, 0.005))
    outer = _loop_around(polygon.buffer(width_mm / 2), path.node_count * 3)
    inner = _loop_around(polygon.buffer(-width_mm / 2), path.node_count * 3)
    return outer, reverse(inner)


def _loop_around(polygon: shapely.Polygon, count: int) -> CubicPath:
    line = polygon.exterior
    steps = np.arange(count) * (line.length / count)
    return smooth_loop(shapely.get_coordinates(shapely.line_interpolate_point(line, steps)))


def coloured(
    name: str, role: ShapeRole, paths: Sequence[CubicPath], colour: PressColour, area_mm2: float = 0.0
) -> ColouredShape:
    return ColouredShape(Shape(name, role, tuple(paths), colour.screen, 0.02, area_mm2), colour)


def art_of(shapes: Sequence[ColouredShape]) -> shapely.Geometry:
    """All that shapes print, as polygons."""
    rings = [shapely.Polygon(flatten(path, 0.002)) for item in shapes for path in item.shape.paths]
    return shapely.union_all(rings)


def cut_around(shapes: Sequence[ColouredShape], path: CubicPath, form: str) -> CutLine:
    """A cut line with its measures, taken with shapely."""
    line = shapely.LinearRing(flatten(path, 0.002))
    art = art_of(shapes)
    inside = shapely.Polygon(line).contains(art)
    nearest = line.distance(art) if inside else -1.0
    farthest = float(shapely.distance(shapely.points(shapely.get_coordinates(line)), art).max())
    return CutLine(path, form, ASKED_MM, nearest, farthest, line.length, 1.0)


def outline_cut(shapes: Sequence[ColouredShape], nodes: int, hollow_mm: float) -> CutLine:
    """A cut line around the art, narrow hollows bridged, let out until it keeps its distance."""
    spare = 0.02
    while True:
        wide = art_of(shapes).buffer(ASKED_MM + spare + hollow_mm, 32).buffer(-hollow_mm, 32)
        cut = cut_around(shapes, _loop_around(shapely.Polygon(wide.exterior), nodes), "outline")
        if cut.min_distance_mm >= ASKED_MM:
            return cut
        spare += ASKED_MM - cut.min_distance_mm + 0.005


def sticker(
    name: str, fills: Sequence[ColouredShape], lines: Sequence[ColouredShape], cut: CutLine
) -> PlacedSticker:
    x0, y0, x1, y1 = art_of([*fills, *lines]).bounds
    return PlacedSticker(
        name,
        (x0 + x1) / 2,
        (y0 + y1) / 2,
        x1 - x0,
        y1 - y0,
        0.0,
        tuple(fills),
        tuple(lines),
        cut,
        line_width_mm=0.6,
        error_mm=0.04,
        sketch=f"{name}.jpg",
        sketch_px_per_mm=24.0,
    )


def crab(x: float, y: float) -> PlacedSticker:
    body = ellipse(x, y, 13, 8.5)
    claws = [ellipse(x + side * 15.5, y - 8.5, 5.2, 3.6, side * -50) for side in (-1, 1)]
    legs = [
        ellipse(x + side * 13.2, y + 4.6 + 2.3 * row, 5.0, 1.1, side * (18 + 14 * row))
        for side in (-1, 1)
        for row in (0, 1)
    ]
    eyes = [ellipse(x + side * 4.4, y - 8.4, 2.5, 2.9) for side in (-1, 1)]
    fills = [
        *(coloured(f"leg-{i}", "area", [leg], SHELL, 17) for i, leg in enumerate(legs, 1)),
        *(coloured(f"claw-{i}", "area", [claw], SHELL, 59) for i, claw in enumerate(claws, 1)),
        coloured("body", "area", [body], SHELL, 347),
        *(coloured(f"eye-{i}", "area", [eye], WHITE, 23) for i, eye in enumerate(eyes, 1)),
    ]
    mouth = smooth_loop([(x - 4, y + 1.2), (x, y + 3.6), (x + 4, y + 1.2), (x, y + 2.9)])
    pupils = [ellipse(x + side * 4.0, y - 8.0, 1.0, 1.3) for side in (-1, 1)]
    lines = [
        *(coloured(f"leg-line-{i}", "line", ring(leg, 0.6), INK) for i, leg in enumerate(legs, 1)),
        *(coloured(f"claw-line-{i}", "line", ring(claw, 0.6), INK) for i, claw in enumerate(claws, 1)),
        coloured("body-line", "line", ring(body, 0.6), INK),
        *(coloured(f"eye-line-{i}", "line", ring(eye, 0.6), INK) for i, eye in enumerate(eyes, 1)),
        coloured("mouth", "line", [mouth], INK),
        *(coloured(f"pupil-{i}", "solid", [pupil], INK) for i, pupil in enumerate(pupils, 1)),
    ]
    return sticker("crab", fills, lines, outline_cut([*fills, *lines], 28, 9.0))


def sea_star(x: float, y: float) -> PlacedSticker:
    body = polar(x, y, lambda a: 9.5 + 4.2 * np.cos(5 * (a + math.pi / 2)), 30)
    dots = [
        ellipse(x + r * math.cos(a), y + r * math.sin(a), 0.9, 0.9)
        for a in (math.pi / 2 * -1 + k * 2 * math.pi / 5 for k in range(5))
        for r in (4.5, 8.0)
    ]
    fills = [
        coloured("body", "area", [body], SUN, 300),
        *(coloured(f"dot-{i}", "area", [dot], SHELL, 2.5) for i, dot in enumerate(dots, 1)),
    ]
    lines = [coloured("body-line", "line", ring(body, 0.6), INK)]
    return sticker("sea star", fills, lines, outline_cut([*fills, *lines], 20, 5.0))


def anemone(x: float, y: float) -> PlacedSticker:
    crown = polar(x, y - 4, lambda a: 9.0 + 1.1 * np.cos(11 * a), 66)
    foot = polygon_path(np.array([(x - 6, y), (x - 8, y + 11), (x + 8, y + 11), (x + 6, y)]))
    foot = foot if signed_area(foot) > 0 else reverse(foot)
    fills = [
        coloured("foot", "area", [foot], FOAM, 154),
        coloured("crown", "area", [crown], KELP, 250),
        coloured("mouth", "area", [ellipse(x, y - 4, 3.2, 2.2)], FOAM, 22),
    ]
    lines = [
        coloured("crown-line", "line", ring(crown, 0.6), INK),
        coloured("mouth-line", "line", ring(ellipse(x, y - 4, 3.2, 2.2), 0.5), INK),
    ]
    cut = cut_around([*fills, *lines], ellipse(x, y - 0.6, 14.5, 18.3), "ellipse")
    return sticker("anemone", fills, lines, cut)


def shell(x: float, y: float) -> PlacedSticker:
    body = ellipse(x, y, 9, 8)
    ribs = [ellipse(x, y + 1.0, 1.2 + 2.4 * k, 6.2) for k in range(3)]
    fills = [coloured("body", "area", [body], FOAM, 226)]
    lines = [
        coloured("body-line", "line", ring(body, 0.6), INK),
        *(coloured(f"rib-{i}", "line", ring(rib, 0.45), INK) for i, rib in enumerate(ribs, 1)),
    ]
    cut = cut_around([*fills, *lines], ellipse(x, y, 11.9, 11.9), "circle")
    return sticker("shell", fills, lines, cut)


class _CubicPen(BasePen):
    """Collects closed cubic outlines in font units."""

    def __init__(self, glyph_set: object) -> None:
        super().__init__(glyph_set)
        self.paths: list[CubicPath] = []

    def _moveTo(self, point):
        self._start = point
        self._parts: list[tuple[list[tuple[float, float]], bool]] = []

    def _lineTo(self, point):
        a, b = np.array(self._getCurrentPoint(), float), np.array(point, float)
        self._parts.append(([a, a + (b - a) / 3, b - (b - a) / 3, b], True))

    def _curveToOne(self, first, second, point):
        self._parts.append(([self._getCurrentPoint(), first, second, point], False))

    def _closePath(self):
        if tuple(self._getCurrentPoint()) != tuple(self._start):
            self._lineTo(self._start)
        segments = np.array([part for part, _ in self._parts], float)
        segments[1:, 0] = segments[:-1, 3]
        segments[-1, 3] = segments[0, 0]
        straight = np.array([is_straight for _, is_straight in self._parts])
        self.paths.append(CubicPath(segments, straight, np.zeros(len(straight), bool), closed=True))


@cache
def _font() -> TTFont:
    return TTFont(Path(font_fredoka_one.__file__).parent / "files" / "FredokaOne-Regular.ttf")


def lettering(
    name: str, text: str, x: float, y: float, size_pt: float, colour: PressColour = INK
) -> PlacedLettering:
    """One line of lettering, centred about x, its baseline at y; plain advances without kerning."""
    font = _font()
    glyph_set, names = font.getGlyphSet(), font.getBestCmap()
    scale = size_pt * 25.4 / 72 / font["head"].unitsPerEm
    advance = [glyph_set[names[ord(letter)]].width * scale for letter in text]
    left = x - sum(advance) / 2 + np.concatenate([[0.0], np.cumsum(advance)[:-1]])
    glyphs = []
    for letter, at in zip(text, left, strict=True):
        pen = _CubicPen(glyph_set)
        glyph_set[names[ord(letter)]].draw(pen)
        if pen.paths:
            matrix = [[scale, 0, at], [0, -scale, y]]
            glyphs.append(Glyph(names[ord(letter)], tuple(transform(path, matrix) for path in pen.paths)))
    boxes = np.array([bounds(path) for glyph in glyphs for path in glyph.paths])
    box = (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())
    return PlacedLettering(
        name, text, size_pt * 25.4 / 72, colour, tuple(glyphs), x, y, 0.0, "Fredoka One Regular", box
    )


@cache
def tide_pool() -> Sheet:
    """An A6 sheet, upright, of four stickers, a title and credits, on sand with 3 mm of bleed."""
    return Sheet(
        name="tide-pool",
        page=Page(105.0, 148.0, 3.0, 4.0, "A6"),
        background=SAND,
        stickers=(crab(55.5, 50), sea_star(28, 88), anemone(82, 92), shell(36, 124)),
        letterings=(
            lettering("lettering-1", "Tide Pool", 55.5, 20.5, 26),
            lettering("lettering-2", "drawn by hand, cut by machine", 76, 140, 6),
        ),
        separation=CUTTING,
        gap_mm=2.0,
        colours=(SAND, SHELL, WHITE, INK, SUN, FOAM, KELP),
    )


def with_sticker(sheet: Sheet, index: int, **changes: object) -> Sheet:
    """The same sheet with one sticker changed."""
    stickers = list(sheet.stickers)
    stickers[index] = replace(stickers[index], **changes)
    return replace(sheet, stickers=tuple(stickers))


def shifted(placed: PlacedSticker, dx: float, dy: float) -> PlacedSticker:
    """A sticker moved as a whole."""
    matrix = [[1, 0, dx], [0, 1, dy]]

    def move(item: ColouredShape) -> ColouredShape:
        paths = tuple(transform(path, matrix) for path in item.shape.paths)
        return replace(item, shape=replace(item.shape, paths=paths))

    return replace(
        placed,
        x_mm=placed.x_mm + dx,
        y_mm=placed.y_mm + dy,
        fills=tuple(move(item) for item in placed.fills),
        lines=tuple(move(item) for item in placed.lines),
        cut=replace(placed.cut, path=transform(placed.cut.path, matrix)),
    )


@cache
def spoilt() -> Sheet:
    """The same sheet with many mistakes at once, to show how findings look."""
    good = tide_pool()
    rich = PressColour("midnight", (90, 80, 70, 95), "#0d0d12", "approximate", 14.0)
    crab_, star, anemone_, shell_ = good.stickers
    pale = replace(star.fills[0], colour=rich, shape=replace(star.fills[0].shape, fill=rich.screen))
    return replace(
        good,
        page=replace(good.page, bleed_mm=3.0),
        stickers=(
            replace(crab_, cut=replace(crab_.cut, path=ellipse(55.5, 49, 20.5, 13.5))),
            replace(shifted(star, -18, -4), fills=(pale, *star.fills[1:]), sketch_px_per_mm=3.0),
            shifted(anemone_, 0, 8),
            shifted(shell_, 23.5, -13),
        ),
        letterings=(
            lettering("lettering-1", "Tide Pool", 55.5, 37, 26),
            lettering("lettering-2", "drawn by hand, cut by machine", 76, 150, 4, SHELL),
        ),
        colours=(SAND, SHELL, WHITE, INK, rich, FOAM, KELP),
    )
