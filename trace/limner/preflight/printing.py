"""Checks of what the press does: bleed, lines, text, ink, colours, and what the art was traced from."""

import math
from collections.abc import Iterator

import shapely

from limner.geometry.lengths import MM_PER_INCH, MM_PER_PT
from limner.model.colour import PressColour, rgb_of
from limner.model.finding import Finding, Severity
from limner.model.sheet import ColouredShape, PlacedSticker
from limner.preflight.survey import Survey, mean_width, shown

__all__ = [
    "check_bleed",
    "check_colour_shift",
    "check_colours_converted",
    "check_lettering_contrast",
    "check_lettering_inks",
    "check_lettering_size",
    "check_lettering_strokes",
    "check_line_inks",
    "check_lines",
    "check_nodes",
    "check_overprinted_ink",
    "check_sketch_resolution",
    "check_total_ink",
    "contrast_ratio",
]

_BLACK = (0.0, 0.0, 0.0, 100.0)  # prints over what lies under it, in lines and lettering
# Below what measuring and rounding change; keeps a line of exactly the smallest width from being reported.
_SHARE = 0.999

Place = tuple[float, float]


def _start(item: ColouredShape) -> Place:
    x, y = item.shape.paths[0].segments[0, 0]
    return round(float(x), 3), round(float(y), 3)


def _centre(sticker: PlacedSticker) -> Place:
    return round(sticker.x_mm, 3), round(sticker.y_mm, 3)


def check_bleed(survey: Survey) -> Iterator[Finding]:
    """A printed background runs on far enough beyond the trim."""
    page = survey.sheet.page
    if survey.sheet.background is None or page.bleed_mm >= survey.settings.smallest_bleed_mm * _SHARE:
        return
    severity: Severity = "error" if page.bleed_mm <= 0 else "warning"
    text = (
        f"The background runs only {page.bleed_mm:g} mm beyond the trim, so white edges may show once the "
        "sheet is cut; set a bleed of 3 mm, or what the printing company asks for."
    )
    yield Finding(severity, "bleed-small", page.from_trim(0.0, 0.0), text)


def check_lines(survey: Survey) -> Iterator[Finding]:
    """Drawn lines are not too thin to print: as a whole, which is an error, or in one place."""
    limit = survey.settings.smallest_line_mm * _SHARE
    for item in survey.stickers:
        sticker = item.sticker
        widths = ((width, index) for index, width in enumerate(item.line_widths))
        thinnest, index = min(widths, default=(math.inf, 0))
        width = min(thinnest, sticker.line_width_mm)
        if sticker.lines and width < limit:
            severity: Severity = "error" if sticker.line_width_mm < limit else "warning"
            text = (
                f"{'Lines' if severity == 'error' else 'Some lines'} of {shown(sticker.name)} are only "
                f"{width / MM_PER_PT:.2f} pt ({width:.3f} mm) wide and may not print; make the sticker "
                f"larger, or draw its lines thicker than {survey.settings.smallest_line_mm / MM_PER_PT:.2f} "
                "pt."
            )
            yield Finding(severity, "line-thin", _start(sticker.lines[index]), text)


def check_line_inks(survey: Survey) -> Iterator[Finding]:
    """Thin lines print in one ink: of several, a plate out of register shows beside the line."""
    for sticker in survey.sheet.stickers:
        mixed = [item for item in sticker.lines if item.shape.role == "line" and _is_mixed(item.colour)]
        if mixed and sticker.line_width_mm < survey.settings.single_ink_line_mm:
            text = (
                f"The thin lines of {shown(sticker.name)} print in several inks, and a shifted plate would "
                "show beside them; give them a colour of one ink, such as black alone."
            )
            yield Finding("warning", "line-inks-many", _start(mixed[0]), text)


def check_lettering_size(survey: Survey) -> Iterator[Finding]:
    """No lettering is too small to read in print."""
    limit = survey.settings.smallest_text_mm
    for piece in survey.sheet.letterings:
        if piece.size_mm < limit * _SHARE:
            text = (
                f"The lettering {shown(piece.text)} is {piece.size_mm / MM_PER_PT:.1f} pt small and may not "
                f"be readable in print; set it in {limit / MM_PER_PT:.0f} pt or more."
            )
            yield Finding("error", "text-small", (piece.x_mm, piece.y_mm), text)


def check_lettering_strokes(survey: Survey) -> Iterator[Finding]:
    """No lettering is too thin to print: by the mean width of the strokes of its thinnest glyph."""
    limit = survey.settings.smallest_line_mm
    for piece in survey.sheet.letterings:
        width = min((mean_width(glyph.paths) for glyph in piece.glyphs if glyph.paths), default=limit)
        if width < limit * _SHARE:
            text = (
                f"Strokes of the lettering {shown(piece.text)} are only {width / MM_PER_PT:.2f} pt wide and "
                "may not print; set it larger or in a bolder face."
            )
            yield Finding("error", "text-thin", (piece.x_mm, piece.y_mm), text)


def check_lettering_inks(survey: Survey) -> Iterator[Finding]:
    """Small lettering prints in one ink."""
    for piece in survey.sheet.letterings:
        if piece.size_mm < survey.settings.single_ink_text_mm * _SHARE and _is_mixed(piece.colour):
            text = (
                f"The small lettering {shown(piece.text)} prints in several inks, and a shifted plate would "
                "blur it; give it a colour of one ink, such as black alone."
            )
            yield Finding("warning", "text-inks-many", (piece.x_mm, piece.y_mm), text)


def _is_mixed(colour: PressColour) -> bool:
    return not colour.is_single_ink


def check_total_ink(survey: Survey) -> Iterator[Finding]:
    """No colour lays down more ink than the paper dries."""
    settings = survey.settings
    for colour in survey.sheet.colours:
        if colour.total_ink <= settings.heavy_ink:
            continue
        severity: Severity = "error" if colour.total_ink > settings.most_ink else "warning"
        text = (
            f"The colour {shown(colour.name)} lays down {colour.total_ink:.0f} % ink, which dries badly and "
            f"sticks; bring its four inks down to {settings.heavy_ink:.0f} % together."
        )
        yield Finding(severity, "ink-heavy", _first_use(survey, colour), text)


def check_overprinted_ink(survey: Survey) -> Iterator[Finding]:
    """Black that prints over a dark colour does not add up to too much ink."""
    limit = survey.settings.heavy_ink
    for sticker in survey.sheet.stickers:
        if any(item.colour.cmyk == _BLACK for item in sticker.lines):
            # A colour that is too heavy on its own has its finding already.
            fills = [item for item in sticker.fills if item.colour.total_ink <= limit]
            under = max(fills, key=lambda item: _with_black(item.colour), default=None)
            if under is not None and _with_black(under.colour) > limit:
                yield _overprinted(survey, f"lines of {shown(sticker.name)}", under.colour, _start(under))
    background = survey.sheet.background
    if background is None or background.total_ink > limit or _with_black(background) <= limit:
        return
    for piece in survey.sheet.letterings:
        if piece.colour.cmyk == _BLACK:
            what = f"lettering {shown(piece.text)}"
            yield _overprinted(survey, what, background, (piece.x_mm, piece.y_mm))


def _with_black(under: PressColour) -> float:
    """Total ink of a colour with full black over it."""
    return sum(under.cmyk[:3]) + 100.0


def _overprinted(survey: Survey, what: str, under: PressColour, where: Place) -> Finding:
    text = (
        f"The black {what} prints over the colour {shown(under.name)} and adds up to "
        f"{_with_black(under):.0f} % ink there, which dries badly; bring that colour down until it is "
        f"{survey.settings.heavy_ink:.0f} %."
    )
    return Finding("warning", "ink-heavy-overprint", where, text)


def check_lettering_contrast(survey: Survey) -> Iterator[Finding]:
    """Lettering on the background can be told from it."""
    background = survey.sheet.background
    ground = "#ffffff" if background is None else background.screen
    on_stickers = shapely.union_all([item.cut_polygon for item in survey.stickers])
    for item in survey.letterings:
        piece = item.lettering
        contrast = contrast_ratio(piece.colour.screen, ground)
        if contrast < survey.settings.least_contrast and item.outlines.disjoint(on_stickers):
            text = (
                f"The lettering {item.name} hardly stands out from the background (contrast {contrast:.2f}); "
                "give it a lighter or a darker colour."
            )
            yield Finding("warning", "text-faint", (piece.x_mm, piece.y_mm), text)


def contrast_ratio(one: str, other: str) -> float:
    """Contrast ratio of two screen colours, 1 to 21: Web Content Accessibility Guidelines 2 (from memory)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(screen: str) -> float:
    """Relative luminance of an sRGB colour "#rrggbb", 0 to 1."""
    values = [value / 255.0 for value in rgb_of(screen)]
    red, green, blue = (
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in values
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _first_use(survey: Survey, colour: PressColour) -> Place | None:
    for sticker in survey.sheet.stickers:
        for item in sticker.shapes:
            if item.colour == colour:
                return _start(item)
    for piece in survey.sheet.letterings:
        if piece.colour == colour:
            return piece.x_mm, piece.y_mm
    return None


def check_colour_shift(survey: Survey) -> Iterator[Finding]:
    """Every colour asked for can be printed."""
    for colour in survey.sheet.colours:
        if colour.shift is not None and colour.shift > survey.settings.most_shift:
            text = (
                f"The colour {shown(colour.name)} lies outside what the press can print and will look "
                f"visibly different (Delta E {colour.shift:.0f}); choose one that is less vivid, or ask the "
                "printing company for a spot ink."
            )
            yield Finding("warning", "colour-shifts", _first_use(survey, colour), text)


def check_colours_converted(survey: Survey) -> Iterator[Finding]:
    """Colours converted without a profile are named."""
    names = [colour.name for colour in survey.sheet.colours if colour.source == "approximate"]
    if names:
        listed = ", ".join(shown(name) for name in names)
        text = (
            f"Press values of {listed} are only approximate for want of a colour profile; give the job the "
            "printing company's profile, or write these colours as CMYK."
        )
        yield Finding("note", "colours-approximate", None, text)


def check_sketch_resolution(survey: Survey) -> Iterator[Finding]:
    """Every sketch has pixels enough for its printed size."""
    for sticker in survey.sheet.stickers:
        if sticker.sketch_px_per_mm is None:
            continue
        dpi = sticker.sketch_px_per_mm * MM_PER_INCH
        if dpi < survey.settings.least_dpi * _SHARE:
            text = (
                f"The sketch of {shown(sticker.name)} has only {dpi:.0f} pixels per inch at its printed "
                "size, so its edges may look rough; photograph it nearer or larger (at least "
                f"{survey.settings.least_dpi:.0f}), or print it smaller."
            )
            yield Finding("warning", "sketch-coarse", _centre(sticker), text)


def check_nodes(survey: Survey) -> Iterator[Finding]:
    """No sticker has more nodes than a hand can edit."""
    for sticker in survey.sheet.stickers:
        if sticker.node_count > survey.settings.most_nodes:
            text = (
                f"The art of {shown(sticker.name)} has {sticker.node_count} nodes, laborious to edit by "
                "hand; raise its smoothing or give it a budget of nodes."
            )
            yield Finding("warning", "nodes-many", _centre(sticker), text)
