"""What keeps a text from being TOML, said in one sentence with its line and what to write instead.

Method: `tomllib` finds the place; rules then look at the line as its author wrote it, the most telling one
first. Limits: only the first mistake of a file is told, and where no rule knows it, only its place.
"""

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["syntax_problem"]

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_STRING = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_CURLY = re.compile("[\u2018\u2019\u201a\u201c\u201d\u201e\u00ab\u00bb]")
_LENGTH = re.compile(r"(?<![\w.+-])([+-]?\d+(?:[.,]\d+)?)\s*(mm|cm|m|in|pt|px|%)(?!\w)")
_COMMA_NUMBER = re.compile(r"(\d+),(\d+)")
_COLOUR = re.compile(r"#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b")
_KEY = re.compile(r"\s*([\w.-]+)\s*=\s*")
_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]")
_BAD_ESCAPE = re.compile(r'\\(?!["\\bfnrt]|u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8})')
_DOUBLE_QUOTED = re.compile(r'"([^"]*)"')


@dataclass(frozen=True, slots=True)
class _Place:
    """Where reading stopped.

    Parameters
    ----------
    lines : list of str
        The whole text.
    number, column : int
        Counted from 1.
    """

    lines: list[str]
    number: int
    column: int

    @property
    def line(self) -> str:
        """The line as it was written."""
        return self.lines[self.number - 1] if self.number <= len(self.lines) else ""

    @property
    def bare(self) -> str:
        """The line without what stands in quotes, and without its comment."""
        return _STRING.sub('""', self.line).split("#")[0]

    @property
    def key(self) -> str:
        """The key that the line gives a value to, with its equals sign; empty where there is none."""
        found = _KEY.match(self.line)
        return f"{found[1]} = " if found else ""

    @property
    def value(self) -> str:
        """What stands behind the equals sign, without a comment."""
        return _KEY.sub("", self.line, count=1).split(" #")[0].strip()


def syntax_problem(text: str, error: tomllib.TOMLDecodeError) -> str:
    """Why a text is no TOML.

    Parameters
    ----------
    text : str
        The document.
    error : TOMLDecodeError
        What `tomllib` says of it.

    Returns
    -------
    str
        A sentence that begins with "line N: ".
    """
    lines = text.replace("\r\n", "\n").split("\n")
    found = _PLACE.search(str(error))
    at_end = len(text.rstrip().split("\n"))
    place = _Place(lines, *map(int, found.groups())) if found else _Place(lines, at_end, 1)
    for rule in _RULES:
        said = rule(place)
        if said is not None:
            number, sentence = said
            return f"line {number}: {sentence}"
    return (
        f"line {place.number}: not valid TOML from its sign {place.column} on: "
        'look there for a missing quote, comma or bracket, as in width = "38 mm".'
    )


_Said = tuple[int, str] | None


def _curly_quotes(place: _Place) -> _Said:
    found = _CURLY.search(place.bare)
    if found is None:
        return None
    mended = _CURLY.sub('"', place.line).strip()
    return place.number, f"{found[0]} is a curly quote: write straight ones, {_cut(mended, 60)}."


def _unquoted_length(place: _Place) -> _Said:
    found = _LENGTH.search(place.bare)
    if found is None or not _KEY.match(place.line):
        return None
    length = f"{found[1].replace(',', '.')} {found[2]}"
    if found[2] == "%":
        share = float(found[1].replace(",", ".")) / 100
        return place.number, f"percent are written as a fraction from 0 to 1: write {share:g} for {found[0]}."
    key = place.key if place.value.startswith(found[1]) else ""
    return place.number, f'{found[0]} stands without quotes: write {key}"{length}".'


def _backslashes(place: _Place) -> _Said:
    for found in _DOUBLE_QUOTED.finditer(place.line):
        if _BAD_ESCAPE.search(found[1]):
            path = found[1].replace("\\\\", "\\").replace("\\", "/")
            return (
                place.number,
                f'a backslash changes the letter behind it: write {place.key}"{_cut(path, 60)}".',
            )
    return None


def _open_quote(place: _Place) -> _Said:
    for quote in ('"""', "'''"):
        holding = [number for number, line in enumerate(place.lines, 1) if line.count(quote) % 2]
        if len(holding) % 2:
            return holding[-1], f"the text that {quote} opens is never closed: end it with {quote}."
    rest = _STRING.sub("", place.line).split("#")[0]
    for quote in ('"', "'"):
        if quote in rest:
            return place.number, (
                f"a quote is opened and never closed: there must be a {quote} before and behind each text, "
                'as in width = "38 mm".'
            )
    return None


def _table_twice(place: _Place) -> _Said:
    found = _HEADER.match(place.line)
    if found is None:
        return None
    brackets, name = found.groups()
    for number, line in enumerate(place.lines[: place.number - 1], 1):
        earlier = _HEADER.match(line)
        if earlier is not None and earlier[2] == name:
            return _twice(place.number, number, brackets, earlier[1], name)
    return None


def _twice(number: int, first: int, brackets: str, earlier: str, name: str) -> _Said:
    if earlier == "[" and name.split(".")[-1] in _REPEATED:
        where = number if brackets == "[" else first
        return where, f"[{name}] wants double brackets, as there may be several: write [[{name}]]."
    if brackets != earlier:
        other = f"{earlier}{name}{']' * len(earlier)}"
        return (
            number,
            f"{name} has {len(brackets)} brackets here and is {other} on line {first}: write both alike.",
        )
    return number, f"[{name}] stands here a second time: put its keys under the first one, on line {first}."


# Tables of which a job may hold several.
_REPEATED = ("sticker", "lettering", "area", "zone", "touch", "repeat")


def _key_twice(place: _Place) -> _Said:
    found = _KEY.match(place.line)
    if found is None:
        return None
    for number in range(place.number - 1, 0, -1):
        line = place.lines[number - 1]
        if _HEADER.match(line):
            return None
        earlier = _KEY.match(line)
        if earlier is not None and earlier[1] == found[1]:
            return (
                place.number,
                f"{found[1]} stands twice in one table, first on line {number}: take one out.",
            )
    return None


def _open_bracket(place: _Place) -> _Said:
    header = place.bare.strip()
    if header.startswith("[") and "=" not in header:
        count = 2 if header.startswith("[[") else 1
        name = header.strip("[] \t")
        if not header.endswith("]" * count) or header.count("[") != header.count("]"):
            return place.number, f"a bracket is missing: write {'[' * count}{_cut(name)}{']' * count}."
        return None
    opened = _opened(place)
    if opened is None:
        return None
    number, bracket = opened
    closing = "]" if bracket == "[" else "}"
    return (
        number,
        f"{bracket} is opened and not closed, or a comma is missing behind it: end it with {closing}.",
    )


def _opened(place: _Place) -> tuple[int, str] | None:
    """The innermost bracket of a value that is still open at the place, and its line."""
    stack: list[tuple[int, str]] = []
    for number, line in enumerate(place.lines[: place.number], 1):
        if _HEADER.match(line) and not stack:
            continue
        for sign in _STRING.sub('""', line).split("#")[0]:
            if sign in "[{":
                stack.append((number, sign))
            elif sign in "]}" and stack:
                stack.pop()
    return stack[-1] if stack else None


def _no_equals(place: _Place) -> _Said:
    found = re.match(r"\s*([\w-]+)\s*:?\s*(\S.*)?$", place.line.split(" #")[0])
    if found is None or "=" in place.bare:
        spaced = re.match(r"\s*((?:[\w-]+\s+)+[\w-]+)\s*=", place.bare)
        if spaced is None:
            return None
        joined = "-".join(spaced[1].split())
        return place.number, f'a name with spaces stands without quotes: write "{spaced[1]}" or {joined}.'
    return (
        place.number,
        f'there is no "=" between key and value: write {found[1]} = {_cut(found[2] or "...")}.',
    )


def _no_value(place: _Place) -> _Said:
    found = _KEY.match(place.line)
    if found is None:
        return None
    if _COLOUR.match(place.value):
        return place.number, f'a colour stands in quotes: write {place.key}"{place.value.split()[0]}".'
    if not place.value or place.value.startswith("#"):
        return place.number, f'{found[1]} has no value: write one behind the "=", as in width = "38 mm".'
    return None


def _bare_value(place: _Place) -> _Said:
    if not place.key:
        return None
    number = _COMMA_NUMBER.fullmatch(place.value)
    if number is not None:
        return place.number, f"{place.value} has a comma: write {place.key}{number[1]}.{number[2]}."
    if place.value.lower() in ("true", "false"):
        return place.number, f"{place.value} is written small: {place.key}{place.value.lower()}."
    if re.match(r"[^\W\d_]", place.value) and '"' not in place.value:
        return place.number, f'a text stands in quotes: write {place.key}"{_cut(place.value)}".'
    return None


def _cut(text: str, most: int = 40) -> str:
    line = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return line if len(line) <= most else f"{line[:most]}..."


_RULES: tuple[Callable[[_Place], _Said], ...] = (
    _curly_quotes,
    _backslashes,
    _no_value,
    _open_quote,
    _unquoted_length,
    _table_twice,
    _key_twice,
    _bare_value,
    _no_equals,
    _open_bracket,
)
