"""Where each key of a TOML document stands.

Method: one pass over a text that `tomllib` has already accepted, which keeps only the structure (table
headers, keys, arrays of tables, inline tables) and skips over the values. Limits: it relies on the text
being valid TOML; it does not read values.
"""

import re
from bisect import bisect_left
from collections.abc import Mapping

__all__ = ["KeyPath", "nearest_line", "toml_lines"]

KeyPath = tuple[str | int, ...]
"""Path of a value in the document, such as ("sticker", 0, "cut", "form")."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN_VALUE = re.compile(r"[^,\]}#\n]*")
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))", re.DOTALL)
_SIMPLE_ESCAPES = {"n": "\n", "t": "\t", "r": "\r", "b": "\b", "f": "\f", "e": "\x1b"}


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
    return _Scanner(text.replace("\r\n", "\n")).scan()


def nearest_line(lines: Mapping[KeyPath, int], path: KeyPath) -> int | None:
    """Line of `path`, or of the nearest enclosing thing that has one."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line_feeds = [match.start() for match in re.finditer("\n", text)]
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}

    def scan(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        self._skip_blank()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip_blank()
        return self.lines

    def _line(self) -> int:
        return bisect_left(self.line_feeds, self.at) + 1

    def _skip_blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        assert match is not None
        self.at = match.end()

    def _note(self, path: KeyPath) -> None:
        line = self._line()
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _inside(self, keys: list[str]) -> KeyPath:
        """Path of a table, the last entry taken where a part of it is an array of tables."""
        path: KeyPath = ()
        for key in keys:
            path = (*path, key)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return path

    def _header(self) -> KeyPath:
        repeated = self.text.startswith("[[", self.at)
        self.at += 2 if repeated else 1
        keys = self._dotted_key()
        if repeated:
            array = (*self._inside(keys[:-1]), keys[-1])
            path: KeyPath = (*array, self.counts.get(array, 0))
            self.counts[array] = self.counts.get(array, 0) + 1
        else:
            path = self._inside(keys)
        self._note(path)
        self.at += 2 if repeated else 1
        return path

    def _pair(self, table: KeyPath) -> None:
        path = table
        for key in self._dotted_key():
            path = (*path, key)
        self._note(path)
        self.at += 1  # the equals sign
        self._skip_blank()
        self._value(path)

    def _dotted_key(self) -> list[str]:
        keys = []
        while True:
            self._skip_blank()
            keys.append(self._key())
            self._skip_blank()
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def _key(self) -> str:
        if self.text[self.at] in "\"'":
            start, quote = self.at, self.text[self.at]
            self._string()
            raw = self.text[start + 1 : self.at - 1]
            return _ESCAPE.sub(_unescape, raw) if quote == '"' else raw
        match = _BARE_KEY.match(self.text, self.at)
        assert match is not None
        self.at = match.end()
        return match[0]

    def _string(self) -> None:
        quote = self.text[self.at]
        closing = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.at += len(closing)
        while not self.text.startswith(closing, self.at):
            self.at += 2 if quote == '"' and self.text[self.at] == "\\" else 1
        self.at += len(closing)
        # A multi-line string may end in up to two quotes of its own before the closing three.
        while len(closing) == 3 and self.text.startswith(quote, self.at):
            self.at += 1

    def _value(self, path: KeyPath) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self._string()
        elif first == "[":
            self._array(path)
        elif first == "{":
            self._inline_table(path)
        else:
            match = _PLAIN_VALUE.match(self.text, self.at)
            assert match is not None
            self.at = match.end()

    def _array(self, path: KeyPath) -> None:
        self.at += 1
        index = 0
        self._skip_blank()
        while self.text[self.at] != "]":
            self._note((*path, index))
            self._value((*path, index))
            index += 1
            self._skip_comma()
        self.at += 1

    def _inline_table(self, path: KeyPath) -> None:
        self.at += 1
        self._skip_blank()
        while self.text[self.at] != "}":
            self._pair(path)
            self._skip_comma()
        self.at += 1

    def _skip_comma(self) -> None:
        self._skip_blank()
        if self.text[self.at] == ",":
            self.at += 1
            self._skip_blank()


def _unescape(match: re.Match[str]) -> str:
    code = match[1] or match[2]
    return chr(int(code, 16)) if code else _SIMPLE_ESCAPES.get(match[3], match[3])
