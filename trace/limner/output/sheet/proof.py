"""A picture of what the sheet will look like, with its trim, bleed, cut lines and findings marked.

The bleed is veiled, so that the eye sees the sheet as it is once trimmed. Findings carry the numbers under
which the ticket lists them. The picture is composed as SVG and rendered by resvg.
"""

import math
from collections.abc import Sequence
from html import escape
from pathlib import Path

from limner.geometry.lengths import MM_PER_INCH
from limner.model.colour import PressColour, is_screen
from limner.model.finding import Finding
from limner.model.sheet import Box, Page, PlacedSticker, Sheet
from limner.output.markup import path_data, plain_text

__all__ = ["SEVERITY_COLOURS", "safe_colour", "sheet_proof"]

SEVERITY_COLOURS = {"error": "#c92a2a", "warning": "#b35c00", "note": "#1864ab"}
"""In what findings are marked, here and in the ticket; white numbers stay readable on each."""

# Sheets up to A6 at the first, larger ones with as many pixels as a large screen shows at once (2560 x 1600),
# but at no less than the second, at which small print is still read.
_DPI, _LEAST_DPI = 300.0, 150.0
_SCREEN_PX = 4.1e6
# A picture beyond this is slow to open and says no more; the largest sheets are drawn at a lower resolution.
_MOST_PX = 24e6

# The surround reaches this far beyond the page: farther than any picture of it.
_BEYOND_MM = 10_000.0

_SURROUND = "#e4e2dd"
_MARGIN_MM = 10.0
_FOOT_MM = 15.5
_ROW_MM = 4.6
_MARK_MM = 5.0
_GUIDE = "#0b5fa5"
_TEXT = "#33312c"
_CUT_MM = 0.22  # a hairline of 0.25 pt would be lost at this resolution
_CUT_DASH_MM = 1.2
_BADGE_MM = 1.9
# An A6 sheet is the measure of all signs; larger sheets get larger ones, to be read as well on a screen.
_REFERENCE_MM = 105.0

_TIMES = "\N{MULTIPLICATION SIGN}"

Place = tuple[float, float]


def safe_colour(colour: str) -> str:
    """A colour that may stand in markup: "#rrggbb", or black for anything else."""
    return colour if is_screen(colour) else "#000000"


def sheet_proof(sheet: Sheet, findings: Sequence[Finding] = ()) -> bytes:
    """Draw the proof of a sheet.

    Parameters
    ----------
    sheet : Sheet
        What to show.
    findings : sequence of Finding
        What to mark on it, numbered from 1 in this order; those without a place are left out.

    Returns
    -------
    bytes
        A PNG file: 300 pixels per inch up to A6, fewer for larger sheets.
    """
    page = sheet.page
    sign = max(1.0, min(page.trim_width_mm, page.trim_height_mm) / _REFERENCE_MM)
    width = page.width_mm + 2 * _MARGIN_MM * sign
    height = page.height_mm + (2 * _MARGIN_MM + _foot_mm(sheet)) * sign
    scale = _px_per_mm(width * height)
    margin = _MARGIN_MM * sign
    body = [
        f'<rect width="{width:.3f}" height="{height:.3f}" fill="{_SURROUND}"/>',
        f'<g transform="translate({margin:.3f} {margin:.3f})">',
        _art(sheet),
        _guides(page, sign),
        _cuts(sheet, sign),
        _badges(findings, page, sign),
        "</g>",
        _legend(sheet, sign, height),
    ]
    return _render("".join(body), (width, height), scale)


def _px_per_mm(area_mm2: float) -> float:
    screen, most = (math.sqrt(count / area_mm2) for count in (_SCREEN_PX, _MOST_PX))
    return min(_DPI / MM_PER_INCH, max(screen, _LEAST_DPI / MM_PER_INCH), most)


def _render(body: str, size_mm: tuple[float, float], px_per_mm: float) -> bytes:
    import font_source_sans_pro
    import resvg_py

    width, height = size_mm
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    fonts = [folder / f"SourceSansPro-{cut}.otf" for cut in ("Regular", "Semibold")]
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width * px_per_mm:.0f}" '
        f'height="{height * px_per_mm:.0f}" viewBox="0 0 {width:.3f} {height:.3f}">{body}</svg>'
    )
    picture = resvg_py.svg_to_bytes(
        svg_string=svg,
        font_files=[str(font) for font in fonts],
        skip_system_fonts=True,
        sans_serif_family="Source Sans Pro",
        font_family="Source Sans Pro",
    )
    return bytes(picture)


def _art(sheet: Sheet) -> str:
    """All that prints, clipped to the page as the press does."""
    width, height = sheet.page.width_mm, sheet.page.height_mm
    paper = "#ffffff" if sheet.background is None else safe_colour(sheet.background.screen)
    page = f'<rect width="{width:.3f}" height="{height:.3f}" fill="{paper}"/>'
    shapes = "".join(
        f'<path d="{path_data(item.shape.paths)}" fill="{safe_colour(item.colour.screen)}" '
        'fill-rule="evenodd"/>'
        for sticker in sheet.stickers
        for item in sticker.printed
    )
    letters = "".join(
        f'<path d="{path_data(glyph.paths)}" fill="{safe_colour(piece.colour.screen)}"/>'
        for piece in sheet.letterings
        for glyph in piece.glyphs
    )
    # What juts out beyond the page is painted over: to clip it would draw everything on a layer of its own.
    left, right, bottom = -_BEYOND_MM, width + _BEYOND_MM, height + _BEYOND_MM
    far = f"M{left:.0f} {left:.0f}H{right:.3f}V{bottom:.3f}H{left:.0f}Z"
    around = f'<path d="{far}M0 0V{height:.3f}H{width:.3f}V0Z" fill="{_SURROUND}"/>'
    return f"{page}{shapes}{letters}{around}"


def _rectangle(box: Box, style: str) -> str:
    x0, y0, x1, y1 = box
    return (
        f'<rect x="{x0:.3f}" y="{y0:.3f}" width="{x1 - x0:.3f}" height="{y1 - y0:.3f}" fill="none" {style}/>'
    )


def _guides(page: Page, sign: float) -> str:
    """The veil over the bleed, and the lines of bleed, trim and safe margin with the corners' marks."""
    x0, y0, x1, y1 = page.trim_box
    w, h = page.width_mm, page.height_mm
    veil = f"M0 0H{w:.3f}V{h:.3f}H0ZM{x0:.3f} {y0:.3f}H{x1:.3f}V{y1:.3f}H{x0:.3f}Z"
    thin = 0.16 * sign
    # A pale line under each keeps the guides visible on dark backgrounds.
    pale = f'stroke="#ffffff" stroke-opacity="0.45" stroke-width="{2.2 * thin:.3f}"'
    parts = [
        f'<path d="{veil}" fill="{_SURROUND}" fill-opacity="0.55" fill-rule="evenodd"/>',
        _rectangle(page.trim_box, pale),
        _rectangle(page.safe_box, pale),
        _rectangle((0.0, 0.0, w, h), _dashes(thin, 1.2 * sign)),
        _rectangle(page.trim_box, f'stroke="{_GUIDE}" stroke-width="{thin:.3f}"'),
        _rectangle(page.safe_box, _dashes(thin, 0.5 * sign)),
    ]
    return "".join(parts) + _corner_marks(page, sign)


def _dashes(width: float, dash: float) -> str:
    return f'stroke="{_GUIDE}" stroke-width="{width:.3f}" stroke-dasharray="{dash:.2f} {dash:.2f}"'


def _corner_marks(page: Page, sign: float) -> str:
    x0, y0, x1, y1 = page.trim_box
    near, far = 1.5 * sign, (1.5 + _MARK_MM) * sign
    w, h = page.width_mm, page.height_mm
    lines = [f"M{x:.3f} {-near:.3f}V{-far:.3f}M{x:.3f} {h + near:.3f}V{h + far:.3f}" for x in (x0, x1)]
    lines += [f"M{-near:.3f} {y:.3f}H{-far:.3f}M{w + near:.3f} {y:.3f}H{w + far:.3f}" for y in (y0, y1)]
    return f'<path d="{"".join(lines)}" stroke="{_TEXT}" stroke-width="{0.16 * sign:.3f}"/>'


def _cuts(sheet: Sheet, sign: float) -> str:
    """Cut lines; those that do not go through the backing are dashed."""
    parts = [_cut_lines(sheet.cut_at("through"), _cut_style(sheet.separation, sign), sign)]
    if sheet.partial is not None:
        parts.append(_cut_lines(sheet.cut_at("partial"), _cut_style(sheet.partial, sign, _CUT_DASH_MM), sign))
    return "".join(parts)


def _cut_lines(stickers: Sequence[PlacedSticker], style: str, sign: float) -> str:
    data = path_data(sticker.cut.path for sticker in stickers)
    return (
        f'<g fill="none" stroke-linejoin="round"><path d="{data}" stroke="#ffffff" stroke-opacity="0.7" '
        f'stroke-width="{2.0 * _CUT_MM * sign:.3f}"/>'
        f'<path d="{data}" {style}/></g>'
    )


def _cut_style(separation: PressColour, sign: float, dash_mm: float = 0.0, times: float = 1.0) -> str:
    dashes = f' stroke-dasharray="{dash_mm * sign:.2f} {dash_mm * sign / 2:.2f}"' if dash_mm else ""
    width = times * _CUT_MM * sign
    return f'stroke="{safe_colour(separation.screen)}" stroke-width="{width:.3f}"{dashes}'


# Findings -------------------------------------------------------------------------------------------------


def _badges(findings: Sequence[Finding], page: Page, sign: float) -> str:
    """Numbered signs beside the places found, none over another."""
    radius = _BADGE_MM * sign
    parts: list[str] = []
    taken: list[Place] = []
    for number, finding in enumerate(findings, 1):
        if finding.where_mm is None or not all(math.isfinite(side) for side in finding.where_mm):
            continue
        margin = _MARGIN_MM * sign
        x = min(max(finding.where_mm[0], -margin), page.width_mm + margin)
        y = min(max(finding.where_mm[1], -margin), page.height_mm + margin)
        at = _free_place((x, y), taken, radius, page)
        taken.append(at)
        parts.append(_badge(number, (x, y), at, radius, SEVERITY_COLOURS.get(finding.severity, _TEXT)))
    return "".join(parts)


def _free_place(wanted: Place, taken: Sequence[Place], radius: float, page: Page) -> Place:
    """The nearest place on a widening spiral around `wanted` where no sign lies yet, on the picture."""
    margin = radius * (_MARGIN_MM / _BADGE_MM - 1.0)
    for turn in range(400):
        distance = radius * (2.2 + 0.12 * turn)
        angle = math.radians(-60.0 + 37.0 * turn)
        x, y = wanted[0] + distance * math.cos(angle), wanted[1] + distance * math.sin(angle)
        on_picture = -margin <= x <= page.width_mm + margin and -margin <= y <= page.height_mm + margin
        if on_picture and all(math.dist((x, y), other) >= 2.15 * radius for other in taken):
            return x, y
    return wanted


def _badge(number: int, spot: Place, at: Place, radius: float, colour: str) -> str:
    (x, y), (bx, by) = spot, at
    size = radius * (1.45 if number < 100 else 1.0)
    return (
        f'<g stroke="#ffffff" stroke-width="{0.16 * radius:.3f}">'
        f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{0.32 * radius:.3f}" fill="{colour}"/></g>'
        f'<path d="M{x:.3f} {y:.3f}L{bx:.3f} {by:.3f}" stroke="{colour}" stroke-width="{0.16 * radius:.3f}"/>'
        f'<circle cx="{bx:.3f}" cy="{by:.3f}" r="{radius:.3f}" fill="{colour}" '
        f'stroke="#ffffff" stroke-width="{0.16 * radius:.3f}"/>'
        f'<text x="{bx:.3f}" y="{by + 0.35 * size:.3f}" font-size="{size:.3f}" font-weight="600" '
        f'fill="#ffffff" text-anchor="middle">{number}</text>'
    )


# Legend ---------------------------------------------------------------------------------------------------


def _foot_mm(sheet: Sheet) -> float:
    """Room for the legend, whose third row is for partial cuts alone."""
    return _FOOT_MM if sheet.partial is None else _FOOT_MM + _ROW_MM


def _legend(sheet: Sheet, sign: float, height: float) -> str:
    page = sheet.page
    left, line = _MARGIN_MM * sign, _ROW_MM * sign
    y = height - _foot_mm(sheet) * sign
    thin = 0.16 * sign
    solid = f'stroke="{_GUIDE}" stroke-width="{thin:.3f}"'
    cut = _cut_style(sheet.separation, sign, times=2.0)
    entries = [
        (cut, f"cut, {len(sheet.cut_at('through'))} {_TIMES} “{_short(sheet.separation.name)}”"),
        (solid, f"trim, {page.trim_width_mm:g} {_TIMES} {page.trim_height_mm:g} mm"),
        (_dashes(thin, 1.2 * sign), f"bleed, {page.bleed_mm:g} mm"),
        (_dashes(thin, 0.5 * sign), f"safe margin, {page.safe_mm:g} mm"),
    ]
    if sheet.partial is not None:
        partial = _cut_style(sheet.partial, sign, _CUT_DASH_MM, times=2.0)
        count = len(sheet.cut_at("partial"))
        entries.append((partial, f"partial cut, {count} {_TIMES} “{_short(sheet.partial.name)}”"))
    columns = [left, left + 0.52 * page.width_mm]
    name = _escaped(_short(sheet.name))
    heading = f'x="{left:.3f}" y="{y + 0.4 * sign:.3f}" font-size="{4.4 * sign:.3f}" font-weight="600"'
    parts = [f"<text {heading}>{name}</text>"]
    for index, (style, text) in enumerate(entries):
        x, row = columns[index % 2], y + line * (1.2 + index // 2)
        parts.append(_sample(x, row, style, text, sign))
    return f'<g fill="{_TEXT}">{"".join(parts)}</g>'


def _sample(x: float, y: float, style: str, text: str, sign: float) -> str:
    return (
        f'<path d="M{x:.3f} {y - 1.0 * sign:.3f}h{8 * sign:.3f}" {style}/>'
        f'<text x="{x + 10 * sign:.3f}" y="{y:.3f}" font-size="{3.3 * sign:.3f}">{_escaped(text)}</text>'
    )


def _short(text: str, most: int = 32) -> str:
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1] + "…"


def _escaped(text: str) -> str:
    return escape(plain_text(text))
