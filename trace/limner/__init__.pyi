from ._version import __version__ as __version__
from .errors import GeometryError as GeometryError
from .errors import InputError as InputError
from .errors import LimnerError as LimnerError
from .errors import OutputError as OutputError
from .job.load import load_job as load_job
from .model.drawing import Drawing as Drawing
from .pipeline.sheet.build import SheetResult as SheetResult
from .pipeline.sheet.build import build_sheet as build_sheet
from .pipeline.sheet.files import sheet_files as sheet_files
from .pipeline.sketch.files import trace_files as trace_files
from .pipeline.sketch.many import Traced as Traced
from .pipeline.sketch.many import trace_many as trace_many
from .pipeline.sketch.settings import TraceSettings as TraceSettings
from .pipeline.sketch.trace import TraceResult as TraceResult
from .pipeline.sketch.trace import trace as trace

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
