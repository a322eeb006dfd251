"""The sheet of a job in JSON types, and its files: the work of one process."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from limner.desk.work.tasks import SHEET_FOLDER, SheetTask, Tell
from limner.errors import InputError, LimnerError
from limner.geometry.cubics import transform
from limner.job import Job, load_job, read_usable
from limner.model.finding import Finding
from limner.model.geometry import CubicPath
from limner.model.sheet import ColouredShape, Page, PlacedLettering, PlacedSticker, Sheet
from limner.output import path_data, sticker_svg
from limner.pipeline import (
    HeldStore,
    SheetResult,
    build_sheet,
    check_targets,
    cut_path,
    sheet_files,
    write_sheet,
)

__all__ = ["make_cut", "make_sheet", "write_files"]


def make_sheet(task: SheetTask, store: HeldStore) -> dict[str, Any]:
    """The sheet with the stickers that are drawn.

    Parameters
    ----------
    task : SheetTask
        Of which job.
    store : HeldStore
        Where drawings and cut lines are kept.

    Returns
    -------
    dict
        Places are counted from the corner of the trimmed sheet, as in a job.
    """
    job = _usable(task)
    page = job.page()
    shown: dict[str, Any] = {
        "page": _page(page),
        "stickers": [],
        "lettering": [],
        "findings": [],
        "waiting": list(task.waiting),
        "token": task.token,
        "sentence": None,
    }
    job = _only(job, task.ready)
    try:
        result = build_sheet(job, workers=1, store=store) if job.stickers else None
    except LimnerError as error:
        # The layout has no room, or the like: what has a place is shown at it.
        shown["sentence"] = str(error)
        result = _placed_alone(job, store)
    if result is not None:
        shown |= _found(result, job, is_whole=not task.waiting and shown["sentence"] is None)
    return shown


def make_cut(task: SheetTask, store: HeldStore) -> dict[str, Any]:
    """The cut line of one sticker, about the centre of its art, which is not turned; see `make_sheet`."""
    job = _usable(task)
    if task.sticker not in task.ready:
        raise InputError(f'The sticker "{task.sticker}" is not traced yet.')
    return {"sticker": task.sticker, "d": path_data([cut_path(job, task.sticker, store)])}


def write_files(task: SheetTask, tell: Tell) -> dict[str, Any]:
    """Write the files of the sheet beside the job.

    Parameters
    ----------
    task : SheetTask
        Of which job; what its file says counts.
    tell : callable
        Told how far it is.

    Returns
    -------
    dict
        Names of the files, their folder, and how many findings must be mended.

    Raises
    ------
    LimnerError
        The job has mistakes, or its files cannot be written.
    """
    # What is shown leaves out what has mistakes; what is written leaves out nothing.
    mistakes = read_usable(task.text, task.path, within=True).mistakes
    if mistakes:
        raise InputError(mistakes[0].sentence)
    job = load_job(task.path)
    folder = job.folder / SHEET_FOLDER
    if folder.is_symlink():
        raise InputError(f'"{SHEET_FOLDER}" beside the job is a link to elsewhere: take it away.')
    check_targets(job, folder, singles=False)
    steps = len(job.stickers) + _STEPS
    tell("tracing", 0, steps)
    result = build_sheet(job, workers=1, progress=lambda name, done, _: tell(name, done, steps))
    tell("drawing the files", steps - 1, steps)
    files = sheet_files(result)
    write_sheet(folder, files)
    tell("written", steps, steps)
    to_mend = sum(finding.severity == "error" for finding in result.findings)
    return {
        "files": [_FIRST, *(name for name in files if name != _FIRST)],
        "folder": SHEET_FOLDER,
        "findings": to_mend,
        "sentence": None,
    }


def _usable(task: SheetTask) -> Job:
    job = read_usable(task.text, task.path, within=True).job
    if job is None:
        raise InputError("The job has mistakes that leave nothing to show.")
    return job


# Laying out and checking, then drawing the files.
_STEPS = 2

# What she looks at first.
_FIRST = "proof.png"


def _only(job: Job, names: tuple[str, ...]) -> Job:
    stickers = [sticker for sticker in job.stickers if sticker.name in names]
    return replace(job, tables=job.tables.model_copy(update={"sticker": stickers}))


def _placed_alone(job: Job, store: HeldStore) -> SheetResult | None:
    """The sheet of the stickers that have a place of their own; None where that cannot be made either."""
    placed = tuple(sticker.name for sticker in job.stickers if sticker.at is not None)
    try:
        return build_sheet(_only(job, placed), workers=1, store=store)
    except LimnerError:
        return None


def _page(page: Page) -> dict[str, Any]:
    return {
        "width_mm": page.trim_width_mm,
        "height_mm": page.trim_height_mm,
        "bleed_mm": page.bleed_mm,
        "safe_mm": page.safe_mm,
        "background": None,
    }


def _found(result: SheetResult, job: Job, *, is_whole: bool) -> dict[str, Any]:
    sheet = result.sheet
    fixed = {sticker.name for sticker in job.stickers if sticker.at is not None}
    names = [sticker.name for sticker in sheet.stickers]
    background = None if sheet.background is None else sheet.background.screen
    return {
        "page": {**_page(sheet.page), "background": background},
        "stickers": [_sticker(sheet, one, placed=is_whole or one.name in fixed) for one in sheet.stickers],
        "lettering": [_lettering(sheet, index, one) for index, one in enumerate(sheet.letterings)],
        "findings": [_finding(sheet, number, one, names) for number, one in enumerate(result.findings, 1)],
    }


def _sticker(sheet: Sheet, one: PlacedSticker, *, placed: bool) -> dict[str, Any]:
    x, y = sheet.page.to_trim(one.x_mm, one.y_mm)
    return {
        "name": one.name,
        "x_mm": round(x, 3),
        "y_mm": round(y, 3),
        "turn_deg": round(one.rotate_deg, 3),
        "width_mm": round(one.width_mm, 3),
        "height_mm": round(one.height_mm, 3),
        "placed": placed,
        "d_cut": _trimmed(sheet.page, [one.cut.path]),
        "ground": _ground(sheet.page, one.ground),
        "svg": sticker_svg(one).decode("utf-8"),
    }


def _ground(page: Page, ground: ColouredShape | None) -> dict[str, str] | None:
    if ground is None:
        return None
    return {"d": _trimmed(page, ground.shape.paths), "fill": ground.colour.screen}


def _lettering(sheet: Sheet, index: int, one: PlacedLettering) -> dict[str, Any]:
    x, y = sheet.page.to_trim(one.x_mm, one.y_mm)
    x0, y0 = sheet.page.to_trim(*one.box[:2])
    return {
        "index": index,
        "text": one.text,
        "x_mm": round(x, 3),
        "y_mm": round(y, 3),
        "turn_deg": round(one.rotate_deg, 3),
        "d": _trimmed(sheet.page, [path for glyph in one.glyphs for path in glyph.paths]),
        "fill": one.colour.screen,
        "box": [round(value, 3) for value in (x0, y0, one.box[2] - one.box[0], one.box[3] - one.box[1])],
    }


def _trimmed(page: Page, paths: Sequence[CubicPath]) -> str:
    """Paths on the sheet, counted from its trim's corner."""
    matrix = [[1.0, 0.0, -page.bleed_mm], [0.0, 1.0, -page.bleed_mm]]
    return path_data([transform(path, matrix) for path in paths])


def _finding(sheet: Sheet, number: int, one: Finding, names: Sequence[str]) -> dict[str, Any]:
    where = None if one.where_mm is None else sheet.page.to_trim(*one.where_mm)
    return {
        "number": number,
        "severity": one.severity,
        "code": one.code,
        "where_mm": None if where is None else [round(value, 3) for value in where],
        "message": one.message,
        "sticker": next((name for name in names if f'"{name}"' in one.message), None),
    }
