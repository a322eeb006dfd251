"""The arguments of each command, and what runs it."""

import argparse
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from limner.cli.overview import columns
from limner.errors import InputError

if TYPE_CHECKING:
    from typing import Any, NoReturn

__all__ = ["parse"]


class _Parser(argparse.ArgumentParser):
    """An argument parser that answers a mistake with one sentence."""

    def __init__(self, **options: "Any") -> None:
        # The library would load a third as much code again to find out the width.
        super().__init__(
            formatter_class=lambda prog: argparse.HelpFormatter(prog, width=columns()), **options
        )

    def error(self, message: str) -> "NoReturn":
        raise InputError(f"{message[:1].upper()}{message[1:]} (see: {self.prog} --help).")


def parse(command: str, arguments: Sequence[str]) -> argparse.Namespace:
    """Read the arguments of a command.

    Parameters
    ----------
    command : str
        One of `limner.cli.overview.COMMANDS`.
    arguments : sequence of str
        What stands behind it.

    Returns
    -------
    argparse.Namespace
        With a function `run` that takes it and returns the exit code.

    Raises
    ------
    InputError
        They cannot be used.
    """
    return _PARSERS[command]().parse_args(arguments)


def _trace() -> _Parser:
    trace = _Parser(
        prog="limner trace",
        description="Traces photographed or scanned sketches into closed, filled shapes.",
        epilog="With several sketches, or a folder of them, -o, --report and --proof name folders: "
        "NAME.svg, NAME.json and NAME-proof.png go there. A sketch that cannot be traced does not stop the "
        "others; it is named at the end. With --areas, NAME.toml goes to the folder named there.",
    )
    add = trace.add_argument
    add("sketch", metavar="SKETCH", nargs="+", help="JPEG, PNG, TIFF, WebP or HEIC; it is only read")
    add("-o", "--output", metavar="OUT.svg", help="where to write (default: beside the sketch)")
    add("--report", metavar="OUT.json", help="write what was found as JSON")
    add("--proof", metavar="OUT.png", help="write a picture of what happened")
    add("--areas", metavar="OUT.toml", help="write the areas as found, for --zones to read")
    add("--width", metavar="LEN", help="true width of the whole page")
    add("--smoothing", metavar="LEN", help="largest distance between curve and drawn line")
    add("--nodes", metavar="N", help="budget of nodes for the whole drawing")
    add("--mirror", metavar="off|auto", default="off", help="complete a half-drawn figure (default: off)")
    add("--paper", metavar="SIZE", default="auto", help="auto, none, or an ISO 216 size such as A4")
    kinds = "drawn|even|tapered|none"
    add("--lines", metavar=kinds, default="drawn", help="how ink is drawn (default: drawn)")
    add(
        "--bridges",
        metavar="inked|open",
        default="inked",
        help="whether a gap within one line is closed in ink, too, or in fills alone (default: inked)",
    )
    add("--zones", metavar="FILE.toml", help="[[area]], [[zone]], [[touch]] and [[repeat]] tables")
    trace.set_defaults(run=_run_trace)
    return trace


_KEPT = (
    "Traced drawings and their cut lines are kept in .limner-cache beside the job, so that a second run "
    "makes only what changed; that folder may be deleted at any time."
)


def _sheet() -> _Parser:
    sheet = _Parser(
        prog="limner sheet",
        description="Traces the sketches of a job, lays them out with their cut lines, and writes sheet.svg, "
        "sheet.pdf, proof.png, report.json and report.html.",
        epilog=f"With several jobs, each gets a folder of its own name in the one that -o names; one that "
        f"fails does not stop the others, and is named at the end. {_KEPT}",
    )
    sheet.add_argument("job", metavar="JOB.toml", nargs="+", help="the job file")
    sheet.add_argument("-o", "--output", metavar="FOLDER", help="where to write (default: beside the job)")
    sheet.add_argument(
        "--singles",
        action="store_true",
        help="each sticker by itself, too: singles/NAME.svg, and NAME.png, cut out at 300 pixels per inch",
    )
    sheet.set_defaults(run=_run_sheet)
    return sheet


def _check() -> _Parser:
    check = _Parser(
        prog="limner check",
        description="Makes the sheet of a job without writing it, and tells what a printing company would "
        "object to; exit code 1 where something must be mended.",
        epilog=f"Of several jobs, one that fails does not stop the others, and is named at the end. {_KEPT}",
    )
    check.add_argument("job", metavar="JOB.toml", nargs="+", help="the job file")
    check.set_defaults(run=_run_check)
    return check


def _new() -> _Parser:
    new = _Parser(prog="limner new", description="Writes a job to start from.")
    new.add_argument("folder", metavar="FOLDER", help="a new folder")
    new.set_defaults(run=_run_new)
    return new


def _desk() -> _Parser:
    desk = _Parser(
        prog="limner desk",
        description="Opens a page of this computer on which every sketch and the sheet are seen, and each "
        "decision is made on the drawing itself. Prints its address and serves it until Ctrl-C.",
        epilog="Everything that is decided is a line in the job file. A folder without a job, or sketches, "
        "begin a new job there.",
    )
    desk.add_argument("job", metavar="JOB.toml | FOLDER | SKETCH", nargs="*", help="what to work on")
    desk.add_argument("--port", metavar="N", help="where to listen (default: where there is room)")
    desk.add_argument("--no-browser", action="store_true", help="only print the address")
    desk.set_defaults(run=_run_desk)
    return desk


def _run_desk(arguments: argparse.Namespace) -> int:
    from limner.cli.desk import run_desk

    return run_desk(arguments)


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


_PARSERS: dict[str, Callable[[], _Parser]] = {
    "trace": _trace,
    "sheet": _sheet,
    "check": _check,
    "new": _new,
    "desk": _desk,
}
