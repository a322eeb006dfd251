"""What the desk answers: its state, its drawings, its pages; and decisions."""

from collections.abc import AsyncIterator, Callable
from importlib import resources
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from limner.desk.edits.edit import edits_from_json
from limner.desk.server.answers import RefusedError, answer, json_body
from limner.desk.server.desk import Desk
from limner.desk.server.drawings import Entry

__all__ = ["routes"]

_KINDS = {
    ".css": "text/css",
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".json": "application/json",
    ".ttf": "font/ttf",
    ".woff2": "font/woff2",
}

_PAGE = Path(str(resources.files("limner.desk"))) / "page"


def routes() -> list[Route]:
    """All addresses of the desk."""
    return [
        Route("/", _index),
        Route("/page/{name:path}", _file),
        Route("/state", _state),
        Route("/events", _events),
        Route("/stickers/{name}/drawing", _drawing),
        Route("/stickers/{name}/photograph", _photograph),
        Route("/edits", _edits, methods=["POST"]),
        Route("/undo", _undo, methods=["POST"]),
        Route("/redo", _redo, methods=["POST"]),
    ]


def desk_of(request: Request) -> Desk:
    """The desk that a request is for."""
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


async def _index(_: Request) -> Response:
    return await run_in_threadpool(_page_file, "index.html")


async def _file(request: Request) -> Response:
    return await run_in_threadpool(_page_file, request.path_params["name"])


def _page_file(name: str) -> Response:
    path = _PAGE / name
    kind = _KINDS.get(path.suffix)
    root = _PAGE.resolve()
    if kind is None or "\0" in name or not path.resolve().is_relative_to(root) or not path.is_file():
        raise RefusedError(404, "The desk has no such page.")
    return Response(path.read_bytes(), headers={"Content-Type": kind, "Cache-Control": "no-cache"})


async def _state(request: Request) -> Response:
    return answer(await run_in_threadpool(desk_of(request).state))


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
    if not entry.drawing:
        raise RefusedError(404, entry.sentence or "This sketch is not traced yet.")
    return _cached(request, entry.drawing, entry.token, "application/json")


async def _photograph(request: Request) -> Response:
    entry = _entry(request)
    if not entry.photograph:
        raise RefusedError(404, "There is no photograph of this sticker.")
    return _cached(request, entry.photograph, entry.token, "image/jpeg")


def _cached(request: Request, body: bytes, token: str, kind: str) -> Response:
    headers = {"ETag": f'"{token}"', "Cache-Control": "no-cache", "Content-Type": kind}
    if request.headers.get("if-none-match") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers)


def revision_of(said: dict[str, Any]) -> int:
    """The state that a decision was made on.

    Raises
    ------
    RefusedError
        It is not said.
    """
    revision = said.get("revision")
    if not isinstance(revision, int) or isinstance(revision, bool):
        raise RefusedError(422, "A decision says on which revision it was made.")
    return revision


async def _edits(request: Request) -> Response:
    desk, said = desk_of(request), await json_body(request)
    revision, words = revision_of(said), said.get("words")
    if not isinstance(words, str):
        raise RefusedError(422, "A decision says in words what it is.")
    edits = edits_from_json(said.get("edits"))
    return await _changed(desk, lambda: desk.document.decide(revision, words, edits))


async def _undo(request: Request) -> Response:
    desk, revision = desk_of(request), revision_of(await json_body(request))
    return await _changed(desk, lambda: desk.document.undo(revision))


async def _redo(request: Request) -> Response:
    desk, revision = desk_of(request), revision_of(await json_body(request))
    return await _changed(desk, lambda: desk.document.redo(revision))


async def _changed(desk: Desk, make: Callable[[], int]) -> Response:
    return answer({"revision": await run_in_threadpool(desk.change, make)})
