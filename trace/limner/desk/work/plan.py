"""The tasks that a job asks for: one for each sticker, named by all that its drawing depends on."""

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from limner.colour import Palette
from limner.desk.work.tasks import DrawTask
from limner.job import Job, StickerTable
from limner.pipeline import trace_settings

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
    ink = palette.of(sticker.ink, one_ink=True).screen
    token = hashlib.sha256(f"{_stamp(path)} {settings!r} {ink}".encode(errors="surrogateescape")).hexdigest()[
        :20
    ]
    rules = _rules(sticker, written)
    return DrawTask(sticker.name, path, settings, token, rules, bool(sticker.art), job.folder)


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
