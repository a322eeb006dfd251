"""Fonts: shaping by HarfBuzz, outlines by fontTools as closed cubic paths.

Method: quadratic curves are raised to cubics exactly; the outlines are the font's own, point for point.
Limits: variable fonts are set at their default instance; colour fonts and bitmap fonts have no
outlines and are refused.
"""

import io
import logging
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from limner.errors import InputError
from limner.model.arrays import Floats
from limner.model.geometry import CubicPath
from limner.sheet.lettering.directions import visual_runs
from limner.sheet.lettering.scripts import ScriptRun, script_runs

__all__ = ["Face", "PlacedGlyph", "default_face", "open_face"]


# Fonts that install with limner (SIL Open Font License): package and file.
_DEFAULT_FACES = {
    "display": ("font_fredoka_one", "FredokaOne-Regular.ttf"),
    "text": ("font_source_sans_pro", "SourceSansPro-Regular.otf"),
}

_LARGEST_FONT_BYTES = 64_000_000

_SILENT = logging.NullHandler()

# Two straight or curved segments that meet at less than this run smoothly into each other.
_SMOOTH_DEG = 1.0


@dataclass(frozen=True, slots=True)
class PlacedGlyph:
    """One glyph of a shaped line, in font units, y upwards.

    Parameters
    ----------
    name : str
        Its name in the font.
    x, y : float
        Where its origin goes, counted from the start of the line.
    advance : float
        How far the pen moves on.
    """

    name: str
    x: float
    y: float
    advance: float


@dataclass(slots=True, eq=False)
class Face:
    """An opened font.

    Parameters
    ----------
    name : str
        Its full name.
    units_per_em : int
        Font units in the size of the type.
    """

    name: str
    units_per_em: int
    _tables: Any = field(repr=False)
    _shaper: Any = field(repr=False)
    _outlines: dict[str, tuple[CubicPath, ...]] = field(default_factory=dict, repr=False)

    def shape(self, line: str) -> tuple[PlacedGlyph, ...]:
        """Glyphs of one line of text with kerning and ligatures, in visual order, left to right.

        Each run of one direction and one script is shaped by itself.

        Raises
        ------
        InputError
            The font lacks letters; the message names them.
        """
        if not line:
            return ()
        buffers = [self._shaped(line, run) for run in script_runs(line, visual_runs(line))]
        missing = {line[i.cluster] for buffer in buffers for i in buffer.glyph_infos if i.codepoint == 0}
        if missing:
            letters = ", ".join(f'"{letter}" (U+{ord(letter):04X})' for letter in sorted(missing))
            raise InputError(f"The font {self.name} has no letters for {letters}: choose another font.")
        order = self._tables.getGlyphOrder()
        glyphs, x, y = [], 0.0, 0.0
        for buffer in buffers:
            for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
                if info.codepoint >= len(order):
                    raise InputError(f"The font {self.name} is damaged: choose another font.")
                name = order[info.codepoint]
                glyphs.append(PlacedGlyph(name, x + place.x_offset, y + place.y_offset, place.x_advance))
                x, y = x + place.x_advance, y + place.y_advance
        return tuple(glyphs)

    def _shaped(self, line: str, run: ScriptRun) -> Any:
        """HarfBuzz's buffer of one run, shaped; the letters beside the run decide on joined forms, too."""
        import uharfbuzz

        buffer = uharfbuzz.Buffer()
        buffer.add_codepoints([ord(letter) for letter in line], run.start, run.end - run.start)
        buffer.direction = "rtl" if run.is_rtl else "ltr"
        buffer.script = run.script
        # Never the language of the machine: the same job gives the same forms everywhere.
        buffer.language = "und"
        uharfbuzz.shape(self._shaper, buffer)
        return buffer

    def outlines(self, glyph: str) -> tuple[CubicPath, ...]:
        """Closed outlines of one glyph in font units, y upwards; empty for a space."""
        if glyph not in self._outlines:
            self._outlines[glyph] = _draw(self._tables.getGlyphSet(), glyph)
        return self._outlines[glyph]


@cache
def default_face(kind: Literal["display", "text"]) -> Face:
    """One of the two faces that install with limner."""
    package, name = _DEFAULT_FACES[kind]
    return _face(resources.files(package).joinpath("files", name).read_bytes(), name)


def open_face(path: Path) -> Face:
    """Open a font file (TrueType or OpenType, also in a collection, as WOFF or as WOFF2).

    Raises
    ------
    InputError
        It cannot be read, or it is no font with outlines.
    """
    try:
        if not path.is_file():
            raise InputError(f'The font "{path}" is not there, or is not a file: check its name.')
        if path.stat().st_size > _LARGEST_FONT_BYTES:
            raise InputError(f'The font "{path}" is too large to be one.')
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        raise InputError(f'The font "{path}" cannot be read: check its name and rights.') from error
    return _face(data, path.name)


def _face(data: bytes, source: str) -> Face:
    import uharfbuzz
    from fontTools.ttLib import TTFont

    # Its remarks on odd fonts belong in a log, where one is kept, not on the terminal.
    logging.getLogger("fontTools").addHandler(_SILENT)
    try:
        tables = TTFont(io.BytesIO(data), fontNumber=0)
        if tables.flavor is not None:
            data = _unpacked(tables)
            tables = TTFont(io.BytesIO(data))
        outlined = any(table in tables for table in ("glyf", "CFF ", "CFF2"))
        units = int(tables["head"].unitsPerEm)
        tables.getGlyphSet()
        name = tables["name"].getBestFullName() if "name" in tables else None
        shaper = uharfbuzz.Font(uharfbuzz.Face(data))
    # A damaged font makes its reader stumble in many ways; none of them is a fault of the program.
    except Exception as error:
        raise InputError(f'"{source}" is not a usable font: choose another file.') from error
    if not outlined or not 16 <= units <= 16384:
        raise InputError(f'"{source}" is not a font with outlines: choose a TrueType or OpenType font.')
    return Face(name or source, units, tables, shaper)


def _unpacked(tables: Any) -> bytes:
    tables.flavor = None
    unpacked = io.BytesIO()
    tables.save(unpacked)
    return unpacked.getvalue()


def _draw(glyphs: Any, glyph: str) -> tuple[CubicPath, ...]:
    try:
        pen = _outline_pen(glyphs)
        glyphs[glyph].draw(pen)
        paths = [_closed_path(contour) for contour in pen.contours]
    except Exception as error:
        raise InputError(f'The font\'s glyph "{glyph}" is damaged: choose another font.') from error
    return tuple(path for path in paths if path is not None)


def _outline_pen(glyphs: Any) -> Any:
    from fontTools.pens.basePen import BasePen

    class OutlinePen(BasePen):  # type: ignore[misc]
        """Collects contours as lists of segments (4 points, is straight); raises quadratics itself."""

        def __init__(self) -> None:
            super().__init__(glyphs)
            self.contours: list[list[tuple[list[tuple[float, float]], bool]]] = []

        def _moveTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
            self.contours.append([])
            self.start = pt

        def _lineTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
            here = self._getCurrentPoint()
            if pt != here:
                self.contours[-1].append((_line(here, pt), True))

        def _curveToOne(self, *points: tuple[float, float]) -> None:  # noqa: N802
            here = self._getCurrentPoint()
            if any(point != here for point in points):
                self.contours[-1].append(([here, *points], False))

        def _closePath(self) -> None:  # noqa: N802
            here = self._getCurrentPoint()
            if here != self.start:
                self.contours[-1].append((_line(here, self.start), True))

        _endPath = _closePath  # noqa: N815

    return OutlinePen()


def _line(start: tuple[float, float], end: tuple[float, float]) -> list[tuple[float, float]]:
    third = ((end[0] - start[0]) / 3, (end[1] - start[1]) / 3)
    return [start, (start[0] + third[0], start[1] + third[1]), (end[0] - third[0], end[1] - third[1]), end]


def _closed_path(contour: list[tuple[list[tuple[float, float]], bool]]) -> CubicPath | None:
    """None for a contour without extent, such as an anchor point."""
    if not contour or (len(contour) == 1 and contour[0][1]):
        return None
    segments = np.array([points for points, _ in contour], dtype=np.float64)
    straight = np.array([is_line for _, is_line in contour])
    return CubicPath(segments, straight, _smooth_starts(segments), closed=True)


def _smooth_starts(segments: Floats) -> NDArray[np.bool_]:
    """Whether the segment before each one arrives in the direction in which it leaves."""
    leaving = _direction(segments)
    arriving = np.roll(-_direction(segments[:, ::-1]), 1, axis=0)
    cosine = np.sum(leaving * arriving, axis=1)
    return np.asarray(cosine > np.cos(np.radians(_SMOOTH_DEG)))


def _direction(segments: Floats) -> Floats:
    """Unit direction at the start: towards the first control point that lies elsewhere."""
    steps = segments[:, 1:] - segments[:, :1]
    lengths = np.linalg.norm(steps, axis=2)
    first = np.argmax(lengths > 0, axis=1)
    row = np.arange(len(segments))
    return np.asarray(steps[row, first] / np.maximum(lengths[row, first], 1e-300)[:, None])
