"""What the terminal shows while the work goes on."""

import sys
import threading
import time
from types import TracebackType
from typing import Any, Self

__all__ = ["SheetDisplay", "StageDisplay", "TaskDisplay", "note", "say"]

# A stage that is over within a second needs no announcement.
_PATIENCE_S = 1.0

_DOING = {
    "capture": "reading the picture and evening out its light",
    "ink": "telling pencil from paper",
    "symmetry": "looking for the axis",
    "motifs": "placing motifs again",
    "regions": "closing gaps and finding areas",
    "curves": "fitting curves",
    "output": "writing",
    "tracing": "tracing the sketches and laying cut lines",
    "layout": "placing the stickers",
    "checks": "checking the sheet",
    "proof": "drawing the proof",
}


def say(text: str) -> None:
    """Print a line of the summary."""
    print(text)  # noqa: T201


def note(text: str) -> None:
    """Print a remark on standard error, apart from the summary."""
    print(f"limner: {text}", file=sys.stderr, flush=True)  # noqa: T201


class StageDisplay:
    """An observer that shows a line for each stage once it has taken over a second.

    On a terminal the line is alive and goes when the stage is over; elsewhere (a log, a pipe) it is
    printed once, with the time when it is over.
    """

    def __init__(self) -> None:
        self._timer: threading.Timer | None = None
        self._lock = threading.Lock()
        self._live: Any = None
        self._shown = False
        self._started = 0.0

    def begin(self, stage: str) -> None:
        """Start waiting; the line appears when patience is over."""
        self._started, self._shown = time.perf_counter(), False
        self._timer = threading.Timer(_PATIENCE_S, self._show, [_DOING.get(stage, stage)])
        self._timer.daemon = True
        self._timer.start()

    def end(self, stage: str) -> None:
        """Take the line away, or end it with the time."""
        if self._timer is not None:
            self._timer.cancel()
        with self._lock:
            if self._live is not None:
                self._live.stop()
                self._live = None
            elif self._shown:
                seconds = time.perf_counter() - self._started
                note(f"{_DOING.get(stage, stage)}: {seconds:.1f} s")
            self._timer = None

    def _show(self, text: str) -> None:
        with self._lock:
            if self._timer is None:
                return
            self._shown = True
            if sys.stderr.isatty():
                from rich.console import Console

                self._live = Console(stderr=True).status(text)
                self._live.start()


class TaskDisplay:
    """Shows how many of a number of sketches are done.

    On a terminal a bar grows and goes when all is over; elsewhere each sketch gets a line.

    Parameters
    ----------
    total : int
        How many there are.
    """

    def __init__(self, total: int) -> None:
        self._total, self._count = total, 0
        self._bar: Any = None
        self._task: Any = None

    def __enter__(self) -> Self:
        if sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import Progress

            self._bar = Progress(console=Console(stderr=True), transient=True)
            self._task = self._bar.add_task("tracing", total=self._total)
            self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bar is not None:
            self._bar.stop()

    def done(self, name: str, error: str | None) -> None:
        """One more is done, or has failed."""
        self._count += 1
        if self._bar is not None:
            self._bar.update(self._task, completed=self._count)
        else:
            failed = "" if error is None else ", not traced"
            note(f"{self._count} of {self._total}: {name}{failed}")


class SheetDisplay(StageDisplay):
    """Shows stages, and how many stickers are done while they are traced."""

    def __init__(self) -> None:
        super().__init__()
        self._tasks: TaskDisplay | None = None

    def begin(self, stage: str) -> None:
        """Wait with a line for the stage; while tracing, stickers are counted instead."""
        if stage != "tracing":
            super().begin(stage)

    def end(self, stage: str) -> None:
        """Take away what was shown for the stage."""
        if self._tasks is not None:
            self._tasks.__exit__(None, None, None)
            self._tasks = None
        if stage != "tracing":
            super().end(stage)

    def step(self, name: str, done: int, total: int) -> None:
        """One more sticker is done; at first none is, and the name is empty."""
        if self._tasks is None:
            self._tasks = TaskDisplay(total).__enter__()
        if done:
            self._tasks.done(name, None)
