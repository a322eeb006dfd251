"""Checks of drawn lines: whether they print at all, and can be told from what lies under them.

Copies of a sticker are as it is: what is said of it is said once.
"""

import math
from collections.abc import Iterator, Sequence

import shapely

from limner.geometry.cubics import signed_area
from limner.geometry.lengths import MM_PER_PT
from limner.model.finding import Finding, Severity
from limner.model.sheet import ColouredShape
from limner.preflight.survey.places import Place, centre_of, start_of
from limner.preflight.survey.regions import colours_under, even_odd_region, layers_of
from limner.preflight.survey.sheet import StickerSurvey, Survey, shown
from limner.preflight.survey.thin import thin_stretch

__all__ = ["check_art_error", "check_line_inks", "check_line_tints", "check_lines", "check_lines_lost"]

# Below what measuring and rounding change; keeps a line of exactly the smallest width from being reported.
_SHARE = 0.999

# Shorter stretches are how a pencil ends a line.
_LEAST_STRETCH_MM = 2.0

# Lines of which more than this share lies on their own colour are lost.
_LOST_SHARE = 0.5


def check_lines(survey: Survey) -> Iterator[Finding]:
    """Drawn lines are not too thin to print: as a whole, which is an error, or in one place."""
    limit = survey.settings.smallest_line_mm * _SHARE
    for item in survey.originals:
        sticker = item.sticker
        if not sticker.lines:
            continue
        width, where = _thinnest(item, limit)
        if width < limit:
            severity: Severity = "error" if sticker.line_width_mm < limit else "warning"
            text = (
                f"{'Lines' if severity == 'error' else 'Some lines'} of {shown(sticker.name)} are only "
                f"{width / MM_PER_PT:.2f} pt ({width:.3f} mm) wide and may not print; make the sticker "
                f"larger, or draw its lines thicker than {survey.settings.smallest_line_mm / MM_PER_PT:.2f} "
                "pt."
            )
            yield Finding(severity, "line-thin", where, text)


def _thinnest(item: StickerSurvey, limit: float) -> tuple[float, Place]:
    """The smallest width of a sticker's lines: on the whole, of one shape, or along a stretch of one."""
    sticker = item.sticker
    thinnest, index = min(((width, index) for index, width in enumerate(item.line_widths)))
    if min(thinnest, sticker.line_width_mm) < limit:
        return min(thinnest, sticker.line_width_mm), start_of(sticker.lines[index])
    stretch = thin_stretch(item.line_rings, limit, _LEAST_STRETCH_MM)
    return (math.inf, (0.0, 0.0)) if stretch is None else stretch


def check_line_inks(survey: Survey) -> Iterator[Finding]:
    """Thin lines print in one ink: of several, a plate out of register shows beside the line."""
    for sticker in survey.sheet.originals:
        mixed = [
            item for item in sticker.lines if item.shape.role == "line" and not item.colour.is_single_ink
        ]
        if mixed and sticker.line_width_mm < survey.settings.single_ink_line_mm:
            text = (
                f"The thin lines of {shown(sticker.name)} print in several inks, and a shifted plate would "
                "show beside them; give them a colour of one ink, such as black alone."
            )
            yield Finding("warning", "line-inks-many", start_of(mixed[0]), text)


def check_line_tints(survey: Survey) -> Iterator[Finding]:
    """Thin lines are no pale tint, which the press breaks up into a row of dots."""
    least = survey.settings.palest_line_ink
    for sticker in survey.sheet.originals:
        if sticker.line_width_mm >= survey.settings.single_ink_line_mm:
            continue
        pale = [
            item for item in sticker.lines if item.shape.role == "line" and 0 < max(item.colour.cmyk) < least
        ]
        if pale:
            text = (
                f"The thin lines of {shown(sticker.name)} print in a tint of {max(pale[0].colour.cmyk):g} %, "
                f"which breaks up into dots; give them a colour with an ink of {least:g} % or more."
            )
            yield Finding("warning", "line-pale", start_of(pale[0]), text)


def check_lines_lost(survey: Survey) -> Iterator[Finding]:
    """Lines differ from the fills under them."""
    for item in survey.originals:
        sticker = item.sticker
        inks = {fill.colour.cmyk for fill in sticker.fills}
        lost = [line for line in sticker.lines if line.shape.role == "line" and line.colour.cmyk in inks]
        under = [fill for fill in sticker.fills if lost and fill.colour.cmyk == lost[0].colour.cmyk]
        # Most often these are the insides of a few black spots: too small to hide the lines.
        if _covered(under) <= _LOST_SHARE * _covered(lost):
            continue
        region = shapely.union_all([even_odd_region(line.shape.paths) for line in lost])
        same = [
            part
            for colour, part in colours_under(region, layers_of(sticker.fills)).items()
            if colour.cmyk == lost[0].colour.cmyk
        ]
        if sum(part.area for part in same) > _LOST_SHARE * region.area:
            text = (
                f"The lines of {shown(sticker.name)} have the colour of the fill under them and do not show; "
                "give one of them another colour."
            )
            yield Finding("warning", "line-lost", start_of(lost[0]), text)


def _covered(items: Sequence[ColouredShape]) -> float:
    """Area of shapes in square millimetres, overlaps counted as often as they lie."""
    return sum(abs(sum(signed_area(path) for path in item.shape.paths)) for item in items)


def check_art_error(survey: Survey) -> Iterator[Finding]:
    """The art is what was drawn: no curve lies more than half a line beside it."""
    for sticker in survey.sheet.originals:
        if sticker.error_mm > survey.settings.most_error_line_widths * sticker.line_width_mm:
            text = (
                f"The shapes of {shown(sticker.name)} lie up to {sticker.error_mm:.2f} mm beside what was "
                f"drawn, whose lines are {sticker.line_width_mm:.2f} mm wide; lower its smoothing or raise "
                "its budget of nodes."
            )
            yield Finding("warning", "art-coarse", centre_of(sticker), text)
