from .find.axis import FoundAxis as FoundAxis
from .find.axis import find_axis as find_axis
from .find.axis import is_half_drawn as is_half_drawn
from .find.axis import settle_side as settle_side
from .frame import frame_of as frame_of
from .frame import keep_side as keep_side
from .frame import kept_side as kept_side
from .ink.complete import complete_half as complete_half
from .ink.erase import erase_guide as erase_guide
from .paths.mirror import mirror_drawing as mirror_drawing

__all__ = [
    "FoundAxis",
    "complete_half",
    "erase_guide",
    "find_axis",
    "frame_of",
    "is_half_drawn",
    "keep_side",
    "kept_side",
    "mirror_drawing",
    "settle_side",
]
