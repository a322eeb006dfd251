"""Times every stage, and tells an observer when one begins and ends."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

__all__ = ["Observer", "Stopwatch"]


class Observer(Protocol):
    """Someone who wants to know which stage is at work, such as a progress display."""

    def begin(self, stage: str) -> None:
        """Stage `stage` starts."""

    def end(self, stage: str) -> None:
        """Stage `stage` is over, whether it succeeded or not."""


class Stopwatch:
    """Wall time of each stage, in the order in which they ran.

    Parameters
    ----------
    observer : Observer or None
        Told about the beginning and the end of each stage.
    """

    def __init__(self, observer: Observer | None = None) -> None:
        self.seconds: dict[str, float] = {}
        self._observer = observer

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time what happens inside; times of stages of the same name add up."""
        started = time.perf_counter()
        if self._observer is not None:
            self._observer.begin(name)
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - started
            if self._observer is not None:
                self._observer.end(name)
