"""The finished sheet: everything at its place and true size, ready to be written and checked.

Sheet coordinates
-----------------
Millimetres, x to the right, y **down**, origin at the top left corner of the **bleed**: the page of
sheet.svg and the MediaBox of sheet.pdf begin there. The trimmed sheet begins at (bleed, bleed). The
job file counts from the trim's corner, since that is what its author holds in hand; so does the report:
take `bleed_mm` off both coordinates on the way to a reader (`Page.from_trim`).
"""

from dataclasses import dataclass
from typing import Literal

from limner.model.colour import PressColour
from limner.model.drawing import Shape
from limner.model.finding import Finding
from limner.model.geometry import CubicPath

__all__ = [
    "Box",
    "ColouredShape",
    "CutDepth",
    "CutLine",
    "Glyph",
    "Page",
    "PlacedLettering",
    "PlacedSticker",
    "Sheet",
    "White",
]

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in sheet coordinates."""

CutDepth = Literal["through", "partial"]
"""How deep a blade goes: through everything, or through the sticker and not its backing."""


@dataclass(frozen=True, slots=True)
class Page:
    """Size of the sheet.

    Parameters
    ----------
    trim_width_mm, trim_height_mm : float
        The sheet once trimmed.
    bleed_mm : float
        How far the background runs on beyond the trim on all sides.
    safe_mm : float
        Nothing that matters lies nearer to the trim.
    size_name : str
        What the job calls the size, such as "A6"; empty for one written in millimetres.
    """

    trim_width_mm: float
    trim_height_mm: float
    bleed_mm: float
    safe_mm: float
    size_name: str = ""

    @property
    def width_mm(self) -> float:
        """Width with the bleed on both sides."""
        return self.trim_width_mm + 2 * self.bleed_mm

    @property
    def height_mm(self) -> float:
        """Height with the bleed on both sides."""
        return self.trim_height_mm + 2 * self.bleed_mm

    @property
    def trim_box(self) -> Box:
        """The trimmed sheet."""
        return self._inset(self.bleed_mm)

    @property
    def safe_box(self) -> Box:
        """The part in which everything that matters lies."""
        return self._inset(self.bleed_mm + self.safe_mm)

    def from_trim(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Sheet coordinates of a point counted from the trim's corner, as the job file does."""
        return x_mm + self.bleed_mm, y_mm + self.bleed_mm

    def to_trim(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """The same point counted from the trim's corner, as the report does."""
        return x_mm - self.bleed_mm, y_mm - self.bleed_mm

    def _inset(self, by: float) -> Box:
        return by, by, self.width_mm - by, self.height_mm - by


@dataclass(frozen=True, slots=True, eq=False)
class ColouredShape:
    """A shape in sheet coordinates with the colour it prints in.

    Parameters
    ----------
    shape : Shape
        Paths in sheet coordinates, filled by the even-odd rule. Its `fill` equals `colour.screen`.
    colour : PressColour
        What it prints in.
    """

    shape: Shape
    colour: PressColour


@dataclass(frozen=True, slots=True, eq=False)
class CutLine:
    """Where the blade goes around one sticker.

    Parameters
    ----------
    path : CubicPath
        One closed path in sheet coordinates, positive.
    form : str
        "outline", "circle", "ellipse", "rectangle", or several joined by " + ".
    asked_mm : float
        Distance from the art that the job asks for.
    min_distance_mm : float
        Smallest distance between cut line and art, measured both ways; negative where the cut line
        runs into the art.
    max_distance_mm : float
        Largest distance from a point of the cut line to the art.
    length_mm : float
        Length of the path.
    smallest_radius_mm : float
        The smallest radius that the job allows at an inner corner.
    depth : CutDepth
        How deep it is cut.
    """

    path: CubicPath
    form: str
    asked_mm: float
    min_distance_mm: float
    max_distance_mm: float
    length_mm: float
    smallest_radius_mm: float
    depth: CutDepth = "through"


@dataclass(frozen=True, slots=True, eq=False)
class PlacedSticker:
    """One sticker at its place.

    Parameters
    ----------
    name : str
        Unique on the sheet; id of its layer.
    x_mm, y_mm : float
        Centre of the art's box in sheet coordinates, about which it was turned.
    width_mm, height_mm : float
        Size of the art with its lines, before it was turned.
    rotate_deg : float
        By how much it was turned, clockwise to the eye.
    fills : tuple of ColouredShape
        Silhouettes and areas, bottom to top.
    lines : tuple of ColouredShape
        Ink, above the fills, bottom to top.
    cut : CutLine
        Where it is cut.
    line_width_mm : float
        Typical width of the drawn lines on the sheet.
    error_mm : float
        Largest distance between the traced shapes and the drawn ones, on the sheet.
    sketch : str
        Name of the sketch's file.
    sketch_px_per_mm : float or None
        Pixels of the photograph per millimetre of the printed art; None where it is not known.
    ground : ColouredShape or None
        A colour under all of the art, out to the cut line and a little past it.
    copy_of : str
        Name of the sticker that it is a copy of; empty for one that is none.
    """

    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    rotate_deg: float
    fills: tuple[ColouredShape, ...]
    lines: tuple[ColouredShape, ...]
    cut: CutLine
    line_width_mm: float
    error_mm: float
    sketch: str
    sketch_px_per_mm: float | None = None
    ground: ColouredShape | None = None
    copy_of: str = ""

    @property
    def shapes(self) -> tuple[ColouredShape, ...]:
        """All shapes of its art, bottom to top; the ground apart."""
        return self.fills + self.lines

    @property
    def printed(self) -> tuple[ColouredShape, ...]:
        """All that prints of it, bottom to top: its ground, where it has one, and its art."""
        return self.shapes if self.ground is None else (self.ground, *self.shapes)

    @property
    def node_count(self) -> int:
        """Number of nodes of all its shapes, the cut line apart."""
        return sum(item.shape.node_count for item in self.shapes)


@dataclass(frozen=True, slots=True, eq=False)
class White:
    """White ink under all art and lettering.

    Parameters
    ----------
    separation : PressColour
        Its separation; the alternate colour is no ink at all, as paper is white.
    paths : tuple of CubicPath
        What it covers in sheet coordinates, filled together by the even-odd rule.
    inset_mm : float
        By how much that is smaller than the art all round.
    """

    separation: PressColour
    paths: tuple[CubicPath, ...]
    inset_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Glyph:
    """One glyph of a lettering, as outlines in sheet coordinates.

    Parameters
    ----------
    name : str
        Name of the glyph in its font.
    paths : tuple of CubicPath
        Closed outlines, filled together by the **non-zero** rule, as fonts are.
    """

    name: str
    paths: tuple[CubicPath, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PlacedLettering:
    """One piece of lettering at its place.

    Parameters
    ----------
    name : str
        Unique on the sheet: "lettering-1", "lettering-2" and so on.
    text : str
        What it says; lines parted by a line feed.
    size_mm : float
        Size of the type (the em) in millimetres; 25.4 / 72 mm are a point.
    colour : PressColour
        What it prints in.
    glyphs : tuple of Glyph
        Its outlines, in reading order; glyphs without ink are left out.
    x_mm, y_mm : float
        Its anchor in sheet coordinates.
    rotate_deg : float
        By how much it is turned about its anchor, clockwise to the eye.
    font : str
        Full name of the font.
    box : Box
        Smallest upright box around all its outlines.
    """

    name: str
    text: str
    size_mm: float
    colour: PressColour
    glyphs: tuple[Glyph, ...]
    x_mm: float
    y_mm: float
    rotate_deg: float
    font: str
    box: Box


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A whole sheet of stickers.

    Parameters
    ----------
    name : str
        Name of the job, the stem of its file.
    page : Page
        Its size.
    background : PressColour or None
        Printed over the whole page, bleed included; None: bare paper.
    stickers : tuple of PlacedSticker
        In the order of the job.
    letterings : tuple of PlacedLettering
        In the order of the job.
    separation : PressColour
        The cut lines' own separation: its name is the separation's name, its press value the alternate
        colour where the separation is not known, its screen value chosen to stand out on this sheet.
    gap_mm : float
        Smallest distance asked for between neighbouring cut lines.
    colours : tuple of PressColour
        Every colour that prints on the sheet, once each, in the order of its first use from bottom to
        top; the separation is not among them.
    profile : bytes or None
        The printing company's ICC profile (CMYK), as its file holds it.
    profile_name : str
        The profile's own description; empty without one.
    findings : tuple of Finding
        What was remarked while the sheet was made, to be joined to what preflight finds.
    hairline_mm : float
        Width in which cut lines are drawn: 0.25 pt.
    partial : PressColour or None
        The separation of cut lines that do not go through the backing; None where there are none.
    white : White or None
        White ink under art and lettering; None where none is asked for.
    scale : float or None
        By how much the widths of stickers without a place were multiplied to fill the sheet; None where that
        was not asked for.
    """

    name: str
    page: Page
    background: PressColour | None
    stickers: tuple[PlacedSticker, ...]
    letterings: tuple[PlacedLettering, ...]
    separation: PressColour
    gap_mm: float
    colours: tuple[PressColour, ...]
    profile: bytes | None = None
    profile_name: str = ""
    findings: tuple[Finding, ...] = ()
    hairline_mm: float = 0.25 * 25.4 / 72.0
    partial: PressColour | None = None
    white: White | None = None
    scale: float | None = None

    @property
    def originals(self) -> tuple[PlacedSticker, ...]:
        """The stickers but for copies of others."""
        return tuple(sticker for sticker in self.stickers if not sticker.copy_of)

    def cut_at(self, depth: CutDepth) -> tuple[PlacedSticker, ...]:
        """The stickers that are cut so deep."""
        return tuple(sticker for sticker in self.stickers if sticker.cut.depth == depth)
