"""Where each key, value and table of a TOML document stands, to the character.

Method: one pass over a text that `tomllib` has already accepted, which keeps the structure (headers, keys,
arrays and inline tables) with the place of each. Limits: it relies on the text being valid TOML, and reads no
values but keys.
"""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field

__all__ = ["Block", "KeyPath", "Layout", "Pair", "Value", "layout_of"]

KeyPath = tuple[str | int, ...]
"""Path of a value in the document, such as ("sticker", 0, "cut", "form")."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN_VALUE = re.compile(r"[^,\]}#\n]*")


@dataclass(slots=True)
class Value:
    """A value of a pair, or an entry of an array.

    Parameters
    ----------
    start, end : int
        Its first character, and the one behind its last.
    kind : {"plain", "list", "table"}
        An inline table is a "table".
    items : list of Value
        Entries of an array.
    pairs : list of Pair
        Those of an inline table; their paths begin at the table.
    """

    start: int
    end: int = 0
    kind: str = "plain"
    items: list["Value"] = field(default_factory=list)
    pairs: list["Pair"] = field(default_factory=list)

    def at(self, path: KeyPath) -> "Value | None":
        """The value that a path from here leads to."""
        if not path:
            return self
        if isinstance(path[0], int):
            return self.items[path[0]].at(path[1:]) if 0 <= path[0] < len(self.items) else None
        return _among(self.pairs, path)


@dataclass(slots=True)
class Pair:
    """A key with its value.

    Parameters
    ----------
    path : KeyPath
        Its keys, from the table in which it stands.
    start : int
        First character of the key.
    value : Value
        What stands behind the equals sign.
    """

    path: KeyPath
    start: int
    value: Value


@dataclass(slots=True)
class Block:
    """A header and the pairs under it, up to the next header.

    Parameters
    ----------
    path : KeyPath
        The table; () before the first header.
    start, end : int
        First character of the header, and the one behind its last; 0 before the first header.
    pairs : list of Pair
        What stands under it.
    """

    path: KeyPath
    start: int = 0
    end: int = 0
    pairs: list[Pair] = field(default_factory=list)

    @property
    def last(self) -> int:
        """Behind the last character of its last pair, or of its header."""
        return self.pairs[-1].value.end if self.pairs else self.end


@dataclass(slots=True)
class Layout:
    """The blocks of a document in order; the first has no header."""

    text: str
    blocks: list[Block]

    def value(self, path: KeyPath) -> Value | None:
        """The value written at a path, wherever it stands; None for tables that have headers."""
        for block in self.blocks:
            depth = len(block.path)
            if block.path == path[:depth] and len(path) > depth:
                found = _among(block.pairs, path[depth:])
                if found is not None:
                    return found
        return None

    def under(self, path: KeyPath) -> list[Block]:
        """The block of a table and those of the tables in it, in order."""
        return [block for block in self.blocks if block.path and block.path[: len(path)] == path]

    def block(self, path: KeyPath) -> Block | None:
        """The block of one table."""
        return next((block for block in self.blocks if block.path == path), None)

    def dotted(self, path: KeyPath) -> list[tuple[Block, Pair]]:
        """Pairs whose dotted keys lead into a table that is written nowhere else."""
        return [
            (block, pair)
            for block in self.blocks
            for pair in block.pairs
            if len(block.path) < len(path) < len(block.path) + len(pair.path)
            and (*block.path, *pair.path)[: len(path)] == path
        ]

    def count(self, path: KeyPath) -> int:
        """How many tables in double brackets there are of a name."""
        depth = len(path)
        return sum(len(block.path) == depth + 1 and block.path[:depth] == path for block in self.blocks)


def layout_of(text: str) -> Layout:
    """Find every key of a valid TOML document.

    Parameters
    ----------
    text : str
        The document; `tomllib` must accept it.

    Returns
    -------
    Layout
    """
    return _Reader(text).read()


def _among(pairs: list[Pair], path: KeyPath) -> Value | None:
    for pair in pairs:
        depth = len(pair.path)
        if pair.path == path[:depth]:
            return pair.value.at(path[depth:])
    return None


class _Reader:
    def __init__(self, text: str) -> None:
        self.text, self.place = text, 0
        self.counts: dict[KeyPath, int] = {}

    def read(self) -> Layout:
        blocks = [Block(())]
        for _ in self._things(""):
            if self.text[self.place] == "[":
                blocks.append(self._header())
            else:
                blocks[-1].pairs.append(self._pair())
        return Layout(self.text, blocks)

    def _things(self, closing: str) -> Iterator[None]:
        """Stop at each thing up to the closing sign, over blanks, comments and commas."""
        self._skip()
        while self.place < len(self.text) and self.text[self.place] != closing:
            yield
            self._skip()
            if closing and self.text[self.place] == ",":
                self.place += 1
                self._skip()

    def _skip(self) -> None:
        match = _BLANK.match(self.text, self.place)
        assert match is not None
        self.place = match.end()

    def _header(self) -> Block:
        start, repeated = self.place, self.text.startswith("[[", self.place)
        self.place += 2 if repeated else 1
        keys = self._keys()
        path = self._inside(keys[:-1] if repeated else keys)
        if repeated:
            path = (*path, keys[-1])
            number = self.counts.get(path, 0)
            self.counts[path] = number + 1
            path = (*path, number)
        self.place += 2 if repeated else 1
        return Block(path, start, self.place)

    def _inside(self, keys: KeyPath) -> KeyPath:
        """A path of names with the numbers of the tables in double brackets that were begun last."""
        path: KeyPath = ()
        for key in keys:
            path = (*path, key)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return path

    def _pair(self) -> Pair:
        start, keys = self.place, self._keys()
        self.place += 1  # the equals sign
        self._skip()
        return Pair(keys, start, self._value())

    def _keys(self) -> KeyPath:
        keys: list[str] = []
        while True:
            self._skip()
            keys.append(self._key())
            self._skip()
            if self.text[self.place] != ".":
                return tuple(keys)
            self.place += 1

    def _key(self) -> str:
        start = self.place
        if self.text[start] not in "\"'":
            match = _BARE_KEY.match(self.text, start)
            assert match is not None
            self.place = match.end()
            return match[0]
        self._string()
        return next(iter(tomllib.loads(f"{self.text[start : self.place]} = 0")))

    def _value(self) -> Value:
        value = Value(self.place)
        first = self.text[self.place]
        if first in "\"'":
            self._string()
        elif first == "[":
            value.kind = "list"
            self.place += 1
            value.items = [self._value() for _ in self._things("]")]
            self.place += 1
        elif first == "{":
            value.kind = "table"
            self.place += 1
            value.pairs = [self._pair() for _ in self._things("}")]
            self.place += 1
        else:
            match = _PLAIN_VALUE.match(self.text, self.place)
            assert match is not None
            self.place = value.start + len(match[0].rstrip())
        value.end = self.place
        return value

    def _string(self) -> None:
        quote = self.text[self.place]
        closing = quote * 3 if self.text.startswith(quote * 3, self.place) else quote
        self.place += len(closing)
        while not self.text.startswith(closing, self.place):
            self.place += 2 if quote == '"' and self.text[self.place] == "\\" else 1
        self.place += len(closing)
        # A text of several lines may end in up to two quotes of its own before the closing three.
        while len(closing) == 3 and self.text.startswith(quote, self.place):
            self.place += 1
