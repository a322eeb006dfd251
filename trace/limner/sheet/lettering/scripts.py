"""Runs of one script: what a shaping engine takes at a time.

Method: each letter has the script that Unicode's data give it (UAX #24); what is common to scripts, such as
blanks and digits, goes with the letter before it, or at the start of a line with the first that has a script.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from limner.sheet.lettering.directions import Run

__all__ = ["ScriptRun", "script_runs"]

# ISO 15924: common, inherited and unknown.
_OF_NONE = ("Zyyy", "Zinh", "Zzzz")


@dataclass(frozen=True, slots=True)
class ScriptRun:
    """A run of one direction and one script.

    Parameters
    ----------
    start, end : int
        The part of the line, in reading order.
    is_rtl : bool
        Whether it runs from right to left.
    script : str
        Its code by ISO 15924.
    """

    start: int
    end: int
    is_rtl: bool
    script: str


def script_runs(line: str, runs: Sequence[Run]) -> list[ScriptRun]:
    """Runs of one direction cut where the script changes, still from left to right.

    Parameters
    ----------
    line : str
        In reading order.
    runs : sequence of Run
        From left to right, as they stand.
    """
    scripts = _scripts(line)
    cut: list[ScriptRun] = []
    for run in runs:
        parts = [list(part) for _, part in groupby(range(run.start, run.end), key=lambda at: scripts[at])]
        made = [ScriptRun(part[0], part[-1] + 1, run.is_rtl, scripts[part[0]]) for part in parts]
        cut += reversed(made) if run.is_rtl else made
    return cut


def _scripts(line: str) -> list[str]:
    from fontTools.unicodedata import script

    scripts = [script(letter) for letter in line]
    last = next((code for code in scripts if code not in _OF_NONE), "Zyyy")
    for at, code in enumerate(scripts):
        if code in _OF_NONE:
            scripts[at] = last
        else:
            last = code
    return scripts
