"""A colour as it is written in a job: RGB for the screen, or CMYK for the press."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from limner.errors import InputError
from limner.model.colour import Rgb, rgb_of, screen_of

__all__ = ["BUILT_IN", "ColourSpec", "parse_colour"]

_HEX = re.compile(r"#(?:[0-9a-fA-F]{3}|[0-9a-fA-F]{6})")


@dataclass(frozen=True, slots=True)
class ColourSpec:
    """What the author of a job wrote.

    Parameters
    ----------
    rgb : tuple of int or None
        Red, green, blue, 0 to 255 each.
    cmyk : tuple of float or None
        Cyan, magenta, yellow, black in percent. At least one of the two is given; with both, the press
        prints `cmyk` and the screen shows `rgb`.
    """

    rgb: Rgb | None = None
    cmyk: tuple[float, float, float, float] | None = None

    def __post_init__(self) -> None:
        if self.rgb is None and self.cmyk is None:
            raise ValueError("a colour needs a value in RGB or in CMYK")

    @property
    def value_text(self) -> str:
        """The value, written as a job would write it."""
        if self.cmyk is not None:
            return "cmyk(" + ", ".join(f"{ink:g}" for ink in self.cmyk) + ")"
        assert self.rgb is not None
        return screen_of(self.rgb)


BUILT_IN: dict[str, ColourSpec] = {
    "black": ColourSpec(cmyk=(0.0, 0.0, 0.0, 100.0)),
    "white": ColourSpec(cmyk=(0.0, 0.0, 0.0, 0.0)),
}
"""Colours that every job knows: one full black ink, and bare paper."""


def parse_colour(value: Any, what: str = "colour") -> ColourSpec:
    """Read a colour's value.

    Parameters
    ----------
    value : str, sequence or mapping
        "#rrggbb" or "#rgb"; a list of four percentages; or a table with `cmyk`, `screen` or both.
    what : str
        What it is called in the error message.

    Returns
    -------
    ColourSpec

    Raises
    ------
    InputError
        It is none of these.
    """
    if isinstance(value, str):
        return ColourSpec(rgb=_parse_hex(value, what))
    if isinstance(value, Mapping):
        return _parse_table(value, what)
    if isinstance(value, Sequence):
        return ColourSpec(cmyk=_parse_cmyk(value, what))
    raise InputError(f'{what} is not a colour: write "#rrggbb" or {{ cmyk = [70, 20, 80, 30] }}.')


def _parse_hex(text: str, what: str) -> Rgb:
    if not _HEX.fullmatch(text):
        raise InputError(f'{what} "{text}" is not a colour: write it as "#rrggbb", such as "#ecd9bf".')
    digits = text[1:] if len(text) == 7 else "".join(2 * digit for digit in text[1:])
    return rgb_of(f"#{digits}")


def _parse_cmyk(values: Any, what: str) -> tuple[float, float, float, float]:
    numbers = [
        float(value)
        for value in (values if isinstance(values, Sequence) and not isinstance(values, str) else ())
        if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    ]
    if len(numbers) != 4 or len(values) != 4 or not all(0.0 <= number <= 100.0 for number in numbers):
        raise InputError(
            f"{what} needs four percentages of ink from 0 to 100, such as {{ cmyk = [70, 20, 80, 30] }}."
        )
    return numbers[0], numbers[1], numbers[2], numbers[3]


def _parse_table(table: Mapping[Any, Any], what: str) -> ColourSpec:
    unknown = sorted(str(key) for key in table if key not in ("cmyk", "screen"))
    if unknown or not table:
        named = f' has an unknown key "{unknown[0]}"' if unknown else " is empty"
        raise InputError(f'{what}{named}: write cmyk = [70, 20, 80, 30], screen = "#rrggbb", or both.')
    cmyk = _parse_cmyk(table["cmyk"], what) if "cmyk" in table else None
    screen = table.get("screen")
    if screen is not None and not isinstance(screen, str):
        raise InputError(f'{what} needs its screen value as text, such as screen = "#ecd9bf".')
    return ColourSpec(None if screen is None else _parse_hex(screen, what), cmyk)
