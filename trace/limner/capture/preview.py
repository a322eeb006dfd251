"""A small picture of a photograph as it was taken, to be looked at while it is traced."""

import io
from pathlib import Path

from limner.capture.load import judged_header, shown
from limner.errors import InputError

__all__ = ["picture_format", "preview_jpeg"]

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
    from PIL import ImageOps

    name = shown(path.name)
    try:
        with path.open("rb") as stream:
            image = judged_header(stream, name)
            # JPEG is decoded at a half, a quarter or an eighth straight away.
            image.draft("RGB", (longest_px, longest_px))
            upright = ImageOps.exif_transpose(image)
            upright.thumbnail((longest_px, longest_px))
            made = io.BytesIO()
            upright.convert("RGB").save(made, "JPEG", quality=_QUALITY)
    except InputError:
        raise
    except Exception as error:  # decoders raise nearly anything
        raise InputError(f'"{name}" cannot be shown: copy it again from where it came from.') from error
    return made.getvalue()
