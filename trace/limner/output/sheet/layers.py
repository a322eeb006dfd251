"""The names of a sheet's layers, the same in every file that shows them.

A sticker's name becomes an identifier that is valid in XML; where two names would give the same one, or a
name is one of the sheet's own layers, a number is added. Groups and shapes inside a sticker carry its
identifier in front, since their own names are unique only within their drawing.
"""

from dataclasses import dataclass

from limner.model.sheet import CutDepth, PlacedSticker, Sheet
from limner.output.markup import unique_ids

__all__ = [
    "BACKGROUND",
    "CUT",
    "LETTERING",
    "PARTIAL_CUT",
    "WHITE",
    "SheetLayers",
    "StickerLayers",
    "cut_layer",
    "sheet_layers",
]

BACKGROUND, LETTERING, CUT = "background", "lettering", "cut"
WHITE, PARTIAL_CUT = "white", "cut-partial"
_OWN = (BACKGROUND, LETTERING, CUT, WHITE, PARTIAL_CUT)


@dataclass(frozen=True, slots=True)
class StickerLayers:
    """Identifiers of one sticker's parts.

    Parameters
    ----------
    sticker, fills, lines, cut, ground : str
        Its group, the two groups inside it, its path on a cut layer, and the group of its ground, which is
        there only where it has one.
    fill_shapes, line_shapes : tuple of str
        One for each shape, in their order.
    """

    sticker: str
    fills: str
    lines: str
    cut: str
    ground: str
    fill_shapes: tuple[str, ...]
    line_shapes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetLayers:
    """Identifiers of everything on a sheet.

    Parameters
    ----------
    stickers : tuple of StickerLayers
        In the sheet's order.
    letterings : tuple of str
        In the sheet's order.
    """

    stickers: tuple[StickerLayers, ...]
    letterings: tuple[str, ...]


def cut_layer(depth: CutDepth) -> str:
    """The layer of cut lines of a depth."""
    return CUT if depth == "through" else PARTIAL_CUT


def sheet_layers(sheet: Sheet) -> SheetLayers:
    """Name all layers of a sheet.

    Parameters
    ----------
    sheet : Sheet
        What is to be written.

    Returns
    -------
    SheetLayers
        Identifiers, all different.
    """
    groups = unique_ids([*_OWN, *(sticker.name for sticker in sheet.stickers)])
    bases = groups[len(_OWN) :]
    parts = [
        part for base, sticker in zip(bases, sheet.stickers, strict=True) for part in _parts(base, sticker)
    ]
    lettering_names = [lettering.name for lettering in sheet.letterings]
    ids = iter(unique_ids([*groups, *parts, *lettering_names])[len(groups) :])
    stickers = tuple(
        StickerLayers(
            base,
            next(ids),
            next(ids),
            next(ids),
            next(ids),
            tuple(next(ids) for _ in sticker.fills),
            tuple(next(ids) for _ in sticker.lines),
        )
        for base, sticker in zip(bases, sheet.stickers, strict=True)
    )
    return SheetLayers(stickers, tuple(ids))


def _parts(base: str, sticker: PlacedSticker) -> list[str]:
    shapes = [f"{base}-{item.shape.name}" for item in sticker.shapes]
    return [*(f"{base}-{part}" for part in ("fills", "lines", "cut", "ground")), *shapes]
