"""A whole job: every sticker traced and cut, laid out, and checked."""

import math
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from limner.colour import Palette, standout_colour
from limner.errors import GeometryError
from limner.job import (
    Job,
    StickerTable,
    copy_names,
    job_palette,
    job_press,
    preflight_settings,
    sheet_settings,
)
from limner.model.colour import PressColour
from limner.model.drawing import Shape
from limner.model.finding import Finding
from limner.model.sheet import Sheet
from limner.pipeline.kept.store import Store
from limner.pipeline.processes.pool import Crew
from limner.pipeline.processes.progress import Observer, Stopwatch
from limner.pipeline.sheet.names import KEPT_FOLDER
from limner.pipeline.sheet.stickers import Progress, StickerWork
from limner.sheet import PreparedSticker, SheetSettings, compose_sheet, copied, fitting_scale

__all__ = ["SheetResult", "build_sheet"]


# Cut lines laid anew may be a little longer than those that the scale was found with: so many scales are
# tried, so far apart.
_SCALE_STEPS, _SCALE_STEP = 4, 0.02


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
    job: Job,
    observer: Observer | None = None,
    *,
    workers: int | None = None,
    keep: bool = True,
    progress: Progress | None = None,
    crew: Crew | None = None,
    store: Store | None = None,
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
        Whether drawings and cut lines are kept beside the job, and taken from there where nothing has
        changed.
    progress : Progress or None
        Told which stickers are done.
    crew : Crew or None
        Processes that are there already, to be used instead of `workers`.
    store : Store or None
        Kept results, where they are at hand already.

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
    if store is None and keep:
        store = Store(job.folder / KEPT_FOLDER)
    with StickerWork(job, palette, store=store, workers=workers, crew=crew) as work:
        with watch.stage("tracing"):
            # While other processes trace.
            settings = sheet_settings(job, palette)
            from limner.capture import require_opencv
            from limner.preflight import check_sheet

            require_opencv()
            made = work.finish(progress)
        with watch.stage("layout"):
            sheet = _laid_out(job, palette, settings, work, made.stickers)
    with watch.stage("checks"):
        return SheetResult(sheet, check_sheet(sheet, preflight_settings(job)), made.retraced)


def _with_copies(job: Job, stickers: Sequence[PreparedSticker]) -> list[PreparedSticker]:
    """Each sticker as often as its table says."""
    return [
        copy
        for table, sticker in zip(job.stickers, stickers, strict=True)
        for copy in copied(sticker, copy_names(table.name, table.copies))
    ]


def _laid_out(
    job: Job,
    palette: Palette,
    settings: SheetSettings,
    work: StickerWork,
    stickers: Sequence[PreparedSticker],
) -> Sheet:
    """The sheet; where it is to be filled, with free stickers as large as they go."""
    colours = [_colours(table, palette) for table in job.stickers for _ in range(table.copies)]

    def composed(stickers: Sequence[PreparedSticker]) -> Sheet:
        return compose_sheet(_with_copies(job, stickers), settings, colours, standout_colour)

    scale = 0.0
    if job.tables.sheet.scale == "fit":
        scale = fitting_scale(_with_copies(job, stickers), settings)
    for step in range(_SCALE_STEPS):
        # Rounded down, so that widths may be written with the factor that the report says.
        factor = math.floor(1000 * scale * (1.0 - step * _SCALE_STEP)) / 1000
        if factor <= 0:
            break
        anew = work.at_scale(factor)
        with suppress(GeometryError):
            sheet = composed([anew.get(i, sticker) for i, sticker in enumerate(stickers)])
            return replace(sheet, scale=factor)
    return composed(stickers)


def _colours(sticker: StickerTable, palette: Palette) -> Callable[[Shape], PressColour | None]:
    """What gives each shape of one sticker the colour it prints in, or leaves it out."""
    if sticker.art:
        return _art_colours(sticker, palette)
    ink = palette.of(sticker.ink, one_ink=True)

    def colour(shape: Shape) -> PressColour | None:
        if shape.role == "silhouette" and sticker.base is not None:
            return None if sticker.base == "none" else palette.of(sticker.base)
        # What lies inside of a solid black is covered by it: the same ink, so that none is wasted.
        if shape.role in ("line", "solid") or shape.inked:
            return ink
        fill = None if shape.rule is None else sticker.area[shape.rule].fill
        if fill is not None:
            return palette.of(fill)
        # A tint of limner's own, or a colour of the sketch itself.
        return palette.of(shape.fill)

    return colour


def _art_colours(sticker: StickerTable, palette: Palette) -> Callable[[Shape], PressColour]:
    """The colours of art are its own, but for what the job gives another one."""
    ink = palette.of(sticker.ink, one_ink=True) if "ink" in sticker.model_fields_set else None

    def colour(shape: Shape) -> PressColour:
        is_line = shape.role == "line"
        fill = None if shape.rule is None else sticker.area[shape.rule].fill
        if fill is not None:
            return palette.of(fill, one_ink=is_line)
        return ink if is_line and ink is not None else palette.of(shape.fill, one_ink=is_line)

    return colour
