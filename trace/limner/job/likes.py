"""Stickers that are like others: what they do not say themselves is taken from those.

A table with `like` gets all keys of the sticker that it names, but for its name, its place and how many
there are of it. Of `[sticker.cut]` each key is taken by itself; an area with a name and without a place
changes what it gives of the area of that name; other areas are added; zones are replaced.
"""

from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["area_owners", "copy_names", "written_out"]

# What belongs to one sticker alone.
_OWN = ("name", "like", "at", "copies")

Table = Mapping[str, Any]


def written_out(stickers: Any) -> tuple[Any, tuple[int, str] | None]:
    """The tables of stickers with those keys filled in that they take from others.

    Parameters
    ----------
    stickers : object
        What the document has for `sticker`; anything but a list of tables comes back as it is.

    Returns
    -------
    list of dict
        The tables written out.
    tuple of int and str, or None
        The first table whose `like` cannot be used, and why.
    """
    if not isinstance(stickers, list) or not all(isinstance(table, dict) for table in stickers):
        return stickers, None
    # The first of each name; a name that is no text is found where the tables are checked.
    named = [(table.get("name"), i) for i, table in reversed(list(enumerate(stickers)))]
    by_name = {name: i for name, i in named if isinstance(name, str)}
    done: list[Table] = []
    for i, table in enumerate(stickers):
        chain, problem = _chain(stickers, by_name, i)
        if problem is not None:
            return stickers, (i, problem)
        full: Table = stickers[chain[-1]]
        for other in chain[-2::-1]:
            full = _over(full, stickers[other])
        done.append({**full, "like": table["like"]} if len(chain) > 1 else table)
    return done, None


def area_owners(stickers: Sequence[Table], number: int) -> list[int | None]:
    """Which table of its own each area of a sticker comes from, written out.

    Parameters
    ----------
    stickers : sequence of mapping
        All of them, as they are written.
    number : int
        Which one.

    Returns
    -------
    list of int or None
        For each area of the sticker written out the number of its own table that counts; None for one that
        it has from another sticker as it is.
    """
    own = _list_of(stickers[number])
    if stickers[number].get("like") is None:
        return list(range(len(own)))
    # Without its own tables it has those of the other one.
    bare = {**stickers[number]}
    bare.pop("area", None)
    full, _ = written_out([bare if i == number else sticker for i, sticker in enumerate(stickers)])
    names = [_name(area) for area in _list_of(full[number])]
    owners: list[int | None] = [None] * len(names)
    for j, area in enumerate(own):
        changes = isinstance(area, dict) and "name" in area and "at" not in area
        places = [i for i, name in enumerate(names) if changes and name == area["name"]]
        for i in places:
            owners[i] = j
        if not places:
            owners.append(j)
            names.append(_name(area))
    return owners


def _list_of(sticker: Table) -> list[Any]:
    areas = sticker.get("area")
    return areas if isinstance(areas, list) else []


def copy_names(name: str, copies: int) -> list[str]:
    """Names of the copies of a sticker, its own first: "crab", "crab-2", "crab-3"."""
    return [name, *(f"{name}-{number}" for number in range(2, copies + 1))]


def _chain(stickers: Sequence[Table], by_name: Mapping[Any, int], i: int) -> tuple[list[int], str | None]:
    """The sticker, the one that it is like, the one which that is like, and so on."""
    chain = [i]
    while (name := stickers[chain[-1]].get("like")) is not None:
        if not isinstance(name, str) or name not in by_name:
            return chain, "which is not the name of a sticker"
        if by_name[name] in chain:
            return chain, "which leads back to itself"
        chain.append(by_name[name])
    return chain, None


def _over(base: Table, own: Table) -> Table:
    taken = {key: value for key, value in base.items() if key not in _OWN}
    full = {**taken, **own}
    if isinstance(taken.get("cut"), dict) and isinstance(own.get("cut"), dict):
        full["cut"] = {**taken["cut"], **own["cut"]}
    if isinstance(taken.get("area"), list) and isinstance(own.get("area"), list):
        full["area"] = _areas(taken["area"], own["area"])
    return full


def _areas(base: Sequence[Any], own: Sequence[Any]) -> list[Any]:
    """Areas of the one sticker, changed by name, and then those that are new."""
    areas = list(base)
    for area in own:
        changes = isinstance(area, dict) and "name" in area and "at" not in area
        places = [i for i, other in enumerate(areas) if changes and _name(other) == area["name"]]
        for i in places:
            areas[i] = {**areas[i], **area}
        if not places:
            areas.append(area)
    return areas


def _name(area: Any) -> Any:
    return area.get("name") if isinstance(area, dict) else None
