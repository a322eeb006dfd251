"""From screen to press and back.

Method: with the printing company's ICC profile, LittleCMS (through Pillow) converts with relative
colorimetric intent and black point compensation. Without one, the formula of CSS Color 5 (section on
uncalibrated device-cmyk) stands in, and its inverse; every colour made by it is marked as approximate.
Limits: LittleCMS works on 8 bits a channel here, so press values are known to 0.4 percent of ink and
Lab to half a unit.
"""

import hashlib
import io
from functools import cache
from typing import Any

from limner.errors import InputError
from limner.model.colour import Rgb

__all__ = ["Press", "cmyk_to_screen_naive", "lab_from_screen", "rgb_to_cmyk_naive"]

# ICC.1: the header of every profile.
_HEADER_BYTES = 128

Cmyk = tuple[float, float, float, float]
Lab = tuple[float, float, float]


def cmyk_to_screen_naive(cmyk: Cmyk) -> Rgb:
    """RGB of four percentages of ink by the formula of CSS Color 5: 1 - min(1, c (1 - k) + k)."""
    *colours, black = (ink / 100.0 for ink in cmyk)
    red, green, blue = (round(255.0 * (1.0 - min(1.0, ink * (1.0 - black) + black))) for ink in colours)
    return red, green, blue


def rgb_to_cmyk_naive(rgb: Rgb) -> Cmyk:
    """Percentages of ink by the inverse of `cmyk_to_screen_naive` that uses the most black."""
    top = max(rgb)
    if top == 0:
        return 0.0, 0.0, 0.0, 100.0
    cyan, magenta, yellow = (round(100.0 * (top - value) / top, 1) for value in rgb)
    return cyan, magenta, yellow, round(100.0 * (255 - top) / 255.0, 1)


def lab_from_screen(rgb: Rgb) -> Lab:
    """CIE Lab (D50) of an sRGB colour, by LittleCMS."""
    return _lab(_transform("srgb", "RGB"), "RGB", rgb)


class Press:
    """One printing press, as its ICC profile describes it; or none in particular.

    Parameters
    ----------
    profile : bytes or None
        ICC profile of the output class in CMYK.
    source : str
        Name of the profile's file, for messages.

    Raises
    ------
    InputError
        The bytes are no ICC profile, a damaged one, or not one of a press in CMYK.
    """

    def __init__(self, profile: bytes | None = None, source: str = "the profile") -> None:
        self.profile = profile
        self.name = ""
        self._profile: Any = None
        self._cache: dict[tuple[str, str], Any] = {}
        if profile is not None:
            self._profile = _open_profile(profile, source)
            self.name = self._tried(source)

    @property
    def is_calibrated(self) -> bool:
        """Whether a profile describes the press."""
        return self._profile is not None

    def cmyk(self, rgb: Rgb) -> Cmyk:
        """Percentages of ink for an sRGB colour."""
        if self._profile is None:
            return rgb_to_cmyk_naive(rgb)
        if rgb == (255, 255, 255):
            return 0.0, 0.0, 0.0, 0.0
        values = _convert(self._transform("srgb", "RGB", "press", "CMYK"), "RGB", rgb)
        cyan, magenta, yellow, black = (round(value / 2.55, 1) for value in values)
        return cyan, magenta, yellow, black

    def screen(self, cmyk: Cmyk) -> Rgb:
        """The sRGB colour that comes nearest to four percentages of ink."""
        if self._profile is None:
            return cmyk_to_screen_naive(cmyk)
        red, green, blue = _convert(self._transform("press", "CMYK", "srgb", "RGB"), "CMYK", _ink_bytes(cmyk))
        return red, green, blue

    def lab(self, cmyk: Cmyk, *, paper_white: bool = True) -> Lab:
        """CIE Lab (D50) of four percentages of ink.

        Parameters
        ----------
        cmyk : tuple of float
            Percentages.
        paper_white : bool
            Whether bare paper counts as white (relative colorimetric), as the eye does; False gives
            the values that an instrument measures (absolute colorimetric; needs a profile).
        """
        if self._profile is None:
            return lab_from_screen(cmyk_to_screen_naive(cmyk))
        intent = "relative" if paper_white else "absolute"
        return _lab(self._transform("press", "CMYK", "lab", "LAB", intent), "CMYK", _ink_bytes(cmyk))

    def shift(self, rgb: Rgb, cmyk: Cmyk) -> float | None:
        """CIE 1976 difference between an sRGB colour and what prints; None without a profile."""
        if self._profile is None:
            return None
        asked, printed = lab_from_screen(rgb), self.lab(cmyk)
        return round(float(sum((a - b) ** 2 for a, b in zip(asked, printed, strict=True)) ** 0.5), 1)

    def _tried(self, source: str) -> str:
        """The profile's description, once it has converted colours: damage inside shows only then."""
        from PIL import ImageCms

        try:
            self.cmyk(self.screen((10.0, 20.0, 30.0, 0.0)))
            self.lab((0.0, 0.0, 0.0, 100.0))
            return _description(self._profile)
        except (OSError, ImageCms.PyCMSError, ValueError, OverflowError) as error:
            raise InputError(_damaged(source)) from error

    def _transform(self, source: str, mode: str, to: str, to_mode: str, intent: str = "bpc") -> Any:
        key = (f"{source}>{to}", intent)
        if key not in self._cache:
            self._cache[key] = _build(self._role(source), mode, self._role(to), to_mode, intent)
        return self._cache[key]

    def _role(self, name: str) -> Any:
        return self._profile if name == "press" else _standard_profile(name)


def _damaged(source: str) -> str:
    return f"{source} is damaged or cut short: copy it again, or ask the printing company for it."


def _is_whole(data: bytes) -> bool:
    """Whether a profile has the length that it states, and the digest where it states one.

    ICC.1:2010, 7.2: bytes 0 to 3 are its length, 84 to 99 the MD5 of its content with that field and those of
    the flags (44 to 47) and the intent (64 to 67) as zeros, or zeros (from memory).
    """
    length, digest = int.from_bytes(data[:4], "big"), data[84:100]
    if len(data) < max(length, _HEADER_BYTES):
        return False
    content = bytearray(data[:length])
    for start, end in ((44, 48), (64, 68), (84, 100)):
        content[start:end] = bytes(end - start)
    return not any(digest) or hashlib.md5(content, usedforsecurity=False).digest() == digest


def _open_profile(data: bytes, source: str) -> Any:
    from PIL import ImageCms

    if data[36:40] == b"acsp" and not _is_whole(data):
        raise InputError(_damaged(source))
    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(data))
        space, kind = profile.profile.xcolor_space.strip(), profile.profile.device_class.strip()
    except (OSError, ImageCms.PyCMSError, ValueError, AttributeError) as error:
        raise InputError(f"{source} is not an ICC profile: ask the printing company for theirs.") from error
    if space != "CMYK" or kind != "prtr":
        raise InputError(
            f"{source} is an ICC profile for {space}, not for a press in CMYK: "
            "ask the printing company for the profile of its press."
        )
    return profile


def _description(profile: Any) -> str:
    from PIL import ImageCms

    text = ImageCms.getProfileDescription(profile)
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _standard_profile(name: str) -> Any:
    from PIL import ImageCms

    return ImageCms.createProfile("LAB" if name == "lab" else "sRGB")


def _build(source: Any, mode: str, to: Any, to_mode: str, intent: str) -> Any:
    from PIL import ImageCms

    relative = ImageCms.Intent.RELATIVE_COLORIMETRIC
    kind = ImageCms.Intent.ABSOLUTE_COLORIMETRIC if intent == "absolute" else relative
    flags = ImageCms.Flags.BLACKPOINTCOMPENSATION if intent == "bpc" else ImageCms.Flags.NONE
    return ImageCms.buildTransform(source, to, mode, to_mode, kind, flags=flags)


@cache
def _transform(source: str, mode: str) -> Any:
    return _build(_standard_profile(source), mode, _standard_profile("lab"), "LAB", "relative")


def _convert(transform: Any, mode: str, values: tuple[int, ...]) -> tuple[int, ...]:
    from PIL import Image, ImageCms

    picture = ImageCms.applyTransform(Image.new(mode, (1, 1), values), transform)
    assert picture is not None
    return tuple(picture.tobytes())


def _lab(transform: Any, mode: str, values: tuple[int, ...]) -> Lab:
    lightness, a, b = _convert(transform, mode, values)
    # Pillow keeps a and b as signed bytes.
    return lightness / 2.55, float((a + 128) % 256 - 128), float((b + 128) % 256 - 128)


def _ink_bytes(cmyk: Cmyk) -> tuple[int, ...]:
    return tuple(round(ink * 2.55) for ink in cmyk)
