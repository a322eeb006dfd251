"""Where each key of a TOML document stands.

Limits: it relies on the text being valid TOML (see `limner.job.layout`).
"""

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping

from limner.job.layout import KeyPath, Pair, Value, layout_of

__all__ = ["KeyPath", "nearest_line", "toml_lines"]


def toml_lines(text: str) -> dict[KeyPath, int]:
    """Map every key path of a valid TOML document to its line, counted from 1.

    Parameters
    ----------
    text : str
        The document; `tomllib` must accept it.

    Returns
    -------
    dict of KeyPath to int
        Tables and entries of arrays of tables are keys, too; entries of arrays are found by their index.
    """
    text = text.replace("\r\n", "\n")
    line_feeds = [match.start() for match in re.finditer("\n", text)]
    lines: dict[KeyPath, int] = {}
    for path, start in _places(text):
        line = bisect_left(line_feeds, start) + 1
        for length in range(1, len(path) + 1):
            lines.setdefault(path[:length], line)
    return lines


def nearest_line(lines: Mapping[KeyPath, int], path: KeyPath) -> int | None:
    """Line of `path`, or of the nearest enclosing thing that has one."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def _places(text: str) -> Iterator[tuple[KeyPath, int]]:
    """Every header, key and entry of an array with its first character, in order."""
    for block in layout_of(text).blocks:
        yield block.path, block.start
        yield from _places_of(block.pairs, block.path)


def _places_of(pairs: list[Pair], table: KeyPath) -> Iterator[tuple[KeyPath, int]]:
    for pair in pairs:
        path = (*table, *pair.path)
        yield path, pair.start
        yield from _places_in(pair.value, path)


def _places_in(value: Value, path: KeyPath) -> Iterator[tuple[KeyPath, int]]:
    yield from _places_of(value.pairs, path)
    for index, item in enumerate(value.items):
        yield (*path, index), item.start
        yield from _places_in(item, (*path, index))
