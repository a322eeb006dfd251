"""A whole job: every sticker traced and cut, laid out, and checked."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from limner.colour.palette import Palette
from limner.colour.spec import ColourSpec
from limner.colour.standout import standout_colour
from limner.colour.tints import TINT_INKS
from limner.curves.fit import fit_path
from limner.errors import LimnerError
from limner.job.load import Job
from limner.job.settings import job_palette, job_press, sheet_settings, sticker_settings
from limner.job.tables import StickerTable
from limner.model.colour import PressColour
from limner.model.drawing import Shape
from limner.model.finding import Finding
from limner.model.geometry import CubicPath
from limner.model.sheet import Sheet
from limner.pipeline.pool import core_count, worker_pool
from limner.pipeline.progress import Observer, Stopwatch
from limner.pipeline.settings import TraceSettings
from limner.pipeline.store import Kept, Store, key_of
from limner.pipeline.trace import trace
from limner.preflight.checks import check_sheet
from limner.regions.tints import SOLID
from limner.sheet.compose import PreparedSticker, compose, prepare_sticker

__all__ = ["SheetResult", "build_sheet"]

# Folder of kept results, beside the job file.
KEPT_FOLDER = ".limner-cache"


@dataclass(frozen=True, slots=True, eq=False)
class SheetResult:
    """The sheet and what was found when it was checked.

    Parameters
    ----------
    sheet : Sheet
        Everything at its place.
    findings : tuple of Finding
        Errors first.
    retraced : tuple of str
        Names of the stickers that were traced anew rather than taken from the kept results.
    """

    sheet: Sheet
    findings: tuple[Finding, ...]
    retraced: tuple[str, ...]


def build_sheet(
    job: Job, observer: Observer | None = None, *, workers: int | None = None, keep: bool = True
) -> SheetResult:
    """Make the sheet of a job.

    Parameters
    ----------
    job : Job
        The job; its sketches are only read.
    observer : Observer or None
        Told which stage is at work.
    workers : int or None
        Processes that trace side by side; None: as many as there are cores. The result does not depend
        on it.
    keep : bool
        Whether traced drawings are kept beside the job, and taken from there where nothing has changed.

    Returns
    -------
    SheetResult

    Raises
    ------
    LimnerError
        Something in the job cannot be used; the message names the sticker and its line.
    """
    watch = Stopwatch(observer)
    palette = job_palette(job, job_press(job))
    settings = sheet_settings(job, palette)
    with watch.stage("tracing"):
        kept, retraced = _traced(job, palette, workers, Store(job.folder / KEPT_FOLDER) if keep else None)
    with watch.stage("cutting"):
        prepared = [_prepared(job, number, traced) for number, traced in enumerate(kept)]
    with watch.stage("layout"):
        colours = [
            _colours(sticker, traced.rule_of, palette)
            for sticker, traced in zip(job.stickers, kept, strict=True)
        ]
        sheet = compose(prepared, settings, colours, standout_colour)
    with watch.stage("checks"):
        return SheetResult(sheet, check_sheet(sheet), retraced)


def _traced(
    job: Job, palette: Palette, workers: int | None, store: Store | None
) -> tuple[list[Kept], tuple[str, ...]]:
    """The drawing of every sticker, in the order of the job, and which ones were traced anew."""
    asked = [_trace_settings(job, sticker, palette) for sticker in job.stickers]
    paths = [job.sketch_path(sticker) for sticker in job.stickers]
    keys = [key_of(path, settings) for path, settings in zip(paths, asked, strict=True)]
    found: list[Kept | None] = [None if store is None else store.load(key) for key in keys]
    todo = [number for number, traced in enumerate(found) if traced is None]
    for number, traced in zip(todo, _trace_all(job, todo, paths, asked, workers), strict=True):
        found[number] = traced
        if store is not None:
            store.save(keys[number], traced)
    names = tuple(job.stickers[number].name for number in todo)
    return [traced for traced in found if traced is not None], names


def _trace_all(
    job: Job, todo: Sequence[int], paths: Sequence[Path], asked: Sequence[TraceSettings], workers: int | None
) -> list[Kept]:
    count = min(workers or core_count(), len(todo))
    if count <= 1:
        return [_named(job, k, partial(_trace_one, paths[k], asked[k])) for k in todo]
    with worker_pool(count) as pool:
        return _in_order(job, pool, todo, paths, asked)


def _in_order(
    job: Job, pool: Executor, todo: Sequence[int], paths: Sequence[Path], asked: Sequence[TraceSettings]
) -> list[Kept]:
    waiting = [pool.submit(_trace_one, paths[number], asked[number]) for number in todo]
    try:
        return [_named(job, number, future.result) for number, future in zip(todo, waiting, strict=True)]
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise


def _trace_one(path: Path, settings: TraceSettings) -> Kept:
    result = trace(path, settings)
    assert result.page.mm_per_px is not None
    return Kept(result.drawing, result.rule_of, 1.0 / result.page.mm_per_px)


def _named(job: Job, number: int, work: Callable[[], Kept]) -> Kept:
    """Do the work; an error names the sticker and its line in the job file."""
    try:
        return work()
    except LimnerError as error:
        sticker = job.stickers[number]
        raise type(error)(f'{job.where(("sticker", number))}: sticker "{sticker.name}": {error}') from error


def _trace_settings(job: Job, sticker: StickerTable, palette: Palette) -> TraceSettings:
    fills = [area.fill for area in sticker.area if area.fill is not None]
    return TraceSettings(
        drawing_width_mm=sticker.width,
        smoothing_mm=sticker.smoothing,
        nodes=sticker.nodes,
        mirror=sticker.mirror or "off",
        paper=sticker.paper,
        lines=sticker.lines,
        areas=tuple(sticker.area),
        zones=tuple(sticker.zone),
        folder=job.folder,
        screen_of={fill: palette.of(fill).screen for fill in fills},
    )


def _prepared(job: Job, number: int, traced: Kept) -> PreparedSticker:
    settings = sticker_settings(job, job.stickers[number], traced.px_per_mm)
    try:
        return prepare_sticker(traced.drawing, settings, _fit_cut)
    except LimnerError as error:
        raise type(error)(f'{job.where(("sticker", number))}: sticker "{settings.name}": {error}') from error


def _fit_cut(points: np.ndarray, tolerance_mm: float) -> CubicPath:
    return fit_path(points, tolerance_mm=tolerance_mm, closed=True).path


def _colours(
    sticker: StickerTable, rule_of: dict[str, int], palette: Palette
) -> Callable[[Shape], PressColour]:
    """What gives each shape of one sticker the colour it prints in."""
    ink = palette.of(sticker.ink, one_ink=True)

    def colour(shape: Shape) -> PressColour:
        # What lies inside of a solid black is covered by it: the same ink, so that none is wasted.
        if shape.role in ("line", "solid") or (shape.fill == SOLID and shape.name not in rule_of):
            return ink
        fill = sticker.area[rule_of[shape.name]].fill if shape.name in rule_of else None
        if fill is not None:
            return palette.of(fill)
        return _tint(shape.fill, palette)

    return colour


def _tint(screen: str, palette: Palette) -> PressColour:
    """One of limner's own tints, or a colour of the sketch itself."""
    inks = TINT_INKS.get(screen)
    if inks is None or palette.press.is_calibrated:
        return palette.of(screen)
    red, green, blue = (int(screen[k : k + 2], 16) for k in (1, 3, 5))
    return palette.of(ColourSpec((red, green, blue), inks))
