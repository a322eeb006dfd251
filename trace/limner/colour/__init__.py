"""Colours by name, with what the press prints and what the screen shows.

Use
---
>>> from limner.colour import Palette, Press, parse_colour
>>> palette = Palette({"kelp": parse_colour([70, 20, 80, 30])}, Press())
>>> palette.of("kelp").cmyk
(70.0, 20.0, 80.0, 30.0)
"""

from limner.colour.palette import Palette
from limner.colour.press import Press
from limner.colour.spec import BUILT_IN, ColourSpec, parse_colour
from limner.colour.standout import standout_colour
from limner.colour.tints import TINT_INKS

__all__ = [
    "BUILT_IN",
    "TINT_INKS",
    "ColourSpec",
    "Palette",
    "Press",
    "parse_colour",
    "standout_colour",
]
