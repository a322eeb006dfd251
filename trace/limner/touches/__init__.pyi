from .ink import touch_ink as touch_ink
from .pull import pull_map as pull_map
from .strokes import smooth_line as smooth_line

__all__ = [
    "pull_map",
    "smooth_line",
    "touch_ink",
]
