"""A small picture of a photograph as it was taken, to be looked at while it is traced."""

import io
from pathlib import Path
from typing import BinaryIO

from limner.capture.load import judged_header, shown
from limner.errors import InputError

__all__ = ["picture_format", "preview_jpeg", "smaller_jpeg"]

_QUALITY = 85


def picture_format(data: bytes, name: str) -> str:
    """The format of a picture, by its header alone: nothing is decoded.

    Parameters
    ----------
    data : bytes
        A whole file.
    name : str
        What messages call it.

    Returns
    -------
    str
        Such as "JPEG".

    Raises
    ------
    InputError
        It is no picture, or one of a size that cannot be traced.
    """
    return str(judged_header(io.BytesIO(data), shown(name)).format)


def preview_jpeg(path: Path, longest_px: int) -> bytes:
    """A picture, upright and no larger than asked for.

    Parameters
    ----------
    path : Path
        The file; it is only read.
    longest_px : int
        Its longest side then, at most.

    Returns
    -------
    bytes
        A JPEG.

    Raises
    ------
    InputError
        It cannot be read.
    """
    name = shown(path.name)
    try:
        with path.open("rb") as stream:
            return _small(stream, name, longest_px)
    except OSError as error:
        raise InputError(f'"{name}" cannot be read: check its name and rights.') from error


def smaller_jpeg(data: bytes, longest_px: int) -> bytes:
    """A picture that is in memory, no larger than asked for; see `preview_jpeg`."""
    return _small(io.BytesIO(data), "the picture", longest_px)


def _small(stream: BinaryIO, name: str, longest_px: int) -> bytes:
    from PIL import ImageOps

    image = judged_header(stream, name)
    made = io.BytesIO()
    try:
        # JPEG is decoded at a half, a quarter or an eighth straight away.
        image.draft("RGB", (longest_px, longest_px))
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((longest_px, longest_px))
        upright.convert("RGB").save(made, "JPEG", quality=_QUALITY)
    except Exception as error:  # decoders raise nearly anything
        raise InputError(f'"{name}" cannot be shown: copy it again from where it came from.') from error
    return made.getvalue()
