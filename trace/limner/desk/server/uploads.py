"""Pictures and vector art brought to the desk: judged by what they hold, whatever they are called."""

import re
from pathlib import Path
from urllib.parse import unquote

from limner.capture import picture_format
from limner.desk.server.answers import RefusedError
from limner.desk.state.begin import sticker_edit
from limner.desk.state.document import JobDocument
from limner.desk.state.names import file_name
from limner.errors import InputError, LimnerError
from limner.output import write_whole

__all__ = ["LARGEST_SKETCH_BYTES", "TOO_LARGE", "add_sketch"]

LARGEST_SKETCH_BYTES = 100_000_000
"""A photograph of a phone has some megabytes, a scan of a large sheet some dozens."""

TOO_LARGE = "That file is larger than 100 MB: make the picture smaller."
"""What is said of a larger one."""

_ENDINGS = {
    "JPEG": ".jpg",
    "MPO": ".jpg",
    "PNG": ".png",
    "TIFF": ".tif",
    "WEBP": ".webp",
    "HEIF": ".heic",
    "BMP": ".bmp",
    "GIF": ".gif",
}


# What comes before the first element of an SVG file: a mark of the encoding, declarations and comments.
_SVG = re.compile(
    rb"(?:\xef\xbb\xbf)?\s*(?:<\?.*?\?>\s*|<!--.*?-->\s*|<!DOCTYPE[^>\[]*>\s*)*<svg[\s>]", re.DOTALL
)
_LONGEST_PROLOGUE_BYTES = 20_000
_LARGEST_ART_BYTES = 20_000_000


def add_sketch(document: JobDocument, data: bytes, asked: str) -> str:
    """Write a picture, or vector art, beside the job, and give it a sticker.

    Parameters
    ----------
    document : JobDocument
        The job.
    data : bytes
        The file.
    asked : str
        What it was called, percent-encoded.

    Returns
    -------
    str
        Name of the new sticker.

    Raises
    ------
    RefusedError
        It is no picture, or one that cannot be traced.
    LimnerError
        It cannot be written, or the job has no room for it.
    """
    name = unquote(asked, errors="replace")
    is_art = _SVG.match(data[:_LONGEST_PROLOGUE_BYTES]) is not None
    ending = _art_ending(data) if is_art else _picture_ending(data, name)
    path = document.path.parent / file_name(name, ending, document.path.parent)
    write_whole({path: data})
    try:
        if is_art:
            _check_art(path)
        edit = sticker_edit(document, path.name, is_art=is_art)
        what = "art" if is_art else "sketch"
        document.decide(document.revision, f"New {what} {edit.to['name']}", [edit])
    except LimnerError:
        path.unlink(missing_ok=True)
        raise
    return str(edit.to["name"])


def _art_ending(data: bytes) -> str:
    if len(data) > _LARGEST_ART_BYTES:
        raise RefusedError(413, "That art is larger than 20 MB: leave out what is not seen of it.")
    return ".svg"


def _check_art(path: Path) -> None:
    from limner.pipeline import TraceSettings, read_sticker_art

    try:
        read_sticker_art(path, TraceSettings())
    except InputError as error:
        raise RefusedError(415, str(error)) from error


def _picture_ending(data: bytes, name: str) -> str:
    try:
        kind = picture_format(data, Path(name.replace("\\", "/")).name[:80] or "the picture")
    except InputError as error:
        raise RefusedError(415, str(error)) from error
    ending = _ENDINGS.get(kind)
    if ending is None:
        raise RefusedError(415, f"A picture of the kind {kind} cannot be traced: save it as JPEG or PNG.")
    return ending
