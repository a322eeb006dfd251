"""One sketch, from the file to closed, filled shapes."""

from pathlib import Path
from typing import TYPE_CHECKING

from limner.pipeline.processes.progress import Observer, Stopwatch
from limner.pipeline.sketch.memory import Memory
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.steps import TraceResult
from limner.pipeline.sketch.warm import STAGES, WarmSketch

if TYPE_CHECKING:
    from limner.pipeline.sketch.mapping import Drawn, SketchMap

__all__ = ["STAGES", "TraceResult", "redraw", "trace"]


def trace(
    path: Path | str, settings: TraceSettings | None = None, observer: Observer | None = None
) -> TraceResult:
    """Trace one sketch.

    Parameters
    ----------
    path : Path or str
        The photograph or scan; it is only read.
    settings : TraceSettings or None
        What the user decides; None: the defaults.
    observer : Observer or None
        Told which stage is at work.

    Returns
    -------
    TraceResult

    Raises
    ------
    InputError
        The file or a setting cannot be used.
    GeometryError
        The drawing does not allow what was asked for.
    LimnerError
        OpenCV cannot be loaded.
    """
    return WarmSketch(Path(path)).trace(settings or TraceSettings(), observer)


def redraw(mapped: "SketchMap", settings: TraceSettings) -> "Drawn":
    """Trace a sketch whose map is known; the drawing is the same as by `trace`.

    Raises
    ------
    GeometryError
        The budget of nodes is too small.
    """
    from limner.pipeline.processes.opencv import steady_opencv
    from limner.pipeline.sketch.mapping import draw_map

    with steady_opencv():
        return draw_map(mapped, settings, Memory(), Stopwatch())
