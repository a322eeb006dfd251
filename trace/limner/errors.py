"""The errors that limner raises on purpose.

::

    LimnerError
    ├── InputError      what was handed in cannot be used (a file, a setting, a job)
    ├── GeometryError   the shapes do not allow what was asked for
    └── OutputError     the result cannot be written

Every message is one plain sentence that says what is wrong, where, and what to do about it:
the command prints it as it stands.
"""

from collections.abc import Callable
from typing import Self

__all__ = ["GeometryError", "InputError", "LimnerError", "OutputError"]


class LimnerError(Exception):
    """The root of every error that limner raises on purpose.

    Parameters
    ----------
    sentence : str
        What is wrong, where, and what to do about it.
    about : tuple of str or int
        Path, within the tables of one sketch, of the key that is at fault, such as ("touch", 2, "width"): who
        has the file puts its line before the sentence. Empty where no table is.
    other : tuple of str or int
        Path of another key that has to do with it; empty where there is none.
    """

    def __init__(
        self, sentence: str = "", about: tuple[str | int, ...] = (), other: tuple[str | int, ...] = ()
    ) -> None:
        super().__init__(sentence)
        self.about = about
        self.other = other

    def located(self, where: Callable[[tuple[str | int, ...]], str], whose: str = "") -> Self:
        """The same error with the places of the keys that it is about.

        Parameters
        ----------
        where : callable
            File and line of a path.
        whose : str
            What is put between them and the sentence, such as 'sticker "crab": '.
        """
        also = f" The other one: {where(self.other)}." if self.other else ""
        return type(self)(f"{where(self.about)}: {whose}{self}{also}")


class InputError(LimnerError):
    """What was handed in cannot be used: a file, a setting or a job."""


class GeometryError(LimnerError):
    """The shapes do not allow what was asked for."""


class OutputError(LimnerError):
    """The result cannot be written where it was asked for."""
