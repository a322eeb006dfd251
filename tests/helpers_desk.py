"""A desk without a network and without processes."""

import os
import time
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from pathlib import Path

from starlette.testclient import TestClient

from limner.desk.server.app import desk_app
from limner.desk.server.desk import Desk
from limner.desk.state.document import JobDocument
from limner.desk.work.tasks import Outcome, SheetTask, Task

__all__ = ["KEY", "PORT", "QuietBench", "StrangeWorker", "open_client"]

PORT, KEY = 8000, "key-of-this-test"


class QuietBench:
    """Draws nothing, at once."""

    def __init__(self) -> None:
        self.tasks: list[Task] = []

    def submit(
        self,
        slot: Hashable,
        task: Task,
        done: Callable[[Outcome | None], None],
        tell: Callable[[str, int, int], None] | None = None,
        kept: Callable[[], None] | None = None,
        *,
        first: bool = False,
    ) -> None:
        self.tasks.append(task)
        is_sheet = isinstance(task, SheetTask)
        done(Outcome({"token": task.token} if is_sheet else {"fills": [], "lines": []}, b"picture"))
        if kept is not None:
            kept()

    def prefer(self, slot: Hashable) -> None:
        pass

    def close(self) -> None:
        pass


@contextmanager
def open_client(job: Path, bench: QuietBench | None = None) -> Iterator[TestClient]:
    """A client that has opened the desk's first address."""
    desk = Desk(JobDocument(job), bench or QuietBench())  # type: ignore[arg-type]
    base = f"http://127.0.0.1:{PORT}"
    with TestClient(desk_app(desk, port=PORT, key=KEY), base_url=base) as client:
        assert client.get("/", params={"key": KEY}).status_code == 200
        yield client


class StrangeWorker:
    """Does what the name of its task's sketch says: dies, fails, waits, or draws."""

    def do(self, task: Task, tell: Callable[[str, int, int], None]) -> Outcome:
        word = task.path.name
        if word.startswith("die"):
            os._exit(9)
        if word.startswith("wait"):
            time.sleep(0.4)
        tell("drawing", 1, 1)
        return Outcome({"token": task.form, "process": os.getpid()})

    def rest(self) -> None:
        pass
