"""Drawings kept for the next time the desk is opened, so that all of them are there at once.

Method: beside the job, in the folder of kept results, a file for each drawing by the name of its shapes, and
one for each straightened page by the digest of its picture. A file's first line is a digest of its name and
of the rest: what is damaged is drawn anew. The folder may be deleted at any time, and one that cannot be
written only costs time.
"""

import hashlib
import os
from contextlib import suppress
from pathlib import Path

from limner.errors import OutputError
from limner.output import write_whole

__all__ = ["Shelf"]

# A drawing takes some 50 kB, a page some 300 kB: those used last are kept.
_MOST = 100

_DRAWING, _PAGE = ".drawing", ".page"

# No file of the desk's own comes near this.
_LARGEST_BYTES = 30_000_000


class Shelf:
    """Drawings and pages in a folder.

    Parameters
    ----------
    folder : Path
        Made when the first one is kept.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def take(self, form: str) -> tuple[bytes, bytes] | None:
        """A drawing in JSON and the page under it; None where they are not there, whole."""
        content = self._read(f"{form}{_DRAWING}")
        if content is None:
            return None
        page_name, _, drawing = content.partition(b"\n")
        if not page_name:
            return drawing, b""
        page = self._read(f"{page_name.decode('ascii', 'replace')}{_PAGE}")
        return None if page is None else (drawing, page)

    def put(self, form: str, drawing: bytes, page: bytes) -> None:
        """Keep a drawing and its page."""
        page_name = hashlib.sha256(page).hexdigest()[:32] if page else ""
        with suppress(OSError, OutputError):
            self._folder.mkdir(exist_ok=True)
            if page and self._read(f"{page_name}{_PAGE}") is None:
                self._write(f"{page_name}{_PAGE}", page)
            self._write(f"{form}{_DRAWING}", page_name.encode("ascii") + b"\n" + drawing)
            self._forget_old()

    def _read(self, name: str) -> bytes | None:
        path = self._folder / name
        try:
            if path.is_symlink() or not path.is_file() or path.stat().st_size > _LARGEST_BYTES:
                return None
            digest, _, content = path.read_bytes().partition(b"\n")
            if digest != _digest(name, content):
                return None
            os.utime(path)
        except (OSError, ValueError):
            return None
        return content

    def _write(self, name: str, content: bytes) -> None:
        path = self._folder / name
        if path.is_symlink():
            path.unlink()
        write_whole({path: _digest(name, content) + b"\n" + content})

    def _forget_old(self) -> None:
        for ending in (_DRAWING, _PAGE):
            mine = sorted(self._folder.glob(f"*{ending}"), key=lambda path: -path.lstat().st_mtime_ns)
            for path in mine[_MOST:]:
                path.unlink(missing_ok=True)


def _digest(name: str, content: bytes) -> bytes:
    return hashlib.sha256(name.encode("ascii", "replace") + b"\n" + content).hexdigest().encode("ascii")
