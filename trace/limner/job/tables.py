"""The tables of a job file as validated models; field names are the file's keys."""

from typing import Annotated, Any, Literal, NamedTuple, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, model_validator

from limner.errors import InputError
from limner.geometry.lengths import ISO_216_MM, paper_choice, parse_length
from limner.job.values import (
    Angle,
    AreaName,
    ColourName,
    ColourValue,
    Copies,
    FileName,
    Flag,
    Length,
    Name,
    Names,
    Nodes,
    OrderNumber,
    Place,
    PositiveLength,
    Scale,
    SignedLength,
    Text,
    TotalInk,
    Words,
    fraction_point,
    fractions,
    positive_length,
    quoted,
)
from limner.model.sheet import CutDepth
from limner.sheet import Alike, CutForm, PlacedForm

__all__ = [
    "FORMS",
    "TOUCHES",
    "AreaTable",
    "CutOverrides",
    "CutTable",
    "JobTables",
    "LetteringTable",
    "MirrorTable",
    "PlaceTable",
    "PrintTable",
    "RepeatTable",
    "SheetSize",
    "SheetTable",
    "SketchFile",
    "StickerTable",
    "TouchTable",
    "ZoneTable",
]

FORMS = get_args(CutForm)
"""Forms that a cut line can have."""

# A sheet narrower than this holds no sticker; one wider does not fit a press.
_SMALLEST_SHEET_MM, _LARGEST_SHEET_MM = 20.0, 2000.0

# More of one motif than any drawing shows, and as many as are placed in some seconds.
_MOST_PLACES = 500

# A line drawn by hand has some hundreds of points, however long it is.
_MOST_POINTS = 10_000

TOUCHES = ("draw", "rub", "part", "open", "pull", "corner", "smooth")
"""Kinds of touches."""

Point = tuple[float, float]


def _forms(value: Any) -> tuple[CutForm | PlacedForm, ...]:
    forms = [
        _placed_form(form) if isinstance(form, dict) else _plain_form(form)
        for form in (value if isinstance(value, list) else [value])
    ]
    plain = [form for form in forms if not isinstance(form, PlacedForm)]
    if not forms or len(set(plain)) < len(plain):
        raise ValueError("must hold each form once")
    return tuple(forms)


_FORM_EXAMPLE = '{ circle = "24 mm", at = [0.5, 0.6] }'


def _plain_form(value: Any) -> CutForm:
    if value not in FORMS:
        raise ValueError(
            f"is {quoted(value)}, but must be one of {', '.join(FORMS)}, or a list of them, some perhaps "
            f"with a size: {_FORM_EXAMPLE}"
        )
    form: CutForm = value
    return form


def _placed_form(value: dict[str, Any]) -> PlacedForm:
    kinds = [kind for kind in FORMS if kind in value and kind != "outline"]
    if len(kinds) != 1 or set(value) - {kinds[0], "at"}:
        raise ValueError(
            f"has a form that cannot be read: write {_FORM_EXAMPLE}, or ellipse or rectangle with two "
            "lengths; at counts in fractions of the width and height of the art"
        )
    size = value[kinds[0]]
    sides = size if isinstance(size, list) else [size, size]
    if len(sides) != 2 or (kinds[0] == "circle" and isinstance(size, list)):
        raise ValueError(f'has a {kinds[0]} of no size: a circle has one length, others ["30 mm", "20 mm"]')
    width, height = (positive_length(side) for side in sides)
    at = fraction_point(value["at"]) if "at" in value else (0.5, 0.5)
    return PlacedForm(kinds[0], width, height, at)


class SheetSize(NamedTuple):
    """Width and height in millimetres, and the ISO 216 name where the job uses one (short side first)."""

    width: float
    height: float
    name: str = ""


def _size(value: Any) -> SheetSize:
    if not isinstance(value, str):
        raise ValueError(f'is {quoted(value)}, but must be a size such as "A6" or "105 mm x 148 mm"')
    name = value.strip().upper()
    if name in ISO_216_MM:
        return SheetSize(*ISO_216_MM[name], name)
    sides = value.replace("\N{MULTIPLICATION SIGN}", "x").split("x")
    try:
        width, height = (parse_length(side) for side in sides)
    except (InputError, ValueError):
        raise ValueError(
            f'is {quoted(value)}, but must be an ISO 216 name such as "A6", or "105 mm x 148 mm"'
        ) from None
    for side in (width, height):
        if not _SMALLEST_SHEET_MM <= side <= _LARGEST_SHEET_MM:
            raise ValueError(
                f"is {quoted(value)}, but a side must be "
                f"{_SMALLEST_SHEET_MM:g} to {_LARGEST_SHEET_MM:g} mm long"
            )
    return SheetSize(width, height)


def _paper(value: Any) -> str:
    choice = paper_choice(value) if isinstance(value, str) else None
    if choice is None:
        raise ValueError(f'is {quoted(value)}, but must be "auto", "none" or an ISO 216 name such as "A4"')
    return choice


def _one_or_more_points(value: Any) -> tuple[Point, ...]:
    if isinstance(value, list) and value and isinstance(value[0], list):
        return tuple(fraction_point(point) for point in value)
    return (fraction_point(value),)


def _point(value: Any) -> Point:
    return fraction_point(value)


def _four_fractions(value: Any) -> tuple[float, float, float, float]:
    if not isinstance(value, list) or len(value) != 4:
        raise ValueError("must be four fractions of the page: left, top, right, bottom")
    x0, y0, x1, y1 = fractions(value)
    if not (x0 < x1 and y0 < y1):
        raise ValueError("must be left, top, right, bottom, each of the last two more than its opposite")
    return x0, y0, x1, y1


def _polygon(value: Any) -> tuple[Point, ...]:
    if not isinstance(value, list) or not 3 <= len(value) <= 10_000:
        raise ValueError("must be at least three points, such as [[0.1, 0.1], [0.9, 0.1], [0.5, 0.9]]")
    return tuple(fraction_point(point) for point in value)


def _line(value: Any) -> tuple[Point, ...]:
    if not isinstance(value, list) or len(value) < 2:
        raise ValueError("must be a line of at least two points, such as [[0.41, 0.30], [0.44, 0.31]]")
    if len(value) > _MOST_POINTS:
        raise ValueError(
            f"has {len(value)} points, but may have {_MOST_POINTS}: leave out those that lie close"
        )
    points = tuple(fraction_point(point) for point in value)
    if len(set(points)) < 2:
        raise ValueError("must be a line of at least two different points")
    return points


def _from_to(value: Any) -> tuple[Point, Point]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("must be two points, from and to, such as [[0.40, 0.30], [0.42, 0.30]]")
    return fraction_point(value[0]), fraction_point(value[1])


def _places(value: Any) -> Any:
    tables = value if isinstance(value, list) else [value]
    if not tables or not all(isinstance(table, dict) for table in tables):
        raise ValueError(
            f"is {quoted(value)}, but must be a list of places such as [{{ at = [0.42, 0.31], turn = 30 }}]"
        )
    if len(tables) > _MOST_PLACES:
        raise ValueError(f"has {len(tables)} places, but may have {_MOST_PLACES}: leave some out")
    return tables


def _mirror(value: Any) -> Any:
    """No table for "off", an empty one for "auto"; one table, or several that each name their figure."""
    if value in ("off", "auto"):
        return [] if value == "off" else [{}]
    tables = value if isinstance(value, list) else [value]
    if not tables or not all(isinstance(table, dict) for table in tables):
        raise ValueError(
            f'is {quoted(value)}, but must be "off", "auto" or a table such as '
            "{ at = [0.5, 0.5], angle = 90 }"
        )
    if len(tables) > 1 and not all("box" in table for table in tables):
        raise ValueError("has several axes, so each needs a box around its figure")
    return tables


def _leading(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0.2 <= value <= 10.0:
        raise ValueError(f"is {quoted(value)}, but must be a multiple of the size of the text, such as 1.2")
    return float(value)


def _table(value: Any) -> Any:
    if not isinstance(value, dict):
        raise ValueError("must be a table")
    return value


def _tables(value: Any) -> Any:
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise ValueError("must be tables in double brackets")
    return value


FractionBox = Annotated[tuple[float, float, float, float], BeforeValidator(_four_fractions)]
AtFraction = Annotated[Point, BeforeValidator(_point)]
LinePoints = Annotated[tuple[Point, ...], BeforeValidator(_line)]
FromTo = Annotated[tuple[Point, Point], BeforeValidator(_from_to)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class SheetTable(_Table):
    """`[sheet]`: the page.

    `turn` is how far, in degrees either way, the layout may turn stickers that have no place of their
    own; 0 keeps them upright, 180 lets them lie any way. `alike` is whether those of one sketch are to lie
    "apart" from one another or "together". With `scale` "fit" their widths only count beside one another:
    all are made larger or smaller by one factor, so that they are as large as the sheet allows.
    """

    size: Annotated[SheetSize, BeforeValidator(_size)] = SheetSize(*ISO_216_MM["A6"], "A6")
    orientation: Literal["portrait", "landscape"] | None = None
    bleed: Length = 3.0
    safe: Length = 4.0
    background: ColourName | None = None
    turn: Angle = 0.0
    alike: Alike = "apart"
    scale: Literal["fit"] | None = None

    @property
    def trim_mm(self) -> tuple[float, float]:
        """Width and height, turned as `orientation` asks."""
        width, height = self.size.width, self.size.height
        if self.orientation is not None and (width > height) != (self.orientation == "landscape"):
            return height, width
        return width, height


class CutTable(_Table):
    """`[cut]`: how stickers are cut.

    `corner` is the radius of a rectangle's corners, `neck` the width of what joins parts that lie apart.
    A cut of `depth` "partial" goes through the sticker and not its backing, on a separation of its own.
    """

    distance: Length = 2.5
    form: Annotated[tuple[CutForm | PlacedForm, ...], BeforeValidator(_forms)] = ("outline",)
    separation: Text = "Cutting"
    smallest_radius: PositiveLength = 1.0
    gap: Length = 2.0
    corner: Length | None = None
    neck: PositiveLength = 3.0
    depth: CutDepth = "through"
    partial_separation: Text = "PartialCutting"


class CutOverrides(_Table):
    """`[sticker.cut]`: what one sticker has otherwise."""

    distance: Length | None = None
    form: Annotated[tuple[CutForm | PlacedForm, ...] | None, BeforeValidator(_forms)] = None
    smallest_radius: PositiveLength | None = None
    corner: Length | None = None
    neck: PositiveLength | None = None
    depth: CutDepth | None = None


class PrintTable(_Table):
    """`[print]`: the printing company's profile, and the limits that preflight holds the sheet to.

    With `white` there is white ink under all art and lettering, smaller by that much all round.
    """

    profile: FileName | None = None
    smallest_text: PositiveLength | None = None
    smallest_line: PositiveLength | None = None
    most_ink: TotalInk | None = None
    white: Length | None = None


class MirrorTable(_Table):
    """`mirror = { ... }`: an axis set by hand, the side to keep, what stays one-sided.

    Without `at` and `angle` the axis is found as with "auto". With a `box` (left, top, right, bottom) only
    the figure in it is mirrored, so that a drawing of several figures can have an axis for each:
    `mirror = [{ box = ... }, { box = ... }]`.
    """

    at: AtFraction | None = None
    angle: Angle | None = None
    keep: Literal["left", "right", "top", "bottom"] | None = None
    one_sided: Names = ()
    box: FractionBox | None = None

    @model_validator(mode="after")
    def _both_or_neither(self) -> "MirrorTable":
        if (self.at is None) != (self.angle is None):
            raise ValueError("needs both at and angle, or neither")
        return self


class AreaTable(_Table):
    """`[[sticker.area]]`: a name, a colour and more for the area in which a point lies.

    Several points, or several tables with one name, join areas under that name. In art of the author's own
    the name is the id of a shape or a group, and there is no point.
    """

    at: Annotated[tuple[Point, ...], BeforeValidator(_one_or_more_points)] = ()
    name: AreaName | None = None
    fill: ColourName | None = None
    smoothing: PositiveLength | None = None
    nodes: Nodes | None = None
    order: OrderNumber | None = None
    skip: Flag = False


class ZoneTable(_Table):
    """`[[sticker.zone]]`: a part of the page with its own smoothing or budget.

    One of `box`, `ellipse` (both as left, top, right, bottom), `polygon`, `mask` (a picture of the
    page, painted black where the zone is) or `area` (the name of an area). `name` is what the desk and
    messages call it.
    """

    box: FractionBox | None = None
    ellipse: FractionBox | None = None
    polygon: Annotated[tuple[Point, ...] | None, BeforeValidator(_polygon)] = None
    mask: FileName | None = None
    area: AreaName | None = None
    name: AreaName | None = None
    smoothing: PositiveLength | None = None
    nodes: Nodes | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> "ZoneTable":
        shapes = [self.box, self.ellipse, self.polygon, self.mask, self.area]
        if sum(shape is not None for shape in shapes) != 1:
            raise ValueError("needs exactly one of box, ellipse, polygon, mask and area")
        if self.smoothing is None and self.nodes is None:
            raise ValueError("needs smoothing, nodes or both")
        return self


class TouchTable(_Table):
    """`[[sticker.touch]]`: a correction drawn on the sketch; touches are taken in the file's order.

    Exactly one of `draw`, `rub`, `part` (points that a line goes through, smoothly), `open` (a point: the
    bridge nearest to it is not made), `pull` (two points: from, to), `corner` and `smooth` (a point: the
    outline has a corner there, or none). `width` goes with the first two, `reach` with a pull.
    """

    draw: LinePoints | None = None
    rub: LinePoints | None = None
    part: LinePoints | None = None
    open: AtFraction | None = None
    pull: FromTo | None = None
    corner: AtFraction | None = None
    smooth: AtFraction | None = None
    width: PositiveLength | None = None
    reach: PositiveLength | None = None

    @property
    def kind(self) -> str:
        """Which of them it is."""
        return next(kind for kind in TOUCHES if getattr(self, kind) is not None)

    @model_validator(mode="after")
    def _one_kind(self) -> "TouchTable":
        given = [kind for kind in TOUCHES if getattr(self, kind) is not None]
        if len(given) != 1:
            raise ValueError(
                f"needs exactly one of {', '.join(TOUCHES[:-1])} and {TOUCHES[-1]}, "
                f"but has {' and '.join(given) or 'none'}"
            )
        if self.width is not None and given[0] not in ("draw", "rub"):
            raise ValueError(f"has a width, which goes with draw and rub, not with {given[0]}")
        if self.reach is not None and given[0] != "pull":
            raise ValueError(f"has a reach, which goes with pull, not with {given[0]}")
        return self


class PlaceTable(_Table):
    """One place of a motif: `at` is where the middle of its box comes to lie.

    It is flipped first, left to right, then scaled and turned about that middle.
    """

    at: AtFraction
    turn: Angle = 0.0
    scale: Scale = 1.0
    flip: Flag = False


class RepeatTable(_Table):
    """`[[sticker.repeat]]`: a motif that is drawn once, the shapes inside of `ring`, and placed again."""

    ring: Annotated[tuple[Point, ...], BeforeValidator(_polygon)]
    to: Annotated[tuple[PlaceTable, ...], BeforeValidator(_places)]


AreaTables = Annotated[list[AreaTable], BeforeValidator(_tables)]
ZoneTables = Annotated[list[ZoneTable], BeforeValidator(_tables)]
TouchTables = Annotated[list[TouchTable], BeforeValidator(_tables)]
RepeatTables = Annotated[list[RepeatTable], BeforeValidator(_tables)]


class SketchFile(_Table):
    """A file of areas, zones, touches and repeats for one sketch, and of its axis if that is set by hand."""

    area: AreaTables = []
    zone: ZoneTables = []
    touch: TouchTables = []
    repeat: RepeatTables = []
    mirror: Annotated[tuple[MirrorTable, ...], BeforeValidator(_mirror)] = ()

    @model_validator(mode="after")
    def _points(self) -> "SketchFile":
        for number, area in enumerate(self.area, 1):
            if not area.at:
                raise ValueError(f"has an [[area]] (number {number}) without a point: add at = [0.42, 0.31]")
        return self


class StickerTable(_Table):
    """`[[sticker]]`: one sketch, or vector art of the author's own, and what becomes of it.

    `at` is the centre of the art; left out, the layout finds a place. `ink` is the colour of the lines.
    With `like` all keys of another sticker count that are not given here (see `limner.job.likes`); `copies`
    is how many of it the sheet holds. Without a `smoothing` it follows the width of the lines, as in a trace.
    `ground` is a colour under the art out to the cut line and past it; `base` is that of the silhouette under
    the fills, and "none" leaves it out.
    `mirror` is empty for "off", and holds a table without an axis for "auto".
    """

    name: Name
    like: Name | None = None
    copies: Copies = 1
    sketch: FileName = ""
    art: FileName = ""
    width: PositiveLength
    smoothing: PositiveLength | None = None
    nodes: Nodes | None = None
    mirror: Annotated[tuple[MirrorTable, ...], BeforeValidator(_mirror)] = ()
    lines: Literal["drawn", "even", "tapered", "none"] = "drawn"
    bridges: Literal["inked", "open"] = "inked"
    ink: ColourName = "black"
    ground: ColourName | None = None
    base: ColourName | None = None
    paper: Annotated[str, BeforeValidator(_paper)] = "auto"
    at: Place | None = None
    rotate: Angle = 0.0
    turn: Angle | None = None
    cut: CutOverrides = CutOverrides()
    area: AreaTables = []
    zone: ZoneTables = []
    touch: TouchTables = []
    repeat: RepeatTables = []


class LetteringTable(_Table):
    """`[[lettering]]`: a piece of text.

    `at` is where its first baseline is anchored: at its middle, left or right end as `align` says. With
    `arc` the text runs along a circle of that radius whose top (or bottom, where `arc` is negative) is
    at `at`. `face` is one of limner's own faces, `font` a font file of the job's own.
    """

    text: Words
    size: PositiveLength
    at: Place
    fill: ColourName = "black"
    align: Literal["left", "middle", "right"] = "middle"
    rotate: Angle = 0.0
    leading: Annotated[float, BeforeValidator(_leading)] = 1.2
    face: Literal["display", "text"] = "display"
    font: FileName | None = None
    arc: SignedLength | None = None


class JobTables(_Table):
    """A whole job file."""

    sheet: Annotated[SheetTable, BeforeValidator(_table)] = SheetTable()
    colours: Annotated[dict[str, ColourValue], BeforeValidator(_table)] = {}
    cut: Annotated[CutTable, BeforeValidator(_table)] = CutTable()
    print: Annotated[PrintTable, BeforeValidator(_table)] = PrintTable()
    sticker: Annotated[list[StickerTable], BeforeValidator(_tables)]
    lettering: Annotated[list[LetteringTable], BeforeValidator(_tables)] = []
