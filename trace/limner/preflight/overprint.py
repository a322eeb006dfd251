"""Checks of black that prints over other inks."""

from collections.abc import Iterator

import shapely

from limner.model.colour import PressColour
from limner.model.finding import Finding
from limner.preflight.survey.places import Place, middle_of
from limner.preflight.survey.regions import Layer, Region, colours_under, even_odd_region, is_overprinting
from limner.preflight.survey.sheet import StickerSurvey, Survey, shown

__all__ = ["check_overprinted_ink"]

_Over = tuple[str, Place]
"""What prints over a colour, in words, and where."""


def check_overprinted_ink(survey: Survey) -> Iterator[Finding]:
    """Black lines and black lettering do not add up to too much ink with what lies right under them."""
    if not any(_adds_up(survey, colour) for colour in _fillings(survey)):
        return
    found: dict[PressColour, list[_Over]] = {}
    for sticker in survey.stickers:
        what = f"lines of {sticker.name}"
        _add(found, survey, what, _black_lines(sticker), survey.ground_layers + sticker.fill_layers)
    for piece in survey.letterings:
        if is_overprinting(piece.lettering.colour):
            _add(found, survey, f"lettering {piece.name}", piece.region, survey.layers_under(piece.region))
    for under, over in found.items():
        (first, where), others = over[0], len(over) - 1
        what = first if not others else f"{first} and {others} more"
        text = (
            f"The black {what} {'prints' if not others else 'print'} over the colour {shown(under.name)} and "
            f"adds up to {_with_black(under):.0f} % ink there, which dries badly; bring that colour down "
            f"until it is {survey.settings.heavy_ink:.0f} %."
        )
        yield Finding("warning", "ink-heavy-overprint", where, text)


def _fillings(survey: Survey) -> Iterator[PressColour]:
    """Colours over which something may print."""
    yield from (colour for colour, _ in survey.ground_layers)
    yield from {item.colour for sticker in survey.sheet.stickers for item in sticker.shapes}


def _black_lines(item: StickerSurvey) -> Region:
    black = [line for line in item.sticker.lines if is_overprinting(line.colour)]
    return shapely.union_all([even_odd_region(line.shape.paths) for line in black])


def _add(
    found: dict[PressColour, list[_Over]], survey: Survey, what: str, region: Region, layers: list[Layer]
) -> None:
    """Note each colour under a black region that is too much with it."""
    for colour, part in colours_under(region, layers).items():
        if _adds_up(survey, colour):
            found.setdefault(colour, []).append((what, middle_of(part)))


def _adds_up(survey: Survey, under: PressColour) -> bool:
    """Whether black makes a colour too heavy; one that is so by itself has its finding already."""
    limit = survey.settings.heavy_ink
    return under.total_ink <= limit < _with_black(under)


def _with_black(under: PressColour) -> float:
    """Total ink of a colour with full black over it."""
    return sum(under.cmyk[:3]) + 100.0
