from .read import read_art as read_art

__all__ = [
    "read_art",
]
