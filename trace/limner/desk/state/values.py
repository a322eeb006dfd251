"""A job document at one moment, and a decision that comes too late for it."""

from dataclasses import dataclass

from limner.errors import LimnerError
from limner.job import Mistake, UsableJob

__all__ = ["StaleError", "State"]


class StaleError(LimnerError):
    """A decision was made on an older state than the job has now."""


@dataclass(frozen=True, slots=True)
class State:
    """A job document at one moment.

    Parameters
    ----------
    revision : int
        Grows with every change.
    text : str
        What the file says.
    usable : UsableJob
        What of that can be used.
    problems : tuple of Mistake
        What cannot, and whether the file itself has gone.
    undo, redo : str or None
        What would be taken back, and what done again.
    """

    revision: int
    text: str
    usable: UsableJob
    problems: tuple[Mistake, ...]
    undo: str | None
    redo: str | None
