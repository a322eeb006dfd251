"""`limner sheet`, `limner check` and `limner new`."""

import argparse
from pathlib import Path
from typing import Any

from limner.cli.terminal import StageDisplay, note, say
from limner.errors import InputError, OutputError

__all__ = ["run_check", "run_new", "run_sheet"]


def run_sheet(arguments: argparse.Namespace) -> int:
    """Make the sheet of a job and write its files.

    Returns
    -------
    int
        1 where a finding must be mended (the files are written all the same), else 0.
    """
    display, result = _build(arguments)
    folder = Path(arguments.output) if arguments.output else Path(arguments.job).parent
    if folder.exists() and not folder.is_dir():
        raise InputError(f'"{folder}" is not a folder: name a folder for the files of the sheet.')

    from limner.output.files import write_whole
    from limner.pipeline.progress import Stopwatch
    from limner.pipeline.sheet_files import sheet_files

    with Stopwatch(display).stage("output"):
        files = sheet_files(result)
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputError(f'The folder "{folder}" cannot be made: choose another place.') from error
        write_whole({folder / name: data for name, data in files.items()})
    _summary(result)
    say(f"  written to {folder}: {', '.join(files)}")
    return _code(result)


def run_check(arguments: argparse.Namespace) -> int:
    """Check a job without writing anything; 1 where something must be mended."""
    _, result = _build(arguments)
    _summary(result)
    return _code(result)


def run_new(arguments: argparse.Namespace) -> int:
    """Write the demo job into a folder."""
    from limner.demo import write_demo

    job = write_demo(Path(arguments.folder))
    say(f"{job} is ready: limner sheet {job}")
    return 0


def _build(arguments: argparse.Namespace) -> tuple[StageDisplay, Any]:
    from limner.capture.load import require_opencv
    from limner.job.load import load_job

    job = load_job(arguments.job)
    require_opencv()
    from limner.pipeline.sheet import build_sheet

    display = StageDisplay()
    return display, build_sheet(job, display)


def _code(result: Any) -> int:
    return int(any(finding.severity == "error" for finding in result.findings))


def _summary(result: Any) -> None:
    from limner.output.sheet_report import cut_length_mm

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
