from .palette import Palette as Palette
from .press import Press as Press
from .spec import BUILT_IN as BUILT_IN
from .spec import ColourSpec as ColourSpec
from .spec import parse_colour as parse_colour
from .standout import standout_colour as standout_colour
from .tints import TINT_INKS as TINT_INKS

__all__ = [
    "BUILT_IN",
    "TINT_INKS",
    "ColourSpec",
    "Palette",
    "Press",
    "parse_colour",
    "standout_colour",
]
