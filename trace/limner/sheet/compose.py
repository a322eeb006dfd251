"""From traced drawings to the finished sheet.

`lay_cut` lays the cut line of one drawing (stickers do not depend on one another here, so that this can be
done side by side), `prepare_sticker` brings the drawing to its true size, ready to be placed, and
`compose_sheet` gives everything its place and colour.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from limner.geometry.cubics import signed_area, transform
from limner.model.arrays import Floats
from limner.model.colour import PressColour
from limner.model.drawing import Drawing, Shape
from limner.model.finding import Finding
from limner.model.geometry import CubicPath
from limner.model.sheet import (
    ColouredShape,
    CutDepth,
    Page,
    PlacedLettering,
    PlacedSticker,
    Sheet,
    White,
)
from limner.sheet.art import art_box, covered_region, path_polygon
from limner.sheet.cut.cut_line import Cut, make_cut, move_cut
from limner.sheet.cut.ground import ground_path
from limner.sheet.layout.arrange import place_free
from limner.sheet.layout.free import FreeSticker, sampled
from limner.sheet.layout.pose import Pose
from limner.sheet.layout.scale import filling_scale
from limner.sheet.settings import CutSettings, LayoutSettings
from limner.sheet.white import white_paths

__all__ = [
    "PreparedSticker",
    "SheetSettings",
    "StickerSettings",
    "compose_sheet",
    "copied",
    "fitting_scale",
    "lay_cut",
    "prepare_sticker",
]

ColourOf = Callable[[Shape], PressColour | None]
"""What gives a shape the colour it prints in; None leaves it out."""

# A neck longer than this is no longer hidden by the distance around the art: worth a look.
_LONG_NECK_MM = 10.0

# A ground reaches past the cut line by what a hand-fed cutter is off by at its worst, but never into that of
# a neighbour.
_PAST_CUT_MM = 1.0

# No ink at all: what white is on paper.
_NO_INK = (0.0, 0.0, 0.0, 0.0)
_WHITE_SCREEN = "#ffffff"

# Files hold coordinates to 0.001 mm, so that both edges of a drawing may be off by half of it.
_PER_MM = 1000.0
_ROUNDED_MM = 0.0011

# Cut lines are placed as polygons within this of them: a fifth of what preflight allows.
_OUTLINE_MM = 0.01


@dataclass(frozen=True, slots=True)
class StickerSettings:
    """What one sticker is to be.

    Parameters
    ----------
    name : str
        Its name.
    width_mm : float
        Width of the art, lines included, before it is turned.
    cut : CutSettings
        How it is cut.
    at_mm : tuple of float or None
        Centre of the art in sheet coordinates; None: the layout finds a place.
    rotate_deg : float
        By how much it is turned, clockwise to the eye.
    turn_deg : float
        How far the layout may turn it on from there, either way.
    sketch : str
        Name of the sketch's file.
    px_per_mm : float or None
        Pixels of the photograph per millimetre of the drawing.
    depth : CutDepth
        How deep it is cut.
    ground : PressColour or None
        A colour under all of its art, out to the cut line and past it.
    copy_of : str
        Name of the sticker that it is a copy of; empty for one that is none.
    """

    name: str
    width_mm: float
    cut: CutSettings
    at_mm: tuple[float, float] | None = None
    rotate_deg: float = 0.0
    turn_deg: float = 0.0
    sketch: str = ""
    px_per_mm: float | None = None
    depth: CutDepth = "through"
    ground: PressColour | None = None
    copy_of: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class PreparedSticker:
    """A drawing at true size, centred on (0, 0), with its cut line; not yet turned.

    Parameters
    ----------
    settings : StickerSettings
        What it was made from.
    drawing : Drawing
        Shapes in millimetres about the centre of the art.
    width_mm, height_mm : float
        Size of the art.
    cut : Cut
        In the same coordinates.
    px_per_mm : float or None
        Pixels of the photograph per millimetre on the sheet.
    outline : Polygon
        Region inside the cut line.
    free : FreeSticker or None
        What the layout is to place; None where the job says where it lies.
    """

    settings: StickerSettings
    drawing: Drawing
    width_mm: float
    height_mm: float
    cut: Cut
    px_per_mm: float | None
    outline: Any
    free: FreeSticker | None


@dataclass(frozen=True, slots=True, eq=False)
class SheetSettings:
    """What the sheet is to be, apart from its stickers.

    Parameters
    ----------
    name : str
        Name of the job.
    page : Page
        Its size.
    background : PressColour or None
        None: bare paper.
    letterings : tuple of PlacedLettering
        Already at their places; the layout keeps clear of them.
    separation : str
        Name of the separation of the cut lines.
    layout : LayoutSettings
        Gap, and how free stickers are placed.
    profile : bytes or None
        The press's ICC profile.
    profile_name : str
        Its description.
    partial_separation : str
        Name of the separation of cut lines that do not go through the backing.
    white_mm : float or None
        By how much white ink is smaller than the art and lettering above it; None: no white ink.
    white_separation : str
        Name of its separation.
    """

    name: str
    page: Page
    background: PressColour | None
    letterings: tuple[PlacedLettering, ...]
    separation: str
    layout: LayoutSettings
    profile: bytes | None = None
    profile_name: str = ""
    partial_separation: str = "PartialCutting"
    white_mm: float | None = None
    white_separation: str = "White"


def lay_cut(drawing: Drawing, settings: StickerSettings) -> Cut:
    """Lay the cut line around a drawing at its true size, centred on (0, 0).

    Parameters
    ----------
    drawing : Drawing
        In the coordinates of its page.
    settings : StickerSettings
        Width and cut.

    Returns
    -------
    Cut

    Raises
    ------
    GeometryError
        Nothing is drawn.
    """
    centred = _centred(drawing, settings.width_mm)
    region = covered_region(path for shape in centred.shapes for path in shape.paths)
    return make_cut(region, settings.cut)


def prepare_sticker(drawing: Drawing, settings: StickerSettings, cut: Cut) -> PreparedSticker:
    """Bring a drawing to its true size, and what places it ready.

    Parameters
    ----------
    drawing : Drawing
        In the coordinates of its page.
    settings : StickerSettings
        Width and place.
    cut : Cut
        What `lay_cut` gives for the same drawing and settings.

    Returns
    -------
    PreparedSticker

    Raises
    ------
    GeometryError
        Nothing is drawn.
    """
    centred = _centred(drawing, settings.width_mm)
    _, y0, _, y1 = art_box(centred)
    scale = settings.width_mm / _width(drawing)
    px_per_mm = None if settings.px_per_mm is None else settings.px_per_mm / scale
    outline = path_polygon(cut.line.path, _OUTLINE_MM)
    free = None
    if settings.at_mm is None:
        turned = affinity.rotate(outline, settings.rotate_deg, origin=(0, 0))
        item = FreeSticker(
            settings.name, turned, settings.turn_deg, settings.cut.distance_mm, settings.sketch or None
        )
        free = sampled(item)
    return PreparedSticker(settings, centred, settings.width_mm, y1 - y0, cut, px_per_mm, outline, free)


def copied(sticker: PreparedSticker, names: Sequence[str]) -> tuple[PreparedSticker, ...]:
    """The same sticker under several names, its own first; what places it is shared."""
    own = sticker.settings
    return tuple(
        replace(sticker, settings=replace(own, name=name, copy_of="" if name == own.name else own.name))
        for name in names
    )


def _width(drawing: Drawing) -> float:
    x0, _, x1, _ = art_box(drawing)
    return x1 - x0


def _centred(drawing: Drawing, width_mm: float) -> Drawing:
    """A drawing whose art is so wide, about its centre, on the grid to which files round coordinates.

    Its middle is rounded, too, so that art which comes back from one of limner's files is bit for bit what it
    was, and so is all that is made of it.
    """
    x0, _, x1, _ = art_box(drawing)
    scale = width_mm / (x1 - x0)
    # What a file has rounded is as large as it was.
    if abs(width_mm - (x1 - x0)) <= _ROUNDED_MM:
        scale = 1.0
    steps = _mapped(drawing, lambda path: np.round(path.segments * (scale * _PER_MM)), scale)
    x0, y0, x1, y1 = np.round(art_box(steps))
    middle = np.array([(x0 + x1) // 2, (y0 + y1) // 2])
    return _mapped(steps, lambda path: (path.segments - middle) / _PER_MM, 1.0)


def _mapped(drawing: Drawing, segments_of: Callable[[CubicPath], Floats], scale: float) -> Drawing:
    """A drawing with other segments; straight ones keep their handles at the thirds."""

    def mapped(path: CubicPath) -> CubicPath:
        segments = segments_of(path)
        start, end = segments[path.straight, 0], segments[path.straight, 3]
        third = (end - start) / 3.0
        segments[path.straight] = np.stack([start, start + third, end - third, end], axis=1)
        return replace(path, segments=segments)

    return _changed(drawing, mapped, scale)


def compose_sheet(
    stickers: Sequence[PreparedSticker],
    settings: SheetSettings,
    colour_of: Sequence[ColourOf],
    standout: Callable[[str, Sequence[str]], PressColour],
) -> Sheet:
    """Give every sticker its place and its colours.

    Parameters
    ----------
    stickers : sequence of PreparedSticker
        In the order of the job.
    settings : SheetSettings
        Everything else.
    colour_of : sequence of callable
        For each sticker, what gives a shape its colour.
    standout : callable
        Given the separation's name and the screen values in use, a colour that stands out from them.

    Returns
    -------
    Sheet

    Raises
    ------
    GeometryError
        The free stickers do not fit.
    """
    poses = _poses(stickers, settings)
    past_mm = min(_PAST_CUT_MM, settings.layout.gap_mm / 2)
    placed = tuple(
        _placed(sticker, pose, colours, past_mm)
        for sticker, pose, colours in zip(stickers, poses, colour_of, strict=True)
    )
    colours = _colours_in_use(settings, placed)
    screens = [colour.screen for colour in colours]
    separation = standout(settings.separation, screens)
    is_partial = any(sticker.cut.depth == "partial" for sticker in placed)
    return Sheet(
        settings.name,
        settings.page,
        settings.background,
        placed,
        settings.letterings,
        separation,
        settings.layout.gap_mm,
        colours,
        settings.profile,
        settings.profile_name,
        tuple(_neck_findings(stickers, poses)),
        partial=standout(settings.partial_separation, [*screens, separation.screen]) if is_partial else None,
        white=_white(placed, settings),
    )


def fitting_scale(stickers: Sequence[PreparedSticker], settings: SheetSettings) -> float:
    """The largest factor on the art of stickers without a place at which places are found for all of them.

    Cut lines keep their distance. A new cut line may differ a little from what this expects, so that the
    caller lays them and sees. 0 where there is no such factor.
    """
    free = [sticker.free for sticker in stickers if sticker.free is not None]
    obstacles = _obstacles(stickers, settings)
    return filling_scale(free, settings.page.safe_box, obstacles, settings.layout)


def _white(placed: Sequence[PlacedSticker], settings: SheetSettings) -> White | None:
    if settings.white_mm is None:
        return None
    ink = PressColour(settings.white_separation, _NO_INK, _WHITE_SCREEN, "default", 0.0)
    return White(ink, white_paths(placed, settings.letterings, settings.white_mm), settings.white_mm)


def _poses(stickers: Sequence[PreparedSticker], settings: SheetSettings) -> list[Pose]:
    """Fixed places as they are; the rest by the layout, around them and the lettering."""
    free = [sticker.free for sticker in stickers if sticker.free is not None]
    found = iter(place_free(free, settings.page.safe_box, _obstacles(stickers, settings), settings.layout))
    poses = []
    for sticker in stickers:
        pose = _fixed(sticker)
        if pose is None:
            pose = next(found)
            pose = replace(pose, turn_deg=sticker.settings.rotate_deg + pose.turn_deg)
        poses.append(pose)
    return poses


def _fixed(sticker: PreparedSticker) -> Pose | None:
    at = sticker.settings.at_mm
    return None if at is None else Pose(*at, sticker.settings.rotate_deg)


def _obstacles(stickers: Sequence[PreparedSticker], settings: SheetSettings) -> list[Any]:
    """What free stickers keep clear of."""
    fixed = [(sticker, _fixed(sticker)) for sticker in stickers]
    obstacles = [_posed(sticker.outline, pose) for sticker, pose in fixed if pose is not None]
    beyond = settings.layout.clearance_mm - settings.layout.gap_mm
    return obstacles + [_lettering_region(lettering, beyond) for lettering in settings.letterings]


def _lettering_region(lettering: PlacedLettering, grow_mm: float) -> Any:
    """Hull of each lettering: nothing is to be squeezed in between its lines."""
    paths = [path for glyph in lettering.glyphs for path in glyph.paths]
    hull = shapely.convex_hull(shapely.union_all([path_polygon(path, 0.05) for path in paths]))
    return shapely.buffer(hull, grow_mm)


def _posed(outline: Any, pose: Pose) -> Any:
    return affinity.translate(affinity.rotate(outline, pose.turn_deg, origin=(0, 0)), pose.x, pose.y)


def _placed(sticker: PreparedSticker, pose: Pose, colour_of: ColourOf, past_mm: float) -> PlacedSticker:
    turn = np.radians(pose.turn_deg)
    c, s = np.cos(turn), np.sin(turn)
    matrix = np.array([[c, -s, pose.x], [s, c, pose.y]])
    drawing = _moved_drawing(sticker.drawing, matrix)
    cut = replace(move_cut(sticker.cut.line, matrix), depth=sticker.settings.depth)
    return PlacedSticker(
        sticker.settings.name,
        pose.x,
        pose.y,
        sticker.width_mm,
        sticker.height_mm,
        pose.turn_deg,
        _coloured(drawing.fills, colour_of),
        _coloured(drawing.lines, colour_of),
        cut,
        drawing.line_width_mm,
        drawing.error_mm,
        sticker.settings.sketch,
        sticker.px_per_mm,
        _ground(cut.path, sticker.settings.ground, past_mm),
        sticker.settings.copy_of,
    )


def _ground(cut: CubicPath, colour: PressColour | None, past_mm: float) -> ColouredShape | None:
    if colour is None:
        return None
    path = ground_path(cut, past_mm)
    shape = Shape("ground", "silhouette", (path,), colour.screen, 0.0, abs(signed_area(path)))
    return ColouredShape(shape, colour)


def _coloured(shapes: Sequence[Shape], colour_of: ColourOf) -> tuple[ColouredShape, ...]:
    pairs = [(shape, colour_of(shape)) for shape in shapes]
    return tuple(
        ColouredShape(replace(shape, fill=colour.screen), colour)
        for shape, colour in pairs
        if colour is not None
    )


def _moved_drawing(drawing: Drawing, matrix: Floats) -> Drawing:
    return _changed(drawing, lambda path: transform(path, matrix), 1.0)


def _changed(drawing: Drawing, change: Callable[[CubicPath], CubicPath], scale: float) -> Drawing:
    """A drawing whose paths are moved, and so many times as large."""

    def changed(shape: Shape) -> Shape:
        paths = tuple(change(path) for path in shape.paths)
        error_mm, area_mm2 = shape.error_mm * scale, shape.area_mm2 * scale**2
        return replace(shape, paths=paths, error_mm=error_mm, area_mm2=area_mm2)

    return replace(
        drawing,
        width_mm=drawing.width_mm * scale,
        height_mm=drawing.height_mm * scale,
        fills=tuple(changed(shape) for shape in drawing.fills),
        lines=tuple(changed(shape) for shape in drawing.lines),
        line_width_mm=drawing.line_width_mm * scale,
        axis=None,
    )


def _colours_in_use(settings: SheetSettings, stickers: Sequence[PlacedSticker]) -> tuple[PressColour, ...]:
    used = [settings.background] if settings.background is not None else []
    for sticker in stickers:
        used += [item.colour for item in sticker.printed]
    used += [lettering.colour for lettering in settings.letterings]
    return tuple(dict.fromkeys(used))


def _neck_findings(stickers: Sequence[PreparedSticker], poses: Sequence[Pose]) -> list[Finding]:
    """One for each sticker with necks, at the longest of them."""
    findings = []
    for sticker, pose in zip(stickers, poses, strict=True):
        if not sticker.cut.necks:
            continue
        neck = max(sticker.cut.necks, key=lambda neck: neck.length_mm)
        at = _posed(shapely.Point(neck.at), pose)
        count = len(sticker.cut.necks)
        joined = "a neck" if count == 1 else f"{count} necks"
        findings.append(
            Finding(
                "warning" if neck.length_mm > _LONG_NECK_MM else "note",
                "parts-joined",
                (round(float(at.x), 2), round(float(at.y), 2)),
                f'Parts of "{sticker.settings.name}" lie up to {neck.length_mm:.1f} mm apart and are joined '
                f"by {joined} in the cut line: draw them nearer together, or choose a form such as an "
                "ellipse.",
            )
        )
    return findings
