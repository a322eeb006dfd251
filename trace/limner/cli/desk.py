"""`limner desk`: which job is meant, and its page."""

import argparse
import webbrowser
from pathlib import Path

from limner.cli.terminal import note
from limner.errors import InputError

__all__ = ["run_desk"]


def run_desk(arguments: argparse.Namespace) -> int:
    """Open the desk and serve it until it is interrupted."""
    port = _port(arguments.port)

    from limner.desk import serve_desk

    def announce(address: str) -> None:
        print(address, flush=True)  # noqa: T201
        if not arguments.no_browser:
            webbrowser.open(address)

    serve_desk([Path(name) for name in arguments.job], port=port, announce=announce)
    note("the desk is closed; all that was decided is in the job file.")
    return 0


def _port(text: str | None) -> int:
    if text is None:
        return 0
    if not text.isdecimal() or not 0 < int(text) < 65536:
        raise InputError(f'--port "{text}" is no port: give a whole number from 1 to 65535.')
    return int(text)
