"""Turns photographed pencil sketches into closed, filled shapes and press-ready sticker sheets.

The names below are what a program needs; each is loaded when it is first asked for, so that importing the
package costs next to nothing. `trace` and `trace_many` make drawings of sketches, `trace_files` and
`sheet_files` make the bytes of files, `load_job` and `build_sheet` make a sheet of a job.
"""

# As in `typing`, which takes as long to import as Python itself takes to start.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from limner._version import __version__
    from limner.errors import GeometryError, InputError, LimnerError, OutputError
    from limner.job.load import load_job
    from limner.model.drawing import Drawing
    from limner.pipeline.sheet.build import SheetResult, build_sheet
    from limner.pipeline.sheet.files import sheet_files
    from limner.pipeline.sketch.files import trace_files
    from limner.pipeline.sketch.many import Traced, trace_many
    from limner.pipeline.sketch.settings import TraceSettings
    from limner.pipeline.sketch.trace import TraceResult, trace

__all__ = [
    "Drawing",
    "GeometryError",
    "InputError",
    "LimnerError",
    "OutputError",
    "SheetResult",
    "TraceResult",
    "TraceSettings",
    "Traced",
    "__version__",
    "build_sheet",
    "load_job",
    "sheet_files",
    "trace",
    "trace_files",
    "trace_many",
]

_HOME = {
    "Drawing": "limner.model.drawing",
    "GeometryError": "limner.errors",
    "InputError": "limner.errors",
    "LimnerError": "limner.errors",
    "OutputError": "limner.errors",
    "SheetResult": "limner.pipeline.sheet.build",
    "TraceResult": "limner.pipeline.sketch.trace",
    "TraceSettings": "limner.pipeline.sketch.settings",
    "Traced": "limner.pipeline.sketch.many",
    "__version__": "limner._version",
    "build_sheet": "limner.pipeline.sheet.build",
    "load_job": "limner.job.load",
    "sheet_files": "limner.pipeline.sheet.files",
    "trace": "limner.pipeline.sketch.trace",
    "trace_files": "limner.pipeline.sketch.files",
    "trace_many": "limner.pipeline.sketch.many",
}


def __getattr__(name: str) -> "Any":
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    value = globals()[name] = getattr(import_module(_HOME[name]), name)
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
