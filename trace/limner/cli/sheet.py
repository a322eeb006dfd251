"""`limner sheet`, `limner check` and `limner new`."""

import argparse
import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from limner.cli.terminal import SheetDisplay, note, say
from limner.errors import InputError, OutputError

__all__ = ["run_check", "run_new", "run_sheet"]


def run_sheet(arguments: argparse.Namespace) -> int:
    """Make the sheet of a job and write its files.

    Returns
    -------
    int
        1 where a finding must be mended (the files are written all the same), else 0.
    """
    with _crew() as crew:
        job = _job(arguments)
        folder = Path(arguments.output) if arguments.output else job.folder
        _check_targets(job, folder)
        display, result = _build(job, crew)

        from limner.pipeline import Stopwatch, sheet_files

        with Stopwatch(display).stage("output"):
            files = sheet_files(result, crew=crew)
            crew.close()
            _write(folder, files)
    _summary(result)
    say(f"  written to {folder}: {', '.join(files)}")
    return _code(result)


def run_check(arguments: argparse.Namespace) -> int:
    """Check a job without writing its sheet; 1 where something must be mended."""
    with _crew() as crew:
        _, result = _build(_job(arguments), crew)
    _summary(result)
    return _code(result)


def run_new(arguments: argparse.Namespace) -> int:
    """Write the demo job into a folder."""
    from limner.demo import write_demo

    job = write_demo(Path(arguments.folder))
    say(f"{job} is ready: limner sheet {job}")
    return 0


def _crew() -> Any:
    """Processes for all of the command; one loads the stages while the job is read."""
    from limner.pipeline import Crew

    crew = Crew()
    crew.begin("limner.pipeline.sheet.worker", "load_stages")
    return crew


def _job(arguments: argparse.Namespace) -> Any:
    from limner.job import load_job

    return load_job(arguments.job)


def _build(job: Any, crew: Any) -> tuple[SheetDisplay, Any]:
    from limner.pipeline import build_sheet

    display = SheetDisplay()
    return display, build_sheet(job, display, progress=display.step, crew=crew)


def _check_targets(job: Any, folder: Path) -> None:
    """Say before the work begins what would stop it at its end.

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

    from limner.pipeline import SHEET_FILES

    read = {_identity(path) for path in _inputs(job)}
    for target in (folder / name for name in SHEET_FILES):
        if target.exists() and _identity(target) in read:
            raise InputError(
                f'"{target}" belongs to the job itself, whose files are never written over: '
                "choose another folder with -o."
            )


def _inputs(job: Any) -> Iterator[Path]:
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


def _write(folder: Path, files: dict[str, bytes]) -> None:
    """Write all files or none; a folder made for nothing is taken back."""
    from limner.output import write_whole

    made = [place for place in (folder, *folder.parents) if not place.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole({folder / name: data for name, data in files.items()})
    except BaseException as error:
        for place in made:
            with suppress(OSError):
                place.rmdir()
        if isinstance(error, OSError):
            raise OutputError(f'The folder "{folder}" cannot be made: choose another place.') from error
        raise


def _code(result: Any) -> int:
    return int(any(finding.severity == "error" for finding in result.findings))


def _summary(result: Any) -> None:
    from limner.output import cut_length_mm

    sheet = result.sheet
    page, count = sheet.page, len(sheet.stickers)
    size = f"{page.trim_width_mm:g} x {page.trim_height_mm:g} mm"
    cuts = f"{count} cut line{'' if count == 1 else 's'}, {cut_length_mm(sheet) / 10:.1f} cm together"
    say(f"{sheet.name}: {page.size_name + ', ' if page.size_name else ''}{size}, {cuts}")
    if result.retraced:
        say(f"  traced: {', '.join(result.retraced)}")
    for finding in result.findings:
        where = ""
        if finding.where_mm is not None:
            x, y = page.to_trim(*finding.where_mm)
            where = f" (at {x:.1f}, {y:.1f} mm)"
        say(f"  {finding.severity}: {finding.message}{where}")
    if not result.findings:
        note("nothing to mend.")
