"""What the command says of itself: the help of `limner` as a whole.

It is put together here, not by the library that reads the arguments of a command: loading that takes as long
as Python itself takes to start.
"""

import os
import sys

__all__ = ["COMMANDS", "columns", "overview"]

COMMANDS = {
    "trace": "sketches to closed, filled shapes (SVG)",
    "sheet": "a job to a press-ready sheet (SVG, PDF, proof, reports)",
    "check": "only check a job",
    "new": "a complete demo job",
    "desk": "every decision on the drawing itself, in the browser",
}

_OPTIONS = {"-h, --help": "show this help message and exit", "--version": "show the version and exit"}

_WHAT = "Turns photographed pencil sketches into closed, filled shapes and press-ready sticker sheets."

_LENGTHS = 'Lengths take a unit: "2.5 mm", "10 pt", "0.1in"; a bare number is millimetres.'

# Columns where there is no terminal to ask: common practice.
_WIDTH = 80

# Where the explanations begin, and the fewest columns that they get.
_INDENT = 14
_LEAST = 20


def columns() -> int:
    """Columns for help: those of the terminal, less a margin."""
    width = os.environ.get("COLUMNS", "")
    wide = int(width) if width.isdecimal() else 0
    if not wide:
        try:
            wide = os.get_terminal_size(sys.stdout.fileno()).columns
        except (OSError, ValueError, AttributeError):
            wide = 0
    return max((wide or _WIDTH) - 2, _INDENT + _LEAST)


def overview() -> str:
    """The help of `limner`, as wide as the terminal."""
    width = columns()
    return "\n".join(
        [
            "usage: limner [-h] [--version] COMMAND ...",
            "",
            *_filled(_WHAT, width),
            "",
            "commands (limner COMMAND --help tells more):",
            *_table(COMMANDS, width),
            "",
            "options:",
            *_table(_OPTIONS, width),
            "",
            *_filled(_LENGTHS, width),
        ]
    )


def _table(rows: dict[str, str], width: int) -> list[str]:
    lines = []
    for name, what in rows.items():
        first, *further = _filled(what, width - _INDENT)
        lines += [f"{'  ' + name:{_INDENT}}{first}", *(" " * _INDENT + line for line in further)]
    return lines


def _filled(text: str, width: int) -> list[str]:
    """Lines of whole words, as long as fit."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
