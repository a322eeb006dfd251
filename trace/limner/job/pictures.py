"""Pictures that a job names or is mistaken for: only their headers are read."""

from pathlib import Path

__all__ = ["is_picture", "picture_size"]

# A HEIC file is told by its name alone: its decoder need not be loaded for a message.
_ENDINGS = {
    ".bmp",
    ".gif",
    ".heic",
    ".heif",
    ".jpeg",
    ".jpg",
    ".pdf",
    ".png",
    ".svg",
    ".tif",
    ".tiff",
    ".webp",
}

# EXIF 2.32: orientations of pictures that lie on their side, and the tag that says so (from memory).
_ORIENTATION, _ON_ITS_SIDE = 0x0112, (5, 6, 7, 8)


def is_picture(path: Path) -> bool:
    """Whether a file is a picture, by its name or its content."""
    return path.suffix.lower() in _ENDINGS or picture_size(path) is not None


def picture_size(path: Path) -> tuple[int, int] | None:
    """Width and height in pixels, upright; None for what is no picture that Pillow reads."""
    from PIL import Image

    try:
        with Image.open(path) as picture:
            width, height = picture.size
            on_its_side = picture.getexif().get(_ORIENTATION) in _ON_ITS_SIDE
    # Decoders raise nearly anything on broken headers.
    except Exception:
        return None
    return (height, width) if on_its_side else (width, height)
