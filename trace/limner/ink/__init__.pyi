from .extract import extract_ink as extract_ink
from .scale import Finest as Finest
from .scale import early_reduction as early_reduction
from .settings import InkSettings as InkSettings

__all__ = [
    "Finest",
    "InkSettings",
    "early_reduction",
    "extract_ink",
]
