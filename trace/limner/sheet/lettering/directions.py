"""In which order and direction the letters of a line stand: Unicode's bidirectional algorithm (UAX #9).

Method: the algorithm itself is a library's (python-bidi), which gives a line as it is shown but not what went
where. So every letter is followed, in the line that the library is given, by a number of its own: two
characters of the class "boundary neutral", which the algorithm skips and keeps beside the letter before them
(UAX #9, 5.2). Read off the result, the numbers tell the order; the order of a number's two digits tells the
direction of its letter.

Limits: a line is a paragraph of its own, and has at most `LONGEST_LINE` letters.
"""

import unicodedata
from dataclasses import dataclass

__all__ = ["LONGEST_LINE", "Run", "is_digit_sign", "visual_runs"]

# Digits of the numbers, from the block of tags: two of them make the number of a letter.
_BASE = 48
_FIRST, _SECOND = 0xE0020, 0xE0020 + _BASE

LONGEST_LINE = _BASE**2
"""How many letters of a line can be numbered."""

_RTL_ISOLATE, _LTR_ISOLATE, _END_ISOLATE = "\u2067", "\u2066", "\u2069"
_ISOLATES = ("\u2066", "\u2067", "\u2068")

# Classes that a mark after them does not belong to.
_FORMATS = frozenset({"BN", "LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})

# What ends no isolate is a neutral like this one, which ends none by mistake.
_NEUTRAL = "\N{BULLET}"


@dataclass(frozen=True, slots=True)
class Run:
    """Letters beside each other that run in one direction.

    Parameters
    ----------
    start, end : int
        The part of the line, in reading order.
    is_rtl : bool
        Whether they run from right to left.
    """

    start: int
    end: int
    is_rtl: bool


def is_digit_sign(character: str) -> bool:
    """Whether a character is one of those that number letters here, and so may not stand in a text."""
    return _FIRST <= ord(character) < _SECOND + _BASE


def visual_runs(line: str) -> list[Run]:
    """The runs of a line as they stand from left to right.

    Parameters
    ----------
    line : str
        In reading order, without line feeds and without the characters that `is_digit_sign` knows.

    Returns
    -------
    list of Run
        Every letter of the line lies in one of them.
    """
    if not _needs_order(line):
        return [Run(0, len(line), is_rtl=False)] if line else []
    from bidi import get_base_level

    # Blanks at the end stand at the end of the line, whatever is before them (UAX #9, rule L1).
    text = line.rstrip()
    base_is_rtl = bool(get_base_level(line))
    runs = _joined(_ordered(text, base_is_rtl))
    if len(text) < len(line):
        blank = Run(len(text), len(line), base_is_rtl)
        runs = [blank, *runs] if base_is_rtl else [*runs, blank]
    return runs


def _needs_order(line: str) -> bool:
    """Whether anything in a line may run from right to left."""
    return any(unicodedata.bidirectional(c) in ("R", "AL", "AN", "RLE", "RLO", "RLI", "FSI") for c in line)


def _ordered(text: str, base_is_rtl: bool) -> list[Run]:
    """Letters with their marks, each a run, from left to right."""
    from bidi import get_display

    letters = _letters(text)
    numbered, open_isolates = [], 0
    for number, (start, end) in enumerate(letters):
        part = text[start:end]
        if part in _ISOLATES:
            open_isolates += 1
        elif part == _END_ISOLATE:
            part, open_isolates = (part, open_isolates - 1) if open_isolates else (_NEUTRAL, 0)
        numbered.append(part + chr(_FIRST + number // _BASE) + chr(_SECOND + number % _BASE))
    # Between two letters and isolated from them, so that the last numbers do not count as the line's end.
    begin = _RTL_ISOLATE if base_is_rtl else _LTR_ISOLATE
    shown = str(get_display(f"a{begin}{''.join(numbered)}{_END_ISOLATE * (open_isolates + 1)}a"))
    digits = [ord(c) for c in shown if is_digit_sign(c)]
    return [_numbered(letters, *pair) for pair in zip(digits[::2], digits[1::2], strict=True)]


def _numbered(letters: list[tuple[int, int]], left: int, right: int) -> Run:
    """The letter whose number stands beside it."""
    is_rtl = left >= _SECOND
    high, low = (right, left) if is_rtl else (left, right)
    return Run(*letters[(high - _FIRST) * _BASE + low - _SECOND], is_rtl)


def _letters(text: str) -> list[tuple[int, int]]:
    """Start and end of every letter with the marks on it, which go where it goes (rule W1)."""
    letters: list[tuple[int, int]] = []
    for index, character in enumerate(text):
        on_a_letter = letters and unicodedata.bidirectional(text[letters[-1][0]]) not in _FORMATS
        if on_a_letter and unicodedata.bidirectional(character) == "NSM":
            letters[-1] = letters[-1][0], index + 1
        else:
            letters.append((index, index + 1))
    return letters


def _joined(runs: list[Run]) -> list[Run]:
    """Letters that follow each other in reading order and run the same way, as one run."""
    joined: list[Run] = []
    for run in runs:
        last = joined[-1] if joined else None
        if last is not None and last.is_rtl == run.is_rtl:
            if not run.is_rtl and last.end == run.start:
                joined[-1] = Run(last.start, run.end, is_rtl=False)
                continue
            if run.is_rtl and last.start == run.end:
                joined[-1] = Run(run.start, last.end, is_rtl=True)
                continue
        joined.append(run)
    return joined
