"""The entry point: arguments in, exit code out, one sentence for every mistake."""

import gc
import os
import sys
from collections.abc import Iterable, Sequence

from limner._version import __version__
from limner.cli.overview import COMMANDS, overview
from limner.errors import InputError, LimnerError

__all__ = ["main"]

DONE, TO_MEND, UNUSABLE, FAULT, INTERRUPTED = 0, 1, 2, 3, 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program's name; None takes those of the process.

    Returns
    -------
    int
        0 done; 1 done or checked, but a finding must be mended; 2 unusable input or arguments;
        3 a fault of limner's own.
    """
    try:
        code = _run(sys.argv[1:] if argv is None else argv)
        sys.stdout.flush()
        if argv is None:
            # The process ends: to look through all objects for unreachable cycles once more would take 30 ms.
            gc.freeze()
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
            "please report it together with the sketch; LIMNER_TRACEBACK=1 shows where it happened.",
            code=FAULT,
        )
    return code


def _run(arguments: Sequence[str]) -> int:
    if not arguments:
        raise InputError(f"Name a command: {_named(COMMANDS)} (see: limner --help).")
    first = arguments[0]
    if first in ("-h", "--help"):
        print(overview())  # noqa: T201
        return DONE
    if first == "--version":
        print(f"limner {__version__}")  # noqa: T201
        return DONE
    if first not in COMMANDS:
        what = "option" if first.startswith("-") else "command"
        raise InputError(f"There is no {what} {first}: name one of {_named(COMMANDS)} (see: limner --help).")
    from limner.cli.commands import parse

    try:
        parsed = parse(first, arguments[1:])
    except SystemExit:  # help was asked for, and is printed
        return DONE
    return int(parsed.run(parsed))


def _named(names: Iterable[str]) -> str:
    return ", ".join(names)


def _fail(sentence: str, code: int = UNUSABLE) -> int:
    print(f"limner: {' '.join(sentence.split())}", file=sys.stderr)  # noqa: T201
    return code
