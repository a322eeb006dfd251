"""From a job file to a desk that is served on this machine alone."""

import logging
import os
import secrets
import socket
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

import uvicorn

from limner.desk.server.app import desk_app
from limner.desk.server.desk import Desk
from limner.desk.state.begin import begin
from limner.desk.work.bench import Bench
from limner.errors import OutputError

__all__ = ["serve_desk"]

_LOOPBACK = "127.0.0.1"


def serve_desk(places: Sequence[Path], *, port: int = 0, announce: Callable[[str], None] = print) -> None:
    """Serve a job until the process is interrupted.

    Parameters
    ----------
    places : sequence of Path
        A job file, a folder, or sketches of one folder; none: this folder.
    port : int
        Where to listen; 0: where there is room.
    announce : callable
        Told the address once it answers.

    Raises
    ------
    LimnerError
        The job cannot be read, or there is no port to listen on.
    """
    _silence()
    begun = begin(places)
    listening, notes = _listening(port)
    desk = Desk(begun.document, Bench(), Bench(1), (*begun.notes, *notes))
    port, key = listening.getsockname()[1], secrets.token_urlsafe(24)
    config = uvicorn.Config(
        desk_app(desk, port=port, key=key),
        log_config=None,
        access_log=False,
        server_header=False,
        lifespan="on",
        timeout_graceful_shutdown=1,
    )

    def answers() -> None:
        announce(f"http://{_LOOPBACK}:{port}/?key={key}")
        desk.begin()

    server = _Server(config, answers, desk.hub.end)
    with suppress(KeyboardInterrupt):
        server.run(sockets=[listening])


def _silence() -> None:
    """Faults are told to the page in a sentence; where they happened is printed only where that is asked."""
    if not os.environ.get("LIMNER_TRACEBACK"):
        logger = logging.getLogger("uvicorn")
        logger.addHandler(logging.NullHandler())
        logger.propagate = False


class _Server(uvicorn.Server):
    """Tells when it answers, and when it ends."""

    def __init__(self, config: uvicorn.Config, begun: Callable[[], None], ended: Callable[[], None]) -> None:
        super().__init__(config)
        self._begun, self._ended = begun, ended

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to answer."""
        await super().startup(sockets=sockets)
        self._begun()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End what pages listen to, so that it need not be waited for."""
        self._ended()
        await super().shutdown(sockets=sockets)


def _listening(port: int) -> tuple[socket.socket, tuple[str, ...]]:
    """A socket on the loopback address; on another port, and a note of it, where that one is taken."""
    for number in dict.fromkeys((port, 0)):
        # Said to be TCP in so many words, or asyncio leaves small answers waiting for 40 ms for more to send.
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        try:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listening.bind((_LOOPBACK, number))
        except (OSError, OverflowError):
            listening.close()
            continue
        taken = f"Port {port} is in use, so the desk is at another one."
        return listening, () if number == port else (taken,)
    raise OutputError("There is no port to listen on: end another program that serves, and try again.")
