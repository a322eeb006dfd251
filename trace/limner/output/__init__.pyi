from .files import write_whole as write_whole
from .markup import path_data as path_data
from .markup import unique_stems as unique_stems
from .sheet.pdf import sheet_pdf as sheet_pdf
from .sheet.proof import sheet_proof as sheet_proof
from .sheet.report import cut_length_mm as cut_length_mm
from .sheet.report import sheet_report as sheet_report
from .sheet.singles import sheet_singles as sheet_singles
from .sheet.singles import sticker_svg as sticker_svg
from .sheet.svg import sheet_svg as sheet_svg
from .sheet.ticket import sheet_ticket as sheet_ticket
from .sketch.areas import areas_file as areas_file
from .sketch.proof import trace_proof as trace_proof
from .sketch.report import trace_report as trace_report
from .sketch.svg import drawing_svg as drawing_svg

__all__ = [
    "areas_file",
    "cut_length_mm",
    "drawing_svg",
    "path_data",
    "sheet_pdf",
    "sheet_proof",
    "sheet_report",
    "sheet_singles",
    "sheet_svg",
    "sheet_ticket",
    "sticker_svg",
    "trace_proof",
    "trace_report",
    "unique_stems",
    "write_whole",
]
