"""Names for new files and stickers: safe, free, and as near as possible to what they were called."""

import re
import unicodedata
from collections.abc import Collection, Iterable
from pathlib import Path

__all__ = ["file_name", "sticker_name"]

_LONGEST = 50

# Letters, digits and the three signs that names of stickers may hold, too.
_NOT_IN_NAMES = re.compile(r"[^\w.-]+")

# Names that mean a device on some systems, whatever their ending (Microsoft, "Naming files", from memory).
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)

# The sheet's own layers and what a sticker's layers are called behind its name.
_TAKEN = ("background", "lettering", "cut", "cut-partial", "white")


def file_name(asked: str, ending: str, folder: Path) -> str:
    """A name for a new file in a folder; nothing in it leads elsewhere.

    Parameters
    ----------
    asked : str
        What it was called elsewhere, perhaps with folders.
    ending : str
        That of its kind, such as ".jpg".
    folder : Path
        Where it goes.

    Returns
    -------
    str
    """
    last = asked.replace("\\", "/").rstrip("/").rpartition("/")[2]
    stem = _plain(last.rpartition(".")[0] or last)
    if _DEVICES.fullmatch(stem):
        stem = f"sketch-{stem}"
    taken = {path.name.casefold() for path in folder.iterdir()} if folder.is_dir() else set()
    return _free((f"{one}{ending}" for one in _numbered(stem or "sketch")), taken)


def sticker_name(asked: str, taken: Iterable[str]) -> str:
    """A name for a new sticker: one that begins with a letter, and that no layer of the sheet has."""
    stem = _plain(asked)
    stem = stem.lstrip("0123456789_.-") or "sketch"
    if not stem[0].isalpha():
        stem = f"sketch-{stem}"
    used = {name.casefold() for name in (*taken, *_TAKEN)}
    return _free(_numbered(stem), used)


def _plain(text: str) -> str:
    """Letters and digits of any script, with hyphens for all else."""
    text = unicodedata.normalize("NFC", text.encode("utf-8", "ignore").decode("utf-8"))
    return _NOT_IN_NAMES.sub("-", text).strip("-._ ")[:_LONGEST].rstrip("-._")


def _numbered(stem: str) -> Iterable[str]:
    yield stem
    number = 2
    while True:
        yield f"{stem}-{number}"
        number += 1


def _free(names: Iterable[str], taken: Collection[str]) -> str:
    return next(name for name in names if name.casefold() not in taken)
