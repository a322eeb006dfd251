"""A pool of processes that trace side by side on this computer's cores.

Method: processes are spawned, as a fork would inherit the locks of OpenCV's and NumPy's threads; each works
on one core, as the processes are the parallelism; none outlives the one that started it, even if that is
killed.
"""

import os
import signal
import threading
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context, parent_process

__all__ = ["core_count", "worker_pool"]


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
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_begin)


def _begin() -> None:
    # Ctrl-C reaches every process of the terminal: the one that started the others ends them in good order.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    import cv2

    cv2.setNumThreads(1)


def _end_with_parent() -> None:
    """Leave once the parent is gone: the queue of a pool does not tell its workers."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
