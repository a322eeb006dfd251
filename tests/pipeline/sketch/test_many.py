"""Many sketches: on this computer's cores, on any executor, one bad file not stopping the rest."""

import os
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import limner
from helpers_sketches import RING_AREAS, write_ring
from limner.pipeline.sketch.many import SketchTask, work_through
from limner.pipeline.sketch.settings import TraceSettings


def areas(traced: limner.Traced) -> int:
    assert traced.drawing is not None, traced.error
    return sum(shape.role == "area" for shape in traced.drawing.fills)


class Recorder(Executor):
    """Works at once, or later when told to, and remembers how many tasks were under way."""

    def __init__(self, answer: Callable[..., Any] | None = None) -> None:
        self.submitted = 0
        self.answer = answer

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.submitted += 1
        future: Future[Any] = Future()
        try:
            future.set_result((self.answer or fn)(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


def nothing(task: SketchTask) -> limner.Traced:
    return limner.Traced(task.path, error="nothing was done.")


def test_every_sketch_gives_one_result_and_bad_ones_a_sentence(tmp_path: Path) -> None:
    good = [write_ring(tmp_path / f"ring-{k}.png") for k in range(3)]
    bad = tmp_path / "letter.jpg"
    bad.write_text("no picture")
    results = {traced.path: traced for traced in limner.trace_many([good[0], bad, *good[1:], "gone.png"])}
    assert set(results) == {*good, bad, Path("gone.png")}
    assert [areas(results[path]) for path in good] == [RING_AREAS] * 3
    for path in (bad, Path("gone.png")):
        error = results[path].error
        assert error is not None
        assert path.name in error
        assert error.endswith(".")
        assert results[path].drawing is None


def test_a_path_may_be_a_string_and_settings_may_be_left_out(tmp_path: Path) -> None:
    path = write_ring(tmp_path / "ring.png")
    assert areas(limner.trace(str(path))) == areas(limner.trace(path, limner.TraceSettings())) == RING_AREAS


def test_settings_reach_the_workers_and_results_do_not_depend_on_where(tmp_path: Path) -> None:
    path = write_ring(tmp_path / "ring.png")
    settings = TraceSettings(width_mm=48.0)
    here = limner.trace(path, settings).drawing
    (there,) = limner.trace_many([path], settings)
    with ThreadPoolExecutor(1) as executor:
        (thread,) = limner.trace_many([path], settings, executor)
    for other in (there.drawing, thread.drawing):
        assert other is not None
        assert other.width_mm == here.width_mm == pytest.approx(48.0)
        for ours, theirs in zip(here.shapes, other.shapes, strict=True):
            for a, b in zip(ours.paths, theirs.paths, strict=True):
                assert np.array_equal(a.segments, b.segments)


def test_paths_are_fetched_only_as_fast_as_they_are_worked_through() -> None:
    fetched = 0

    def paths() -> Iterator[str]:
        nonlocal fetched
        while True:  # without end: whoever fetched them all would never answer
            fetched += 1
            yield f"{fetched}.jpg"

    executor = Recorder(nothing)
    results = limner.trace_many(paths(), executor=executor, in_flight=5)
    for count in range(1, 100):
        assert next(results).path == Path(f"{count}.jpg")
        assert fetched <= count + 5
    results.close()  # type: ignore[attr-defined]
    assert executor.submitted <= 104


def test_what_is_shipped_is_small() -> None:
    import pickle

    task = SketchTask(Path("scans/crab.jpg"), TraceSettings())
    assert len(pickle.dumps(task)) < 2_000


def test_an_executor_that_fails_is_told_from_a_bad_sketch() -> None:
    def fail(task: SketchTask) -> None:
        raise BrokenExecutor("gone") if task.path.stem == "a" else RuntimeError("lost worker")

    broken, lost = limner.trace_many(["a.jpg", "b.jpg"], executor=Recorder(fail), in_flight=1)
    assert "a.jpg" in str(broken.error)
    assert "process" in str(broken.error)
    assert "lost worker" in str(lost.error)
    assert "b.jpg" in str(lost.error)


def test_no_sketches_and_no_tasks_under_way() -> None:
    assert list(limner.trace_many([])) == []
    with pytest.raises(ValueError, match="in_flight"):
        limner.trace_many(["a.jpg"], in_flight=0)


class Deadly:
    """Ends the process that unpickles it, as the system does with one that takes too much memory."""

    def __reduce__(self) -> tuple[Callable[[int], Any], tuple[int]]:
        return os._exit, (7,)


def test_a_process_that_dies_costs_only_its_own_sketch(tmp_path: Path) -> None:
    paths = [write_ring(tmp_path / f"{k}.png") for k in range(4)]
    tasks = [SketchTask(path, TraceSettings()) for path in paths]
    tasks[1] = SketchTask(paths[1], TraceSettings(folder=Deadly()))  # type: ignore[arg-type]
    results = {traced.path: traced for traced in work_through(tasks)}
    assert set(results) == set(paths)
    error = results.pop(paths[1]).error
    assert error is not None
    assert "died" in error
    assert "1.png" in error
    assert [areas(traced) for traced in results.values()] == [RING_AREAS] * 3


def test_on_a_dask_cluster(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="dask[distributed] is not installed")
    paths = [write_ring(tmp_path / f"{k}.png") for k in range(4)]
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            host="127.0.0.1",
            dashboard_address=None,
            memory_limit=0,
            local_directory=str(tmp_path / "dask"),
        ) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor() as executor,
    ):
        results = list(limner.trace_many([*paths, tmp_path / "gone.png"], executor=executor, in_flight=3))
    assert {traced.path for traced in results} == {*paths, tmp_path / "gone.png"}
    assert [areas(traced) for traced in results if traced.error is None] == [RING_AREAS] * 4
    assert [traced.path.name for traced in results if traced.error is not None] == ["gone.png"]
