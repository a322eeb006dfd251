"""Maps, drawings and cut lines kept beside a job, so that a second run makes only what changed.

An entry's name is a digest of everything that it depends on: the sketch's bytes, the settings, the masks
that they name, limner's own code and the libraries that it computes with; for a cut line also the drawing's
width and how it is cut. A map (`sketchmap`) depends on all of that but the few settings that curves alone
look at. An entry's first line is a digest of that name and of the rest: one that is damaged, or that lies
under another one's name, is made anew. Entries are JSON, in which Python writes floating-point numbers so
that they read back exactly, long arrays as base64; nothing in an entry is ever executed, and what it says is
checked like any input. The folder may be deleted at any time, and one that cannot be written only costs time.

Limits: whoever may write into the folder may also write a wrong entry with a right digest, just as they may
change the job itself.
"""

import hashlib
import json
import os
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from limner.errors import OutputError
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import CubicPath
from limner.model.sheet import CutLine
from limner.output import write_whole
from limner.pipeline.kept.code import code_digest
from limner.pipeline.kept.entries import axis_from_json, axis_to_json, fill_from_json, index, number, text
from limner.pipeline.sketch.settings import CURVES_ALONE, TraceSettings
from limner.sheet import Cut, CutSettings, Neck

# Where nothing is traced anew, the stages that make a map are not loaded.
if TYPE_CHECKING:
    from limner.pipeline.sketch.mapping import SketchMap

__all__ = ["Kept", "Store", "cut_key_of", "key_of", "map_key_of", "trace_key_of"]

T = TypeVar("T")

# The entries used last are kept, the rest removed. A drawing takes about 50 kB, a map about 800 kB for a
# photograph of 12 megapixels: some 130 MB at most.
_MOST_ENTRIES, _MOST_MAPS = 1000, 100

# No drawing of a sticker comes near this; reading more would only cost memory.
_LARGEST_ENTRY_BYTES = 50_000_000

_ENTRY_NAME = re.compile(r"[0-9a-f]{64}\.(json|map)")
_ROLES = ("silhouette", "area", "line", "solid")


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What is kept of one trace.

    Parameters
    ----------
    drawing : Drawing
        The result.
    px_per_mm : float or None
        Pixels of the page per millimetre of the drawing; None: it was not traced.
    """

    drawing: Drawing
    px_per_mm: float | None


def _content_digest(path: Path) -> str:
    """Digest of a file; a missing one counts as empty."""
    if not path.is_file():
        return ""
    found = path.stat()
    return _digest_of_version(path, found.st_mtime_ns, found.st_size, found.st_ino)


@lru_cache(maxsize=100)
def _digest_of_version(path: Path, *_: int) -> str:
    """Digest of a file as it was at a time: a process that asks again and again reads it once."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def map_key_of(sketch: Path, settings: TraceSettings) -> str:
    """Digest of all that the map of a sketch depends on; a missing file counts as empty."""
    digest = hashlib.sha256(f"map {code_digest()}".encode())
    masks = [settings.folder / zone.mask for zone in settings.zones if zone.mask is not None]
    for path in (sketch, *masks):
        digest.update(f"{path.name}\0{_content_digest(path)}\0".encode(errors="surrogateescape"))
    # The folder is only a place to find the masks, whose contents are counted already.
    values = {name: getattr(settings, name) for name in settings.__slots__ if name != "folder"}
    values = {name: value for name, value in values.items() if name not in CURVES_ALONE}
    digest.update(repr(sorted(values.items())).encode(errors="surrogateescape"))
    return digest.hexdigest()


def trace_key_of(map_key: str, settings: TraceSettings) -> str:
    """Digest of all that a trace depends on, given the key of its sketch's map."""
    values = [getattr(settings, name) for name in CURVES_ALONE]
    return hashlib.sha256(f"trace {map_key} {values!r}".encode()).hexdigest()


def key_of(sketch: Path, settings: TraceSettings) -> str:
    """Digest of all that the trace of a sketch depends on."""
    return trace_key_of(map_key_of(sketch, settings), settings)


def cut_key_of(key: str, width_mm: float, settings: CutSettings) -> str:
    """Digest of all that a cut line depends on, given the key of the drawing that it goes around."""
    return hashlib.sha256(f"cut {key} {width_mm!r} {settings!r}".encode()).hexdigest()


class Store:
    """Kept maps, traces and cut lines in a folder.

    Parameters
    ----------
    folder : Path
        Made when the first entry is saved.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, key: str) -> Kept | None:
        """The trace of that key, or None where there is none that can be trusted."""
        return _made(_from_json, self._read(key))

    def save(self, key: str, kept: Kept) -> None:
        """Keep a trace; a folder that cannot be written is no error."""
        self._write(key, _to_json(kept))

    def load_cut(self, key: str) -> Cut | None:
        """The cut line of that key, or None where there is none that can be trusted."""
        return _made(_cut_from_json, self._read(key))

    def save_cut(self, key: str, cut: Cut) -> None:
        """Keep a cut line; a folder that cannot be written is no error."""
        self._write(key, _cut_to_json(cut))

    def load_map(self, key: str) -> "SketchMap | None":
        """The map of that key, or None where there is none that can be trusted."""
        from limner.pipeline.kept.maps import map_from_json

        return _made(map_from_json, self._read(key, "map"))

    def save_map(self, key: str, mapped: "SketchMap") -> None:
        """Keep a map; a folder that cannot be written is no error."""
        from limner.pipeline.kept.maps import map_to_json

        self._write(key, map_to_json(mapped), "map")

    def _read(self, key: str, kind: str = "json") -> Any:
        path = self._folder / f"{key}.{kind}"
        try:
            # Only a file of one's own: a link may lead anywhere, a pipe would never end.
            if path.is_symlink() or not path.is_file() or path.stat().st_size > _LARGEST_ENTRY_BYTES:
                return None
            digest, _, body = path.read_bytes().partition(b"\n")
            if digest != _digest(key, body):
                return None
            data = json.loads(body)
        except (OSError, ValueError, RecursionError):
            return None
        with suppress(OSError):
            os.utime(path)
        return data

    def _write(self, key: str, data: dict[str, Any], kind: str = "json") -> None:
        body = json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
        path = self._folder / f"{key}.{kind}"
        try:
            self._folder.mkdir(exist_ok=True)
            if path.is_symlink():
                path.unlink()
            write_whole({path: _digest(key, body) + b"\n" + body})
            self._forget_old()
        except (OSError, OutputError):
            return

    def _forget_old(self) -> None:
        entries = [path for path in self._folder.iterdir() if _ENTRY_NAME.fullmatch(path.name)]
        for kind, most in ((".json", _MOST_ENTRIES), (".map", _MOST_MAPS)):
            mine = [path for path in entries if path.suffix == kind]
            if len(mine) > most:
                mine.sort(key=lambda path: path.lstat().st_mtime_ns, reverse=True)
                for path in mine[most:]:
                    path.unlink(missing_ok=True)


def _made(from_json: Callable[[Any], T], data: Any) -> T | None:
    """What an entry says. Well-formed JSON may still be anything: whatever goes wrong, it is no entry."""
    with suppress(ValueError, KeyError, TypeError, AttributeError, OverflowError):
        return from_json(data)
    return None


def _digest(key: str, body: bytes) -> bytes:
    return hashlib.sha256(key.encode("ascii") + b"\n" + body).hexdigest().encode("ascii")


def _to_json(kept: Kept) -> dict[str, Any]:
    drawing = kept.drawing
    return {
        "px_per_mm": kept.px_per_mm,
        "size": [drawing.width_mm, drawing.height_mm],
        "line_width_mm": drawing.line_width_mm,
        "axis": None if drawing.axis is None else axis_to_json(drawing.axis),
        "fills": [_shape_to_json(shape) for shape in drawing.fills],
        "lines": [_shape_to_json(shape) for shape in drawing.lines],
    }


def _shape_to_json(shape: Shape) -> dict[str, Any]:
    fields = ("name", "role", "fill", "error_mm", "area_mm2", "bridged_gaps", "rule", "inked")
    return {
        **{name: getattr(shape, name) for name in fields},
        "paths": [_path_to_json(path) for path in shape.paths],
    }


def _path_to_json(path: CubicPath) -> list[list[Any]]:
    return [path.segments.reshape(-1).tolist(), path.straight.tolist(), path.smooth.tolist()]


def _from_json(data: Any) -> Kept:
    axis = None if data["axis"] is None else axis_from_json(data["axis"])
    fills, lines = (tuple(_shape_from_json(shape) for shape in data[layer]) for layer in ("fills", "lines"))
    width, height = (number(value) for value in data["size"])
    drawing = Drawing(width, height, fills, lines, number(data["line_width_mm"]), axis)
    return Kept(drawing, None if data["px_per_mm"] is None else number(data["px_per_mm"]))


def _shape_from_json(data: Any) -> Shape:
    if data["role"] not in _ROLES:
        raise ValueError("not a shape")
    if not isinstance(data["inked"], bool):
        raise ValueError("neither inked nor not")
    return Shape(
        text(data["name"]),
        data["role"],
        tuple(_path_from_json(path) for path in data["paths"]),
        fill_from_json(data["fill"]),
        number(data["error_mm"]),
        number(data["area_mm2"]),
        index(data["bridged_gaps"]),
        None if data["rule"] is None else index(data["rule"]),
        data["inked"],
    )


def _path_from_json(data: Any) -> CubicPath:
    points, straight, smooth = data
    return CubicPath(np.array(points).reshape(-1, 4, 2), straight, smooth, closed=True)


def _cut_to_json(cut: Cut) -> dict[str, Any]:
    fields = (
        "form",
        "asked_mm",
        "min_distance_mm",
        "max_distance_mm",
        "length_mm",
        "smallest_radius_mm",
    )
    return {
        **{name: getattr(cut.line, name) for name in fields},
        "path": _path_to_json(cut.line.path),
        "necks": [[*neck.at, neck.length_mm] for neck in cut.necks],
    }


def _cut_from_json(data: Any) -> Cut:
    line = CutLine(
        _path_from_json(data["path"]),
        text(data["form"]),
        number(data["asked_mm"]),
        number(data["min_distance_mm"]),
        number(data["max_distance_mm"]),
        number(data["length_mm"]),
        number(data["smallest_radius_mm"]),
    )
    necks = ((number(x), number(y), number(length)) for x, y, length in data["necks"])
    return Cut(line, tuple(Neck((x, y), length) for x, y, length in necks))
