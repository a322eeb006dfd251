"""What is to be drawn of a sticker or a sheet, and what comes of it; both go from process to process."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from limner.pipeline import TraceSettings

__all__ = ["SHEET_FOLDER", "DrawTask", "Look", "Outcome", "SheetTask", "Step", "Task", "Tell"]

SHEET_FOLDER = "sheet"
"""Where "Write the files" writes, beside the job."""

Tell = Callable[[str, int, int], None]
"""Told what is being done, how much of it is, and of how much."""


@dataclass(frozen=True, slots=True)
class Look:
    """Screen colours that a sticker has otherwise than its drawing, as "#rrggbb".

    Parameters
    ----------
    ink : str or None
        Of its lines; None: their own.
    base : str or None
        Of the silhouettes under its fills; None: their own; empty: they are left out.
    fills : tuple of str or None
        Of each area that a table gives one.
    """

    ink: str | None = None
    base: str | None = None
    fills: tuple[str | None, ...] = ()


@dataclass(frozen=True, slots=True)
class DrawTask:
    """One sticker to be drawn.

    Parameters
    ----------
    sticker : str
        Its name.
    path : Path
        Its sketch, or its art.
    settings : TraceSettings
        How it is traced.
    form : str
        Names the shapes: the same for the same sketch and settings.
    token : str
        Names the shapes and their colours.
    look : Look
        Its colours.
    numbered : bool
        Whether the settings' areas are those of the job, by their numbers; not where mistakes leave some out.
    is_art : bool
        Whether the file is art of the author's own instead of a sketch.
    keep_in : Path or None
        Where results are kept for other runs; None: nowhere.
    """

    sticker: str
    path: Path
    settings: TraceSettings
    form: str
    token: str = ""
    look: Look = field(default_factory=Look)
    numbered: bool = True
    is_art: bool = False
    keep_in: Path | None = None


@dataclass(frozen=True, slots=True)
class SheetTask:
    """A sheet to be looked at, or to be written.

    Parameters
    ----------
    path : Path
        The job file.
    text : str
        What it says.
    ready : tuple of str
        Names of the stickers that are drawn; the others wait.
    waiting : tuple of str
        Names of those that are not.
    token : str
        Names the sheet.
    kind : {"show", "write", "cut"}
        Whether it is to be shown, its files are to be written, or one sticker is to be cut.
    sticker : str
        Which one is to be cut.
    """

    path: Path
    text: str
    ready: tuple[str, ...] = ()
    waiting: tuple[str, ...] = ()
    token: str = ""
    kind: Literal["show", "write", "cut"] = "show"
    sticker: str = ""


Task = DrawTask | SheetTask
"""What a process of the desk is asked for."""


@dataclass(frozen=True, slots=True)
class Step:
    """How far a task is.

    Parameters
    ----------
    words : str
        What is being done.
    done, of : int
        How much of it is, and of how much.
    """

    words: str
    done: int
    of: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a task.

    Parameters
    ----------
    value : dict or None
        The drawing or the sheet in JSON types; None where it failed.
    photograph : bytes
        The straightened page as a JPEG; empty where there is none, or where it is that of the task before.
    sentence : str
        Why there is none.
    """

    value: dict[str, Any] | None = field(default=None, repr=False)
    photograph: bytes = field(default=b"", repr=False)
    sentence: str = ""
