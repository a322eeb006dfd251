"""One sticker traced and cut: the work of one process.

Method: where nothing but settings of its curves has changed, the map of its sketch is kept from before.

Nothing here knows the job or its models, so that a process that only traces need not load them.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from limner.model.arrays import Floats
from limner.model.geometry import CubicPath
from limner.pipeline.kept.store import Kept, Store
from limner.pipeline.processes.ahead import load_ahead
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import STAGES, redraw, trace
from limner.sheet import Cut, StickerSettings, lay_cut

# The stages that make a map are loaded by the processes that trace.
if TYPE_CHECKING:
    from limner.model.drawing import Drawing
    from limner.pipeline.sketch.mapping import SketchMap

__all__ = ["StickerTask", "fit_outline", "load_stages", "make_sticker", "read_sticker_art"]

# What a process that makes stickers, and draws their sheet at the end, needs beside the stages.
_ALSO = ("limner.curves.fit.fitting", "limner.pipeline.kept.maps", "limner.output.sheet.proof", "resvg_py")


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
    store : Store or None
        Where the map of its sketch is kept; None: nowhere.
    map_key : str
        By which key.
    is_art : bool
        Whether the file is art of the author's own instead of a sketch.
    """

    number: int
    path: Path
    tracing: TraceSettings
    settings: StickerSettings
    traced: Kept | None = None
    cut: Cut | None = None
    store: Store | None = None
    map_key: str = ""
    is_art: bool = False


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
    return traced, task.cut or lay_cut(traced.drawing, task.settings)


def _traced(task: StickerTask) -> Kept:
    """From the kept map of the sketch, where there is one; else the map is kept for the next time."""
    if task.is_art:
        return _art(task)
    mapped = None if task.store is None else task.store.load_map(task.map_key)
    if mapped is not None and _is_of(mapped, task) and mapped.serves(task.tracing):
        drawn = redraw(mapped, task.tracing)
        return Kept(drawn.drawing, mapped.px_per_mm)
    result = trace(task.path, task.tracing)
    if task.store is not None:
        task.store.save_map(task.map_key, result.mapped)
    return Kept(result.drawing, result.mapped.px_per_mm)


def _art(task: StickerTask) -> Kept:
    return Kept(read_sticker_art(task.path, task.tracing), None)


def read_sticker_art(path: Path, settings: TraceSettings) -> "Drawing":
    """The art of a sticker, with what its settings say of single shapes.

    Raises
    ------
    LimnerError
        The file or a setting cannot be used.
    """
    from limner.art import read_art

    areas = settings.areas
    return read_art(path, fit_outline, [area.name for area in areas], [area.skip for area in areas])


def _is_of(mapped: "SketchMap", task: StickerTask) -> bool:
    """Whether a map, however it came there, speaks of nothing that its sticker does not have."""
    rules = len(task.tracing.areas)
    return all(area.rule is None or area.rule < rules for area in mapped.regions.areas)


def fit_outline(points: Floats, tolerance_mm: float) -> CubicPath:
    """Fit the outline of a stroke: what the reader of art asks for without knowing how."""
    from limner.curves import fit_path

    return fit_path(points, tolerance_mm=tolerance_mm, closed=True).path
