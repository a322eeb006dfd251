"""A job with mistakes: all of them, and what of the job can be used all the same.

Method: what a mistake is about is left out, and the rest looked at again, until no mistake is left: a key
that may be missing, else the table that it belongs to.
"""

import copy
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from limner.errors import InputError
from limner.job.likes import written_out
from limner.job.lines import KeyPath, nearest_line, toml_lines
from limner.job.load import Job, across_tables, job_files
from limner.job.messages import explained, key_text
from limner.job.tables import JobTables
from limner.job.text import parsed
from limner.job.values import quoted

__all__ = ["Mistake", "UsableJob", "read_usable"]

# Each round leaves something out; no job has so much wrong with it in so many layers.
_MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class Mistake:
    """Something in a job that cannot be used.

    Parameters
    ----------
    sentence : str
        What is wrong, where, and what to do about it; without the line.
    line : int or None
        Where it stands, counted from 1.
    sticker : str or None
        Name of the sticker that it is about.
    """

    sentence: str
    line: int | None
    sticker: str | None


@dataclass(frozen=True, slots=True)
class UsableJob:
    """What a text says, and what of it can be used.

    Parameters
    ----------
    data : dict
        The document as it is written; empty where it is no TOML.
    job : Job or None
        What can be used; it may have no sticker. None where nothing can be.
    mistakes : tuple of Mistake
        What cannot.
    """

    data: dict[str, Any]
    job: Job | None
    mistakes: tuple[Mistake, ...]


def read_usable(text: str, path: Path, *, within: bool = False) -> UsableJob:
    """Read a job, whatever is wrong with it; a job without stickers is none too few.

    Parameters
    ----------
    text : str
        The document.
    path : Path
        Its file: names in it are relative to the folder. It is not read.
    within : bool
        Whether a file that lies outside of that folder is a mistake.

    Returns
    -------
    UsableJob
    """
    try:
        data = parsed(text, path)
        lines = toml_lines(text)
    except InputError as error:
        return UsableJob({}, None, (Mistake(str(error), None, None),))
    kept, found = copy.deepcopy(data), dict[str, Mistake]()
    for _ in range(_MOST_ROUNDS):
        tables, problems = _looked_at(kept, path.parent, within=within)
        for where, sentence in problems:
            found.setdefault(sentence, Mistake(sentence, nearest_line(lines, where), _name_of(kept, where)))
        if tables is not None and not problems:
            return UsableJob(data, Job(path, tables, lines), tuple(found.values()))
        _leave_out(kept, [where for where, _ in problems])
    return UsableJob(data, None, tuple(found.values()))


def _looked_at(
    kept: dict[str, Any], folder: Path, *, within: bool
) -> tuple[JobTables | None, list[tuple[KeyPath, str]]]:
    """The tables where all are valid, and what is wrong."""
    data = {"sticker": [], **kept}
    data["sticker"], problem = written_out(data["sticker"])
    if problem is not None:
        where: KeyPath = ("sticker", problem[0], "like")
        like = data["sticker"][problem[0]]["like"]
        return None, [(where, f"{key_text(where, data)} is {quoted(like)}, {problem[1]}.")]
    try:
        tables = JobTables.model_validate(data)
    except ValidationError as error:
        return None, explained(error, JobTables, data, folder)
    across = [(where, what) for where, what in across_tables(tables, folder) if where != ("sticker",)]
    across += _outside(tables, folder) if within else []
    return tables, [(where, f"{key_text(where, data)} {what}") for where, what in across]


def _outside(tables: JobTables, folder: Path) -> Iterator[tuple[KeyPath, str]]:
    """Files that a name or a link leads out of the folder for."""
    root = folder.resolve()
    for where, name in job_files(tables):
        try:
            if name is None or (folder / name).resolve().is_relative_to(root):
                continue
        except (OSError, ValueError, RuntimeError):
            pass
        yield where, f"is {quoted(name)}, which lies outside of the job's folder: put the file into it."


def _name_of(data: dict[str, Any], where: KeyPath) -> str | None:
    if len(where) > 1 and where[0] == "sticker":
        table = _at(data, where[:2])
        name = table.get("name") if isinstance(table, dict) else None
        return name if isinstance(name, str) else None
    return None


_NOTHING = object()


def _at(data: Any, path: KeyPath) -> Any:
    for key in path:
        in_list = isinstance(data, list) and isinstance(key, int) and key < len(data)
        if not in_list and not (isinstance(data, dict) and key in data):
            return _NOTHING
        data = data[key]
    return data


def _leave_out(data: dict[str, Any], paths: Iterable[KeyPath]) -> None:
    """Take out keys that are wrong; where none is, the tables in which one is missing."""
    paths = list(paths)
    wrong = [path for path in paths if _at(data, path) is not _NOTHING]
    spots = {path for path in (wrong or [_deepest(data, path) for path in paths]) if path}
    # From the last on, so that the numbers of those before stay right.
    for path in sorted(spots, key=lambda path: [str(k).zfill(9) for k in path], reverse=True):
        holder = _at(data, path[:-1])
        if _at(data, path) is not _NOTHING:
            del holder[path[-1]]


def _deepest(data: Any, path: KeyPath) -> KeyPath:
    return next(path[:n] for n in range(len(path), -1, -1) if _at(data, path[:n]) is not _NOTHING)
