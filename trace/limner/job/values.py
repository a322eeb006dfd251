"""Types of the values in a job file: each turns what is written into what the stages take."""

import math
import re
import unicodedata
from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import BeforeValidator

from limner.colour import ColourSpec, parse_colour
from limner.errors import InputError
from limner.geometry.lengths import parse_length

__all__ = [
    "Angle",
    "AreaName",
    "ColourName",
    "ColourValue",
    "Copies",
    "FileName",
    "Flag",
    "FractionError",
    "Length",
    "Name",
    "Names",
    "Nodes",
    "OrderNumber",
    "Place",
    "PositiveLength",
    "Scale",
    "SignedLength",
    "Text",
    "TotalInk",
    "Words",
    "fraction_point",
    "fractions",
    "positive_length",
    "quoted",
]

# Longer than any sheet that is cut on a table; keeps nonsense out of the arithmetic.
_LONGEST_MM = 5000.0

_MOST_NODES = 1_000_000

# More than a sheet of two metres holds.
_MOST_COPIES = 5000

# A motif a hundred times smaller or larger than it was drawn is none.
_SMALLEST_SCALE, _LARGEST_SCALE = 0.01, 100.0

_LONGEST_TEXT = 2000

# Letters of any script, digits, and the three signs that XML allows inside an id.
_NAME = re.compile(r"[^\W\d_][\w.-]*")
_LONGEST_NAME = 60

# Control characters, halves of characters, ends of lines and paragraphs.
_CONTROLS = ("Cc", "Cs", "Zl", "Zp")

_PERCENT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*%\s*")


def quoted(value: Any) -> str:
    """The value as a message shows it: short, on one line."""
    text = value if isinstance(value, str) else repr(value)
    text = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    return f'"{text[:40]}..."' if len(text) > 43 else f'"{text}"'


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"must be a number, not {quoted(value)}")
    if not math.isfinite(value) or abs(value) > 1e12:
        raise ValueError(f"must be an ordinary number, not {quoted(value)}")
    return float(value)


def _length(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(f'must be a length such as "2.5 mm", not {quoted(value)}')
    try:
        length = parse_length(value if isinstance(value, str) else _number(value), "it")
    except InputError:
        raise ValueError(
            f'is {quoted(value)}, which is not a length: write "2.5 mm", "10 pt" or "0.1in"'
        ) from None
    if abs(length) > _LONGEST_MM:
        raise ValueError(f"is {quoted(value)}, longer than the {_LONGEST_MM:g} mm that limner works with")
    return length


def _length_from_zero(value: Any) -> float:
    length = _length(value)
    if length < 0:
        raise ValueError(f"is {quoted(value)}, but must not be negative")
    return length


def positive_length(value: Any) -> float:
    """A length above zero, in millimetres."""
    length = _length(value)
    if length <= 0:
        raise ValueError(f"is {quoted(value)}, but must be more than zero")
    return length


def _length_but_zero(value: Any) -> float:
    length = _length(value)
    if length == 0:
        raise ValueError('is 0, but must be a radius such as "40 mm", or left out')
    return length


def _place(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError('must be two lengths, such as ["30 mm", "40 mm"]')
    return _length(value[0]), _length(value[1])


class FractionError(ValueError):
    """Numbers that should be fractions of the page's width and height, and are not.

    Parameters
    ----------
    numbers : tuple of float
        Across and down in turn.
    in_percent : bool
        Whether a sign of percent was written behind one of them.
    """

    def __init__(self, numbers: tuple[float, ...], *, in_percent: bool) -> None:
        super().__init__()
        self.numbers = numbers
        self.in_percent = in_percent

    def sentence(self, picture: str = "", size_px: tuple[int, int] | None = None) -> str:
        """What is wrong, and the fractions that were most likely meant.

        Parameters
        ----------
        picture : str
            Name of the sketch that the points lie on.
        size_px : tuple of int or None
            Its width and height, where they are known.
        """
        sign = " %" if self.in_percent else ""
        wrong = (
            f"is {_listed(self.numbers)}{sign}, but must be fractions of the page's width and height, "
            "from 0 to 1"
        )
        if min(self.numbers) < 0:
            return wrong
        if max(self.numbers) <= 100:
            # One that is a fraction already is one of a point where a decimal point was forgotten.
            meant = [n / 100 if n > 1 or self.in_percent else n for n in self.numbers]
            return f"{wrong}: if these are percent, write {_listed(meant)}"
        if size_px is None:
            return f"{wrong}: divide pixels by the width and height of the picture"
        meant = [n / size_px[i % 2] for i, n in enumerate(self.numbers)]
        if max(meant) > 1:
            return f"{wrong}: it lies outside of {picture}, which has {size_px[0]} x {size_px[1]} pixels"
        return (
            f"{wrong}: if these are pixels of {picture} ({size_px[0]} x {size_px[1]}), write {_listed(meant)}"
        )


def _listed(numbers: Sequence[float]) -> str:
    return f"[{', '.join(f'{round(number, 3):g}' for number in numbers)}]"


def fractions(values: Sequence[Any]) -> tuple[float, ...]:
    """Fractions of the page's width and height in turn.

    Raises
    ------
    ValueError
        One is no number.
    FractionError
        One is not between 0 and 1.
    """
    percent = [_PERCENT.fullmatch(value) if isinstance(value, str) else None for value in values]
    numbers = tuple(
        _number(value if match is None else float(match[1]))
        for value, match in zip(values, percent, strict=True)
    )
    in_percent = any(match is not None for match in percent)
    if in_percent or not all(0.0 <= number <= 1.0 for number in numbers):
        raise FractionError(numbers, in_percent=in_percent)
    return numbers


def fraction_point(value: Any) -> tuple[float, float]:
    """A point as fractions of the page's width and height."""
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("must be two fractions of the page's width and height, such as [0.42, 0.31]")
    x, y = fractions(value)
    return x, y


def _angle(value: Any) -> float:
    number = _number(value)
    if abs(number) > 3600:
        raise ValueError(f"is {quoted(value)}, but must be an angle in degrees, such as 90")
    return number


def _scale(value: Any) -> float:
    number = _number(value)
    if not _SMALLEST_SCALE <= number <= _LARGEST_SCALE:
        raise ValueError(
            f"is {quoted(value)}, but must be a multiple of the size, from {_SMALLEST_SCALE:g} to "
            f"{_LARGEST_SCALE:g}, such as 0.8"
        )
    return number


def _total_ink(value: Any) -> float:
    number = _number(value)
    if not 100.0 <= number <= 400.0:
        raise ValueError(f"is {quoted(value)}, but must be percent of all four inks together, such as 300")
    return number


def _nodes(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _MOST_NODES:
        raise ValueError(f"is {quoted(value)}, but must be a whole number of nodes, from 1 to {_MOST_NODES}")
    return value


def _copies(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _MOST_COPIES:
        raise ValueError(f"is {quoted(value)}, but must be a whole number from 1 to {_MOST_COPIES}")
    return value


def _order(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or abs(value) > _MOST_NODES:
        raise ValueError(f"is {quoted(value)}, but must be a whole number, such as 3")
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"is {quoted(value)}, but must be true or false")
    return value


def _text(value: Any) -> str:
    text = _words(value)
    strange = next((c for c in text if not c.isprintable() and c != "\n"), None)
    if strange is not None:
        raise ValueError(f"holds the control character U+{ord(strange):04X}: take it out")
    return text


def _words(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f'is {quoted(value)}, but must be a text, such as "Tide Pool"')
    if len(value) > _LONGEST_TEXT:
        raise ValueError(f"is longer than {_LONGEST_TEXT} signs: make it shorter")
    strange = next((c for c in value if c != "\n" and unicodedata.category(c) in _CONTROLS), None)
    if strange is not None:
        raise ValueError(f"holds the control character U+{ord(strange):04X}: take it out")
    return value


def _file_name(value: Any) -> str:
    if isinstance(value, str) and any(sign in value for sign in "\a\b\t\n\v\f\r"):
        raise ValueError(
            "holds a backslash, which changes the letter behind it: write / between folders and files"
        )
    return _text(value)


def _name(value: Any) -> str:
    if isinstance(value, str):
        value = unicodedata.normalize("NFC", value)
    if not isinstance(value, str) or not _NAME.fullmatch(value) or len(value) > _LONGEST_NAME:
        raise ValueError(
            f"is {quoted(value)}, but must be a name that starts with a letter and goes on with letters, "
            f'digits, "-", "_" or ".", such as "sea-star", and has at most {_LONGEST_NAME} signs'
        )
    return value


def _area_name(value: Any) -> str:
    """A name of words; a file of its own, as a sticker's, it never becomes."""
    if isinstance(value, str):
        words = value.split(" ")
        for word in words[1:]:
            # Words after the first may begin with a digit.
            _name(f"a{word}" if word else word)
        _name("-".join(words))
        return unicodedata.normalize("NFC", value)
    return _name(value)


def _names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise ValueError('must be a list of names, such as ["fringe"]')
    return tuple(_area_name(item) for item in value)


def _colour_name(value: Any) -> str | ColourSpec:
    if isinstance(value, str) and not value.startswith("#"):
        return _text(value)
    return _colour_value(value)


def _colour_value(value: Any) -> ColourSpec:
    try:
        return parse_colour(value, "it")
    except InputError as error:
        raise ValueError(f"cannot be used: {str(error).rstrip('.')}") from None


Length = Annotated[float, BeforeValidator(_length_from_zero)]
"""A length from zero up, in millimetres once read."""

PositiveLength = Annotated[float, BeforeValidator(positive_length)]
"""A length above zero, in millimetres once read."""

SignedLength = Annotated[float, BeforeValidator(_length_but_zero)]
"""A length above or below zero, in millimetres once read."""

Place = Annotated[tuple[float, float], BeforeValidator(_place)]
"""A place on the sheet, counted from the trim's top left corner, in millimetres once read."""

Angle = Annotated[float, BeforeValidator(_angle)]
"""Degrees, clockwise to the eye."""

Scale = Annotated[float, BeforeValidator(_scale)]
"""A multiple of a size."""

TotalInk = Annotated[float, BeforeValidator(_total_ink)]
"""Percent of all four inks together."""

Nodes = Annotated[int, BeforeValidator(_nodes)]
"""A budget of nodes."""

Copies = Annotated[int, BeforeValidator(_copies)]
"""How many of a sticker the sheet holds."""

OrderNumber = Annotated[int, BeforeValidator(_order)]
"""A position in a stack; the higher, the nearer to the top."""

Flag = Annotated[bool, BeforeValidator(_flag)]
"""True or false."""

Text = Annotated[str, BeforeValidator(_text)]
"""One or more lines of printable text."""

FileName = Annotated[str, BeforeValidator(_file_name)]
"""The name of a file, relative to the job."""

Words = Annotated[str, BeforeValidator(_words)]
"""What a lettering says, with blanks of every kind, soft hyphens, joiners and marks of direction."""

AreaName = Annotated[str, BeforeValidator(_area_name)]
"""A name of an area: as a `Name`, but of several words if need be."""

Name = Annotated[str, BeforeValidator(_name)]
"""A name that becomes an id in the files."""

Names = Annotated[tuple[str, ...], BeforeValidator(_names)]
"""Several names."""

ColourName = Annotated[str | ColourSpec, BeforeValidator(_colour_name)]
"""The name of a colour of the job, or a value."""

ColourValue = Annotated[ColourSpec, BeforeValidator(_colour_value)]
"""The value of a colour."""
