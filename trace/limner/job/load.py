"""Read a job file, check what no single table can check, and give each stage its settings."""

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from limner.colour import BUILT_IN, ColourSpec
from limner.errors import InputError
from limner.job.likes import copy_names, written_out
from limner.job.lines import KeyPath, nearest_line, toml_lines
from limner.job.messages import at_line, explain, key_text
from limner.job.tables import (
    AreaTable,
    CutTable,
    JobTables,
    MirrorTable,
    RepeatTable,
    SketchFile,
    StickerTable,
    TouchTable,
    ZoneTable,
)
from limner.job.text import parsed, read_text
from limner.job.values import quoted
from limner.model.sheet import Page

__all__ = ["Job", "SketchTables", "across_tables", "job_files", "load_job", "load_zones"]

# Names of the sheet's own layers, which a sticker must not take.
_LAYERS = ("background", "lettering", "cut", "cut-partial", "white")

M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Job:
    """A job file that has been read and checked.

    Parameters
    ----------
    path : Path
        The file.
    tables : JobTables
        What it says.
    lines : dict of KeyPath to int
        On which line each key stands, for messages about what later turns out to be wrong.
    """

    path: Path
    tables: JobTables
    lines: dict[KeyPath, int] = field(repr=False)

    @property
    def name(self) -> str:
        """The stem of the file's name."""
        return self.path.stem

    @property
    def folder(self) -> Path:
        """Where it lies: file names in it are relative to this."""
        return self.path.parent

    @property
    def stickers(self) -> list[StickerTable]:
        """Its stickers, in order."""
        return self.tables.sticker

    def page(self) -> Page:
        """Size, bleed and safe margin."""
        sheet = self.tables.sheet
        width, height = sheet.trim_mm
        return Page(width, height, sheet.bleed, sheet.safe, sheet.size.name)

    def cut_of(self, sticker: StickerTable) -> CutTable:
        """How one sticker is cut: `[cut]` with the sticker's own keys over it."""
        written = {key: getattr(sticker.cut, key) for key in sticker.cut.model_fields_set}
        own = {key: value for key, value in written.items() if value is not None}
        return self.tables.cut.model_copy(update=own)

    def model_of(self, sticker: StickerTable) -> StickerTable:
        """The sticker that it is like, or that one is like, and so on; itself where it is like none."""
        while sticker.like is not None:
            sticker = next(other for other in self.stickers if other.name == sticker.like)
        return sticker

    def turn_of(self, sticker: StickerTable) -> float:
        """How far the layout may turn one sticker, in degrees either way."""
        return abs(self.tables.sheet.turn if sticker.turn is None else sticker.turn)

    def sketch_path(self, sticker: StickerTable) -> Path:
        """The file of its sketch, or of its art."""
        return self.folder / (sticker.sketch or sticker.art)

    def where(self, path: KeyPath) -> str:
        """File and line of a key, to put before a message: "tide-pool.toml, line 12"."""
        return _where(self.path, self.lines, path)


@dataclass(frozen=True, slots=True)
class SketchTables:
    """Areas, zones, touches and repeats for a single sketch.

    Parameters
    ----------
    path : Path
        The file that they come from.
    areas : tuple of AreaTable
        Names and colours by points.
    zones : tuple of ZoneTable
        Parts with a smoothing or budget of their own.
    mirror : tuple of MirrorTable
        Axes, sides to keep and what stays one-sided; empty where nothing is to be mirrored.
    touches : tuple of TouchTable
        Corrections drawn on the sketch.
    repeats : tuple of RepeatTable
        Motifs that are placed again.
    lines : dict of KeyPath to int
        On which line each key stands, for messages about what later turns out to be wrong.
    """

    path: Path
    areas: tuple[AreaTable, ...]
    zones: tuple[ZoneTable, ...]
    mirror: tuple[MirrorTable, ...] = ()
    touches: tuple[TouchTable, ...] = ()
    repeats: tuple[RepeatTable, ...] = ()
    lines: dict[KeyPath, int] = field(default_factory=dict, repr=False)

    def where(self, path: KeyPath) -> str:
        """File and line of a key, to put before a message: "zones.toml, line 12"."""
        return _where(self.path, self.lines, path)

    def line_of(self, path: KeyPath) -> int | None:
        """The line of a key or a table; None where it is not known."""
        return nearest_line(self.lines, path)


def load_job(path: str | Path) -> Job:
    """Read a job file.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    Job

    Raises
    ------
    InputError
        It cannot be read, or something in it cannot be used; the sentence names the key and the line.
    """
    path = Path(path)
    tables, data, lines = _read(path, JobTables)
    for where, problem in across_tables(tables, path.parent):
        sentence = f"{key_text(where, data)} {problem}"
        raise InputError(f"{path.name}, {at_line(lines, where, sentence)}")
    return Job(path, tables, lines)


def load_zones(path: str | Path) -> SketchTables:
    """Read a file of `[[area]]`, `[[zone]]`, `[[touch]]` and `[[repeat]]` tables for a single sketch.

    Raises
    ------
    InputError
        As `load_job`.
    """
    path = Path(path)
    tables, _, lines = _read(path, SketchFile)
    return SketchTables(
        path,
        tuple(tables.area),
        tuple(tables.zone),
        tables.mirror,
        tuple(tables.touch),
        tuple(tables.repeat),
        lines,
    )


def _where(file: Path, lines: dict[KeyPath, int], path: KeyPath) -> str:
    line = nearest_line(lines, path)
    return file.name if line is None else f"{file.name}, line {line}"


def _read(path: Path, model: type[M]) -> tuple[M, dict[str, Any], dict[KeyPath, int]]:
    text = read_text(path)
    data = parsed(text, path)
    lines = toml_lines(text)
    if "sticker" in data:
        data["sticker"], problem = written_out(data["sticker"])
        if problem is not None:
            where: KeyPath = ("sticker", problem[0], "like")
            sentence = (
                f"{key_text(where, data)} is {quoted(data['sticker'][problem[0]]['like'])}, {problem[1]}."
            )
            raise InputError(f"{path.name}, {at_line(lines, where, sentence)}")
    try:
        return model.model_validate(data), data, lines
    except ValidationError as error:
        raise InputError(f"{path.name}, {explain(error, model, data, lines, path.parent)}") from None


def across_tables(tables: JobTables, folder: Path) -> Iterator[tuple[KeyPath, str]]:
    """Mistakes that only show between tables, in the order of the file as far as possible."""
    yield from _page_problems(tables)
    yield from _colour_problems(tables)
    yield from _name_problems(tables)
    yield from _copy_problems(tables)
    yield from _source_problems(tables)
    yield from _file_problems(tables, folder)


def _page_problems(tables: JobTables) -> Iterator[tuple[KeyPath, str]]:
    width, height = tables.sheet.trim_mm
    if 2 * tables.sheet.safe >= min(width, height):
        yield ("sheet", "safe"), "leaves no room on the sheet: make it smaller."
    if not tables.sticker:
        yield ("sticker",), "is empty: add a [[sticker]] table with a name, a sketch and a width."
    if tables.sheet.scale == "fit" and all(sticker.at is not None for sticker in tables.sticker):
        yield (
            ("sheet", "scale"),
            "is of no use where every sticker has a place: leave out at of some, or scale.",
        )
    for where, length in _cut_lengths(tables):
        if 2 * length >= min(width, height):
            yield where, f"leaves no room for art on a sheet of {width:g} x {height:g} mm: make it smaller."
    for i, sticker in enumerate(tables.sticker):
        longest = max(width, height)
        if sticker.width > longest * 1.5:
            yield ("sticker", i, "width"), f"is wider than the sheet ({longest:g} mm): make it smaller."


def _cut_lengths(tables: JobTables) -> Iterator[tuple[KeyPath, float]]:
    """Lengths around art and between cut lines, which have to fit the sheet twice."""
    keys = ("distance", "smallest_radius", "neck")
    for key in (*keys, "gap"):
        yield ("cut", key), getattr(tables.cut, key)
    for i, sticker in enumerate(tables.sticker):
        for key in keys:
            yield ("sticker", i, "cut", key), getattr(sticker.cut, key) or 0.0


def _colour_problems(tables: JobTables) -> Iterator[tuple[KeyPath, str]]:
    for name in tables.colours:
        if not name.strip() or not name.isprintable():
            yield ("colours", name), "is not a usable name for a colour: use letters and digits."
    known = [*BUILT_IN, *tables.colours]
    for path, value in _colour_uses(tables):
        if isinstance(value, str) and value not in known:
            near = difflib.get_close_matches(value, known, n=1)
            hint = f'did you mean "{near[0]}"?' if near else "add it to [colours]."
            yield path, f"is {quoted(value)}, which is not in [colours]; {hint}"


def _colour_uses(tables: JobTables) -> Iterator[tuple[KeyPath, str | ColourSpec | None]]:
    yield ("sheet", "background"), tables.sheet.background
    for i, sticker in enumerate(tables.sticker):
        yield ("sticker", i, "ink"), sticker.ink
        yield ("sticker", i, "ground"), sticker.ground
        if sticker.base != "none":
            yield ("sticker", i, "base"), sticker.base
        for j, area in enumerate(sticker.area):
            yield ("sticker", i, "area", j, "fill"), area.fill
    for i, lettering in enumerate(tables.lettering):
        yield ("lettering", i, "fill"), lettering.fill


def _name_problems(tables: JobTables) -> Iterator[tuple[KeyPath, str]]:
    """Every layer of the sheet needs an id of its own."""
    taken = dict.fromkeys(_LAYERS, "a layer of the sheet")
    for i, sticker in enumerate(tables.sticker):
        names = copy_names(sticker.name, sticker.copies)
        own = [*names, *(f"{name}-{part}" for name in names for part in ("ground", "fills", "lines"))]
        clash = next((taken[name] for name in own if name in taken), None)
        if clash is not None:
            problem = f"is {quoted(sticker.name)}, which clashes with the name of {clash}: choose another."
            yield ("sticker", i, "name"), problem
        taken.update(dict.fromkeys(own, "an earlier sticker"))


def _copy_problems(tables: JobTables) -> Iterator[tuple[KeyPath, str]]:
    for i, sticker in enumerate(tables.sticker):
        if sticker.copies > 1 and sticker.at is not None:
            yield (
                ("sticker", i, "copies"),
                "of a sticker with a place would lie on one another: leave out at.",
            )


# Keys of a sticker that ask how its sketch is traced.
_OF_SKETCHES = (
    "smoothing",
    "nodes",
    "mirror",
    "lines",
    "bridges",
    "base",
    "paper",
    "zone",
    "touch",
    "repeat",
)
_OF_SKETCHED_AREAS = ("at", "smoothing", "nodes", "order")


def _source_problems(tables: JobTables) -> Iterator[tuple[KeyPath, str]]:
    """A sticker has a sketch or art, and nothing that asks for the other."""
    for i, sticker in enumerate(tables.sticker):
        if bool(sticker.sketch) == bool(sticker.art):
            both = "has both a sketch and art: take one of them out."
            yield ("sticker", i), both if sticker.art else "has no sketch: add it."
        for j, area in enumerate(sticker.area):
            where: KeyPath = ("sticker", i, "area", j)
            if not sticker.art and not area.at:
                yield where, "has no at: add it."
            if sticker.art and area.name is None:
                yield where, "has no name: add the id of a shape or a group of the art."
            if sticker.art:
                yield from _of_no_use(area, where, _OF_SKETCHED_AREAS)
        if sticker.art:
            yield from _of_no_use(sticker, ("sticker", i), _OF_SKETCHES)


def _of_no_use(table: BaseModel, where: KeyPath, keys: Sequence[str]) -> Iterator[tuple[KeyPath, str]]:
    for key in keys:
        if key in table.model_fields_set:
            yield (*where, key), "is of no use with art, which is taken as it is drawn: take it out."


def _file_problems(tables: JobTables, folder: Path) -> Iterator[tuple[KeyPath, str]]:
    for path, name in job_files(tables):
        try:
            there = name is None or (folder / name).exists()
        except (OSError, ValueError):
            there = False
        if not there:
            yield path, f"is {quoted(name)}, which is not there: file names are relative to the job file."


def job_files(tables: JobTables) -> Iterator[tuple[KeyPath, str | None]]:
    """Every file that a job names, by the path of its key; None where it names none there."""
    yield ("print", "profile"), tables.print.profile
    for i, sticker in enumerate(tables.sticker):
        source = "art" if sticker.art else "sketch"
        yield ("sticker", i, source), sticker.sketch or sticker.art
        for j, zone in enumerate(sticker.zone):
            yield ("sticker", i, "zone", j, "mask"), zone.mask
    for i, lettering in enumerate(tables.lettering):
        yield ("lettering", i, "font"), lettering.font
