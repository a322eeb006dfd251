"""One sticker traced and cut: the work of one process.

Nothing here knows the job or its models, so that a process that only traces need not load them.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from limner.model.geometry import CubicPath
from limner.pipeline.ahead import load_ahead
from limner.pipeline.settings import TraceSettings
from limner.pipeline.store import Kept
from limner.pipeline.trace import STAGES, trace
from limner.sheet.compose import StickerSettings, prepare_sticker
from limner.sheet.cutline import Cut

__all__ = ["StickerTask", "fit_cut", "load_stages", "make_sticker"]

# What a process that makes stickers, and draws their sheet at the end, needs beside the stages.
_ALSO = ("limner.curves.fit", "limner.output.sheet_proof", "resvg_py")


@dataclass(frozen=True, slots=True, eq=False)
class StickerTask:
    """What is to be made of one sticker; picklable.

    Parameters
    ----------
    number : int
        Its place in the job, from 0.
    path : Path
        Its sketch.
    tracing : TraceSettings
        How it is traced.
    settings : StickerSettings
        How it is cut.
    traced : Kept or None
        Its drawing, where that was kept.
    cut : Cut or None
        Its cut line, where that was kept.
    """

    number: int
    path: Path
    tracing: TraceSettings
    settings: StickerSettings
    traced: Kept | None = None
    cut: Cut | None = None


def load_stages() -> None:
    """Begin to load what `make_sticker` needs."""
    load_ahead(*STAGES, *_ALSO)


def make_sticker(task: StickerTask) -> tuple[Kept, Cut]:
    """Trace and cut, unless that is kept.

    Raises
    ------
    LimnerError
        The sketch or a setting cannot be used.
    """
    traced = task.traced or _traced(task)
    return traced, task.cut or prepare_sticker(traced.drawing, task.settings, fit_cut).cut


def _traced(task: StickerTask) -> Kept:
    result = trace(task.path, task.tracing)
    mm_per_px = result.page.mm_per_photo_px
    assert mm_per_px is not None
    return Kept(result.drawing, result.rule_of, 1.0 / mm_per_px)


def fit_cut(points: NDArray[np.float64], tolerance_mm: float) -> CubicPath:
    """Fit a cut line: what the sheet's stage asks for without knowing how."""
    from limner.curves.fit import fit_path

    return fit_path(points, tolerance_mm=tolerance_mm, closed=True).path
