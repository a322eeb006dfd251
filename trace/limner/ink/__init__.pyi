from .extract import extract_ink as extract_ink
from .extract import survey_ink as survey_ink
from .scale import Finest as Finest
from .scale import LineWidths as LineWidths
from .scale import early_reduction as early_reduction
from .scale import line_widths as line_widths
from .settings import InkSettings as InkSettings

__all__ = [
    "Finest",
    "InkSettings",
    "LineWidths",
    "early_reduction",
    "extract_ink",
    "line_widths",
    "survey_ink",
]
