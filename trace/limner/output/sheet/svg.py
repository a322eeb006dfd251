"""A sheet as SVG 1.1: true size, layers from bottom to top, the cut lines last.

The page is the trim size plus the bleed on all sides; one unit of the viewBox is one millimetre. Colours are
screen values: what goes to press is the PDF.
"""

from collections.abc import Sequence
from io import StringIO

import svgwrite

from limner.model.colour import PressColour
from limner.model.sheet import ColouredShape, CutDepth, PlacedLettering, PlacedSticker, Sheet, White
from limner.output.markup import path_data, plain_text, xml_id
from limner.output.sheet.layers import (
    BACKGROUND,
    LETTERING,
    WHITE,
    StickerLayers,
    cut_layer,
    sheet_layers,
)

__all__ = ["sheet_svg"]


def sheet_svg(sheet: Sheet) -> bytes:
    """Write a sheet as an SVG file.

    Parameters
    ----------
    sheet : Sheet
        What to write.

    Returns
    -------
    bytes
        UTF-8 text; the same sheet gives the same bytes.
    """
    layers = sheet_layers(sheet)
    width, height = _number(sheet.page.width_mm), _number(sheet.page.height_mm)
    # Validation while writing costs more than all the rest; the tests validate the result instead.
    svg = svgwrite.Drawing(
        size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", profile="full", debug=False
    )
    svg.set_desc(title=plain_text(sheet.name))
    if sheet.white is not None:
        svg.add(_white(svg, sheet.white))
    background = _group(svg, BACKGROUND, "Background")
    if sheet.background is not None:
        background.add(svg.rect((0, 0), (width, height), fill=sheet.background.screen))
    svg.add(background)
    for sticker, ids in zip(sheet.stickers, layers.stickers, strict=True):
        svg.add(_sticker(svg, sticker, ids))
    lettering = _group(svg, LETTERING, "Lettering")
    for piece, name in zip(sheet.letterings, layers.letterings, strict=True):
        lettering.add(_lettering(svg, piece, name))
    svg.add(lettering)
    if sheet.partial is not None:
        svg.add(_cut(svg, sheet, layers.stickers, "partial", sheet.partial))
    svg.add(_cut(svg, sheet, layers.stickers, "through", sheet.separation))
    text = StringIO()
    svg.write(text, pretty=True, indent=1)
    return text.getvalue().encode("utf-8")


def _number(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _group(svg: svgwrite.Drawing, name: str, title: str) -> svgwrite.container.Group:
    group = svg.g(id=name)
    group.set_desc(title=plain_text(title))
    return group


def _white(svg: svgwrite.Drawing, white: White) -> svgwrite.container.Group:
    """On a background of white it shows nowhere; it is there to be taken along."""
    group = _group(svg, WHITE, white.separation.name)
    if white.paths:
        group.add(svg.path(d=path_data(white.paths), fill=white.separation.screen, fill_rule="evenodd"))
    return group


def _sticker(svg: svgwrite.Drawing, sticker: PlacedSticker, ids: StickerLayers) -> svgwrite.container.Group:
    name = sticker.name
    group = _group(svg, ids.sticker, name)
    parts: list[tuple[str, str, Sequence[ColouredShape], Sequence[str]]] = [
        (ids.fills, f"{name}: fills", sticker.fills, ids.fill_shapes),
        (ids.lines, f"{name}: lines", sticker.lines, ids.line_shapes),
    ]
    if sticker.ground is not None:
        parts.insert(0, (ids.ground, f"{name}: ground", [sticker.ground], [f"{ids.ground}-shape"]))
    for layer, title, shapes, names in parts:
        inner = _group(svg, layer, title)
        for item, identifier in zip(shapes, names, strict=True):
            data = path_data(item.shape.paths)
            path = svg.path(d=data, id=identifier, fill=item.colour.screen, fill_rule="evenodd")
            if xml_id(item.shape.name) != item.shape.name:
                path.set_desc(title=plain_text(item.shape.name))
            inner.add(path)
        group.add(inner)
    return group


def _lettering(svg: svgwrite.Drawing, piece: PlacedLettering, name: str) -> svgwrite.container.Group:
    group = _group(svg, name, piece.text)
    for glyph in piece.glyphs:
        group.add(svg.path(d=path_data(glyph.paths), fill=piece.colour.screen, fill_rule="nonzero"))
    return group


def _cut(
    svg: svgwrite.Drawing,
    sheet: Sheet,
    stickers: Sequence[StickerLayers],
    depth: CutDepth,
    separation: PressColour,
) -> svgwrite.container.Group:
    group = _group(svg, cut_layer(depth), separation.name)
    for sticker, ids in zip(sheet.stickers, stickers, strict=True):
        if sticker.cut.depth != depth:
            continue
        group.add(
            svg.path(
                d=path_data([sticker.cut.path]),
                id=ids.cut,
                fill="none",
                stroke=separation.screen,
                stroke_width=f"{sheet.hairline_mm:.4f}",
                stroke_linejoin="round",
            )
        )
    return group
