"""A sketch that is traced again and again as its settings change: only what a change concerns is worked out.

The page is read anew where its paper, its scale or a finer smoothing asks for it; the ink from the first
touch on that is new; areas where lines, or what joins and orders them, change; curves where they, or what is
asked of them, do. Names and colours need neither areas nor curves.

Limits: not for several threads at once. What is kept of a page of some two million pixels, to which a
photograph of 12 megapixels comes down, takes 24 MB, with touches 44, with a mirror as well 54 (arrays, as
tests/benchmarks/touches.py counts them); the photograph itself is not kept.
"""

from pathlib import Path
from typing import TYPE_CHECKING

from limner.pipeline.processes.ahead import load_ahead
from limner.pipeline.processes.progress import Observer, Stopwatch
from limner.pipeline.sketch.memory import Memory
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.steps import TraceResult, trace_page

if TYPE_CHECKING:
    from limner.pipeline.sketch.page import Reading

__all__ = ["STAGES", "WarmSketch"]

# Modules, in the order in which they are needed.
STAGES = (
    "cv2",
    "limner.pipeline.sketch.page",
    "limner.pipeline.sketch.axes.mirroring",
    "limner.regions.areas.build",
    "limner.regions.centrelines.build",
    "limner.pipeline.sketch.mapping",
    "limner.curves.drawing",
)


class WarmSketch:
    """A sketch, and what was worked out of it last.

    Parameters
    ----------
    path : Path
        The photograph or scan; it is only read, and read anew where the file changes.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._version: tuple[int, int] | None = None
        self._reading: Reading | None = None
        self._memory = Memory()

    def trace(self, settings: TraceSettings, observer: Observer | None = None) -> TraceResult:
        """Trace the sketch; the result is the same as without a memory.

        Parameters
        ----------
        settings : TraceSettings
            What the user decides.
        observer : Observer or None
            Told which stage is at work.

        Returns
        -------
        TraceResult

        Raises
        ------
        LimnerError
            As `limner.pipeline.sketch.trace.trace` does.
        """
        watch = Stopwatch(observer)
        load_ahead(*STAGES)
        reading = self._read(settings, watch)
        from limner.pipeline.processes.opencv import steady_opencv

        with steady_opencv():
            return trace_page(reading, settings, self._memory, watch)

    def _read(self, settings: TraceSettings, watch: Stopwatch) -> "Reading":
        version = _version(self._path)
        kept = self._reading if version == self._version else None
        if kept is None or not kept.serves(settings):
            # The old page and the new one are never held together.
            self._reading, kept, self._memory = None, None, Memory()
            kept = _read(self._path, settings, watch)
            self._reading, self._version = kept, version
        return kept


def _version(path: Path) -> tuple[int, int] | None:
    """What tells a changed file from the one that was read; None where there is none."""
    try:
        status = path.stat()
    except (OSError, ValueError):
        return None
    return status.st_mtime_ns, status.st_size


def _read(path: Path, settings: TraceSettings, watch: Stopwatch) -> "Reading":
    with watch.stage("capture"):
        from limner.capture import read_picture, require_opencv

        picture = read_picture(path)
        require_opencv()
        from limner.pipeline.processes.opencv import steady_opencv
        from limner.pipeline.sketch.page import read_page
    with steady_opencv():
        return read_page(picture, settings, watch)
