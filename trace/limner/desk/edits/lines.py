"""Lines of a text around a place: where they begin and end, and which comments belong to a table."""

import re

__all__ = ["behind_line", "behind_table", "first_of", "indent_at", "line_start"]

_INDENT = re.compile(r"[ \t]*")


def line_start(text: str, place: int) -> int:
    """First character of the line of a place."""
    return text.rfind("\n", 0, place) + 1


def behind_line(text: str, place: int) -> int:
    """Behind the line feed of the line of a place; at the end of a text without one."""
    found = text.find("\n", place)
    return len(text) if found < 0 else found + 1


def indent_at(text: str, place: int) -> str:
    """Blanks before the first sign of the line of a place."""
    match = _INDENT.match(text, line_start(text, place))
    assert match is not None
    return match[0]


def first_of(text: str, header: int) -> int:
    """Where a table begins: at the comments right above its header, if a blank line is above them.

    Parameters
    ----------
    text : str
        The document.
    header : int
        A place in the line of the header.
    """
    start = place = line_start(text, header)
    while place > 0:
        above = line_start(text, place - 1)
        line = text[above:place].strip()
        if not line.startswith("#"):
            return place if not line else start
        place = above
    return place


def behind_table(text: str, last: int) -> int:
    """Where a table ends: behind its last pair, and the comments that follow without a blank line.

    Parameters
    ----------
    text : str
        The document.
    last : int
        Behind the last character of the last pair, or of the header.
    """
    place = behind_line(text, last)
    while place < len(text):
        end = behind_line(text, place)
        if not text[place:end].strip().startswith("#"):
            break
        place = end
    return place
