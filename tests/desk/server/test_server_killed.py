"""A desk that is killed at any moment leaves a whole job file with every decision that it answered."""

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import tomllib
from contextlib import closing, suppress
from pathlib import Path

import pytest

from helpers_job import write_job

ROUNDS = int(os.environ.get("LIMNER_KILLS", "3"))


class Served:
    """A desk in a process of its own."""

    def __init__(self, job: Path) -> None:
        command = [sys.executable, "-m", "limner", "desk", str(job), "--no-browser"]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
        )
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        self.port = int(self.address.split(":")[2].split("/")[0])
        self.key = self.address.split("key=")[1]

    def ask(self, method: str, path: str, said: object = None) -> tuple[int, dict]:
        headers = {"Cookie": f"desk-{self.port}={self.key}", "Content-Type": "application/json"}
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)) as connection:
            connection.request(method, path, None if said is None else json.dumps(said), headers)
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read())

    def kill(self) -> None:
        self.process.kill()
        self.process.communicate(timeout=30)


def test_every_answered_decision_is_in_the_file(tmp_path: Path) -> None:
    job = write_job(tmp_path)
    rng = random.Random(17)
    number = 0
    for _ in range(ROUNDS):
        served = Served(job)
        timer = threading.Timer(rng.uniform(0.05, 0.5), served.process.kill)
        answered = number
        try:
            _, state = served.ask("GET", "/state")
            revision = state["revision"]
            timer.start()
            while True:
                number += 1
                edits = [
                    {"what": "set", "where": ["sticker", "crab", "width"], "to": f"{20 + number / 1000} mm"}
                ]
                said = {"revision": revision, "words": str(number), "edits": edits}
                status, answer = served.ask("POST", "/edits", said)
                assert status == 200, answer
                answered, revision = number, answer["revision"]
        except (OSError, http.client.HTTPException, ValueError):
            pass
        finally:
            timer.cancel()
            served.kill()
        data = tomllib.loads(job.read_text(encoding="utf-8"))
        saved = round((float(data["sticker"][0]["width"].split()[0]) - 20) * 1000) if answered else 0
        # The one that was under way may be in it, too.
        assert saved in (answered, number)
        assert not list(tmp_path.glob(".limner-*.part")) or saved
        number = saved
    assert number > ROUNDS
    after = Served(job)
    try:
        _, state = after.ask("GET", "/state")
        assert state["undo"] == str(number)
        status, _ = after.ask("POST", "/undo", {"revision": state["revision"]})
        assert status == 200
    finally:
        after.kill()


def test_junk_on_the_wire_ends_nothing(tmp_path: Path) -> None:
    served = Served(write_job(tmp_path))
    rng = random.Random(18)
    lines = [
        b"GET / HTTP/1.1",
        b"POST /edits HTTP/1.1",
        b"\x16\x03\x01",
        b"GET /state HTTP/9.9",
        b"Host: x",
        b"",
    ]
    try:
        for _ in range(60):
            with closing(socket.create_connection(("127.0.0.1", served.port), timeout=30)) as wire:
                parts = [
                    rng.choice([*lines, rng.randbytes(20), b"a" * 70_000]) for _ in range(rng.randrange(1, 6))
                ]
                with suppress(OSError):
                    wire.sendall(b"\r\n".join(parts) + rng.choice([b"", b"\r\n\r\n"]))
                    wire.shutdown(socket.SHUT_WR)
                    answer = wire.recv(1000)
                    # Whatever it was, it is refused.
                    assert answer == b"" or answer.split()[1][:1] == b"4", answer
        assert served.ask("GET", "/state")[0] == 200
    finally:
        served.kill()


def test_it_prints_one_line_and_ends_in_good_order(tmp_path: Path) -> None:
    served = Served(write_job(tmp_path))
    # A page that listens is let go.
    page = http.client.HTTPConnection("127.0.0.1", served.port, timeout=30)
    page.request("GET", "/events", headers={"Cookie": f"desk-{served.port}={served.key}"})
    assert page.getresponse().readline().startswith(b"data: ")
    assert served.address.startswith(f"http://127.0.0.1:{served.port}/?key=")
    assert len(served.key) >= 32
    began = time.monotonic()
    served.process.send_signal(signal.SIGINT)
    out, err = served.process.communicate(timeout=30)
    assert (served.process.returncode, out) == (0, "")
    page.close()
    assert err == "limner: the desk is closed; all that was decided is in the job file.\n"
    assert time.monotonic() - began < 20


@pytest.mark.parametrize(
    "arguments", [["--port", "x"], ["--port", "0"], ["--port", "70000"], ["gone.toml/x"]]
)
def test_arguments_that_cannot_be_used_are_told_in_a_sentence(tmp_path: Path, arguments: list[str]) -> None:
    command = [sys.executable, "-m", "limner", "desk", "--no-browser", *arguments]
    run = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, timeout=60, check=False)
    assert run.returncode == 2
    assert run.stderr.startswith("limner: ")
    assert run.stderr.count("\n") == 1
