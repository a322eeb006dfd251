"""What the stages of the sheet take, from a job's tables.

The job counts places from the trim's corner; here they become sheet coordinates.
"""

from dataclasses import replace

from limner.colour import Palette
from limner.errors import InputError
from limner.job.load import Job
from limner.job.tables import LetteringTable, StickerTable
from limner.model.sheet import PlacedLettering
from limner.preflight import PreflightSettings
from limner.sheet import (
    CutSettings,
    Face,
    LayoutSettings,
    LetteringSettings,
    SheetSettings,
    StickerSettings,
    default_face,
    open_face,
    set_lettering,
)

__all__ = [
    "cut_settings",
    "job_letterings",
    "preflight_settings",
    "sheet_settings",
    "sticker_settings",
]


def cut_settings(job: Job, sticker: StickerTable) -> CutSettings:
    """How one sticker is cut."""
    table = job.cut_of(sticker)
    return CutSettings(table.distance, table.form, table.smallest_radius, table.corner, table.neck)


def sticker_settings(job: Job, sticker: StickerTable, palette: Palette) -> StickerSettings:
    """Size, place, cut and ground of one sticker."""
    at = None if sticker.at is None else job.page().from_trim(*sticker.at)
    return StickerSettings(
        sticker.name,
        sticker.width,
        cut_settings(job, sticker),
        at,
        sticker.rotate,
        job.turn_of(sticker),
        sticker.sketch or sticker.art,
        depth=job.cut_of(sticker).depth,
        ground=None if sticker.ground is None else palette.of(sticker.ground),
    )


def preflight_settings(job: Job) -> PreflightSettings:
    """What the sheet is held to: common practice, or what the printing company says."""
    table, settings = job.tables.print, PreflightSettings()
    if table.smallest_text is not None:
        settings = replace(settings, smallest_text_mm=table.smallest_text)
    if table.smallest_line is not None:
        settings = replace(settings, smallest_line_mm=table.smallest_line)
    if table.most_ink is not None:
        settings = replace(settings, heavy_ink=table.most_ink, most_ink=table.most_ink)
    return settings


def job_letterings(job: Job, palette: Palette) -> tuple[PlacedLettering, ...]:
    """All lettering of the job as outlines.

    Raises
    ------
    InputError
        A font or a text cannot be used; the message names the line.
    """
    return tuple(_lettering(job, i, table, palette) for i, table in enumerate(job.tables.lettering))


def sheet_settings(job: Job, palette: Palette) -> SheetSettings:
    """Everything about the sheet but its stickers."""
    sheet, cut = job.tables.sheet, job.tables.cut
    background = None if sheet.background is None else palette.of(sheet.background)
    return SheetSettings(
        job.name,
        job.page(),
        background,
        job_letterings(job, palette),
        cut.separation,
        LayoutSettings(gap_mm=cut.gap, clearance_mm=cut.gap, alike=sheet.alike),
        palette.press.profile,
        palette.press.name,
        cut.partial_separation,
        job.tables.print.white,
    )


def _lettering(job: Job, index: int, table: LetteringTable, palette: Palette) -> PlacedLettering:
    x, y = job.page().from_trim(*table.at)
    settings = LetteringSettings(
        table.text, table.size, x, y, table.align, table.rotate, table.leading, table.arc
    )
    colour = palette.of(table.fill, one_ink=True)
    try:
        return set_lettering(settings, _face(job, table), colour, name=f"lettering-{index + 1}")
    except InputError as error:
        raise InputError(f"{job.where(('lettering', index))}: {error}") from error


def _face(job: Job, table: LetteringTable) -> Face:
    return default_face(table.face) if table.font is None else open_face(job.folder / table.font)
