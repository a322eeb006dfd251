"""The folder that a sheet is written to."""

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from limner.errors import InputError, OutputError
from limner.job import Job
from limner.output import write_whole
from limner.pipeline.sheet.names import SHEET_FILES, SINGLES_FOLDER

__all__ = ["check_targets", "write_sheet"]


def check_targets(job: Job, folder: Path, *, singles: bool) -> None:
    """Say before the work begins what would stop it at its end.

    Parameters
    ----------
    job : Job
        The job, none of whose files may be written over.
    folder : Path
        Where its sheet is to go.
    singles : bool
        Whether each sticker is written by itself, too.

    Raises
    ------
    InputError
        The place is no folder, or a file of the job would be written over.
    OutputError
        The place may not be written to.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(f'"{folder}" is not a folder: name a folder for the files of the sheet.')
    there = next((place for place in (folder, *folder.parents) if place.exists()), folder)
    if not there.is_dir() or not os.access(there, os.W_OK | os.X_OK):
        raise OutputError(f'The folder "{folder}" cannot be written to: choose another place.')

    read = {_identity(path) for path in _inputs(job)}
    names = [*SHEET_FILES]
    if singles:
        names += [f"{SINGLES_FOLDER}/{s.name}{ending}" for s in job.stickers for ending in (".svg", ".png")]
    for target in (folder / name for name in names):
        if target.exists() and _identity(target) in read:
            raise InputError(
                f'"{target}" belongs to the job itself, whose files are never written over: '
                "choose another folder with -o."
            )


def _inputs(job: Job) -> Iterator[Path]:
    """Every file that the job reads."""
    yield job.path
    if job.tables.print.profile is not None:
        yield job.folder / job.tables.print.profile
    for sticker in job.stickers:
        yield job.sketch_path(sticker)
        yield from (job.folder / zone.mask for zone in sticker.zone if zone.mask is not None)
    yield from (job.folder / text.font for text in job.tables.lettering if text.font is not None)


def _identity(path: Path) -> tuple[int, int]:
    """The same for all names and links that lead to one file."""
    status = path.stat()
    return status.st_dev, status.st_ino


def write_sheet(folder: Path, files: dict[str, bytes]) -> None:
    """Write all files or none; a folder made for nothing is taken back.

    Parameters
    ----------
    folder : Path
        Where they go; it is made where it is not there.
    files : dict of str to bytes
        By their names in it.

    Raises
    ------
    OutputError
        One of them cannot be written.
    """
    inner = sorted({(folder / name).parent for name in files} - {folder})
    made = [place for place in (*inner, folder, *folder.parents) if not place.exists()]
    try:
        for place in (folder, *inner):
            place.mkdir(parents=True, exist_ok=True)
        write_whole({folder / name: data for name, data in files.items()})
    except BaseException as error:
        for place in made:
            with suppress(OSError):
                place.rmdir()
        if isinstance(error, OSError):
            raise OutputError(f'The folder "{folder}" cannot be made: choose another place.') from error
        raise
