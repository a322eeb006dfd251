"""Traced drawings kept beside a job, so that a second run traces only what changed.

An entry's name is a digest of everything that its drawing depends on: the sketch's bytes, the settings, the
masks that they name, and limner's own code. Its first line is a digest of the rest: an entry that does not
match is taken for damaged and made anew. Entries are JSON, in which Python writes floating-point numbers
so that they read back exactly; nothing in an entry is ever executed. The folder may be deleted at any time,
and one that cannot be written only costs time.
"""

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from limner._version import __version__
from limner.errors import OutputError
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import Axis, CubicPath
from limner.output.files import write_whole
from limner.pipeline.settings import TraceSettings

__all__ = ["Kept", "Store", "key_of"]

# Entries that this many newer ones have followed are removed: a folder of some megabytes at most.
_MOST_ENTRIES = 200


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What is kept of one trace.

    Parameters
    ----------
    drawing : Drawing
        The result.
    rule_of : dict of str to int
        For each area that an area table hit: the index of that table.
    px_per_mm : float
        Pixels of the page per millimetre of the drawing.
    """

    drawing: Drawing
    rule_of: dict[str, int]
    px_per_mm: float


@cache
def _code_digest() -> str:
    """Digest of limner's own source, so that a changed stage never finds its old results."""
    digest = hashlib.sha256(__version__.encode())
    root = Path(str(resources.files("limner")))
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def key_of(sketch: Path, settings: TraceSettings) -> str:
    """Digest of all that the trace of a sketch depends on; a missing file counts as empty."""
    digest = hashlib.sha256(_code_digest().encode())
    masks = [settings.folder / zone.mask for zone in settings.zones if zone.mask is not None]
    for path in (sketch, *masks):
        content = path.read_bytes() if path.is_file() else b""
        digest.update(f"{path.name}\0{len(content)}\0".encode(errors="surrogateescape"))
        digest.update(content)
    # The folder is only a place to find the masks, whose contents are counted already.
    values = {name: getattr(settings, name) for name in settings.__slots__ if name != "folder"}
    digest.update(repr(sorted(values.items())).encode(errors="surrogateescape"))
    return digest.hexdigest()


class Store:
    """Kept traces in a folder.

    Parameters
    ----------
    folder : Path
        Made when the first entry is saved.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, key: str) -> Kept | None:
        """The trace of that key, or None where there is none that can be trusted."""
        try:
            digest, _, body = self._path(key).read_bytes().partition(b"\n")
            if digest.decode("ascii") != hashlib.sha256(body).hexdigest():
                return None
            return _from_json(json.loads(body))
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def save(self, key: str, kept: Kept) -> None:
        """Keep a trace; a folder that cannot be written is no error."""
        body = json.dumps(_to_json(kept), ensure_ascii=False, separators=(",", ":")).encode("utf-8")
        digest = hashlib.sha256(body).hexdigest().encode("ascii")
        try:
            self._folder.mkdir(exist_ok=True)
            write_whole({self._path(key): digest + b"\n" + body})
            self._forget_old()
        except (OSError, OutputError):
            return

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.json"

    def _forget_old(self) -> None:
        entries = sorted(self._folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
        for path in entries[_MOST_ENTRIES:]:
            path.unlink(missing_ok=True)


def _to_json(kept: Kept) -> dict[str, Any]:
    drawing = kept.drawing
    return {
        "rule_of": kept.rule_of,
        "px_per_mm": kept.px_per_mm,
        "size": [drawing.width_mm, drawing.height_mm],
        "line_width_mm": drawing.line_width_mm,
        "axis": None if drawing.axis is None else asdict(drawing.axis),
        "fills": [_shape_to_json(shape) for shape in drawing.fills],
        "lines": [_shape_to_json(shape) for shape in drawing.lines],
    }


def _shape_to_json(shape: Shape) -> dict[str, Any]:
    fields = ("name", "role", "fill", "error_mm", "area_mm2", "bridged_gaps")
    paths = [
        [path.segments.reshape(-1).tolist(), path.straight.tolist(), path.smooth.tolist()]
        for path in shape.paths
    ]
    return {**{name: getattr(shape, name) for name in fields}, "paths": paths}


def _from_json(data: dict[str, Any]) -> Kept:
    axis = None if data["axis"] is None else Axis(**data["axis"])
    fills, lines = (tuple(_shape_from_json(shape) for shape in data[layer]) for layer in ("fills", "lines"))
    width, height = data["size"]
    drawing = Drawing(width, height, fills, lines, data["line_width_mm"], axis)
    return Kept(drawing, data["rule_of"], data["px_per_mm"])


def _shape_from_json(data: dict[str, Any]) -> Shape:
    paths = tuple(
        CubicPath(np.array(points).reshape(-1, 4, 2), straight, smooth, closed=True)
        for points, straight, smooth in data["paths"]
    )
    return Shape(**{**data, "paths": paths})
