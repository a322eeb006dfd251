"""The errors that limner raises on purpose.

::

    LimnerError
    ├── InputError      what was handed in cannot be used (a file, a setting, a job)
    ├── GeometryError   the shapes do not allow what was asked for
    └── OutputError     the result cannot be written

Every message is one plain sentence that says what is wrong, where, and what to do about it:
the command prints it as it stands.
"""

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
    """

    def __init__(self, sentence: str = "", about: tuple[str | int, ...] = ()) -> None:
        super().__init__(sentence)
        self.about = about


class InputError(LimnerError):
    """What was handed in cannot be used: a file, a setting or a job."""


class GeometryError(LimnerError):
    """The shapes do not allow what was asked for."""


class OutputError(LimnerError):
    """The result cannot be written where it was asked for."""
