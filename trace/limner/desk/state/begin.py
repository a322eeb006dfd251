"""Which job is meant, and a new one where there is none."""

import os
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from limner.desk.edits.edit import Edit
from limner.desk.state.document import JobDocument
from limner.desk.state.names import sticker_name
from limner.errors import InputError, LimnerError, OutputError
from limner.output import write_whole

__all__ = ["Begun", "begin", "sticker_edit"]

_PICTURES = {".bmp", ".gif", ".heic", ".heif", ".jpe", ".jpeg", ".jpg", ".png", ".tif", ".tiff", ".webp"}

# More sketches than this are no sheet, but a folder that was named by mistake.
_MOST_SKETCHES = 60

_WIDTH = "30 mm"

# The colours of the demo, so that there is something to colour with.
_NEW_JOB = """\
# A sheet of stickers. Lengths carry their unit; places count from the top left corner of the trimmed sheet.

[sheet]
size = "A6"
orientation = "portrait"
bleed = "3 mm"
safe = "4 mm"

[colours]
coral = { cmyk = [0, 52, 50, 3] }
rose = { cmyk = [0, 30, 20, 0] }
sun = { cmyk = [0, 17, 60, 0] }
sand = { cmyk = [0, 12, 28, 4] }
kelp = { cmyk = [38, 0, 52, 18] }
lagoon = { cmyk = [38, 0, 8, 8] }
deep = { cmyk = [72, 32, 0, 28] }
plum = { cmyk = [14, 32, 0, 14] }

[cut]
distance = "2.5 mm"
gap = "2 mm"
"""


@dataclass(frozen=True, slots=True)
class Begun:
    """The job that the desk opens.

    Parameters
    ----------
    document : JobDocument
        It.
    notes : tuple of str
        What could not be done as it was asked for.
    """

    document: JobDocument
    notes: tuple[str, ...] = ()


def begin(places: Sequence[Path]) -> Begun:
    """Open the job that is meant, or begin one.

    Parameters
    ----------
    places : sequence of Path
        A job file, a folder, or sketches of one folder; none: the folder where the command is run.

    Returns
    -------
    Begun

    Raises
    ------
    InputError
        They cannot be told.
    """
    places = list(places) or [Path()]
    if len(places) == 1 and places[0].suffix.lower() == ".toml":
        return _opened(places[0]) if places[0].exists() else _new(places[0], [])
    if len(places) == 1 and places[0].is_dir():
        folder = places[0]
        job = _job_in(folder)
        return _new(_new_path(folder), _pictures(folder)) if job is None else _opened(job)
    return _of_sketches(places)


def _opened(job: Path) -> Begun:
    """A job that is there; where it cannot be written, that is told from the beginning."""
    folder = job.absolute().parent
    if os.access(folder, os.W_OK) and os.access(job, os.W_OK):
        return Begun(JobDocument(job))
    return Begun(JobDocument(job), (f'"{job.name}" cannot be written: nothing can be decided here.',))


def _of_sketches(sketches: Sequence[Path]) -> Begun:
    for sketch in sketches:
        if not sketch.is_file():
            raise InputError(f'"{sketch}" is not there: name a job, a folder, or sketches.')
        if sketch.suffix.lower() not in _PICTURES:
            raise InputError(f'"{sketch}" is no picture: name a job, a folder, or sketches.')
    folders = {sketch.absolute().parent for sketch in sketches}
    if len(folders) > 1:
        raise InputError("The sketches lie in several folders: put them into one, as a job does.")
    folder = sketches[0].parent
    job = _job_in(folder)
    if job is None:
        return _new(_new_path(folder), sketches)
    return _with_sketches(JobDocument(job), sketches)


def sticker_edit(document: JobDocument, sketch: str, *, is_art: bool = False) -> Edit:
    """What adds a sticker for a sketch, or for vector art, that lies beside the job."""
    tables = document.usable.data.get("sticker", [])
    names = [table.get("name") for table in tables if isinstance(table, dict)]
    name = sticker_name(Path(sketch).stem, [str(name) for name in names])
    return Edit("add", ("sticker",), {"name": name, "art" if is_art else "sketch": sketch, "width": _WIDTH})


def _with_sketches(document: JobDocument, sketches: Sequence[Path]) -> Begun:
    """A job with stickers for those sketches that it does not name yet."""
    notes: list[str] = []
    for sketch in sketches:
        tables = document.usable.data.get("sticker", [])
        if any(isinstance(table, dict) and table.get("sketch") == sketch.name for table in tables):
            continue
        try:
            edit = sticker_edit(document, sketch.name)
            document.decide(document.revision, f"New sketch {edit.to['name']}", [edit])
        except LimnerError as error:
            notes.append(str(error))
    return Begun(document, tuple(notes))


def _new(path: Path, sketches: Sequence[Path]) -> Begun:
    if not path.parent.is_dir():
        raise InputError(f'The folder "{path.parent}" is not there: make it first.')
    try:
        write_whole({path: _NEW_JOB.encode("utf-8")})
    except OutputError as error:
        return Begun(JobDocument(path, unsaved=_NEW_JOB), (f"Nothing can be decided here: {error}",))
    return _with_sketches(JobDocument(path), sketches)


def _new_path(folder: Path) -> Path:
    stem = folder.absolute().name or "stickers"
    return folder / f"{stem}.toml"


def _pictures(folder: Path) -> list[Path]:
    found = sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in _PICTURES and path.is_file() and not path.name.startswith(".")
    )
    if len(found) > _MOST_SKETCHES:
        raise InputError(f'"{folder}" holds {len(found)} pictures: name those that the sheet is made of.')
    return found


def _job_in(folder: Path) -> Path | None:
    """The job in a folder; of several the one that is called like it.

    Raises
    ------
    InputError
        There are several, and none of that name.
    """
    try:
        found = sorted(path for path in folder.glob("*.toml") if path.is_file() and _is_job(path))
    except OSError as error:
        raise InputError(f'The folder "{folder}" may not be read: give yourself the right to.') from error
    if len(found) <= 1:
        return found[0] if found else None
    alike = [path for path in found if path.stem == folder.absolute().name]
    if not alike:
        names = ", ".join(path.name for path in found[:5])
        raise InputError(f'"{folder}" holds several jobs ({names}): name one of them.')
    return alike[0]


def _is_job(path: Path) -> bool:
    """Whether a file is one that speaks of a sheet or of stickers, or would but for a mistake."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError):
        return False
    except tomllib.TOMLDecodeError:
        return True
    return bool({"sheet", "sticker"} & set(data))
