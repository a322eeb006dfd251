"""Decode a picture file into upright sRGB, whatever the format and pixel type.

Method: the format is told by the first bytes, never by the file's name, and only the decoder of that
format is loaded. The size is read from the header and judged before a single pixel is decoded. Then:
alpha is laid over white, an embedded ICC profile is taken to sRGB, the orientation that the camera
notes is applied once, and samples of more than 8 bits are scaled to 8.

Limits: the first frame or page counts; a profile that cannot be read is passed over; CMYK without a
profile is converted by the plain formula.
"""

import io
import os
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

__all__ = ["FORMATS", "Decoded", "UnknownFormatError", "decode", "open_header"]

Bytes8 = NDArray[np.uint8]

FORMATS = "JPEG, PNG, TIFF, WebP, HEIC, BMP or GIF"

# Brands of an ISO base media file (ISO/IEC 23008-12, from memory) that hold an HEVC-coded still.
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")

_ORIENTATION_TAG = 0x0112  # Exif 2.32 (from memory), as are the tags below
_EXIF_IFD = 0x8769

# A picture of a usual phone is fetched in one piece, which takes half the time.
_ONE_PIECE_PX = 16_000_000

_BAND_ROWS_PX = 256


class UnknownFormatError(ValueError):
    """The first bytes are those of none of the formats that can be read."""


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """A decoded file.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Upright, sRGB.
    info : Mapping
        What the file says of itself, by the decoder's names ("dpi" among them).
    tags : Mapping of int to object
        EXIF tags of the main and the camera's directory together.
    kind : str
        Name of the format.
    """

    rgb: Bytes8
    info: Mapping[Any, Any]
    tags: Mapping[int, Any]
    kind: str


def open_header(stream: BinaryIO) -> Image.Image:
    """Read the header alone; `size` of what is returned can be trusted to be what decoding will make.

    The decoder's class is called directly, as the library's own `open` would first try each format
    and has a limit on pixels of its own, global to the process.

    Raises
    ------
    UnknownFormatError
        None of the formats.
    Exception
        Whatever the decoder raises on a broken header.
    """
    head = stream.read(16)
    stream.seek(0)
    module, name = _decoder(head)
    with quiet():
        image = getattr(import_module(module), name)(stream)
    assert isinstance(image, Image.Image)
    return image


def _decoder(head: bytes) -> tuple[str, str]:
    """Module and class that decode files that begin with these 16 bytes."""
    signatures = (
        (head.startswith(b"\xff\xd8\xff"), "PIL.JpegImagePlugin", "JpegImageFile"),
        (head.startswith(b"\x89PNG\r\n\x1a\n"), "PIL.PngImagePlugin", "PngImageFile"),
        (head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"), "PIL.TiffImagePlugin", "TiffImageFile"),
        (head[:4] == b"RIFF" and head[8:12] == b"WEBP", "PIL.WebPImagePlugin", "WebPImageFile"),
        (head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS, "pillow_heif", "HeifImageFile"),
        (head.startswith(b"BM"), "PIL.BmpImagePlugin", "BmpImageFile"),
        (head[:6] in (b"GIF87a", b"GIF89a"), "PIL.GifImagePlugin", "GifImageFile"),
    )
    for matches, module, name in signatures:
        if matches:
            return module, name
    raise UnknownFormatError


@contextmanager
def quiet() -> Iterator[None]:
    """Keep a decoder's warnings about oddities in a file from the user: what matters is raised."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


@contextmanager
def _native_silence(wanted: bool) -> Iterator[None]:
    """Keep the TIFF library's own lines off standard error, to which it writes past Python.

    For that time anything that another thread of the process writes there is lost as well.
    """
    if not wanted:
        yield
        return
    try:
        kept = os.dup(2)
    except OSError:  # there is no standard error
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def decode(image: Image.Image) -> Decoded:
    """Decode what `open_header` opened.

    Raises
    ------
    Exception
        Whatever the decoder raises on broken or missing data.
    """
    with quiet(), _native_silence(image.format == "TIFF"):
        image.load()
        info = dict(image.info)
        tags = _exif_tags(image)
        kind = image.format or ""
        rgb = _to_rgb(image)
    # Read after loading: some decoders turn the picture themselves and then drop the tag.
    return Decoded(_upright(rgb, tags.get(_ORIENTATION_TAG)), info, tags, kind)


def _exif_tags(image: Image.Image) -> dict[int, Any]:
    """EXIF tags of the main and the camera's directory; empty where they cannot be read."""
    try:
        exif = image.getexif()
        return {**exif.get_ifd(_EXIF_IFD), **exif}
    except Exception:  # a broken directory of notes must not cost the picture
        return {}


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
    """Samples of an RGB picture; a large one comes in bands, as one piece is held three times over."""
    if image.width * image.height <= _ONE_PIECE_PX:
        return np.asarray(image)
    rgb = np.empty((image.height, image.width, 3), np.uint8)
    for top in range(0, image.height, _BAND_ROWS_PX):
        bottom = min(top + _BAND_ROWS_PX, image.height)
        rgb[top:bottom] = np.asarray(image.crop((0, top, image.width, bottom)))
    return rgb


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
