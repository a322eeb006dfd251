"""The application: routes behind the guard, and one sentence for every mistake."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp

from limner.desk.server.answers import RefusedError, refusal
from limner.desk.server.desk import Desk
from limner.desk.server.routes import routes
from limner.desk.server.safety import Guard
from limner.desk.state.values import StaleError
from limner.errors import LimnerError, OutputError

__all__ = ["desk_app"]

# Twice a second it is looked whether another program has changed the job.
_LOOK_S = 0.5


def desk_app(desk: Desk, *, port: int, key: str) -> ASGIApp:
    """The application that serves a desk.

    Parameters
    ----------
    desk : Desk
        What is served; it is closed at the end.
    port : int
        Where it listens.
    key : str
        The secret of the first address.
    """

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        desk.hub.begin()
        looking = asyncio.create_task(_look_on(desk))
        try:
            yield
        finally:
            looking.cancel()
            with suppress(asyncio.CancelledError):
                await looking
            desk.hub.end()
            desk.close()

    app = Starlette(
        routes=routes(),
        lifespan=life,
        exception_handlers={
            LimnerError: _said,
            HTTPException: _http,
            Exception: _fault,
        },
    )
    app.state.desk = desk
    return Guard(app, port=port, key=key)


async def _look_on(desk: Desk) -> None:
    while True:
        await asyncio.sleep(_LOOK_S)
        await run_in_threadpool(desk.look)


async def _said(request: Request, error: Exception) -> Response:
    assert isinstance(error, LimnerError)
    if isinstance(error, StaleError):
        return refusal(409, str(error), revision=request.app.state.desk.document.revision)
    if isinstance(error, RefusedError):
        return refusal(error.status, str(error))
    return refusal(507 if isinstance(error, OutputError) else 422, str(error))


async def _http(_: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    sentence = {404: "The desk has nothing at this address.", 405: "That address is not asked in this way."}
    return refusal(error.status_code, sentence.get(error.status_code, "The desk cannot answer that."))


async def _fault(_: Request, error: Exception) -> Response:
    return refusal(500, f"limner met a fault of its own ({type(error).__name__}): please report it.")
