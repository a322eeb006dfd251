"""Every decision since the beginning, so that each can be taken back, also after a restart.

Method: a log beside the job, one line of JSON for each step, brought to the disk before the job file is. Its
first line holds the text that all began with, so that the text at any step is known. Whoever was killed
between the log and the job file is one step off when they begin again: the job's text then shows which step
counts.

Limits: one process writes a log at a time; a second one keeps its history to itself.
"""

import json
import os
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from limner.desk.edits.patch import Patch

try:
    import fcntl
except ImportError:  # pragma: no cover - no such module on Windows
    fcntl = None  # type: ignore[assignment]

__all__ = ["Decision", "History"]

# A log that has grown beyond this begins anew with the steps that can still be taken back; most of a
# decision is a drawn line of some kilobytes.
_LARGEST_LOG_BYTES = 8_000_000
_MOST_DECISIONS = 1000


@dataclass(frozen=True, slots=True)
class Decision:
    """One decision.

    Parameters
    ----------
    words : str
        What it was, such as "Colour of shell".
    patch : Patch
        What it changed.
    """

    words: str
    patch: Patch


class History:
    """Decisions in order, and how many of them count.

    Parameters
    ----------
    path : Path or None
        The log; None: nothing is kept beyond this process.
    text : str
        The job's text now.
    """

    def __init__(self, path: Path | None, text: str) -> None:
        self.decisions: list[Decision] = []
        self.count, self.revision = 0, 1
        self._base = self.last_text = text
        self._before: tuple[list[Decision], int, int] = ([], 0, 1)
        self._file = None if path is None else _opened(path)
        if self._file is not None and self._read(text):
            return
        self._begin_log()

    def close(self) -> None:
        """Let the log go."""
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def add(self, decision: Decision) -> None:
        """A new decision; what had been taken back before it is forgotten."""
        self._keep()
        del self.decisions[self.count :]
        self.decisions.append(decision)
        self._step("add", self.count + 1, _as_line(decision))

    def undo(self) -> None:
        """The last decision that counts counts no more."""
        self._keep()
        self._step("undo", self.count - 1)

    def redo(self) -> None:
        """The decision that was taken back last counts again."""
        self._keep()
        self._step("redo", self.count + 1)

    def forget(self) -> None:
        """The last step has not happened, as the job could not be written."""
        self.decisions, self.count, self.revision = self._before
        self._write({"what": "forget", "revision": self.revision})

    def _keep(self) -> None:
        self._before = (list(self.decisions), self.count, self.revision)

    def _step(self, what: str, count: int, more: dict[str, Any] | None = None) -> None:
        self.count, self.revision = count, self.revision + 1
        self._write({"what": what, "revision": self.revision, **(more or {})})

    def _write(self, line: dict[str, Any]) -> None:
        """One more line; a log that cannot be written only costs what a restart could have taken back."""
        if self._file is None:
            return
        try:
            data = json.dumps(line, ensure_ascii=True, separators=(",", ":")).encode("ascii") + b"\n"
            rest = memoryview(data)
            while rest:
                rest = rest[os.write(self._file, rest) :]
            os.fsync(self._file)
        except OSError:
            self.close()

    def _begin_log(self) -> None:
        if self._file is None:
            return
        with suppress(OSError):
            os.ftruncate(self._file, 0)
        self._write({"what": "base", "revision": self.revision, "text": self._base})
        for decision in self.decisions:
            self._write({"what": "add", "revision": self.revision, **_as_line(decision)})
        for _ in self.decisions[self.count :]:
            self._write({"what": "undo", "revision": self.revision})

    def _read(self, text: str) -> bool:
        """Take up the log; whether it is one, and of what text."""
        assert self._file is not None
        try:
            size = os.fstat(self._file).st_size
            data = os.pread(self._file, size, 0)
            # Whoever was killed while writing left a piece of a line.
            whole = data[: data.rfind(b"\n") + 1]
            if len(whole) < size:
                os.ftruncate(self._file, len(whole))
            lines = whole.split(b"\n")[:-1]
            for number, line in enumerate(lines):
                self._take(json.loads(line), first=number == 0)
            self._find(text)
        except (OSError, ValueError, KeyError, TypeError):
            lines = []
        if not lines:
            self.decisions, self.count, self.revision = [], 0, 1
            self._base = self.last_text = text
            return False
        if size > _LARGEST_LOG_BYTES or len(self.decisions) > _MOST_DECISIONS:
            self._shorten()
            self._begin_log()
        return True

    def _take(self, line: dict[str, Any], *, first: bool) -> None:
        what = line["what"]
        if first != (what == "base"):
            raise ValueError("no log")
        if what == "forget":
            self.decisions, self.count, self.revision = self._before
            return
        self._keep()
        self.revision = int(line["revision"])
        if what == "base":
            self._base = str(line["text"])
        elif what == "add":
            patch = line["patch"]
            del self.decisions[self.count :]
            self.decisions.append(
                Decision(str(line["words"]), Patch(int(patch["start"]), str(patch["old"]), str(patch["new"])))
            )
            self.count += 1
        else:
            self.count = int(line["count"]) if what == "at" else self.count + {"undo": -1, "redo": 1}[what]
            if not 0 <= self.count <= len(self.decisions):
                raise ValueError("no log")

    def _find(self, text: str) -> None:
        """Which step the job's text shows: the last one of the log, else the nearest one, else none."""
        texts = [self._base]
        for decision in self.decisions:
            texts.append(decision.patch.apply(texts[-1]))
        steps = [step for step, one in enumerate(texts) if one == text]
        nearest = min(steps, key=lambda step: abs(step - self.count), default=self.count)
        if nearest != self.count:
            # What was logged last never came into the file: the log has to know, too.
            self.count = nearest
            self._write({"what": "at", "revision": self.revision, "count": nearest})
        self.last_text = texts[self.count]

    def _shorten(self) -> None:
        """Forget the oldest half."""
        gone = min(self.count, len(self.decisions) // 2)
        for decision in self.decisions[:gone]:
            self._base = decision.patch.apply(self._base)
        del self.decisions[:gone]
        self.count -= gone


def _as_line(decision: Decision) -> dict[str, Any]:
    return {"words": decision.words, "patch": asdict(decision.patch)}


def _opened(path: Path) -> int | None:
    """The log for this process alone; None where that cannot be."""
    try:
        path.parent.mkdir(exist_ok=True)
        flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0)
        file = os.open(path, flags, 0o600)
    except OSError:
        return None
    try:
        if fcntl is not None:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(file)
        return None
    return file
