from .load import Picture as Picture
from .load import photo_of as photo_of
from .load import read_picture as read_picture
from .load import require_opencv as require_opencv
from .load import shown as shown
from .page import flatten_page as flatten_page
from .preview import picture_format as picture_format
from .preview import preview_jpeg as preview_jpeg
from .preview import smaller_jpeg as smaller_jpeg
from .settings import CaptureSettings as CaptureSettings

__all__ = [
    "CaptureSettings",
    "Picture",
    "flatten_page",
    "photo_of",
    "picture_format",
    "preview_jpeg",
    "read_picture",
    "require_opencv",
    "shown",
    "smaller_jpeg",
]
