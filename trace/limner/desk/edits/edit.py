"""One edit as a value: what is done, where, and to what; and what it means for the plain document."""

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args

from limner.errors import InputError
from limner.job import KeyPath

__all__ = ["Edit", "changed", "edits_from_json", "resolved"]

What = Literal["set", "unset", "add", "remove"]

# No path of a job is longer, and no decision has more edits: a drawing has some hundreds of areas at most.
_DEEPEST, _MOST_EDITS = 12, 2000


@dataclass(frozen=True, slots=True)
class Edit:
    """One change of the job.

    Parameters
    ----------
    what : {"set", "unset", "add", "remove"}
        A key gets a value or goes; a list gets an entry or loses one.
    where : KeyPath
        The key, the list, or the entry; stickers are called by their names or their numbers.
    to : object
        The value of the key or the entry.
    at : int or None
        Before which entry a new one goes; None: behind the last.
    """

    what: What
    where: KeyPath
    to: Any = None
    at: int | None = None


def edits_from_json(data: Any) -> tuple[Edit, ...]:
    """Edits as they come from outside.

    Raises
    ------
    InputError
        They are none.
    """
    if not isinstance(data, list) or not 1 <= len(data) <= _MOST_EDITS:
        raise InputError(f"A decision is a list of 1 to {_MOST_EDITS} edits.")
    return tuple(_edit(item) for item in data)


def _edit(item: Any) -> Edit:
    if not isinstance(item, dict) or not set(item) <= {"what", "where", "to", "at"}:
        raise InputError("An edit has what, where, to, and perhaps at; nothing else.")
    what, where, at = item.get("what"), item.get("where"), item.get("at")
    if what not in get_args(What):
        raise InputError(f"An edit sets, unsets, adds or removes; {str(what)[:40]!r} is none of these.")
    if not isinstance(where, list) or not 1 <= len(where) <= _DEEPEST or not all(map(_is_key, where)):
        raise InputError("Where an edit is made is a list of names and numbers.")
    if at is not None and not (what == "add" and _is_key(at) and isinstance(at, int)):
        raise InputError("Only what is added has a number of its own, from 0.")
    if what in ("set", "add") and item.get("to") is None:
        raise InputError("What is set or added needs a value.")
    if _is_deep(item.get("to")):
        raise InputError("A value of a job is not nested as deep as that.")
    return Edit(cast("What", what), tuple(where), item.get("to"), at)


def _is_deep(value: Any) -> bool:
    """Whether a value is nested deeper than any of a job."""
    level = [value]
    for _ in range(_DEEPEST):
        lists = [item.values() if isinstance(item, dict) else item for item in level if _holds(item)]
        level = [inner for items in lists for inner in items]
    return bool(level)


def _holds(value: Any) -> bool:
    return isinstance(value, dict | list)


def _is_key(value: Any) -> bool:
    return isinstance(value, str) or (isinstance(value, int) and not isinstance(value, bool) and value >= 0)


def resolved(edit: Edit, data: Mapping[str, Any]) -> KeyPath:
    """The path of an edit with numbers for the names of stickers.

    Raises
    ------
    InputError
        There is no such sticker.
    """
    where = edit.where
    if len(where) < 2 or where[0] != "sticker" or isinstance(where[1], int):
        return where
    tables = data.get("sticker")
    for number, table in enumerate(tables if isinstance(tables, list) else []):
        if isinstance(table, dict) and table.get("name") == where[1]:
            return ("sticker", number, *where[2:])
    raise InputError(f'There is no sticker "{str(where[1])[:60]}" any more.')


def changed(data: Mapping[str, Any], edit: Edit, path: KeyPath) -> dict[str, Any]:
    """The plain document after an edit.

    Parameters
    ----------
    data : mapping
        The document before it, which stays as it is.
    edit : Edit
        The edit.
    path : KeyPath
        Where it is made, with numbers for names.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        There is no such place.
    """
    root: dict[str, Any] = copy.deepcopy(dict(data))
    if edit.what == "set":
        _set(root, path, edit.to)
    elif edit.what == "add":
        _add(root, path, edit.to, edit.at)
    elif edit.what == "unset":
        _unset(root, path)
    else:
        _remove(root, path)
    return root


def _holder(root: Any, path: KeyPath, *, make: bool) -> Any:
    """The table or list that holds the last key of a path; tables that are missing are made."""
    for key in path[:-1]:
        if make and isinstance(root, dict) and isinstance(key, str):
            root = root.setdefault(key, {})
        elif _has(root, key):
            root = root[key]
        else:
            return None
    return root


def _has(holder: Any, key: str | int) -> bool:
    if isinstance(key, int):
        return isinstance(holder, list) and key < len(holder)
    return isinstance(holder, dict) and key in holder


def _no_place(path: KeyPath) -> InputError:
    shown = " > ".join(str(key) for key in path)[:120]
    return InputError(f"The job has no place {shown}: it may have changed meanwhile.")


def _set(root: Any, path: KeyPath, to: Any) -> None:
    holder, key = _holder(root, path, make=True), path[-1]
    if not (_has(holder, key) if isinstance(key, int) else isinstance(holder, dict)):
        raise _no_place(path)
    holder[key] = copy.deepcopy(to)


def _unset(root: Any, path: KeyPath) -> None:
    holder, key = _holder(root, path, make=False), path[-1]
    if isinstance(key, int) or (holder is None and len(path) > 2 and not _reaches(root, path)):
        raise _no_place(path)
    if isinstance(holder, dict):
        holder.pop(key, None)


def _reaches(root: Any, path: KeyPath) -> bool:
    """Whether the numbers in a path lead somewhere, whatever keys are missing behind them."""
    for key in path[:-1]:
        if not _has(root, key):
            return isinstance(key, str)
        root = root[key]
    return True


def _add(root: Any, path: KeyPath, to: Any, at: int | None) -> None:
    holder, key = _holder(root, path, make=True), path[-1]
    if not isinstance(key, str) or not isinstance(holder, dict):
        raise _no_place(path)
    entries = holder.setdefault(key, [])
    if not isinstance(entries, list) or (at or 0) > len(entries):
        raise _no_place(path)
    entries.insert(len(entries) if at is None else at, copy.deepcopy(to))


def _remove(root: Any, path: KeyPath) -> None:
    holder, key = _holder(root, path, make=False), path[-1]
    if not isinstance(key, int) or not _has(holder, key):
        raise _no_place(path)
    del holder[key]
