"""`limner sheet`, `limner check` and `limner new`."""

import argparse
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from limner.cli.terminal import SheetDisplay, note, say
from limner.errors import InputError, LimnerError

if TYPE_CHECKING:
    from limner.job import Job
    from limner.pipeline import Crew, SheetResult

__all__ = ["run_check", "run_new", "run_sheet"]


def run_sheet(arguments: argparse.Namespace) -> int:
    """Make the sheets of one job or several and write their files.

    Returns
    -------
    int
        For one job 1 where a finding must be mended (the files are written all the same), else 0. For several
        also 1 where some sheet could not be made, and 2 where none could.
    """
    jobs = _jobs(arguments)
    singles: bool = arguments.singles
    with _crew() as crew:
        if len(jobs) == 1:
            folder = Path(arguments.output) if arguments.output else None
            return _make(jobs[0], folder, crew, singles=singles, is_last=True)
        folders = _folders(jobs, arguments.output)

        def make(job: Path) -> int:
            return _make(job, folders[job], crew, singles=singles, is_last=job is jobs[-1])

        return _each(jobs, make, "made")


def _jobs(arguments: argparse.Namespace) -> list[Path]:
    return [Path(name) for name in dict.fromkeys(arguments.job)]


def _folders(jobs: Sequence[Path], output: str | None) -> dict[Path, Path]:
    """A folder of its name for each job."""
    if output is None:
        raise InputError("Several jobs need a folder for their sheets: add -o FOLDER.")
    from limner.output import unique_stems

    stems = unique_stems([job.stem for job in jobs])
    return {job: Path(output) / stem for job, stem in zip(jobs, stems, strict=True)}


def _each(jobs: Sequence[Path], work: Callable[[Path], int], done: str) -> int:
    """One job after the other; one that fails is named at the end."""
    codes: list[int] = []
    failed: list[str] = []
    for job in jobs:
        try:
            codes.append(work(job))
        except LimnerError as error:
            failed.append(_naming(job, str(error)))
        except MemoryError:
            failed.append(_naming(job, "its pictures need more memory than there is: make them smaller."))
    say(f"{len(codes)} of {len(jobs)} sheets {done}")
    for sentence in failed:
        note(sentence)
    return max(codes, default=2) if not failed else 1 if codes else 2


def _naming(job: Path, sentence: str) -> str:
    line = " ".join(sentence.split())
    return line if job.name in line else f'"{job.name}": {line}'


def _make(path: Path, folder: Path | None, crew: "Crew", *, singles: bool, is_last: bool) -> int:
    """Make one sheet and write its files, beside its job where no folder is named."""
    job = _job(path)
    folder = job.folder if folder is None else folder
    from limner.pipeline import SINGLES_FOLDER, Stopwatch, check_targets, sheet_files, write_sheet

    check_targets(job, folder, singles=singles)
    try:
        display, result = _build(job, crew)
    except LimnerError:
        _take_back_proof(folder)
        raise

    with Stopwatch(display).stage("output"):
        files = sheet_files(result, singles=singles, crew=crew)
        if is_last:
            crew.close()
        write_sheet(folder, files)
    _summary(result)
    single = [name for name in files if "/" in name]
    written = [name for name in files if name not in single]
    written += [f"{len(single)} files in {SINGLES_FOLDER}"] if single else []
    say(f"  written to {folder}: {', '.join(written)}")
    return _code(result)


def _take_back_proof(folder: Path) -> None:
    """The picture of an earlier run must not be taken for that of a job which was refused."""
    with suppress(OSError):
        proof = folder / "proof.png"
        if proof.is_file() and not proof.is_symlink():
            proof.unlink()


def run_check(arguments: argparse.Namespace) -> int:
    """Check jobs without writing their sheets; exit codes as of `run_sheet`."""
    jobs = _jobs(arguments)
    with _crew() as crew:

        def check(job: Path) -> int:
            _, result = _build(_job(job), crew)
            _summary(result)
            return _code(result)

        return check(jobs[0]) if len(jobs) == 1 else _each(jobs, check, "checked")


def run_new(arguments: argparse.Namespace) -> int:
    """Write the demo job into a folder."""
    from limner.demo import write_demo

    job = write_demo(Path(arguments.folder))
    say(f"{job} is ready: limner sheet {job}")
    return 0


def _crew() -> "Crew":
    """Processes for all of the command; one loads the stages while the job is read."""
    from limner.pipeline import Crew

    crew = Crew()
    crew.begin("limner.pipeline.sheet.worker", "load_stages")
    return crew


def _job(path: Path) -> "Job":
    from limner.job import load_job

    return load_job(path)


def _build(job: "Job", crew: "Crew") -> tuple[SheetDisplay, "SheetResult"]:
    from limner.pipeline import build_sheet

    display = SheetDisplay()
    return display, build_sheet(job, display, progress=display.step, crew=crew)


def _code(result: "SheetResult") -> int:
    return int(any(finding.severity == "error" for finding in result.findings))


def _summary(result: "SheetResult") -> None:
    from limner.output import cut_length_mm

    sheet = result.sheet
    page, count = sheet.page, len(sheet.stickers)
    size = f"{page.trim_width_mm:g} x {page.trim_height_mm:g} mm"
    cuts = f"{count} cut line{'' if count == 1 else 's'}, {cut_length_mm(sheet) / 10:.1f} cm together"
    say(f"{sheet.name}: {page.size_name + ', ' if page.size_name else ''}{size}, {cuts}")
    if sheet.scale is not None:
        say(f"  stickers without a place are {sheet.scale:g} times as wide as written, to fill the sheet")
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
