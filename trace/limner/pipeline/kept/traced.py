"""One traced sketch kept beside a job, as the making of its sheet looks for it."""

from pathlib import Path
from typing import TYPE_CHECKING

from limner.pipeline.kept.store import Kept, Store, map_key_of, trace_key_of
from limner.pipeline.sketch.settings import TraceSettings

if TYPE_CHECKING:
    from limner.pipeline.sketch.steps import TraceResult

__all__ = ["keep_trace"]


def keep_trace(folder: Path, sketch: Path, settings: TraceSettings, result: "TraceResult") -> None:
    """Keep a drawing, and not its map; a folder that cannot be written is no error.

    Parameters
    ----------
    folder : Path
        Where results are kept.
    sketch : Path
        The file that was traced.
    settings : TraceSettings
        How.
    result : TraceResult
        What came of it.
    """
    map_key = map_key_of(sketch, settings)
    store = Store(folder)
    store.save(trace_key_of(map_key, settings), Kept(result.drawing, result.mapped.px_per_mm))
