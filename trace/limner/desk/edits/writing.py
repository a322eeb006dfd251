"""Values and tables as a job file has them."""

import math
import re
from collections.abc import Iterable, Mapping
from typing import Any

from limner.errors import InputError
from limner.job import KeyPath

__all__ = ["block_text", "key_text", "names_of", "value_text"]

_BARE = re.compile(r"[A-Za-z0-9_-]+")

# Beyond this many signs a list goes on several lines: the width of the demo job.
_WIDTH = 108

# Tables of a table that are written under a header of their own; others stand in one line.
_TABLES, _REPEATED = ("cut",), ("area", "zone", "touch", "repeat")

_DEEPER = "  "


def key_text(key: str) -> str:
    """A key, in quotes where it needs them."""
    return key if _BARE.fullmatch(key) else _quoted(key)


def names_of(path: KeyPath) -> str:
    """The names of a path, as a header has them: sticker.area."""
    return ".".join(key_text(key) for key in path if isinstance(key, str))


def value_text(value: Any, indent: str = "") -> str:
    """A value in TOML; a long list on several lines.

    Raises
    ------
    InputError
        TOML has no such value.
    """
    line = _line(value)
    if not isinstance(value, list) or len(line) <= _WIDTH:
        return line
    rows, row = [], ""
    for item in value:
        text = f"{_line(item)},"
        if row and len(indent + _DEEPER + row) + len(text) >= _WIDTH:
            rows.append(row)
            row = ""
        row = f"{row} {text}" if row else text
    inner = "".join(f"{indent}{_DEEPER}{row}\n" for row in [*rows, row])
    return f"[\n{inner}{indent}]"


def block_text(path: KeyPath, table: Mapping[str, Any], *, indent: str, repeated: bool) -> str:
    """A table under its header, and the tables in it under theirs.

    Parameters
    ----------
    path : KeyPath
        Of the table; numbers in it are passed over.
    table : mapping
        Its keys.
    indent : str
        What stands before each line.
    repeated : bool
        Whether there may be several: double brackets.
    """
    name = names_of(path)
    lines = [f"{indent}[[{name}]]" if repeated else f"{indent}[{name}]"]
    inner: list[str] = []
    for key, value in table.items():
        if key in _TABLES and isinstance(value, Mapping):
            inner.append(block_text((*path, key), value, indent=indent + _DEEPER, repeated=False))
        elif key in _REPEATED and _are_tables(value):
            inner += [
                block_text((*path, key), item, indent=indent + _DEEPER, repeated=True) for item in value
            ]
        else:
            lines.append(f"{indent}{key_text(key)} = {value_text(value, indent)}")
    return "".join([*(f"{line}\n" for line in lines), *(f"\n{block}" for block in inner)])


def _are_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, Mapping) for item in value)


def _line(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float) and math.isfinite(value):
        return repr(value)
    if isinstance(value, list):
        return f"[{', '.join(_line(item) for item in value)}]"
    if isinstance(value, Mapping):
        return _inline(value.items())
    raise InputError(f"A job file has no value such as {str(value)[:40]}: give a text, a number or a list.")


def _inline(pairs: Iterable[tuple[str, Any]]) -> str:
    text = ", ".join(f"{key_text(key)} = {_line(value)}" for key, value in pairs)
    return f"{{ {text} }}" if text else "{}"


def _quoted(text: str) -> str:
    import tomlkit

    try:
        text.encode("utf-8")
        return tomlkit.item(text).as_string()
    except UnicodeEncodeError:
        raise InputError("A text holds half a character: write it anew.") from None
