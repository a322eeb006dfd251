"""The processes of one command: started ahead, replaced when they die, sent home at once when all is over."""

import os
import time
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest

from helpers_dying import die
from helpers_job import RING_JOB
from helpers_sketches import run_limner, write_ring
from limner.errors import InputError
from limner.job.load import load_job
from limner.pipeline.processes.pool import Crew
from limner.pipeline.sheet.build import build_sheet
from limner.pipeline.sheet.files import sheet_files


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    write_ring(tmp_path / "ring.png")
    (tmp_path / "sheet.toml").write_text(RING_JOB)
    return tmp_path / "sheet.toml"


def is_gone(pid: int, within_s: float = 20.0) -> bool:
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False


def test_a_process_begun_ahead_does_the_work() -> None:
    with Crew(2) as crew:
        crew.begin("limner.pipeline.sheet.worker", "load_stages")
        crew.begin("limner.no_such_module", "anything")
        assert crew.submit(os.getpid).result() != os.getpid()


def test_one_process_alone_is_not_begun_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    crew = Crew(1)
    monkeypatch.setattr(crew, "submit", lambda *_: pytest.fail("a process was started"))
    crew.begin("limner.pipeline.sheet.worker", "load_stages")


def test_work_in_hand_is_finished_when_all_goes_well() -> None:
    with Crew(2) as crew:
        future = crew.submit(time.sleep, 0.5)
    assert future.result(timeout=30) is None


def test_an_error_sends_every_process_home_at_once() -> None:
    started = time.monotonic()
    at_work = []

    def fail_at_work() -> None:
        with Crew(2) as crew:
            at_work.append(crew.submit(os.getpid).result())
            crew.submit(time.sleep, 300)
            raise InputError("the job is wrong")

    with pytest.raises(InputError):
        fail_at_work()
    assert is_gone(at_work[0])
    assert time.monotonic() - started < 60


def test_processes_that_died_are_replaced() -> None:
    with Crew(2) as crew:
        with pytest.raises(BrokenProcessPool):
            crew.submit(die).result()
        assert crew.submit(os.getpid).result() != os.getpid()


@pytest.mark.parametrize("workers", [1, 2])
def test_files_are_the_same_with_a_crew_and_without(job_file: Path, workers: int) -> None:
    alone = sheet_files(build_sheet(load_job(job_file), workers=1, keep=False))
    with Crew(workers) as crew:
        together = sheet_files(build_sheet(load_job(job_file), keep=False, crew=crew), crew=crew)
    assert together == alone


def test_a_proof_whose_process_died_is_drawn_here(job_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    result = build_sheet(load_job(job_file), workers=1)
    truth = sheet_files(result)
    with Crew(2) as crew:
        monkeypatch.setattr(crew, "submit", lambda *_, start=crew.submit: start(die))
        assert sheet_files(result, crew=crew) == truth


def test_an_error_does_not_wait_for_what_was_begun(job_file: Path) -> None:
    """A job that cannot be read leaves no process behind, and takes no longer for one."""
    job_file.write_text(RING_JOB.replace("width", "widht"))
    run = run_limner("sheet", job_file)
    assert run.returncode == 2
    assert run.stderr.startswith("limner: ")
    assert len(run.stderr.splitlines()) == 1
