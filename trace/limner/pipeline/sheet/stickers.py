"""Every sticker of a job traced and cut, side by side on all cores.

Method: what was kept from an earlier run is taken from there; each of the other stickers is one task for a
process of its own core, and what it gives is kept at once, so that a run that fails or is stopped loses
only what was under way. Results come in the order of the job, whichever was done first. Where several
stickers cannot be made, the first one in the job is named, however many processes there are.

Limits: processes are spawned, so that a program which calls this must guard its own start with
``if __name__ == "__main__":``, as with any use of `multiprocessing`.
"""

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from types import TracebackType
from typing import Self

from limner.colour import Palette
from limner.errors import LimnerError
from limner.job import Job, StickerTable, cut_settings, sticker_settings
from limner.pipeline.kept.store import Kept, Store, cut_key_of, map_key_of, trace_key_of
from limner.pipeline.processes.pool import Crew, core_count, run_alone
from limner.pipeline.sheet.asked import trace_settings
from limner.pipeline.sheet.worker import StickerTask, make_sticker
from limner.pipeline.sketch.settings import TraceSettings
from limner.sheet import Cut, PreparedSticker, prepare_sticker

__all__ = ["Made", "Progress", "StickerWork"]

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
    retraced : tuple of str
        Names of the stickers that were traced anew rather than taken from the kept results.
    """

    stickers: tuple[PreparedSticker, ...]
    retraced: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Keys:
    """Names of one sticker's kept results."""

    map: str
    trace: str
    cut: str


_Result = tuple[Kept, Cut]


class StickerWork:
    """The making of all stickers of a job: begun when this is made, brought to its end by `finish`.

    In between the caller is free for other work, as long as other processes make the stickers. Used as a
    context, it ends processes of its own.

    Parameters
    ----------
    job : Job
        The job; its sketches are only read.
    palette : Palette
        Its colours.
    store : Store or None
        Where results are kept; None: nowhere.
    workers : int or None
        Processes that work side by side where there is no crew; None: as many as there are cores. The result
        does not depend on it.
    crew : Crew or None
        Processes that are there already; None: as many as are asked for are started, none for one sticker.
    """

    def __init__(
        self,
        job: Job,
        palette: Palette,
        *,
        store: Store | None = None,
        workers: int | None = None,
        crew: Crew | None = None,
    ) -> None:
        self._job, self._store = job, store
        self._own: Crew | None = None
        self._crew = crew if crew is not None and crew.workers > 1 else None
        self._keys: list[_Keys] = []
        self._tasks: list[StickerTask] = []
        self._finished: list[StickerTask] = []
        self._task_of: dict[Future[_Result], StickerTask] = {}
        # Those that wait for the drawing of another one, by the number of that one.
        self._waiting: dict[int, list[StickerTask]] = {}
        first_of: dict[str, int] = {}
        for number, sticker in enumerate(job.stickers):
            tracing = trace_settings(job, sticker, palette)
            keys = _keys(job, sticker, tracing)
            task = _task(job, number, palette, tracing, store, keys)
            self._keys.append(keys)
            self._tasks.append(task)
            first = first_of.setdefault(keys.trace, number)
            if task.traced is None and first != number:
                self._waiting.setdefault(first, []).append(task)
                continue
            # At once: the other stickers are looked up meanwhile.
            if task.cut is None and self._crew is not None:
                self._task_of[self._crew.submit(make_sticker, task)] = task
        waiting = {task.number for tasks in self._waiting.values() for task in tasks}
        self._todo = [t for t in self._tasks if t.cut is None and t.number not in waiting]
        self._total = len(self._todo) + len(waiting)
        count = min(workers or core_count(), len(self._todo))
        if self._crew is None and count > 1:
            self._own = self._crew = Crew(count)
            self._task_of = {self._crew.submit(make_sticker, task): task for task in self._todo}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._own is not None:
            self._own.__exit__(kind, error, trace)

    def finish(self, progress: Progress | None = None) -> Made:
        """Make what is not made yet, and wait for the rest.

        Parameters
        ----------
        progress : callable or None
            Told what is done.

        Returns
        -------
        Made

        Raises
        ------
        LimnerError
            A sticker cannot be made; the message names it and its line.
        """
        tell = progress or _tell_nobody
        if self._total:
            tell("", 0, self._total)
        made: dict[int, tuple[Kept, PreparedSticker]] = {}
        for task in self._tasks:
            if task.traced is not None and task.cut is not None:
                made[task.number] = task.traced, _prepared(task, task.traced, task.cut)
        for done, (task, result) in enumerate(self._all_results(), start=1):
            if self._store is not None:
                _save(self._store, self._keys[task.number], task, result)
            tell(task.settings.name, done, self._total)
            # At once: the other stickers are made meanwhile.
            made[task.number] = result[0], _prepared(task, *result)
        waiting = {task.number for tasks in self._waiting.values() for task in tasks}
        parts = [made[number] for number in range(len(self._tasks))]
        self._finished = [
            replace(task, traced=traced) for task, (traced, _) in zip(self._tasks, parts, strict=True)
        ]
        return Made(
            tuple(sticker for _, sticker in parts),
            tuple(t.settings.name for t in self._tasks if t.traced is None and t.number not in waiting),
        )

    def at_scale(self, scale: float) -> dict[int, PreparedSticker]:
        """Stickers without a place, by their number, so many times as wide and cut anew.

        To be called once all are finished.

        Raises
        ------
        LimnerError
            A sticker cannot be cut; the message names it and its line.
        """
        tasks = []
        for task, keys in zip(self._finished, self._keys, strict=True):
            if task.settings.at_mm is None:
                wider = replace(task.settings, width_mm=task.settings.width_mm * scale)
                key = cut_key_of(keys.trace, wider.width_mm, wider.cut)
                cut = None if self._store is None else self._store.load_cut(key)
                tasks.append((replace(task, settings=wider, cut=cut), key))
        futures = {}
        if self._crew is not None:
            futures = {t.number: self._crew.submit(make_sticker, t) for t, _ in tasks if t.cut is None}
        prepared = {}
        for task, key in tasks:
            result = self._result_of(task, futures.get(task.number))
            if task.cut is None and self._store is not None:
                self._store.save_cut(key, result[1])
            prepared[task.number] = _prepared(task, *result)
        return prepared

    def _result_of(self, task: StickerTask, future: Future[_Result] | None) -> _Result:
        try:
            return make_sticker(task) if future is None else future.result()
        except BrokenProcessPool:
            return _alone(self._job, task)
        except LimnerError as error:
            raise _named(self._job, task, error) from error

    def _all_results(self) -> Iterator[tuple[StickerTask, _Result]]:
        """Of each task, and after it of those that waited for its drawing: they only need a cut line."""
        for task, result in self._results():
            yield task, result
            for other in self._waiting.get(task.number, ()):
                known = replace(other, traced=result[0])
                try:
                    yield known, make_sticker(known)
                except LimnerError as error:
                    raise _named(self._job, other, error) from error

    def _results(self) -> Iterator[tuple[StickerTask, _Result]]:
        """What each task gives, as it is done."""
        if self._crew is None:
            for task in self._todo:
                try:
                    yield task, make_sticker(task)
                except LimnerError as error:
                    raise _named(self._job, task, error) from error
            return
        lost: list[StickerTask] = []
        yield from _finished(self._job, self._task_of, lost)
        for task in sorted(lost, key=lambda task: task.number):
            yield task, _alone(self._job, task)


def _tell_nobody(name: str, done: int, total: int) -> None:
    pass


def _keys(job: Job, sticker: StickerTable, tracing: TraceSettings) -> _Keys:
    map_key = map_key_of(job.sketch_path(sticker), tracing)
    key = trace_key_of(map_key, tracing)
    return _Keys(map_key, key, cut_key_of(key, sticker.width, cut_settings(job, sticker)))


def _task(
    job: Job, number: int, palette: Palette, tracing: TraceSettings, store: Store | None, keys: _Keys
) -> StickerTask:
    """A sticker with what is kept of it: its drawing, and its cut line if the drawing is there."""
    sticker = job.stickers[number]
    traced = None if store is None else store.load(keys.trace)
    if traced is not None and not _is_of(traced, sticker):
        traced = None
    cut = None if store is None or traced is None else store.load_cut(keys.cut)
    return StickerTask(
        number,
        job.sketch_path(sticker),
        tracing,
        sticker_settings(job, sticker, palette),
        traced,
        cut,
        store,
        keys.map,
        bool(sticker.art),
    )


def _is_of(traced: Kept, sticker: StickerTable) -> bool:
    """Whether a drawing, however it came there, speaks of nothing that its sticker does not have."""
    return all(shape.rule is None or shape.rule < len(sticker.area) for shape in traced.drawing.shapes)


def _save(store: Store, keys: _Keys, task: StickerTask, result: _Result) -> None:
    traced, cut = result
    if task.traced is None:
        store.save(keys.trace, traced)
    store.save_cut(keys.cut, cut)


def _prepared(task: StickerTask, traced: Kept, cut: Cut) -> PreparedSticker:
    settings = replace(task.settings, px_per_mm=traced.px_per_mm)
    return prepare_sticker(traced.drawing, settings, cut)


def _finished(
    job: Job, task_of: Mapping[Future[_Result], StickerTask], lost: list[StickerTask]
) -> Iterator[tuple[StickerTask, _Result]]:
    """Results as they are done; those that a dying process took along are added to `lost`.

    After an error only the stickers before the failed one are waited for: one of them may fail, too, and
    the first in the job is the one to be named.
    """
    failed: tuple[StickerTask, BaseException] | None = None
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


def _cancel_after(task: StickerTask, task_of: Mapping[Future[_Result], StickerTask]) -> None:
    for future, other in task_of.items():
        if other.number > task.number:
            future.cancel()


def _alone(job: Job, task: StickerTask) -> _Result:
    """Where the process of its own dies too, it dies of this sticker."""
    try:
        return run_alone(make_sticker, task)
    except LimnerError as error:
        raise _named(job, task, error) from error


def _named(job: Job, task: StickerTask, error: LimnerError) -> LimnerError:
    """The same error with the sticker and its line in the job file."""

    def where(path: tuple[str | int, ...]) -> str:
        return job.where(("sticker", task.number, *path))

    return error.located(where, f'sticker "{task.settings.name}": ')
