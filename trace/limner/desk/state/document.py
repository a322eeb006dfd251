"""The job document: its text on the disk, its revision, and the decisions that change it.

Each decision is on the disk, whole, before it is answered. What another program writes meanwhile is
noticed, and becomes a decision like any other: it can be taken back, and those before it after it.
"""

import threading
from collections.abc import Sequence
from pathlib import Path

from limner.desk.edits.decide import decide
from limner.desk.edits.edit import Edit
from limner.desk.edits.patch import patch_between
from limner.desk.state.history import Decision, History
from limner.desk.state.values import StaleError, State
from limner.errors import InputError, OutputError
from limner.job import Mistake, UsableJob, read_usable
from limner.output import write_whole
from limner.pipeline import KEPT_FOLDER

__all__ = ["JobDocument"]

_ELSEWHERE = "Changes made by another program"

_LARGEST_JOB_BYTES = 1_000_000
_MOST_WORDS = 120

# What some programs put before a text in UTF-8.
_MARK = b"\xef\xbb\xbf"


class JobDocument:
    """A job file that is being worked on.

    Parameters
    ----------
    path : Path
        The file; it must be there.
    unsaved : str or None
        What it would say, where it cannot be written and is not there.

    Raises
    ------
    InputError
        It cannot be read.
    """

    def __init__(self, path: Path, unsaved: str | None = None) -> None:
        self.path = path
        self._lock = threading.RLock()
        self._stamp = (0, 0)
        self._missing = False
        self._doubtful: str | None = None
        self._mark = b""
        self._unsaved = unsaved
        text = self._read()
        log = path.parent / KEPT_FOLDER / f"{path.name}.decisions"
        self._history = History(log, text)
        self._text = self._history.last_text
        self._usable = read_usable(self._text, path, within=True)
        if text != self._text:
            self._take_over(text)

    def close(self) -> None:
        """Let go of the log of decisions."""
        self._history.close()

    def now(self) -> "State":
        """All of it at one moment."""
        with self._lock:
            history, usable = self._history, self._usable
            undo = history.decisions[history.count - 1].words if history.count else None
            can_redo = history.count < len(history.decisions)
            redo = history.decisions[history.count].words if can_redo else None
            return State(history.revision, self._text, usable, self.problems, undo, redo)

    @property
    def text(self) -> str:
        """The job's text."""
        return self._text

    @property
    def revision(self) -> int:
        """Grows with every change."""
        return self._history.revision

    @property
    def usable(self) -> UsableJob:
        """What the text says, and what of it can be used."""
        return self._usable

    @property
    def problems(self) -> tuple[Mistake, ...]:
        """What cannot be used, and whether the file itself has gone."""
        if self._missing:
            return (Mistake(f'"{self.path.name}" cannot be read any more: put it back.', None, None),)
        return self._usable.mistakes

    def refresh(self, *, patient: bool = False) -> bool:
        """Look whether another program has changed the file.

        Parameters
        ----------
        patient : bool
            Whether a text that is no TOML counts only when it is still there the next time.

        Returns
        -------
        bool
            Whether anything is different now.
        """
        with self._lock:
            was_missing = self._missing
            if self._unsaved is not None and not self.path.exists():
                return False
            try:
                found = self.path.stat()
                if (found.st_mtime_ns, found.st_size) == self._stamp and not was_missing:
                    return False
                text = self._read()
            except (OSError, InputError):
                self._missing = True
                return not was_missing
            self._missing = False
            if text == self._text:
                return was_missing
            if patient and self._is_half_written(text):
                return False
            self._take_over(text)
            return True

    def _is_half_written(self, text: str) -> bool:
        """Whether a text may be a piece of one that is being written: the first time that it is seen."""
        if self._doubtful == text or read_usable(text, self.path).data or not self._usable.data:
            return False
        self._doubtful, self._stamp = text, (0, 0)
        return True

    def decide(self, revision: int, words: str, edits: Sequence[Edit]) -> int:
        """Change the job.

        Parameters
        ----------
        revision : int
            The state that the decision was made on.
        words : str
            What it is called when it is to be taken back.
        edits : sequence of Edit
            What is changed; one decision, whole or not at all.

        Returns
        -------
        int
            The new revision.

        Raises
        ------
        StaleError
            The job has changed meanwhile.
        InputError
            The job could not be used any more; nothing is changed.
        OutputError
            The file cannot be written; nothing is changed.
        """
        with self._lock:
            self._check(revision)
            text, usable = self.tried(edits)
            if text != self._text:
                words = " ".join(words.split())[:_MOST_WORDS] or "Change"
                self._history.add(Decision(words, patch_between(self._text, text)))
                self._write(text)
                self._text, self._usable = text, usable
            return self.revision

    def tried(self, edits: Sequence[Edit]) -> tuple[str, UsableJob]:
        """The job as it would be, without changing it.

        Raises
        ------
        InputError
            It could not be used any more.
        """
        with self._lock:
            if not self._usable.data and self._usable.job is None:
                raise InputError(self._usable.mistakes[0].sentence)
            text = decide(self._text, edits)
            if len(text.encode("utf-8")) > _LARGEST_JOB_BYTES:
                raise InputError("The job would be larger than a megabyte: take something out first.")
            usable = read_usable(text, self.path, within=True)
            known = {mistake.sentence for mistake in self._usable.mistakes}
            new = [mistake for mistake in usable.mistakes if mistake.sentence not in known]
            if new and len(usable.mistakes) >= len(known):
                raise InputError(new[0].sentence)
            return text, usable

    def take(self, revision: int, words: str, text: str) -> int:
        """Take another text for the job; see `decide`."""
        with self._lock:
            self._check(revision)
            self._history.add(Decision(words, patch_between(self._text, text)))
            self._write(text)
            self._accept(text)
            return self.revision

    def undo(self, revision: int) -> int:
        """Take the last decision back; see `decide`."""
        with self._lock:
            self._check(revision)
            history = self._history
            if not history.count:
                raise InputError("There is nothing left to undo.")
            text = history.decisions[history.count - 1].patch.inverse.apply(self._text)
            history.undo()
            self._write(text)
            self._accept(text)
            return self.revision

    def redo(self, revision: int) -> int:
        """Do the decision again that was taken back last; see `decide`."""
        with self._lock:
            self._check(revision)
            history = self._history
            if history.count == len(history.decisions):
                raise InputError("There is nothing to redo.")
            text = history.decisions[history.count].patch.apply(self._text)
            history.redo()
            self._write(text)
            self._accept(text)
            return self.revision

    def _check(self, revision: int) -> None:
        self.refresh()
        if self._missing:
            raise InputError(self.problems[0].sentence)
        if revision != self.revision:
            raise StaleError("The job has changed meanwhile: look at it as it is now, and decide again.")

    def _accept(self, text: str) -> None:
        self._text, self._usable = text, read_usable(text, self.path, within=True)

    def _take_over(self, text: str) -> None:
        """What another program wrote counts."""
        self._doubtful = None
        self._history.add(Decision(_ELSEWHERE, patch_between(self._text, text)))
        self._accept(text)

    def _read(self) -> str:
        try:
            if self._unsaved is not None and not self.path.exists():
                return self._unsaved
            if not self.path.is_file():
                raise InputError(f'"{self.path}" is not there: check its name.')
            found = self.path.stat()
            if found.st_size > _LARGEST_JOB_BYTES:
                raise InputError(f'"{self.path}" is larger than a megabyte: that is no job file.')
            data = self.path.read_bytes()
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise InputError(f'"{self.path}" is not a text in UTF-8: save it as plain text.') from error
        except (OSError, ValueError) as error:
            raise InputError(f'"{self.path}" cannot be read: check its name and rights.') from error
        self._mark = _MARK if data.startswith(_MARK) else b""
        self._stamp = found.st_mtime_ns, found.st_size
        return text

    def _write(self, text: str) -> None:
        """Bring a step to the disk; where that fails, it has not happened."""
        try:
            write_whole({self.path: self._mark + text.encode("utf-8")})
        except OutputError:
            self._history.forget()
            raise
        found = self.path.stat()
        self._stamp = found.st_mtime_ns, found.st_size
