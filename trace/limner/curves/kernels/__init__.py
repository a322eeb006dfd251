"""The loops of the curve fit, compiled from C when limner is built or installed.

`compiled` is the module. What each loop takes and gives is said in ``border.h``, from which the loops' own
signatures are made; the tests hold them against plain computations of the same.
"""

import os
from collections.abc import Callable
from threading import Thread

import numpy as np

from limner.curves.kernels import _compiled as compiled
from limner.model.arrays import Indices, Ints

__all__ = ["compiled", "in_halves", "limit_threads", "whole"]

# Beginning a thread takes about as long as a hundred spans.
FEWEST_FOR_A_THREAD = 2000

_threads = os.cpu_count() or 1


def limit_threads(count: int) -> None:
    """Let this process use so many threads: one where it shares the cores with others of its kind."""
    global _threads
    _threads = count


def in_halves(work: Callable[[slice], None], count: int) -> None:
    """Do compiled work on many things that do not depend on each other, by two threads where there are cores.

    Parameters
    ----------
    work : callable
        Given which of the things to work on; it leaves the interpreter free meanwhile.
    count : int
        How many things there are.
    """
    if count < FEWEST_FOR_A_THREAD or _threads < 2:
        work(slice(0, count))
        return
    failed: list[BaseException] = []

    def first_half() -> None:
        try:
            work(slice(0, count // 2))
        except BaseException as error:
            failed.append(error)

    thread = Thread(target=first_half, name="first half")
    thread.start()
    try:
        work(slice(count // 2, count))
    finally:
        thread.join()
    if failed:
        raise failed[0]


def whole(index: Ints) -> Indices:
    """Indices as the compiled loops take them."""
    return np.ascontiguousarray(index, dtype=np.int64)
