"""The sheet as it is now, made anew when something on it has changed; and its files."""

import asyncio
import hashlib
import time
from collections.abc import Hashable, Sequence
from concurrent.futures import Future
from dataclasses import replace
from typing import Any

from limner.desk.server.answers import RefusedError
from limner.desk.server.drawings import Drawings, Entry
from limner.desk.server.hub import Hub
from limner.desk.state.document import JobDocument
from limner.desk.work.bench import Bench
from limner.desk.work.tasks import Outcome, SheetTask

__all__ = ["Sheets"]

# While sketches are drawn for the first time, sheets with a few of them are made no more often than this:
# laying one out takes the time that the next sketch could have.
_PAUSE_S = 3.0

# Drawing one anew takes some tenths of a second, once its process is free.
_STEP_S, _PATIENCE = 0.02, 250


class Sheets:
    """Asks for sheets.

    Parameters
    ----------
    document : JobDocument
        The job.
    drawings : Drawings
        Those of its stickers.
    bench : Bench
        Where sheets are made.
    hub : Hub
        Told how far writing is.
    """

    def __init__(self, document: JobDocument, drawings: Drawings, bench: Bench, hub: Hub) -> None:
        self._document, self._drawings, self._bench, self._hub = document, drawings, bench, hub
        self._kept: dict[str, Any] | None = None
        self._asked: dict[str, asyncio.Future[Outcome | None]] = {}
        self._is_writing = False
        self._made_at = -_PAUSE_S

    @property
    def token(self) -> str:
        """Names the sheet as it is now."""
        return self._task().token

    async def now(self) -> dict[str, Any]:
        """The sheet in JSON types.

        Raises
        ------
        RefusedError
            It cannot be made at all.
        """
        while True:
            if self._kept is not None and self._kept["token"] == self._task().token:
                return self._kept
            await self._settled()
            task = self._task()
            asked = self._asked.get(task.token)
            if asked is None:
                asked = self._asked[task.token] = asyncio.wrap_future(self._ask("sheet", task))
            outcome = await asyncio.shield(asked)
            self._asked.pop(task.token, None)
            if outcome is None:
                continue  # a newer sheet was asked for
            if outcome.value is None:
                raise RefusedError(422, outcome.sentence)
            self._kept, self._made_at = outcome.value, time.monotonic()

    async def cut(self, name: str, text: str) -> dict[str, Any] | None:
        """The cut line of one sticker as a text of the job has it; None where a newer one was asked for.

        Raises
        ------
        RefusedError
            It cannot be cut.
        """
        await self._settled()
        task = replace(self._task(), text=text, kind="cut", sticker=name)
        outcome = await asyncio.wrap_future(self._ask(("cut", name), task, first=True))
        if outcome is not None and outcome.value is None:
            raise RefusedError(422, outcome.sentence)
        return None if outcome is None else outcome.value

    async def _settled(self) -> None:
        """Wait for what is being drawn anew, and until the process of the sheet finds it.

        Otherwise a sticker would be missing for a moment, or be drawn twice.
        """
        for _ in range(_PATIENCE):
            entries = self._drawings.all()
            is_soon = time.monotonic() < self._made_at + _PAUSE_S
            if all(self._is_settled(entry) for entry in entries) and not (is_soon and _are_new(entries)):
                return
            await asyncio.sleep(_STEP_S)

    def _is_settled(self, entry: Entry) -> bool:
        if entry.state != "ready":
            return entry.state == "failed" or not entry.token
        return self._is_ready(entry)

    def _is_ready(self, entry: Entry) -> bool:
        """Whether a sticker can be laid: its drawing is found by the process that makes the sheet."""
        return entry.state == "ready" and (entry.task.is_art or self._drawings.is_kept(entry.task))

    def write(self) -> None:
        """Begin to write the files; pages are told how far it is, and what came of it.

        Raises
        ------
        RefusedError
            They are being written already.
        """
        if self._is_writing:
            raise RefusedError(409, "The files are being written already.")
        mistakes = self._document.problems
        if mistakes:
            where = "" if mistakes[0].line is None else f"Line {mistakes[0].line} of the job: "
            raise RefusedError(422, f"{where}{mistakes[0].sentence}")
        self._is_writing = True
        task = SheetTask(self._document.path, self._document.text, kind="write")
        self._bench.submit("write", task, self._written, self._step)

    def _written(self, outcome: Outcome | None) -> None:
        self._is_writing = False
        if outcome is None or outcome.value is None:
            sentence = "The files were not written." if outcome is None else outcome.sentence
            nothing = {"files": [], "folder": "", "findings": 0}
            self._hub.tell({"kind": "written", **nothing, "sentence": sentence})
        else:
            self._hub.tell({"kind": "written", **outcome.value})

    def _step(self, words: str, done: int, of: int) -> None:
        self._hub.tell({"kind": "progress", "words": words or "beginning", "done": done, "of": of})

    def _ask(self, slot: Hashable, task: SheetTask, *, first: bool = False) -> "Future[Outcome | None]":
        asked: Future[Outcome | None] = Future()
        self._bench.submit(slot, task, asked.set_result, first=first)
        return asked

    def _task(self) -> SheetTask:
        entries = self._drawings.all()
        ready = tuple(entry.task.sticker for entry in entries if self._is_ready(entry))
        waiting = tuple(entry.task.sticker for entry in entries if not self._is_ready(entry))
        drawn = [entry.task.token for entry in entries if self._is_ready(entry)]
        said = f"{self._document.text}\0{drawn}\0{waiting}"
        token = hashlib.sha256(said.encode(errors="surrogateescape")).hexdigest()[:20]
        return SheetTask(self._document.path, self._document.text, ready, waiting, token)


def _are_new(entries: Sequence[Entry]) -> bool:
    """Whether some are under way that nobody has seen yet."""
    return any(not entry.token and entry.state in ("waiting", "tracing") for entry in entries)
