"""Upright sRGB samples of a decoded picture, whatever its pixel type.

Alpha is laid over white, an embedded ICC profile is taken to sRGB, samples of more than 8 bits are scaled
to 8, and the orientation that the camera notes is applied once.

Limits: a profile that cannot be read is passed over; CMYK without a profile is converted by the plain
formula.
"""

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from limner.capture.decode import Decoded, quiet

__all__ = ["upright_rgb"]

Bytes8 = NDArray[np.uint8]

_ORIENTATION_TAG = 0x0112  # Exif 2.32, from memory

# More than the head of a portable pixmap takes: a mark and three numbers.
_HEAD_BYTES = 64


def upright_rgb(decoded: Decoded) -> Bytes8:
    """Samples of a decoded picture.

    Parameters
    ----------
    decoded : Decoded
        The picture and its notes.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        Upright, sRGB.

    Raises
    ------
    Exception
        Whatever the library raises on data that its decoder let pass.
    """
    with quiet():
        return _upright(_to_rgb(decoded.image), decoded.tags.get(_ORIENTATION_TAG))


def _upright(rgb: Bytes8, orientation: object) -> Bytes8:
    """Turn and mirror by the EXIF orientation (1 to 8; anything else is taken as 1)."""
    if not isinstance(orientation, int) or not 2 <= orientation <= 8:
        return rgb
    if orientation >= 5:
        rgb = rgb.transpose(1, 0, 2)
    if orientation in (2, 3, 6, 7):
        rgb = rgb[:, ::-1]
    if orientation in (3, 4, 7, 8):
        rgb = rgb[::-1]
    return np.ascontiguousarray(rgb)


def _to_rgb(image: Image.Image) -> Bytes8:
    """Samples in sRGB of a loaded picture of any mode."""
    if image.mode.startswith("I") or image.mode == "F":
        return np.repeat(_deep_grey(np.asarray(image), image.mode)[:, :, None], 3, axis=2)
    if image.mode == "CMYK" and image.format in ("JPEG", "MPO") and "adobe" not in image.info:
        # The decoder takes every CMYK JPEG as stored inverted, the habit of files with Adobe's
        # marker; one without the marker is not.
        image = Image.frombytes("CMYK", image.size, bytes(255 - np.asarray(image)))
    return _samples(_managed(_over_white(image)))


def _samples(image: Image.Image) -> Bytes8:
    """Samples of an RGB picture.

    The library hands them out piece by piece only where it saves, and the plainest of its formats is nothing
    but a short head and the samples: half the time of its own way to an array, which joins the pieces at the
    end and so holds the picture three times over.
    """
    size = image.height * image.width * 3
    kept = _Kept(size + _HEAD_BYTES)
    image.save(kept, "PPM")
    return kept.bytes[kept.end - size : kept.end].reshape(image.height, image.width, 3)


class _Kept(io.BytesIO):
    """A file in memory of known size: writing to it copies once."""

    def __init__(self, size: int) -> None:
        super().__init__()
        self.bytes = np.empty(size, np.uint8)
        self.end = 0

    def write(self, piece: Any) -> int:
        begin, self.end = self.end, self.end + len(piece)
        self.bytes[begin : self.end] = np.frombuffer(piece, np.uint8)
        return len(piece)


def _deep_grey(values: NDArray[Any], mode: str) -> Bytes8:
    """Grey of 16 or 32 bits, or of floats, to 8 bits by the range that its type or its data span."""
    grey = np.nan_to_num(values.astype(np.float32))
    highest = float(grey.max(initial=0.0))
    if mode == "F":
        full = 1.0 if highest <= 1.0 else max(highest, 255.0)
    else:
        full = 65535.0 if mode != "I" or highest > 255.0 else 255.0
        full = max(full, highest)
    return np.asarray(np.clip(grey * (255.0 / full) + 0.5, 0.0, 255.0), dtype=np.uint8)


def _over_white(image: Image.Image) -> Image.Image:
    """Lay a picture with any kind of transparency over white; others come back in a plain mode."""
    if image.has_transparency_data:
        layered = image.convert("RGBA")
        alpha = layered.getchannel("A")
        flat = layered.convert("RGB")
        if alpha.getextrema() == (255, 255):
            return _with_profile(flat, image)
        white = Image.new("RGB", image.size, "white")
        white.paste(flat, mask=alpha)
        return _with_profile(white, image)
    if image.mode in ("RGB", "L", "CMYK", "LAB"):
        return image
    return _with_profile(image.convert("L" if image.mode == "1" else "RGB"), image)


def _with_profile(image: Image.Image, original: Image.Image) -> Image.Image:
    image.info["icc_profile"] = original.info.get("icc_profile")
    return image


def _managed(image: Image.Image) -> Image.Image:
    """Take a picture in RGB, L, CMYK or LAB to sRGB, by its profile where that is sane."""
    try:
        converted = _by_profile(image)
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        converted = None
    if converted is not None:
        return converted
    # Converting to the mode that it has would copy it.
    return image if image.mode == "RGB" else image.convert("RGB")


def _by_profile(image: Image.Image) -> Image.Image | None:
    """Convert by the embedded profile; None where there is none, or it is sRGB, or does not fit."""
    data = image.info.get("icc_profile")
    if image.mode == "LAB":
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    elif not data:
        return None
    else:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(data))
        space = {"RGB": "RGB", "L": "GRAY", "CMYK": "CMYK"}[image.mode]
        if profile.profile.xcolor_space.strip() != space:
            return None
        if ImageCms.getProfileDescription(profile).startswith("sRGB"):
            return None
    srgb = ImageCms.createProfile("sRGB")
    in_place = image.mode == "RGB"
    converted = ImageCms.profileToProfile(image, profile, srgb, outputMode="RGB", inPlace=in_place)
    return image if in_place else converted
