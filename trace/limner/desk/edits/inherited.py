"""Areas that a sticker has from the one that it is like: a change of one is written into tables of its own.

On the desk a sticker's areas are counted as they are written out, those of the other one first. An area with
a name is changed by a table of that name without a place, as the job's rules have it. One without a name gets
what is not said of it yet by a table with its place; all else is changed where the area is written, as two
tables may not contradict each other. Touches and zones come all from one sticker: before one is changed or
added, those of the other sticker are copied.
"""

from collections.abc import Mapping
from typing import Any

from limner.desk.edits.edit import Edit
from limner.errors import InputError
from limner.job import KeyPath, area_owners, written_out

__all__ = ["as_shown", "own_edits"]

Steps = list[tuple[Edit, KeyPath]]

# Keys of a sketch, which the desk shows of a sticker that has them from another one.
_SHOWN = ("area", "bridges", "ink", "lines", "mirror", "nodes", "paper", "smoothing", "touch", "zone")

# Lists that count as a whole: a sticker has all of its own, or all of the other one.
_WHOLE = ("touch", "zone")


def as_shown(data: Mapping[str, Any]) -> dict[str, Any]:
    """The document with what stickers have of others; areas in the order in which they count."""
    stickers = data.get("sticker")
    full, problem = written_out(stickers)
    if stickers is None or problem is not None or not isinstance(full, list):
        return dict(data)
    shown = [
        {**own, **{key: all_[key] for key in _SHOWN if _can_be_shown(all_, key)}} if _is_like(own) else own
        for own, all_ in zip(stickers, full, strict=True)
    ]
    return {**data, "sticker": shown}


def _can_be_shown(table: Mapping[str, Any], key: str) -> bool:
    return key in table and (key not in ("area", *_WHOLE) or isinstance(table[key], list))


def own_edits(edit: Edit, path: KeyPath, data: Mapping[str, Any]) -> Steps:
    """An edit by the numbers of the desk, as edits of the tables that are written.

    Parameters
    ----------
    edit : Edit
        The edit.
    path : KeyPath
        Where it is made, with numbers for names.
    data : mapping
        The document before it.

    Returns
    -------
    list of tuple of Edit and KeyPath
        To be made one after the other.

    Raises
    ------
    InputError
        There is no such area, or the change can only be made where the area is written.
    """
    stickers = data.get("sticker")
    if path[:1] == ("sticker",) and len(path) > 2 and path[2] in _WHOLE and isinstance(stickers, list):
        return [*_copies(path, stickers), (edit, path)]
    if path[:1] != ("sticker",) or path[2:3] != ("area",) or len(path) < 4 or not isinstance(stickers, list):
        return [(edit, path)]
    number, place = path[1], path[3]
    if not isinstance(number, int) or not isinstance(place, int) or number >= len(stickers):
        return [(edit, path)]
    own = stickers[number]
    if not _is_like(own):
        return [(edit, path)]
    areas = _areas_of(stickers, number)
    if place >= len(areas):
        raise InputError("There is no such area any more: the job may have changed meanwhile.")
    owner = area_owners(stickers, number)[place]
    if owner is not None:
        return [(edit, (*path[:3], owner, *path[4:]))]
    area = areas[place]
    if not _is_free(edit, path, area):
        raise InputError(f'That area belongs to the sticker "{own["like"]}": change it there.')
    table = {"name": area["name"]} if "name" in area else {"at": area.get("at", [])}
    into = path[:3]
    count = len(own["area"]) if isinstance(own.get("area"), list) else 0
    return [(Edit("add", into, table), into), (edit, (*into, count, path[4]))]


def _copies(path: KeyPath, stickers: list[Any]) -> Steps:
    """Steps that give a sticker a list of its own, the same as that of the one that it is like."""
    number, into = path[1], path[:3]
    if not isinstance(number, int) or number >= len(stickers) or not _is_like(stickers[number]):
        return []
    full, problem = written_out(stickers)
    tables = None if path[2] in stickers[number] or problem is not None else full[number].get(path[2])
    return [(Edit("add", into, table), into) for table in (tables if isinstance(tables, list) else [])]


def _areas_of(stickers: list[Any], number: int) -> list[Any]:
    """All areas of a sticker, written out; none where the job has a mistake there."""
    full, problem = written_out(stickers)
    areas = None if problem is not None else full[number].get("area")
    return areas if isinstance(areas, list) else []


def _is_free(edit: Edit, path: KeyPath, area: Any) -> bool:
    """Whether something is said of an area that a table of another sticker's does not say otherwise."""
    if edit.what != "set" or len(path) != 5 or not isinstance(area, dict):
        return False
    return path[4] != "name" if "name" in area else path[4] not in area


def _is_like(table: Any) -> bool:
    return isinstance(table, dict) and isinstance(table.get("like"), str)
