"""Colours by name, with what the press prints and what the screen shows.

Use
---
>>> from limner.colour import Palette, Press, parse_colour
>>> palette = Palette({"kelp": parse_colour([70, 20, 80, 30])}, Press())
>>> palette.of("kelp").cmyk
(70.0, 20.0, 80.0, 30.0)
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
