"""`limner desk`: which job is meant, and its page."""

import argparse
import os
import sys
import threading
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
        if not arguments.no_browser and _has_screen():
            # Some browsers let the one who calls them wait.
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    serve_desk([Path(name) for name in arguments.job], port=port, announce=announce)
    note("the desk is closed; all that was decided is in the job file.")
    return 0


def _has_screen() -> bool:
    """Whether a browser has where to open: one in the terminal would take that away."""
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _port(text: str | None) -> int:
    if text is None:
        return 0
    if not text.isdecimal() or not 0 < int(text) < 65536:
        raise InputError(f'--port "{text}" is no port: give a whole number from 1 to 65535.')
    return int(text)
