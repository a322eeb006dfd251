"""The tasks that a job asks for: one for each sticker, named by all that its drawing depends on."""

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from limner.colour import Palette
from limner.desk.work.tasks import DrawTask, Look
from limner.job import Job, StickerTable
from limner.pipeline import KEPT_FOLDER, trace_settings

__all__ = ["task_of"]


def task_of(job: Job, sticker: StickerTable, palette: Palette, written: Mapping[str, Any]) -> DrawTask:
    """What is to be drawn of a sticker.

    Parameters
    ----------
    job : Job
        The job.
    sticker : StickerTable
        One of its stickers.
    palette : Palette
        The job's colours.
    written : mapping
        The sticker's own table as it is written.

    Returns
    -------
    DrawTask
    """
    path = job.sketch_path(sticker)
    settings = trace_settings(job, sticker, palette)
    look, rules = _look(sticker, palette), _rules(sticker, written)
    said = f"{_stamp(path)} {settings!r} {look!r} {rules!r}".encode(errors="surrogateescape")
    token = hashlib.sha256(said).hexdigest()[:20]
    keep_in = job.folder / KEPT_FOLDER
    return DrawTask(sticker.name, path, settings, token, look, rules, bool(sticker.art), keep_in)


def _look(sticker: StickerTable, palette: Palette) -> Look:
    own_ink = not sticker.art or "ink" in sticker.model_fields_set
    base = sticker.base
    return Look(
        palette.of(sticker.ink, one_ink=True).screen if own_ink else None,
        "" if base == "none" else None if base is None else palette.of(base).screen,
        tuple(None if area.fill is None else palette.of(area.fill).screen for area in sticker.area),
    )


def _stamp(path: Path) -> str:
    """Another one as soon as the file is another one."""
    try:
        found = path.stat()
    except OSError:
        return f"{path} -"
    return f"{path} {found.st_mtime_ns} {found.st_size}"


def _rules(sticker: StickerTable, written: Mapping[str, Any]) -> tuple[int | None, ...]:
    """The number of each area's table in the sticker's own list; None for those of one that it is like."""
    own = written.get("area")
    own = own if isinstance(own, list) else []
    if sticker.like is None:
        return tuple(range(len(sticker.area)))
    names = {table.get("name"): number for number, table in enumerate(own) if isinstance(table, dict)}
    new = [number for number, table in enumerate(own) if isinstance(table, dict) and "at" in table]
    inherited = len(sticker.area) - len(new)
    return tuple(
        names.get(area.name) if place < inherited else new[place - inherited]
        for place, area in enumerate(sticker.area)
    )
