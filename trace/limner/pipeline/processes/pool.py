"""Processes that work side by side on this computer's cores.

Method: processes are spawned, as a fork would inherit the locks of OpenCV's and NumPy's threads; each works
on one core, as the processes are the parallelism; none outlives the one that started it, even if that is
killed.
"""

import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from types import TracebackType
from typing import ParamSpec, Self, TypeVar

from limner.errors import InputError

__all__ = ["DIED", "Crew", "begin_worker", "core_count", "run_alone", "worker_pool"]

DIED = "the process that traced it died, most likely for want of memory: make the picture smaller."
"""What a user is told of a sketch whose process died."""

P = ParamSpec("P")
T = TypeVar("T")


def core_count() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def worker_pool(workers: int) -> ProcessPoolExecutor:
    """Processes that trace; close it as any executor.

    Parameters
    ----------
    workers : int
        How many at most; they are started as they are needed.

    Returns
    -------
    ProcessPoolExecutor
    """
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=begin_worker)


def run_alone(function: Callable[P, T], *arguments: P.args, **options: P.kwargs) -> T:
    """Do work that another process may have died of, in a process by itself, with all of the memory.

    Raises
    ------
    InputError
        That process died, too: it is this work that it died of.
    """
    with worker_pool(1) as pool:
        try:
            return pool.submit(function, *arguments, **options).result()
        except BrokenProcessPool as error:
            raise InputError(DIED) from error


class Crew:
    """The processes of one command, which do one piece of its work after the other.

    Started before there is work, a process is ready when the first comes. Used as a context, it ends its
    processes in good order, or at once where an error ends the context.

    Parameters
    ----------
    workers : int or None
        How many at most; None: as many as there are cores.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or core_count()
        self._pool: ProcessPoolExecutor | None = None
        self._hears: Connection | None = None
        self._calls: Connection | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self.close()
        else:
            self.dismiss()

    def begin(self, module: str, name: str) -> None:
        """Start a process where more than one core is there, and let it call a function of a module.

        Parameters
        ----------
        module, name : str
            By name, so that the module need not be loaded here.
        """
        if self.workers > 1:
            self.submit(_call, module, name)

    def submit(self, function: Callable[P, T], *arguments: P.args, **options: P.kwargs) -> Future[T]:
        """Hand in one piece of work; processes that died are replaced."""
        if self._pool is not None:
            with suppress(BrokenProcessPool):
                return self._pool.submit(function, *arguments, **options)
            self.dismiss()
        context = get_context("spawn")
        self._hears, self._calls = context.Pipe(duplex=False)
        self._pool = ProcessPoolExecutor(
            self.workers, mp_context=context, initializer=begin_worker, initargs=(self._hears,)
        )
        return self._pool.submit(function, *arguments, **options)

    def close(self) -> None:
        """Let the processes end once their work is done; they are not waited for."""
        if self._pool is not None:
            self._pool.shutdown(wait=False)
        self._pool = None

    def dismiss(self) -> None:
        """End the processes at once, whatever they are at."""
        if self._calls is not None:
            self._calls.close()
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
        self._pool = None


def _call(module: str, name: str) -> None:
    from importlib import import_module

    # What cannot be loaded is told by the work that needs it.
    with suppress(ImportError):
        getattr(import_module(module), name)()


def begin_worker(dismissed: Connection | None = None) -> None:
    """Make a new process one of those that work side by side: it works on one core and ends with its parent.

    Parameters
    ----------
    dismissed : Connection or None
        Closed by the parent to end the process at once.
    """
    # Ctrl-C reaches every process of the terminal: the one that started the others ends them in good order.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, args=(dismissed,), daemon=True).start()
    # The processes are the parallelism: each works on one core.
    from limner.curves import limit_threads

    limit_threads(1)
    with suppress(ImportError):
        import cv2

        cv2.setNumThreads(1)


def _end_with_parent(dismissed: Connection | None) -> None:
    """Leave once the parent is gone or sends everyone home: the queue of a pool does not tell its workers."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel] if dismissed is None else [parent.sentinel, dismissed])
        os._exit(1)
