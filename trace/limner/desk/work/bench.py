"""Processes that draw stickers: each remembers the sketches that it has drawn, and gets the same ones again.

Method: a thread for each process hands it one task at a time. What waits is kept by what it is for: a newer
task takes the place of an older one that has not begun. A process that dies costs the task that it was at;
the next one gets a new process.
"""

import threading
from collections import Counter
from collections.abc import Callable, Hashable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Protocol

from limner.desk.work.tasks import Outcome, Step, Task, Tell
from limner.desk.work.worker import Draughtsman
from limner.pipeline import DIED, begin_worker, core_count

__all__ = ["Bench", "Worker"]

Done = Callable[[Outcome | None], None]
"""Told what came of a task: None where a newer one took its place."""

Kept = Callable[[], None]
"""Told that what came of a task is on the disk, too."""

# So long nothing must be asked for before a process does what nobody waits for.
_QUIET_S = 0.05


class Worker(Protocol):
    """What does the tasks of a process."""

    def do(self, task: Task, tell: Tell) -> Outcome:
        """Do one task."""

    def rest(self) -> None:
        """Do what nobody waits for."""


@dataclass(slots=True)
class _Waiting:
    task: Task
    done: Done
    tell: Tell
    kept: Kept
    first: bool


class Bench:
    """Where stickers are drawn.

    Parameters
    ----------
    workers : int or None
        How many processes; None: one for each core, and at most two, as each holds pages in memory.
    worker : callable
        Makes what does their tasks, in the process itself; picklable.
    """

    def __init__(self, workers: int | None = None, worker: Callable[[], Worker] | None = None) -> None:
        count = min(core_count(), _MOST_WORKERS) if workers is None else workers
        worker = worker or partial(Draughtsman, max(1, _MOST_SESSIONS // count))
        self._places = [_Place(worker) for _ in range(count)]
        self._place_of: dict[Path, int] = {}
        self._lock = threading.Lock()

    def submit(
        self,
        slot: Hashable,
        task: Task,
        done: Done,
        tell: Tell | None = None,
        kept: Kept | None = None,
        *,
        first: bool = False,
    ) -> None:
        """Hand in a task.

        Parameters
        ----------
        slot : hashable
            What it is for: a task that waits there already is replaced.
        task : DrawTask or SheetTask
            The task.
        done : callable
            Told from a thread what came of it.
        tell : callable or None
            Told from a thread how far it is; first that it has begun, in no words.
        kept : callable or None
            Told from a thread, later on, that what came of it is kept.
        first : bool
            Whether it goes before those that wait.
        """
        with self._lock:
            number = self._place_of.get(task.path)
            if number is None:
                taken = Counter(self._place_of.values())
                number = min(range(len(self._places)), key=lambda number: taken[number])
                self._place_of[task.path] = number
        self._places[number].put(slot, _Waiting(task, done, tell or _tell_nobody, kept or _nothing, first))

    def prefer(self, slot: Hashable) -> None:
        """Put what waits there before all else."""
        for place in self._places:
            place.prefer(slot)

    def begin(self) -> None:
        """Start the processes before there is work, so that the first of it need not wait for them."""
        for place in self._places:
            place.begin()

    def close(self) -> None:
        """End all processes at once."""
        for place in self._places:
            place.close()


# A process takes some 130 MB, and a sketch that is held 70 MB more: twelve sketches are to stay under a
# gigabyte.
_MOST_WORKERS = 2
_MOST_SESSIONS = 5


class _Place:
    """One process, the thread that feeds it, and what waits for it."""

    def __init__(self, worker: Callable[[], Worker]) -> None:
        self._worker = worker
        self._waiting: dict[Hashable, _Waiting] = {}
        self._changed = threading.Condition()
        self._closed = self._is_awaited = False
        self._to_keep: list[Kept] = []
        self._process: SpawnProcess | None = None
        self._pipe: Connection | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def put(self, slot: Hashable, waiting: _Waiting) -> None:
        with self._changed:
            older = self._waiting.pop(slot, None)
            if waiting.first:
                self._waiting = {slot: waiting, **self._waiting}
            else:
                self._waiting[slot] = waiting
            self._changed.notify()
        if older is not None:
            older.done(None)

    def prefer(self, slot: Hashable) -> None:
        with self._changed:
            if slot in self._waiting:
                self._waiting = {slot: self._waiting.pop(slot), **self._waiting}

    def begin(self) -> None:
        with self._changed:
            self._is_awaited = True
            self._changed.notify()

    def close(self) -> None:
        with self._changed:
            self._closed = True
            self._changed.notify()
        process = self._process
        if process is not None:
            process.kill()

    def _run(self) -> None:
        while (waiting := self._next()) is not None:
            waiting.tell("", 0, 1)
            waiting.done(self._drawn(waiting))
            self._to_keep.append(waiting.kept)
            if not self._is_hurried():
                self._rest()

    def _next(self) -> _Waiting | None:
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._closed or self._is_awaited)
            is_awaited, self._is_awaited = self._is_awaited, False
            if self._closed:
                return None
            if self._waiting:
                return self._waiting.pop(next(iter(self._waiting)))
        with suppress(OSError):
            if is_awaited:
                self._ready()
        return self._next()

    def _is_hurried(self) -> bool:
        """Whether something is asked for, now or in a moment, that somebody waits for, pen in hand."""
        with self._changed:
            if self._waiting and not self._hurried() and not self._closed:
                return False
            return bool(self._changed.wait_for(lambda: self._hurried() or self._closed, _QUIET_S))

    def _hurried(self) -> bool:
        return any(waiting.first for waiting in self._waiting.values())

    def _rest(self) -> None:
        """Let the process do what nobody waits for; where it dies of that, nothing is lost but time."""
        try:
            if self._pipe is not None:
                self._pipe.send(None)
                self._pipe.recv()
        except (OSError, EOFError):
            self._drop()
        for kept in self._to_keep:
            kept()
        self._to_keep.clear()

    def _drawn(self, waiting: _Waiting) -> Outcome:
        try:
            pipe = self._ready()
            pipe.send(waiting.task)
            while isinstance(outcome := pipe.recv(), Step):
                waiting.tell(outcome.words, outcome.done, outcome.of)
        except (OSError, EOFError):
            self._drop()
            return Outcome(sentence=DIED[:1].upper() + DIED[1:])
        assert isinstance(outcome, Outcome)
        return outcome

    def _ready(self) -> Connection:
        if self._process is None or self._pipe is None or not self._process.is_alive():
            self._drop()
            context = get_context("spawn")
            self._pipe, other = context.Pipe()
            self._process = context.Process(target=_serve, args=(other, self._worker), daemon=True)
            self._process.start()
            other.close()
        return self._pipe

    def _drop(self) -> None:
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None:
            self._process.kill()
            self._process.join()
        self._process = self._pipe = None


def _serve(pipe: Connection, make_worker: Callable[[], Worker]) -> None:
    """The life of a process: one task after the other, until nobody is there any more."""
    begin_worker()
    worker = make_worker()
    while True:
        try:
            task = pipe.recv()
        except (EOFError, OSError):
            return
        if task is None:
            worker.rest()
            pipe.send(None)
        else:
            pipe.send(worker.do(task, lambda words, done, of: pipe.send(Step(words, done, of))))


def _nothing() -> None:
    pass


def _tell_nobody(words: str, done: int, of: int) -> None:
    pass
