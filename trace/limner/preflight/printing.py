"""Checks of what the press does: bleed, lines, text, ink, colours, and what the art was traced from."""

from collections.abc import Iterator

from limner.geometry.lengths import MM_PER_INCH, MM_PER_PT
from limner.model.colour import PressColour
from limner.model.finding import Finding, Severity
from limner.preflight.survey.places import Place, centre_of, start_of
from limner.preflight.survey.sheet import Survey, shown

__all__ = [
    "check_bleed",
    "check_colour_shift",
    "check_colours_converted",
    "check_nodes",
    "check_page_size",
    "check_sketch_resolution",
    "check_tints",
    "check_total_ink",
]

# Below what measuring and rounding change; keeps what is exactly at a limit from being reported.
_SHARE = 0.999

# ISO 32000-1, annex C.2: no side of a page is longer, unless its unit of length is another one.
_LONGEST_PAGE_PT = 14_400.0


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


def _first_use(survey: Survey, colour: PressColour) -> Place | None:
    for sticker in survey.sheet.stickers:
        for item in sticker.shapes:
            if item.colour == colour:
                return start_of(item)
    for piece in survey.sheet.letterings:
        if piece.colour == colour:
            return piece.x_mm, piece.y_mm
    return None


def check_page_size(survey: Survey) -> Iterator[Finding]:
    """The page is one that a PDF may have."""
    longest = max(survey.sheet.page.width_mm, survey.sheet.page.height_mm)
    if longest / MM_PER_PT > _LONGEST_PAGE_PT:
        text = (
            f"The page is {longest:.0f} mm long with its bleed, and a PDF holds "
            f"{_LONGEST_PAGE_PT * MM_PER_PT:.0f} mm at most; make the sheet smaller, or two of it."
        )
        yield Finding("error", "page-large", None, text)


def check_tints(survey: Survey) -> Iterator[Finding]:
    """No ink that was asked for is so pale that the press loses its dots."""
    least = survey.settings.palest_tint
    pale = [
        colour
        for colour in survey.sheet.colours
        if colour.source in ("given", "default") and any(0 < ink < least for ink in colour.cmyk)
    ]
    if pale:
        listed = ", ".join(shown(colour.name) for colour in pale)
        text = (
            f"Inks of less than {least:g} % in {listed} may not print at all, or unevenly; raise them to "
            f"{least:g} % or take them out."
        )
        yield Finding("note", "tint-pale", _first_use(survey, pale[0]), text)


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
            yield Finding("warning", "sketch-coarse", centre_of(sticker), text)


def check_nodes(survey: Survey) -> Iterator[Finding]:
    """No sticker has more nodes than a hand can edit."""
    for sticker in survey.sheet.stickers:
        if sticker.node_count > survey.settings.most_nodes:
            text = (
                f"The art of {shown(sticker.name)} has {sticker.node_count} nodes, laborious to edit by "
                "hand; raise its smoothing or give it a budget of nodes."
            )
            yield Finding("warning", "nodes-many", centre_of(sticker), text)
