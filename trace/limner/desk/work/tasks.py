"""What is to be drawn of one sticker, and what comes of it; both go from process to process."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from limner.pipeline import TraceSettings

__all__ = ["DrawTask", "Outcome"]


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
    token : str
        Names the drawing: the same for the same sketch and settings.
    rules : tuple of int or None
        For each of the settings' areas the number of its table in the sticker's own list; None for one that
        it has from another sticker.
    is_art : bool
        Whether the file is art of the author's own instead of a sketch.
    keep_in : Path or None
        Where results are kept for other runs; None: nowhere.
    """

    sticker: str
    path: Path
    settings: TraceSettings
    token: str
    rules: tuple[int | None, ...] = ()
    is_art: bool = False
    keep_in: Path | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a task.

    Parameters
    ----------
    drawing : dict or None
        The drawing in JSON types; None where it failed.
    photograph : bytes
        The straightened page as a JPEG; empty where there is none, or where it is that of the task before.
    sentence : str
        Why there is no drawing.
    """

    drawing: dict[str, Any] | None = field(default=None, repr=False)
    photograph: bytes = field(default=b"", repr=False)
    sentence: str = ""
