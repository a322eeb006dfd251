"""Checks of lettering: whether it can be read, and what lies near it and under it."""

from collections.abc import Iterator

import shapely

from limner.geometry.lengths import MM_PER_PT
from limner.model.colour import PressColour
from limner.model.finding import Finding
from limner.preflight.survey.contrast import contrast_ratio, luminance
from limner.preflight.survey.places import middle_of, place
from limner.preflight.survey.regions import colours_under
from limner.preflight.survey.sheet import LetteringSurvey, Survey, mean_width, shortest_way, shown

__all__ = [
    "check_lettering_contrast",
    "check_lettering_inks",
    "check_lettering_near_cut",
    "check_lettering_overlap",
    "check_lettering_reversed",
    "check_lettering_size",
    "check_lettering_strokes",
]

# Below what measuring and rounding change; keeps type of exactly the smallest size from being reported.
_SHARE = 0.999

# A lettering of which more than this share lies on a colour that it does not stand out from cannot be read.
_FAINT_SHARE = 0.25

# Pieces that share less than this merely touch.
_SHARED_MM2 = 0.01


def check_lettering_size(survey: Survey) -> Iterator[Finding]:
    """No lettering is too small to read in print."""
    limit = survey.settings.smallest_text_mm
    for piece in survey.sheet.letterings:
        if piece.size_mm < limit * _SHARE:
            text = (
                f"The lettering {shown(piece.text)} is {piece.size_mm / MM_PER_PT:.1f} pt small and may not "
                f"be readable in print; set it in {limit / MM_PER_PT:.4g} pt or more."
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
        small = piece.size_mm < survey.settings.single_ink_text_mm * _SHARE
        if small and not piece.colour.is_single_ink:
            text = (
                f"The small lettering {shown(piece.text)} prints in several inks, and a shifted plate would "
                "blur it; give it a colour of one ink, such as black alone."
            )
            yield Finding("warning", "text-inks-many", (piece.x_mm, piece.y_mm), text)


def check_lettering_reversed(survey: Survey) -> Iterator[Finding]:
    """Small lettering is not left open in several inks, which close it where plates are out of register."""
    limit = survey.settings.smallest_reversed_text_mm
    for item in survey.letterings:
        piece = item.lettering
        if piece.size_mm >= limit * _SHARE:
            continue
        around = [
            colour
            for colour, share in _shares_under(survey, item).items()
            if share > _FAINT_SHARE
            and not colour.is_single_ink
            and luminance(piece.colour.screen) > luminance(colour.screen)
            # An ink that both print in is not left open.
            and sum(below > above for below, above in zip(colour.cmyk, piece.colour.cmyk, strict=True)) > 1
        ]
        if around:
            text = (
                f"The lettering {item.name} is {piece.size_mm / MM_PER_PT:.1f} pt small and left open in "
                f"{shown(around[0].name)}, whose inks may close it; set it in {limit / MM_PER_PT:.4g} pt or "
                "more, or on a colour of one ink."
            )
            yield Finding("warning", "text-reversed-small", (piece.x_mm, piece.y_mm), text)


def check_lettering_contrast(survey: Survey) -> Iterator[Finding]:
    """Lettering can be told from what lies under it: the background or a sticker."""
    for item in survey.letterings:
        piece, least = item.lettering, survey.settings.least_contrast
        under = {
            colour: share
            for colour, share in _shares_under(survey, item).items()
            if contrast_ratio(piece.colour.screen, colour.screen) < least
        }
        if sum(under.values()) > _FAINT_SHARE:
            colour = max(under, key=lambda colour: under[colour])
            contrast = contrast_ratio(piece.colour.screen, colour.screen)
            ground = survey.sheet.background
            on = (
                "the background"
                if colour in (ground, _PAPER)
                else f"the colour {shown(colour.name)} under it"
            )
            text = (
                f"The lettering {item.name} hardly stands out from {on} (contrast {contrast:.2f}); "
                "give it a lighter or a darker colour."
            )
            yield Finding("warning", "text-faint", (piece.x_mm, piece.y_mm), text)


_PAPER = PressColour("paper", (0.0, 0.0, 0.0, 0.0), "#ffffff", "given")


def _shares_under(survey: Survey, item: LetteringSurvey) -> dict[PressColour, float]:
    """Which share of a piece of lettering lies on which colour."""
    if item.region.is_empty:
        return {}
    found = colours_under(item.region, [(_PAPER, survey.bleed_box), *survey.layers_under(item.region)])
    return {colour: float(part.area) / float(item.region.area) for colour, part in found.items()}


def check_lettering_near_cut(survey: Survey) -> Iterator[Finding]:
    """No cut line runs so near to lettering that a blade which wanders cuts into it."""
    least = survey.settings.least_cut_clearance_mm
    for piece in survey.letterings:
        if piece.outlines.is_empty:
            continue
        for item in survey.stickers:
            if not shapely.dwithin(piece.hull, item.cut_ring, least * _SHARE):
                continue
            way = shortest_way(piece.outlines, item.cut_ring)
            if 0 < way.length < least * _SHARE and not piece.outlines.intersects(item.cut_ring):
                text = (
                    f"The cut line of {item.name} runs only {way.length:.2f} mm beside the lettering "
                    f"{piece.name}, and a blade wanders by half a millimetre; keep {least:g} mm between them."
                )
                yield Finding("warning", "lettering-near-cut", place(*way.coords[0]), text)


def check_lettering_overlap(survey: Survey) -> Iterator[Finding]:
    """No lettering lies over another."""
    for number, one in enumerate(survey.letterings):
        for other in survey.letterings[number + 1 :]:
            if one.outlines.is_empty or other.outlines.is_empty or not one.hull.intersects(other.hull):
                continue
            shared = one.region.intersection(other.region)
            if shared.area > _SHARED_MM2:
                text = (
                    f"The lettering {other.name} lies over the lettering {one.name}, so that neither can be "
                    "read; move one of them."
                )
                yield Finding("warning", "lettering-overlap", middle_of(shared), text)
