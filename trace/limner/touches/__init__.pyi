from .corner import mark_corner as mark_corner
from .ink import touch_ink as touch_ink
from .pull import pull_map as pull_map
from .pull import pulled_back as pulled_back
from .strokes import smooth_line as smooth_line
from .undoing import taken_back as taken_back

__all__ = [
    "mark_corner",
    "pull_map",
    "pulled_back",
    "smooth_line",
    "taken_back",
    "touch_ink",
]
