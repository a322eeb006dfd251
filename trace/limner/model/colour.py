"""A colour with its two faces: what the press prints and what the screen shows."""

import re
from dataclasses import dataclass
from typing import Literal

__all__ = ["RESERVED_SEPARATIONS", "ColourSource", "PressColour", "Rgb", "is_screen", "rgb_of", "screen_of"]

Rgb = tuple[int, int, int]
"""Red, green, blue, 0 to 255 each."""

_SCREEN = re.compile(r"#[0-9a-fA-F]{6}")

RESERVED_SEPARATIONS = frozenset({"all", "none", "cyan", "magenta", "yellow", "black"})
"""Names, in lower case, that no separation of its own may have: in PDF (ISO 32000) "All" prints on every
plate and "None" on none, and the process inks are the art's."""

ColourSource = Literal["given", "profile", "approximate", "one-ink", "default"]
"""Where the press value comes from: written as CMYK in the job; converted from RGB through the job's
ICC profile; converted from RGB by a formula, for want of a profile; a grey of lines or lettering in RGB, put
into black ink alone; a tint that limner chose."""


def is_screen(value: str) -> bool:
    """Whether a text is a screen value "#rrggbb"."""
    return _SCREEN.fullmatch(value) is not None


def rgb_of(screen: str) -> Rgb:
    """Red, green and blue of a screen value "#rrggbb"."""
    return int(screen[1:3], 16), int(screen[3:5], 16), int(screen[5:7], 16)


def screen_of(rgb: Rgb) -> str:
    """The screen value "#rrggbb" of red, green and blue, lower case."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


@dataclass(frozen=True, slots=True)
class PressColour:
    """A named colour.

    Parameters
    ----------
    name : str
        Name in the job, or the value itself ("#ecd9bf") where it has none.
    cmyk : tuple of float
        Press value: cyan, magenta, yellow, black in percent, each 0 to 100.
    screen : str
        Screen value "#rrggbb", lower case.
    source : ColourSource
        Where the press value comes from.
    shift : float or None
        CIE 1976 colour difference between the colour asked for in RGB and the one the press can print,
        by the job's profile; 0 for a value given as CMYK; None where there is no profile to tell, and where
        another colour was taken on purpose (a grey in black ink alone).
    """

    name: str
    cmyk: tuple[float, float, float, float]
    screen: str
    source: ColourSource
    shift: float | None = None

    def __post_init__(self) -> None:
        if len(self.cmyk) != 4 or not all(0.0 <= ink <= 100.0 for ink in self.cmyk):
            raise ValueError("a press colour is four percentages from 0 to 100")

    @property
    def total_ink(self) -> float:
        """Sum of the four inks in percent, 0 to 400."""
        return sum(self.cmyk)

    @property
    def is_single_ink(self) -> bool:
        """Whether at most one of the four inks prints."""
        return sum(ink > 0.0 for ink in self.cmyk) <= 1
