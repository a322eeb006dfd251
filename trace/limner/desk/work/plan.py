"""The tasks that a job asks for: one for each sticker, named by all that its drawing depends on."""

import hashlib
from pathlib import Path

from limner.colour import Palette
from limner.desk.work.tasks import DrawTask, Look
from limner.job import Job, StickerTable
from limner.pipeline import KEPT_FOLDER, code_digest, trace_settings

__all__ = ["file_stamp", "task_of"]


def task_of(job: Job, sticker: StickerTable, palette: Palette, *, numbered: bool) -> DrawTask:
    """What is to be drawn of a sticker.

    Parameters
    ----------
    job : Job
        The job.
    sticker : StickerTable
        One of its stickers.
    palette : Palette
        The job's colours.
    numbered : bool
        Whether it has all of its areas.

    Returns
    -------
    DrawTask
    """
    path = job.sketch_path(sticker)
    settings = trace_settings(job, sticker, palette)
    look = _look(sticker, palette)
    form = _digest(f"{code_digest()} {file_stamp(path)} {settings!r} {sticker.art}")
    token = _digest(f"{form} {look!r} {numbered}")
    keep_in = job.folder / KEPT_FOLDER
    return DrawTask(sticker.name, path, settings, form, token, look, numbered, bool(sticker.art), keep_in)


def _digest(said: str) -> str:
    return hashlib.sha256(said.encode(errors="surrogateescape")).hexdigest()[:20]


def _look(sticker: StickerTable, palette: Palette) -> Look:
    own_ink = not sticker.art or "ink" in sticker.model_fields_set
    base = sticker.base
    return Look(
        palette.of(sticker.ink, one_ink=True).screen if own_ink else None,
        "" if base == "none" else None if base is None else palette.of(base).screen,
        tuple(None if area.fill is None else palette.of(area.fill).screen for area in sticker.area),
    )


def file_stamp(path: Path) -> str:
    """A text that is another one as soon as a file is."""
    try:
        found = path.stat()
    except OSError:
        return f"{path} -"
    return f"{path} {found.st_mtime_ns} {found.st_size}"
