"""The drawings of a job's stickers: which there are, which are under way, and why one is missing.

Method: what a drawing depends on has a digest, its token. When the job changes, only stickers whose token is
another one are drawn anew; drawings of the last tokens are remembered, so that undoing needs no drawing at
all.
"""

import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from limner.desk.server.shelf import Shelf
from limner.desk.work.bench import Bench
from limner.desk.work.drawing import dressed
from limner.desk.work.tasks import DrawTask, Outcome

__all__ = ["Drawings", "Entry"]

# Drawings remembered, the latest ones: some 200 kB each.
_MOST_MADE = 60

Changed = Callable[["Entry"], None]


@dataclass(frozen=True, slots=True)
class Entry:
    """What there is of one sticker.

    Parameters
    ----------
    task : DrawTask
        What is asked for.
    state : {"waiting", "tracing", "ready", "failed"}
        How far it is.
    sentence : str
        Why it failed.
    token : str
        Of the drawing that there is; empty while there is none.
    drawing : bytes
        That in JSON.
    """

    task: DrawTask
    state: str = "waiting"
    sentence: str = ""
    token: str = ""
    drawing: bytes = b""


class Drawings:
    """Keeps the drawings of a job up to date.

    Parameters
    ----------
    bench : Bench
        Where they are made.
    shelf : Shelf
        Where they are kept for the next time.
    changed : callable
        Told, from any thread, of each entry that has changed.
    """

    def __init__(self, bench: Bench, shelf: Shelf, changed: Changed) -> None:
        self._bench, self._shelf, self._changed = bench, shelf, changed
        self._entries: dict[str, Entry] = {}
        self._made: OrderedDict[str, bytes] = OrderedDict()
        self._kept: set[str] = set()
        self._photographs: dict[Path, bytes] = {}
        self._lock = threading.RLock()

    def ask(self, tasks: Mapping[str, DrawTask]) -> None:
        """From now on these are wanted, by the names of their stickers."""
        changed: list[Entry] = []
        with self._lock:
            for name, task in tasks.items():
                entry = self._entries.get(name)
                if entry is not None and entry.task.token == task.token:
                    self._entries[name] = replace(entry, task=task)
                else:
                    changed.append(self._begin(name, task, entry))
            self._entries = {name: self._entries[name] for name in tasks}
        for entry in changed:
            self._changed(entry)

    def entry(self, name: str) -> Entry | None:
        """What there is of a sticker."""
        return self._entries.get(name)

    def all(self) -> list[Entry]:
        """What there is of all stickers, in the order of the job."""
        with self._lock:
            return list(self._entries.values())

    def prefer(self, name: str) -> None:
        """Someone looks at it: it goes before the others."""
        self._bench.prefer(("draw", name))

    def known(self, task: DrawTask) -> bytes | None:
        """The drawing of a task in JSON, where its shapes were made already: colours ask for nothing new."""
        with self._lock:
            made = self._made.get(task.form)
        return None if made is None else _dumped(dressed(json.loads(made), task))

    def remember(self, task: DrawTask, outcome: Outcome) -> bytes:
        """Keep what came of a task; the drawing in JSON."""
        assert outcome.value is not None
        with self._lock:
            if outcome.photograph:
                self._photographs[task.path] = outcome.photograph
            self._made[task.form] = _dumped(outcome.value)
            self._forget_old()
        return _dumped(dressed(outcome.value, task))

    def _forget_old(self) -> None:
        """The oldest go, but for those that are shown."""
        shown = {entry.task.form for entry in self._entries.values()}
        old = [form for form in self._made if form not in shown]
        for form in old[: max(0, len(self._made) - _MOST_MADE)]:
            del self._made[form]

    def is_kept(self, task: DrawTask) -> bool:
        """Whether a drawing lies beside the job, where the making of the sheet looks for it."""
        return task.form in self._kept

    def photograph(self, entry: Entry) -> bytes:
        """The straightened page of a sticker's sketch, as a JPEG; empty while there is none."""
        return self._photographs.get(entry.task.path, b"") if entry.token else b""

    def _begin(self, name: str, task: DrawTask, before: Entry | None) -> Entry:
        known = self.known(task) or self._from_shelf(task)
        if known is not None:
            self._made.move_to_end(task.form)
            self._entries[name] = Entry(task, "ready", "", task.token, known)
            if task.form in self._kept:
                return self._entries[name]
        else:
            # What was there before is shown meanwhile.
            entry = replace(before, task=task, state="waiting", sentence="") if before else Entry(task)
            self._entries[name] = entry
        self._bench.submit(
            ("draw", name),
            task,
            lambda outcome: self._done(name, task, outcome),
            lambda *_: self._note(name, task, state="tracing"),
            lambda: self._keep(task),
            # What she has just changed goes before sketches that nobody has seen yet.
            first=before is not None,
        )
        return self._entries[name]

    def _from_shelf(self, task: DrawTask) -> bytes | None:
        """The drawing as it was the last time that the desk was open."""
        found = self._shelf.take(task.form)
        if found is None:
            return None
        self._made[task.form], page = found
        if page:
            self._photographs[task.path] = page
        self._kept.add(task.form)
        return self.known(task)

    def _keep(self, task: DrawTask) -> None:
        """It lies where the sheet looks for it: from now on it may be taken from the shelf, too."""
        with self._lock:
            self._kept.add(task.form)
            made, page = self._made.get(task.form), self._photographs.get(task.path, b"")
        if made is not None:
            self._shelf.put(task.form, made, page)
        entry = self.entry(task.sticker)
        # Pages that saw a sheet without it look again.
        if entry is not None and entry.task.form == task.form and entry.state == "ready":
            self._changed(entry)

    def _done(self, name: str, task: DrawTask, outcome: Outcome | None) -> None:
        if outcome is None:
            return
        if outcome.value is None:
            self._note(name, task, state="failed", sentence=outcome.sentence)
        else:
            drawing = self.remember(task, outcome)
            self._note(name, task, state="ready", sentence="", token=task.token, drawing=drawing)

    def _note(self, name: str, task: DrawTask, **changes: Any) -> None:
        """Note what is new about a sticker, unless it is asked for otherwise by now."""
        with self._lock:
            entry = self._entries.get(name)
            if entry is None or entry.task.token != task.token or entry.state == "ready":
                return
            entry = self._entries[name] = replace(entry, **changes)
        self._changed(entry)


def _dumped(value: dict[str, Any]) -> bytes:
    return json.dumps(value, separators=(",", ":")).encode("ascii")
