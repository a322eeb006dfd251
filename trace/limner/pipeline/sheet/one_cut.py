"""The cut line of one sticker alone, as the sheet would have it."""

from dataclasses import replace

from limner.job import Job, job_palette, job_press
from limner.model.geometry import CubicPath
from limner.pipeline.kept.store import Store
from limner.pipeline.sheet.stickers import StickerWork

__all__ = ["cut_path"]


def cut_path(job: Job, name: str, store: Store | None) -> CubicPath:
    """Lay the cut line of one sticker.

    Parameters
    ----------
    job : Job
        The job.
    name : str
        Which of its stickers.
    store : Store or None
        Where its drawing is kept, and its cut line afterwards.

    Returns
    -------
    CubicPath
        Closed, at the size of the sheet, about the centre of the art, which is not turned.

    Raises
    ------
    LimnerError
        It cannot be cut.
    """
    stickers = [sticker for sticker in job.stickers if sticker.name == name]
    alone = replace(job, tables=job.tables.model_copy(update={"sticker": stickers}))
    with StickerWork(alone, job_palette(job, job_press(job)), store=store, workers=1) as work:
        return work.finish().stickers[0].cut.line.path
