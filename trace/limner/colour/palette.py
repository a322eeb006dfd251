"""The colours of one job by name, each with its press value and its screen value."""

import difflib
from collections.abc import Mapping

from limner.colour.press import Press
from limner.colour.spec import BUILT_IN, ColourSpec, parse_colour
from limner.colour.tints import TINT_INKS
from limner.errors import InputError
from limner.model.colour import ColourSource, PressColour, Rgb, screen_of

__all__ = ["Palette"]

# Below this spread between red, green and blue (of 255) a colour is read as a grey by the eye: about
# twice the just noticeable difference in Lab; common practice, no source.
_NEUTRAL_SPREAD = 10


class Palette:
    """Looks colours up and gives each its press value.

    Parameters
    ----------
    colours : mapping of str to ColourSpec
        The job's own colours; they go before the built-in "black" and "white".
    press : Press
        What turns RGB into inks.
    """

    def __init__(self, colours: Mapping[str, ColourSpec], press: Press) -> None:
        self.specs = {**BUILT_IN, **colours}
        self.press = press

    def of(self, value: str | ColourSpec, *, one_ink: bool = False, what: str = "colour") -> PressColour:
        """A colour by its name in the job or its value.

        Parameters
        ----------
        value : str or ColourSpec
            Name, "#rrggbb", or a value that is already read.
        one_ink : bool
            Whether a grey given in RGB prints in black ink alone, as fine lines and small text must:
            four inks never lie exactly on each other.
        what : str
            What asks for it, for the error message.

        Returns
        -------
        PressColour

        Raises
        ------
        InputError
            There is no such colour.
        """
        name, spec = self._find(value, what)
        if spec.cmyk is not None:
            return self._given(name, spec)
        assert spec.rgb is not None
        if one_ink and max(spec.rgb) - min(spec.rgb) <= _NEUTRAL_SPREAD:
            return self._black_ink(name, spec.rgb)
        if not self.press.is_calibrated and screen_of(spec.rgb) in TINT_INKS:
            return PressColour(name, TINT_INKS[screen_of(spec.rgb)], screen_of(spec.rgb), "default")
        cmyk = self.press.cmyk(spec.rgb)
        source: ColourSource = "profile" if self.press.is_calibrated else "approximate"
        return PressColour(name, cmyk, screen_of(spec.rgb), source, self.press.shift(spec.rgb, cmyk))

    def _find(self, value: str | ColourSpec, what: str) -> tuple[str, ColourSpec]:
        if isinstance(value, ColourSpec):
            return value.value_text, value
        if value in self.specs:
            return value, self.specs[value]
        if value.startswith("#"):
            spec = parse_colour(value, what)
            return spec.value_text, spec
        near = difflib.get_close_matches(value, self.specs, n=1)
        hint = f'did you mean "{near[0]}"?' if near else f"the job has {_listed(self.specs)}."
        raise InputError(f'{what} "{value}" is not one of the colours of the job: {hint}')

    def _given(self, name: str, spec: ColourSpec) -> PressColour:
        assert spec.cmyk is not None
        screen = spec.rgb if spec.rgb is not None else self.press.screen(spec.cmyk)
        return PressColour(name, spec.cmyk, screen_of(screen), "given", 0.0 if spec.rgb is None else None)

    def _black_ink(self, name: str, rgb: Rgb) -> PressColour:
        black = round(100.0 * (1.0 - sum(rgb) / (3 * 255.0)), 1)
        cmyk = (0.0, 0.0, 0.0, black)
        return PressColour(name, cmyk, screen_of(rgb), "one-ink")


def _listed(names: Mapping[str, object]) -> str:
    quoted = [f'"{name}"' for name in names][:12]
    return ", ".join(quoted[:-1]) + f" and {quoted[-1]}" + (" and more" if len(names) > 12 else "")
