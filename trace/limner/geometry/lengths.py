"""Lengths as people write them, in millimetres."""

import math
import re

from limner.errors import InputError

__all__ = ["ISO_216_MM", "MM_PER_INCH", "MM_PER_PT", "paper_choice", "parse_length"]

MM_PER_INCH = 25.4
MM_PER_PT = MM_PER_INCH / 72.0

_MM_PER_UNIT = {"": 1.0, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH, "pt": MM_PER_PT}

_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z]*)\s*")

# ISO 216, main series A and B, short side x long side in millimetres (from memory; the A series as in
# the project's table of check values).
ISO_216_MM: dict[str, tuple[float, float]] = {
    "A0": (841.0, 1189.0),
    "A1": (594.0, 841.0),
    "A2": (420.0, 594.0),
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "A5": (148.0, 210.0),
    "A6": (105.0, 148.0),
    "A7": (74.0, 105.0),
    "A8": (52.0, 74.0),
    "B3": (353.0, 500.0),
    "B4": (250.0, 353.0),
    "B5": (176.0, 250.0),
    "B6": (125.0, 176.0),
    "B7": (88.0, 125.0),
}


def paper_choice(text: str) -> str | None:
    """The sheet of a sketch: "auto", "none" or a name of `ISO_216_MM`; None if the text is neither."""
    name = text.strip()
    if name.lower() in ("auto", "none"):
        return name.lower()
    return name.upper() if name.upper() in ISO_216_MM else None


def parse_length(text: str | float, what: str = "length") -> float:
    """Read a length such as "2.5 mm", "10 pt" or "0.1in".

    Parameters
    ----------
    text : str or float
        The length; a bare number is millimetres.
    what : str
        What it is called in the error message.

    Returns
    -------
    float
        Millimetres.

    Raises
    ------
    InputError
        It is not a number with a known unit, or not finite.
    """
    match = _LENGTH.fullmatch(str(text))
    if match is None or match[2].lower() not in _MM_PER_UNIT:
        raise InputError(
            f'{what} "{text}" is not a length: write a number with its unit, '
            'such as "2.5 mm", "10 pt" or "0.1in".'
        )
    value = float(match[1]) * _MM_PER_UNIT[match[2].lower()]
    if not math.isfinite(value):
        raise InputError(f'{what} "{text}" is too large: write a length in millimetres, such as "2.5 mm".')
    return value
