"""Text set as outlines: lines, alignment, rotation, and along an arc.

Method: each line is shaped as a whole; each glyph is then moved rigidly, along the baseline or along a
circle. Limits: letters on an arc keep their shape and are not bent; hyphenation and justification are
not for a sticker sheet.
"""

import unicodedata
from dataclasses import dataclass
from typing import Literal

import numpy as np

from limner.errors import InputError
from limner.geometry.cubics import bounds, transform
from limner.model.arrays import Floats
from limner.model.colour import PressColour
from limner.model.sheet import Box, Glyph, PlacedLettering
from limner.sheet.lettering.directions import LONGEST_LINE, is_digit_sign
from limner.sheet.lettering.fonts import Face, PlacedGlyph

__all__ = ["LetteringSettings", "set_lettering"]


# Control characters, halves of characters, private ones, ones that are none, ends of lines and paragraphs.
# Blanks of every kind, soft hyphens, joiners and marks of direction are text.
_CONTROLS = ("Cc", "Cs", "Co", "Cn", "Zl", "Zp")


@dataclass(frozen=True, slots=True)
class LetteringSettings:
    """What a piece of lettering says and where.

    Parameters
    ----------
    text : str
        Lines parted by line feeds.
    size_mm : float
        Size of the type (the em).
    x_mm, y_mm : float
        Anchor in sheet coordinates: where the first baseline starts ("left"), has its middle
        ("middle") or ends ("right").
    align : {"left", "middle", "right"}
        What lies at the anchor.
    rotate_deg : float
        Rotation about the anchor, clockwise to the eye.
    leading : float
        Distance between baselines as a multiple of the size.
    arc_mm : float or None
        Radius of a circle along which the first baseline runs: through the anchor at its top for a
        positive radius, at its bottom for a negative one; None: straight.
    """

    text: str
    size_mm: float
    x_mm: float
    y_mm: float
    align: Literal["left", "middle", "right"] = "middle"
    rotate_deg: float = 0.0
    leading: float = 1.2
    arc_mm: float | None = None


def set_lettering(
    settings: LetteringSettings, face: Face, colour: PressColour, *, name: str = "lettering-1"
) -> PlacedLettering:
    """Set text as outlines at its place.

    Parameters
    ----------
    settings : LetteringSettings
        What and where.
    face : Face
        In which font.
    colour : PressColour
        In which colour.
    name : str
        Name on the sheet.

    Returns
    -------
    PlacedLettering

    Raises
    ------
    InputError
        The text has control characters, letters that the font lacks or no ink at all, or it is too
        long for its arc.
    """
    _refuse_controls(settings.text)
    placed: list[Glyph] = []
    for number, line in enumerate(settings.text.split("\n")):
        for glyph, matrix in _line_places(face.shape(line), number, settings, face):
            paths = tuple(transform(path, matrix) for path in face.outlines(glyph.name))
            if paths:
                placed.append(Glyph(glyph.name, paths))
    if not placed:
        raise InputError(
            f'The lettering "{settings.text.strip()[:40]}" has no visible letter: write some text.'
        )
    return PlacedLettering(
        name,
        settings.text,
        settings.size_mm,
        colour,
        tuple(placed),
        settings.x_mm,
        settings.y_mm,
        settings.rotate_deg,
        face.name,
        _box(placed),
    )


def _refuse_controls(text: str) -> None:
    if max(map(len, text.split("\n"))) > LONGEST_LINE:
        raise InputError(f"A line of lettering has more than {LONGEST_LINE} letters: make it shorter.")
    for character in text:
        if character != "\n" and (unicodedata.category(character) in _CONTROLS or is_digit_sign(character)):
            raise InputError(
                f"The lettering holds the control character U+{ord(character):04X}: take it out."
            )


def _line_places(
    glyphs: tuple[PlacedGlyph, ...], number: int, settings: LetteringSettings, face: Face
) -> list[tuple[PlacedGlyph, Floats]]:
    """Each glyph with the affine map, shape (3, 3), from font units to the sheet."""
    scale = settings.size_mm / face.units_per_em
    length = sum(glyph.advance for glyph in glyphs) * scale
    start = {"left": 0.0, "middle": -length / 2, "right": -length}[settings.align]
    drop = number * settings.leading * settings.size_mm
    anchor = _shift(settings.x_mm, settings.y_mm) @ _turn(np.radians(settings.rotate_deg))
    to_mm = np.diag([scale, -scale, 1.0])
    if settings.arc_mm is None:
        return [
            (glyph, anchor @ _shift(start + glyph.x * scale, drop - glyph.y * scale) @ to_mm)
            for glyph in glyphs
        ]
    radius = _line_radius(settings.arc_mm, drop, length, settings)
    places = []
    for glyph in glyphs:
        half = glyph.advance * scale / 2
        along = start + glyph.x * scale + half
        on_circle = _shift(0.0, settings.arc_mm) @ _turn(along / radius) @ _shift(0.0, -radius)
        places.append((glyph, anchor @ on_circle @ _shift(-half, -glyph.y * scale) @ to_mm))
    return places


def _line_radius(arc_mm: float, drop_mm: float, length_mm: float, settings: LetteringSettings) -> float:
    """Signed radius of one line's own circle: the lines of a text share their centre."""
    radius = arc_mm - drop_mm
    on_the_same_side = radius > 0 if arc_mm > 0 else radius < 0
    if not on_the_same_side or length_mm > 2 * np.pi * abs(radius):
        raise InputError(
            f'The lettering "{settings.text.splitlines()[0][:40]}" does not fit on its arc: '
            "make the arc larger or the text smaller."
        )
    return radius


def _shift(x: float, y: float) -> Floats:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])


def _turn(angle: float) -> Floats:
    """Rotation by `angle` radians, clockwise to the eye as y runs down."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _box(glyphs: list[Glyph]) -> Box:
    boxes = np.array([bounds(path) for glyph in glyphs for path in glyph.paths])
    x0, y0 = boxes[:, :2].min(axis=0)
    x1, y1 = boxes[:, 2:].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)
