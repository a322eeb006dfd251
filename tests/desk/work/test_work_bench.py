"""Processes that draw: the newest counts, and one that dies costs its task alone."""

from collections.abc import Iterator
from concurrent.futures import Future
from pathlib import Path

import pytest

from helpers_desk import StrangeWorker
from limner.desk.work.bench import Bench
from limner.desk.work.tasks import DrawTask, Outcome
from limner.pipeline import TraceSettings


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    bench = Bench(1, StrangeWorker)
    yield bench
    bench.close()


def asked(bench: Bench, slot: str, word: str, token: str = "") -> "Future[Outcome | None]":
    future: Future[Outcome | None] = Future()
    bench.submit(slot, DrawTask("crab", Path(word), TraceSettings(), token), future.set_result)
    return future


def test_a_newer_task_takes_the_place_of_one_that_has_not_begun(bench: Bench) -> None:
    begun = asked(bench, "first", "wait")
    futures = [asked(bench, "crab", "draw", str(number)) for number in range(5)]
    other = asked(bench, "whelk", "draw", "w")
    assert [future.result(20) for future in futures[:4]] == [None] * 4
    assert futures[4].result(20).value["token"] == "4"
    assert other.result(20).value["token"] == "w"
    assert begun.result(20).value is not None


def test_a_process_that_dies_costs_its_task_alone(bench: Bench) -> None:
    before = asked(bench, "a", "draw").result(20)
    died = asked(bench, "b", "die")
    after = asked(bench, "c", "draw")
    assert died.result(20).value is None
    assert "died" in died.result(20).sentence
    assert after.result(20).value["process"] != before.value["process"]


def test_what_is_preferred_goes_first(bench: Bench) -> None:
    order: list[str] = []
    waiting = asked(bench, "first", "wait")
    futures = []
    for name in ("one", "two", "three"):
        future = asked(bench, name, "draw")
        future.add_done_callback(lambda _, name=name: order.append(name))
        futures.append(future)
    bench.prefer("three")
    waiting.result(20)
    for future in futures:
        future.result(20)
    assert order == ["three", "one", "two"]


def test_how_far_it_is_and_that_it_is_kept_are_told(bench: Bench) -> None:
    told: list[tuple[str, int, int]] = []
    done: Future[Outcome | None] = Future()
    kept: Future[None] = Future()
    task = DrawTask("crab", Path("draw"), TraceSettings(), "t")
    bench.submit("t", task, done.set_result, lambda *step: told.append(step), lambda: kept.set_result(None))
    done.result(20)
    kept.result(20)
    assert told == [("", 0, 1), ("drawing", 1, 1)]
