"""Many sketches, on all cores or on any engine that speaks `concurrent.futures`.

Method: each sketch is one task, shipped as its path and the settings; what comes back is a drawing, or one
sentence on why there is none. Only a bounded number of tasks is under way at a time, so that memory does not
grow with the number of sketches, and paths may come from a generator. Results are yielded as they finish.

Limits: sketches must be readable under the same path where the executor works. A process that dies (for want
of memory, say) costs only the sketch that it died on with limner's own pool; an executor from outside
decides for itself what happens then.
"""

from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from pathlib import Path

from limner.capture import shown
from limner.errors import InputError, LimnerError
from limner.model.drawing import Drawing
from limner.pipeline.processes.pool import DIED, core_count, run_alone, worker_pool
from limner.pipeline.sketch.settings import TraceSettings

__all__ = ["SketchTask", "Traced", "trace_many", "work_through"]

# Twice as many tasks as workers keeps each worker busy while results are fetched; no more, so that little is
# lost when the caller stops.
_TASKS_PER_WORKER = 2

# How many workers an executor from outside has cannot be asked of it: enough for a small cluster.
_TASKS_ELSEWHERE = 64


@dataclass(frozen=True, slots=True)
class SketchTask:
    """One sketch to trace.

    Parameters
    ----------
    path : Path
        The photograph or scan.
    settings : TraceSettings
        What the user decides.
    targets : mapping of {"svg", "report", "proof"} to Path
        Files to write where the sketch is traced; their folders must exist there.
    touch_lines : tuple of int or None
        The line on which each touch stands in its file, where that is known.
    """

    path: Path
    settings: TraceSettings
    targets: Mapping[str, Path] = field(default_factory=dict)
    touch_lines: tuple[int | None, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """What came of one sketch: a drawing or an error.

    Parameters
    ----------
    path : Path
        The sketch, as it was given.
    drawing : Drawing or None
        The result.
    error : str or None
        One sentence on why there is none.
    """

    path: Path
    drawing: Drawing | None = None
    error: str | None = None


def trace_many(
    paths: Iterable[Path | str],
    settings: TraceSettings | None = None,
    executor: Executor | None = None,
    *,
    in_flight: int | None = None,
) -> Iterator[Traced]:
    """Trace any number of sketches; one that cannot be traced does not stop the others.

    Parameters
    ----------
    paths : iterable of Path or str
        The photographs and scans; fetched only as fast as they are worked through.
    settings : TraceSettings or None
        What the user decides, the same for all; None: the defaults.
    executor : Executor or None
        Where to work, such as the executor of a cluster's client; it is left open. None: processes of this
        computer, one per core.
    in_flight : int or None
        Tasks under way at a time, at least as many as the executor has workers. None: twice the cores for
        limner's own processes, 64 elsewhere.

    Yields
    ------
    Traced
        One for each path, in the order in which they finish.

    Examples
    --------
    ::

        for traced in limner.trace_many(Path("scans").glob("*.jpg"), limner.TraceSettings(paper="A5")):
            print(traced.path, traced.error or traced.drawing.node_count)
    """
    shared = settings or TraceSettings()
    tasks = (SketchTask(Path(path), shared) for path in paths)
    return work_through(tasks, executor, in_flight=in_flight)


def work_through(
    tasks: Iterable[SketchTask], executor: Executor | None = None, *, in_flight: int | None = None
) -> Iterator[Traced]:
    """Do all tasks; see `trace_many`.

    Yields
    ------
    Traced
        One for each task, in the order in which they finish.
    """
    if in_flight is not None and in_flight < 1:
        raise ValueError("in_flight must be at least 1")
    if executor is not None:
        return _through(iter(tasks), executor, in_flight or _TASKS_ELSEWHERE)
    return _here(iter(tasks), in_flight)


def _here(tasks: Iterator[SketchTask], in_flight: int | None) -> Iterator[Traced]:
    """On processes of this computer; a process that dies is replaced."""
    workers = core_count()
    suspects: list[SketchTask] = []
    while True:
        pool = worker_pool(workers)
        try:
            yield from _through(tasks, pool, in_flight or _TASKS_PER_WORKER * workers, suspects)
        finally:
            pool.shutdown(cancel_futures=True)
        if not suspects:
            return
        for task in suspects:
            yield _alone(task)
        suspects.clear()


def _alone(task: SketchTask) -> Traced:
    """In a process of its own: where that dies, it died of this sketch."""
    try:
        return run_alone(_trace_one, task)
    except InputError as error:
        return Traced(task.path, error=_sentence(task.path, str(error)))


def _through(
    tasks: Iterator[SketchTask], executor: Executor, in_flight: int, lost: list[SketchTask] | None = None
) -> Iterator[Traced]:
    """Keep a bounded number of tasks under way.

    Where a pool breaks, what was under way is added to `lost` and the rest is left in `tasks`; without such
    a list the tasks under way become errors, and handing in more raises.
    """
    pending: dict[Future[Traced], SketchTask] = {}
    try:
        while _fill(tasks, executor, in_flight, pending, lost) and pending:
            done, _ = wait(pending, return_when=FIRST_COMPLETED)
            # Those done at the same moment in the order in which they were handed in.
            for future in [future for future in pending if future in done]:
                task = pending.pop(future)
                if lost is not None and isinstance(_failure(future), BrokenProcessPool):
                    lost.append(task)
                else:
                    yield _outcome(task, future)
            if lost:
                break
        if lost is not None:
            lost.extend(pending.values())
    finally:
        for future in pending:
            future.cancel()


def _fill(
    tasks: Iterator[SketchTask],
    executor: Executor,
    in_flight: int,
    pending: dict[Future[Traced], SketchTask],
    lost: list[SketchTask] | None,
) -> bool:
    """Hand in tasks until enough are under way; whether the executor takes any."""
    while len(pending) < in_flight:
        task = next(tasks, None)
        if task is None:
            return True
        try:
            pending[executor.submit(_trace_one, task)] = task
        except BrokenProcessPool:
            if lost is None:
                raise
            lost.append(task)
            return False
    return True


def _failure(future: Future[Traced]) -> BaseException | None:
    try:
        return future.exception()
    except CancelledError as error:
        return error


def _outcome(task: SketchTask, future: Future[Traced]) -> Traced:
    """What the task gave; its own errors are in that already, so that any raised one is the executor's."""
    error = _failure(future)
    if error is None:
        return future.result()
    if isinstance(error, BrokenExecutor):
        return Traced(task.path, error=_sentence(task.path, DIED))
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    return Traced(task.path, error=_sentence(task.path, f"the executor gave it up ({what}): try it again."))


def _trace_one(task: SketchTask) -> Traced:
    """Trace one sketch where the executor works; never raises but for the end of the process."""
    from limner.output import write_whole
    from limner.pipeline.sketch.files import trace_files
    from limner.pipeline.sketch.trace import trace

    try:
        result = trace(task.path, task.settings)
        if task.targets:
            contents = trace_files(result, task.path.name, tuple(task.targets), task.touch_lines)
            write_whole({task.targets[kind]: data for kind, data in contents.items()})
    except Exception as error:
        return Traced(task.path, error=_sentence(task.path, _why(error)))
    return Traced(task.path, drawing=result.drawing)


def _why(error: Exception) -> str:
    if isinstance(error, MemoryError):
        return "it needs more memory than there is: make the picture smaller."
    if isinstance(error, LimnerError):
        return str(error)
    what = f"{type(error).__name__}: {error}"
    return f"limner met a fault of its own ({what}): please report it together with the sketch."


def _sentence(path: Path, text: str) -> str:
    """One line that names the sketch."""
    line = " ".join(text.split())
    return line if path.name in line else f'"{shown(path)}": {line}'
