"""What the desk shows: its state, its drawings, its sheet, and what happens."""

import hashlib
from collections.abc import AsyncIterator
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from limner.capture import preview_jpeg, smaller_jpeg
from limner.desk.server.answers import RefusedError, answer, refusal
from limner.desk.server.decisions import decision_routes
from limner.desk.server.desk import desk_of
from limner.desk.server.drawings import Entry
from limner.desk.server.pages import page_routes
from limner.errors import InputError

__all__ = ["routes"]

# As large as the straightened page is shown.
_LONGEST_PX = 2400

# Smaller than any print of a sketch on the page.
_SHORTEST_PX = 64


def routes() -> list[Route]:
    """All addresses of the desk."""
    return [
        Route("/state", _state),
        Route("/events", _events),
        Route("/sheet", _sheet),
        Route("/stickers/{name}/drawing", _drawing),
        Route("/stickers/{name}/photograph", _photograph),
        *decision_routes(),
        *page_routes(),
    ]


async def _state(request: Request) -> Response:
    return answer(await run_in_threadpool(desk_of(request).state))


async def _sheet(request: Request) -> Response:
    return answer(await desk_of(request).sheets.now())


async def _events(request: Request) -> Response:
    desk = desk_of(request)

    async def told() -> AsyncIterator[str]:
        async for line in desk.hub.listen({"kind": "state", "revision": desk.document.revision}):
            yield line

    return StreamingResponse(told(), media_type="text/event-stream")


def _entry(request: Request) -> Entry:
    desk, name = desk_of(request), request.path_params["name"]
    entry = desk.drawings.entry(name)
    if entry is None:
        raise RefusedError(404, "There is no such sticker on the desk.")
    desk.drawings.prefer(name)
    return entry


async def _drawing(request: Request) -> Response:
    entry = _entry(request)
    if entry.state == "failed":
        raise RefusedError(422, entry.sentence)
    if not entry.drawing:
        return refusal(202, "This sketch is being traced.")
    return _cached(request, entry.drawing, entry.token, "application/json")


async def _photograph(request: Request) -> Response:
    entry, longest = _entry(request), _longest(request)
    photograph = desk_of(request).drawings.photograph(entry)
    if not photograph and entry.task.is_art:
        raise RefusedError(404, "There is no photograph of this sticker: it is art.")
    token = hashlib.sha256(photograph).hexdigest()[:20] if photograph else f"taken-{entry.task.token}"
    token = f"{token}-{longest}"
    if request.headers.get("if-none-match") == f'"{token}"':
        return _cached(request, b"", token, "image/jpeg")
    try:
        body = await run_in_threadpool(_picture, photograph, entry.task.path, longest)
    except InputError:
        # Its state says what is amiss; a refusal would go to the browser's console, too.
        return Response(status_code=204)
    return _cached(request, body, token, "image/jpeg")


def _longest(request: Request) -> int:
    asked = request.query_params.get("longest", "")
    is_size = asked.isdecimal() and len(asked) < 6
    return max(_SHORTEST_PX, min(_LONGEST_PX, int(asked))) if is_size else _LONGEST_PX


def _picture(photograph: bytes, path: Path, longest: int) -> bytes:
    """The straightened page; until there is one, the photograph as it was taken."""
    if not photograph:
        return preview_jpeg(path, longest)
    return photograph if longest == _LONGEST_PX else smaller_jpeg(photograph, longest)


def _cached(request: Request, body: bytes, token: str, kind: str) -> Response:
    headers = {"ETag": f'"{token}"', "Cache-Control": "no-cache", "Content-Type": kind}
    if request.headers.get("if-none-match") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers)
