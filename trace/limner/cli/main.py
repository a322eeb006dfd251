"""The entry point: arguments in, exit code out, one sentence for every mistake."""

import argparse
import os
import sys
from collections.abc import Sequence

from limner._version import __version__
from limner.errors import InputError, LimnerError

# As in `typing`, which takes as long to import as Python itself takes to start.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any, NoReturn

__all__ = ["main"]

DONE, TO_MEND, UNUSABLE, INTERRUPTED = 0, 1, 2, 130


# Columns where there is no terminal to ask: common practice.
_WIDTH = 80


def _help_format(prog: str) -> argparse.HelpFormatter:
    """As wide as the terminal; argparse would load a third as much code again to find that out."""
    width = os.environ.get("COLUMNS", "")
    columns = int(width) if width.isdecimal() else 0
    if not columns:
        try:
            columns = os.get_terminal_size(sys.stdout.fileno()).columns
        except (OSError, ValueError, AttributeError):
            columns = 0
    return argparse.HelpFormatter(prog, width=(columns or _WIDTH) - 2)


class _Parser(argparse.ArgumentParser):
    """An argument parser that answers a mistake with one sentence."""

    def __init__(self, **options: "Any") -> None:
        super().__init__(**{"formatter_class": _help_format, **options})

    def error(self, message: str) -> "NoReturn":
        raise InputError(f"{message[:1].upper()}{message[1:]} (see: {self.prog} --help).")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="limner",
        description="Turns photographed pencil sketches into closed, filled shapes "
        "and press-ready sticker sheets.",
        epilog='Lengths take a unit: "2.5 mm", "10 pt", "0.1in"; a bare number is millimetres.',
    )
    parser.add_argument("--version", action="version", version=f"limner {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True, parser_class=_Parser)
    _add_trace(commands)
    _add_sheet(commands)
    return parser


def _add_trace(commands: "argparse._SubParsersAction[_Parser]") -> None:
    trace = commands.add_parser(
        "trace",
        help="sketches to closed, filled shapes (SVG)",
        description="Traces photographed or scanned sketches into closed, filled shapes.",
        epilog="With several sketches, or a folder of them, -o, --report and --proof name folders: "
        "NAME.svg, NAME.json and NAME-proof.png go there. A sketch that cannot be traced does not stop the "
        "others; it is named at the end.",
    )
    add = trace.add_argument
    add("sketch", metavar="SKETCH", nargs="+", help="JPEG, PNG, TIFF, WebP or HEIC; it is only read")
    add("-o", "--output", metavar="OUT.svg", help="where to write (default: beside the sketch)")
    add("--report", metavar="OUT.json", help="write what was found as JSON")
    add("--proof", metavar="OUT.png", help="write a picture of what happened")
    add("--width", metavar="LEN", help="true width of the whole page")
    add("--smoothing", metavar="LEN", help="largest distance between curve and drawn line")
    add("--nodes", metavar="N", help="budget of nodes for the whole drawing")
    add("--mirror", metavar="off|auto", default="off", help="complete a half-drawn figure (default: off)")
    add("--paper", metavar="SIZE", default="auto", help="auto, none, or an ISO 216 size such as A4")
    add("--lines", metavar="drawn|even|none", default="drawn", help="how ink is drawn (default: drawn)")
    add("--zones", metavar="FILE.toml", help="[[area]] and [[zone]] tables for this sketch")
    trace.set_defaults(run=_run_trace)


_KEPT = (
    "Traced drawings and their cut lines are kept in .limner-cache beside the job, so that a second run "
    "makes only what changed; that folder may be deleted at any time."
)


def _add_sheet(commands: "argparse._SubParsersAction[_Parser]") -> None:
    sheet = commands.add_parser(
        "sheet",
        help="a job to a press-ready sheet (SVG, PDF, proof, reports)",
        description="Traces the sketches of a job, lays them out with their cut lines, and writes sheet.svg, "
        "sheet.pdf, proof.png, report.json and report.html.",
        epilog=_KEPT,
    )
    sheet.add_argument("job", metavar="JOB.toml", help="the job file")
    sheet.add_argument("-o", "--output", metavar="FOLDER", help="where to write (default: beside the job)")
    sheet.set_defaults(run=_run_sheet)
    check = commands.add_parser(
        "check",
        help="only check a job",
        description="Makes the sheet of a job without writing it, and tells what a printing company would "
        "object to; exit code 1 where something must be mended.",
        epilog=_KEPT,
    )
    check.add_argument("job", metavar="JOB.toml", help="the job file")
    check.set_defaults(run=_run_check)
    new = commands.add_parser("new", help="a complete demo job", description="Writes a job to start from.")
    new.add_argument("folder", metavar="FOLDER", help="a new folder")
    new.set_defaults(run=_run_new)


def _run_sheet(arguments: argparse.Namespace) -> int:
    from limner.cli.sheet import run_sheet

    return run_sheet(arguments)


def _run_check(arguments: argparse.Namespace) -> int:
    from limner.cli.sheet import run_check

    return run_check(arguments)


def _run_new(arguments: argparse.Namespace) -> int:
    from limner.cli.sheet import run_new

    return run_new(arguments)


def _run_trace(arguments: argparse.Namespace) -> int:
    from limner.cli.trace import run_trace

    return run_trace(arguments)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program's name; None takes those of the process.

    Returns
    -------
    int
        0 done; 1 done or checked, but a finding must be mended; 2 unusable input or arguments.
    """
    try:
        arguments = _parser().parse_args(argv)
        code = int(arguments.run(arguments))
        sys.stdout.flush()
    except LimnerError as error:
        return _fail(str(error))
    except KeyboardInterrupt:
        return _fail("Stopped; nothing was written.", code=INTERRUPTED)
    except BrokenPipeError:
        # The reader has gone, as with `| head`; the interpreter must not stumble over it at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except MemoryError:
        return _fail("The picture needs more memory than there is: halve its size and try again.")
    except Exception as error:
        if os.environ.get("LIMNER_TRACEBACK"):
            raise
        return _fail(
            f"limner met a fault of its own ({type(error).__name__}: {error}): "
            "please report it together with the sketch; LIMNER_TRACEBACK=1 shows where it happened."
        )
    return code


def _fail(sentence: str, code: int = UNUSABLE) -> int:
    print(f"limner: {' '.join(sentence.split())}", file=sys.stderr)  # noqa: T201
    return code
