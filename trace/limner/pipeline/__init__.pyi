from .kept.code import code_digest as code_digest
from .kept.held import HeldStore as HeldStore
from .kept.traced import keep_trace as keep_trace
from .processes.ahead import load_ahead as load_ahead
from .processes.pool import DIED as DIED
from .processes.pool import Crew as Crew
from .processes.pool import begin_worker as begin_worker
from .processes.pool import core_count as core_count
from .processes.progress import Stopwatch as Stopwatch
from .sheet.asked import trace_settings as trace_settings
from .sheet.build import SheetResult as SheetResult
from .sheet.build import build_sheet as build_sheet
from .sheet.files import sheet_files as sheet_files
from .sheet.folder import check_targets as check_targets
from .sheet.folder import write_sheet as write_sheet
from .sheet.names import KEPT_FOLDER as KEPT_FOLDER
from .sheet.names import SHEET_FILES as SHEET_FILES
from .sheet.names import SINGLES_FOLDER as SINGLES_FOLDER
from .sheet.one_cut import cut_path as cut_path
from .sheet.worker import read_sticker_art as read_sticker_art
from .sketch.files import trace_files as trace_files
from .sketch.many import SketchTask as SketchTask
from .sketch.many import Traced as Traced
from .sketch.many import work_through as work_through
from .sketch.settings import TraceSettings as TraceSettings
from .sketch.trace import STAGES as STAGES
from .sketch.trace import TraceResult as TraceResult
from .sketch.trace import trace as trace
from .sketch.warm import WarmSketch as WarmSketch

__all__ = [
    "DIED",
    "KEPT_FOLDER",
    "SHEET_FILES",
    "SINGLES_FOLDER",
    "STAGES",
    "Crew",
    "HeldStore",
    "SheetResult",
    "SketchTask",
    "Stopwatch",
    "TraceResult",
    "TraceSettings",
    "Traced",
    "WarmSketch",
    "begin_worker",
    "build_sheet",
    "check_targets",
    "code_digest",
    "core_count",
    "cut_path",
    "keep_trace",
    "load_ahead",
    "read_sticker_art",
    "sheet_files",
    "trace",
    "trace_files",
    "trace_settings",
    "work_through",
    "write_sheet",
]
