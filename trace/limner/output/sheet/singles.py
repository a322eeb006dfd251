"""Each sticker by itself, for the page of a shop.

Upright as it was drawn, however the layout turned it. The picture shows a sticker as it comes off the sheet,
with what is printed inside of the cut line, transparent outside of it.

Limits: resvg draws with sRGB screen values, as the proof does.
"""

import io
import math
from collections.abc import Iterable

import numpy as np

from limner.geometry.cubics import bounds, transform
from limner.geometry.lengths import MM_PER_INCH
from limner.model.arrays import Floats
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import CubicPath
from limner.model.sheet import ColouredShape, PlacedSticker, Sheet
from limner.output.markup import path_data, unique_stems
from limner.output.sheet.proof import safe_colour
from limner.output.sketch.svg import drawing_svg

__all__ = ["sheet_singles", "sticker_png", "sticker_svg"]

_DPI = 300

# Coordinates are written in these steps; what lies this near to one, in steps, is on it but for rounding.
_PER_MM, _NOISE = 1000.0, 1e-6


def sheet_singles(sheet: Sheet) -> dict[str, bytes]:
    """Two files for each sticker of a sheet: its art, and its picture.

    Returns
    -------
    dict of str to bytes
        By their names, "crab.svg" and "crab.png"; numbered where two names differ in capitals alone. Copies
        of a sticker have none.
    """
    files = {}
    stickers = [sticker for sticker in sheet.stickers if not sticker.copy_of]
    for stem, sticker in zip(unique_stems([s.name for s in stickers]), stickers, strict=True):
        files[f"{stem}.svg"] = sticker_svg(sticker)
        files[f"{stem}.png"] = sticker_png(sticker, sheet)
    return files


def sticker_svg(sticker: PlacedSticker) -> bytes:
    """The art of one sticker at true size, as a traced drawing is written: its page is the box around it.

    It is moved by whole steps of the grid on which coordinates are written, so that rounding moves nothing.
    """
    upright = _upright(sticker)
    boxes = np.array([bounds(transform(path, upright)) for path in _paths(sticker.shapes)])
    x0, y0 = np.floor(boxes[:, :2].min(axis=0) * _PER_MM + _NOISE) / _PER_MM
    x1, y1 = np.ceil(boxes[:, 2:].max(axis=0) * _PER_MM - _NOISE) / _PER_MM
    matrix = upright - np.array([[0.0, 0.0, x0], [0.0, 0.0, y0]])
    fills, lines = (tuple(_moved(item, matrix) for item in items) for items in (sticker.fills, sticker.lines))
    drawing = Drawing(float(x1 - x0), float(y1 - y0), fills, lines, sticker.line_width_mm)
    return drawing_svg(drawing, sticker.name)


def sticker_png(sticker: PlacedSticker, sheet: Sheet) -> bytes:
    """A picture of one sticker within its cut line, at 300 pixels per inch."""
    import resvg_py
    from PIL import Image

    upright = _upright(sticker)
    cut = transform(sticker.cut.path, upright)
    x0, y0, x1, y1 = bounds(cut)
    width, height = (math.ceil(side / MM_PER_INCH * _DPI) for side in (x1 - x0, y1 - y0))
    paper = "#ffffff" if sheet.background is None else safe_colour(sheet.background.screen)
    side_mm = MM_PER_INCH / _DPI
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="{x0:.4f} {y0:.4f} {width * side_mm:.4f} {height * side_mm:.4f}">'
        f'<clipPath id="cut"><path d="{path_data([cut])}"/></clipPath><g clip-path="url(#cut)">'
        f'<path d="{path_data([cut])}" fill="{paper}" stroke="{paper}"/>'
        f"{_art(sticker, upright)}{_letterings(sheet, upright)}</g></svg>"
    )
    picture = Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=svg))))
    file = io.BytesIO()
    picture.save(file, "PNG", dpi=(_DPI, _DPI))
    return file.getvalue()


def _upright(sticker: PlacedSticker) -> Floats:
    """The map from the sheet to a page on which the sticker stands upright about the origin, shape (2, 3)."""
    turn = -math.radians(sticker.rotate_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    x, y = sticker.x_mm, sticker.y_mm
    return np.array([[cos, -sin, sin * y - cos * x], [sin, cos, -sin * x - cos * y]])


def _paths(items: Iterable[ColouredShape]) -> list[CubicPath]:
    return [path for item in items for path in item.shape.paths]


def _moved(item: ColouredShape, matrix: Floats) -> Shape:
    shape = item.shape
    paths = tuple(transform(path, matrix) for path in shape.paths)
    return Shape(shape.name, shape.role, paths, item.colour.screen, shape.error_mm, shape.area_mm2)


def _art(sticker: PlacedSticker, matrix: Floats) -> str:
    return "".join(
        f'<path d="{path_data(transform(path, matrix) for path in item.shape.paths)}" '
        f'fill="{safe_colour(item.colour.screen)}" fill-rule="evenodd"/>'
        for item in sticker.printed
    )


def _letterings(sheet: Sheet, matrix: Floats) -> str:
    """All of it: the cut line keeps what lies on the sticker."""
    return "".join(
        f'<path d="{path_data(transform(path, matrix) for path in glyph.paths)}" '
        f'fill="{safe_colour(piece.colour.screen)}"/>'
        for piece in sheet.letterings
        for glyph in piece.glyphs
    )
