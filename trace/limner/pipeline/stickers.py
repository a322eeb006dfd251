"""Every sticker of a job traced and cut, side by side on all cores.

Method: what was kept from an earlier run is taken from there; each of the other stickers is one task for a
process of its own core, and what it gives is kept at once, so that a run that fails or is stopped loses
only what was under way. Results come in the order of the job, whichever was done first. Where several
stickers cannot be made, the first one in the job is named, however many processes there are.

Limits: processes are spawned, so that a program which calls this must guard its own start with
``if __name__ == "__main__":``, as with any use of `multiprocessing`.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from limner.colour.palette import Palette
from limner.curves.fit import fit_path
from limner.errors import InputError, LimnerError
from limner.job.load import Job
from limner.job.settings import cut_settings, sticker_settings
from limner.job.tables import StickerTable
from limner.model.geometry import CubicPath
from limner.pipeline.pool import core_count, worker_pool
from limner.pipeline.settings import TraceSettings
from limner.pipeline.store import Kept, Store, cut_key_of, key_of
from limner.pipeline.trace import trace
from limner.sheet.compose import PreparedSticker, StickerSettings, prepare_sticker
from limner.sheet.cutline import Cut

__all__ = ["Made", "Progress", "make_stickers"]

Progress = Callable[[str, int, int], None]
"""Told the name of each sticker that is done, how many are done by then, and of how many; first an empty
name and 0."""


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """The stickers of a job, ready to be placed.

    Parameters
    ----------
    stickers : tuple of PreparedSticker
        In the order of the job.
    rules : tuple of dict of str to int
        For each sticker: for each area that an area table hit, the index of that table.
    retraced : tuple of str
        Names of the stickers that were traced anew rather than taken from the kept results.
    """

    stickers: tuple[PreparedSticker, ...]
    rules: tuple[dict[str, int], ...]
    retraced: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    """What is to be made of one sticker; picklable."""

    number: int
    path: Path
    tracing: TraceSettings
    settings: StickerSettings
    traced: Kept | None = None
    cut: Cut | None = None


@dataclass(frozen=True, slots=True)
class _Keys:
    """Names of one sticker's kept results."""

    trace: str
    cut: str


_Result = tuple[Kept, Cut]


def make_stickers(
    job: Job,
    palette: Palette,
    *,
    store: Store | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Made:
    """Trace and cut every sticker of a job.

    Parameters
    ----------
    job : Job
        The job; its sketches are only read.
    palette : Palette
        Its colours.
    store : Store or None
        Where results are kept; None: nowhere.
    workers : int or None
        Processes that work side by side; None: as many as there are cores. The result does not depend on it.
    progress : Progress or None
        Told what is done.

    Returns
    -------
    Made

    Raises
    ------
    LimnerError
        A sticker cannot be made; the message names it and its line.
    """
    keys = [_keys(job, sticker, palette) for sticker in job.stickers]
    tasks = [_task(job, number, palette, store, keys[number]) for number in range(len(keys))]
    todo = [task for task in tasks if task.cut is None]
    results = {t.number: (t.traced, t.cut) for t in tasks if t.traced is not None and t.cut is not None}
    tell = progress or _tell_nobody
    if todo:
        tell("", 0, len(todo))
    for done, (task, result) in enumerate(_results(job, todo, workers), start=1):
        results[task.number] = result
        if store is not None:
            _save(store, keys[task.number], task, result)
        tell(task.settings.name, done, len(todo))
    traced, cuts = zip(*(results[number] for number in range(len(tasks))), strict=True)
    return Made(
        tuple(_prepared(*parts) for parts in zip(tasks, traced, cuts, strict=True)),
        tuple(kept.rule_of for kept in traced),
        tuple(task.settings.name for task in tasks if task.traced is None),
    )


def _tell_nobody(name: str, done: int, total: int) -> None:
    pass


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


def _keys(job: Job, sticker: StickerTable, palette: Palette) -> _Keys:
    key = key_of(job.sketch_path(sticker), _trace_settings(job, sticker, palette))
    return _Keys(key, cut_key_of(key, sticker.width, cut_settings(job, sticker)))


def _task(job: Job, number: int, palette: Palette, store: Store | None, keys: _Keys) -> _Task:
    """A sticker with what is kept of it: its drawing, and its cut line if the drawing is there."""
    sticker = job.stickers[number]
    traced = None if store is None else store.load(keys.trace)
    if traced is not None and not all(rule < len(sticker.area) for rule in traced.rule_of.values()):
        traced = None
    cut = None if store is None or traced is None else store.load_cut(keys.cut)
    return _Task(
        number,
        job.sketch_path(sticker),
        _trace_settings(job, sticker, palette),
        sticker_settings(job, sticker, None),
        traced,
        cut,
    )


def _save(store: Store, keys: _Keys, task: _Task, result: _Result) -> None:
    traced, cut = result
    if task.traced is None:
        store.save(keys.trace, traced)
    store.save_cut(keys.cut, cut)


def _prepared(task: _Task, traced: Kept, cut: Cut) -> PreparedSticker:
    settings = replace(task.settings, px_per_mm=traced.px_per_mm)
    return prepare_sticker(traced.drawing, settings, _fit_cut, cut)


def _results(job: Job, tasks: Sequence[_Task], workers: int | None) -> Iterator[tuple[_Task, _Result]]:
    """What each task gives, as it is done."""
    count = min(workers or core_count(), len(tasks))
    if count > 1:
        yield from _side_by_side(job, tasks, count)
        return
    for task in tasks:
        try:
            yield task, _make(task)
        except LimnerError as error:
            raise _named(job, task, error) from error


def _side_by_side(job: Job, tasks: Sequence[_Task], count: int) -> Iterator[tuple[_Task, _Result]]:
    lost: list[_Task] = []
    with worker_pool(count) as pool:
        task_of = {pool.submit(_make, task): task for task in tasks}
        try:
            yield from _finished(job, task_of, lost)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    for task in sorted(lost, key=lambda task: task.number):
        yield task, _alone(job, task)


def _finished(
    job: Job, task_of: Mapping[Future[_Result], _Task], lost: list[_Task]
) -> Iterator[tuple[_Task, _Result]]:
    """Results as they are done; those that a dying process took along are added to `lost`.

    After an error only the stickers before the failed one are waited for: one of them may fail, too, and
    the first in the job is the one to be named.
    """
    failed: tuple[_Task, BaseException] | None = None
    for future in as_completed(task_of):
        task = task_of[future]
        if future.cancelled():
            continue
        error = future.exception()
        if error is None:
            yield task, future.result()
        elif isinstance(error, BrokenProcessPool):
            lost.append(task)
        elif failed is None or task.number < failed[0].number:
            failed = task, error
            _cancel_after(task, task_of)
    if failed is not None:
        task, error = failed
        raise _named(job, task, error) if isinstance(error, LimnerError) else error


def _cancel_after(task: _Task, task_of: Mapping[Future[_Result], _Task]) -> None:
    for future, other in task_of.items():
        if other.number > task.number:
            future.cancel()


def _alone(job: Job, task: _Task) -> _Result:
    """In a process by itself, with all of the memory: where that dies too, it dies of this sticker."""
    with worker_pool(1) as pool:
        try:
            return pool.submit(_make, task).result()
        except LimnerError as error:
            raise _named(job, task, error) from error
        except BrokenProcessPool as error:
            died = InputError(
                "the process that traced it died, most likely for want of memory: make the picture smaller."
            )
            raise _named(job, task, died) from error


def _named(job: Job, task: _Task, error: LimnerError) -> LimnerError:
    """The same error with the sticker and its line in the job file."""
    where = job.where(("sticker", task.number))
    return type(error)(f'{where}: sticker "{task.settings.name}": {error}')


def _make(task: _Task) -> _Result:
    """The work of one process."""
    traced = task.traced or _traced(task)
    return traced, task.cut or prepare_sticker(traced.drawing, task.settings, _fit_cut).cut


def _traced(task: _Task) -> Kept:
    result = trace(task.path, task.tracing)
    mm_per_px = result.page.mm_per_photo_px
    assert mm_per_px is not None
    return Kept(result.drawing, result.rule_of, 1.0 / mm_per_px)


def _fit_cut(points: NDArray[np.float64], tolerance_mm: float) -> CubicPath:
    return fit_path(points, tolerance_mm=tolerance_mm, closed=True).path
