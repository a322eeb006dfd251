"""Decode a picture file, whatever the format.

Method: the format is told by the first bytes, never by the file's name, and only the decoder of that
format is loaded. The size is read from the header and judged before a single pixel is decoded.
`limner.capture.samples` makes sRGB of what comes out.

Nothing here needs arrays: a large picture is decoded while another thread loads the libraries for them.

Limits: the first frame or page counts.
"""

import os
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any, BinaryIO

from PIL import Image, ImageFile

__all__ = ["FORMATS", "Decoded", "UnknownFormatError", "decode", "open_header", "quiet"]

FORMATS = "JPEG, PNG, TIFF, WebP, HEIC, BMP or GIF"

# Brands of an ISO base media file (ISO/IEC 23008-12, from memory) that hold an HEVC-coded still.
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")

_EXIF_IFD = 0x8769  # Exif 2.32, from memory

# The decoder gets this many bytes of the file at a time, most files as a whole: between two pieces it has to
# wait for the interpreter while another thread has it.
_PIECE_BYTES = 1 << 24


class UnknownFormatError(ValueError):
    """The first bytes are those of none of the formats that can be read."""


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """A decoded file.

    Parameters
    ----------
    image : Image
        As the file has it: any mode, not turned yet.
    info : Mapping
        What the file says of itself, by the decoder's names ("dpi" among them).
    tags : Mapping of int to object
        EXIF tags of the main and the camera's directory together.
    kind : str
        Name of the format.
    """

    image: Image.Image
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
    if isinstance(image, ImageFile.ImageFile):
        image.decodermaxblock = _PIECE_BYTES
    with quiet(), _native_silence(image.format == "TIFF"):
        image.load()
        # Read after loading: some decoders turn the picture themselves and then drop the tag.
        return Decoded(image, dict(image.info), _exif_tags(image), image.format or "")


def _exif_tags(image: Image.Image) -> dict[int, Any]:
    """EXIF tags of the main and the camera's directory; empty where they cannot be read."""
    try:
        exif = image.getexif()
        return {**exif.get_ifd(_EXIF_IFD), **exif}
    except Exception:  # a broken directory of notes must not cost the picture
        return {}
