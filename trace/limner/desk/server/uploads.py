"""Pictures brought to the desk: judged by their headers, written under a name that leads nowhere else."""

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


def add_sketch(document: JobDocument, data: bytes, asked: str) -> str:
    """Write a picture beside the job, and give it a sticker.

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
    try:
        kind = picture_format(data, Path(name.replace("\\", "/")).name[:80] or "the picture")
    except InputError as error:
        raise RefusedError(415, str(error)) from error
    ending = _ENDINGS.get(kind)
    if ending is None:
        raise RefusedError(415, f"A picture of the kind {kind} cannot be traced: save it as JPEG or PNG.")
    path = document.path.parent / file_name(name, ending, document.path.parent)
    write_whole({path: data})
    try:
        edit = sticker_edit(document, path.name)
        document.decide(document.revision, f"New sketch {edit.to['name']}", [edit])
    except LimnerError:
        path.unlink(missing_ok=True)
        raise
    return str(edit.to["name"])
