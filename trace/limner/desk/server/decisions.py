"""What the desk is told: decisions, new sketches, and to write the files."""

import asyncio
from collections.abc import Callable
from typing import Any

import anyio
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from limner.desk.edits.edit import Edit, edits_from_json
from limner.desk.server.answers import RefusedError, answer, json_body, limited_body
from limner.desk.server.desk import Desk, desk_of
from limner.desk.server.uploads import LARGEST_SKETCH_BYTES, TOO_LARGE, add_sketch
from limner.desk.work.tasks import Outcome

__all__ = ["decision_routes"]


def decision_routes() -> list[Route]:
    """Addresses that change something."""
    return [
        Route("/edits", _edits, methods=["POST"]),
        Route("/undo", _undo, methods=["POST"]),
        Route("/redo", _redo, methods=["POST"]),
        Route("/try", _try, methods=["POST"]),
        Route("/sketches", _sketch, methods=["POST"]),
        Route("/demo", _demo, methods=["POST"]),
        Route("/write", _write, methods=["POST"]),
    ]


def _revision_of(said: dict[str, Any]) -> int:
    revision = said.get("revision")
    if not isinstance(revision, int) or isinstance(revision, bool):
        raise RefusedError(422, "A decision says on which revision it was made.")
    return revision


async def _edits(request: Request) -> Response:
    desk, said = desk_of(request), await json_body(request)
    revision, words = _revision_of(said), said.get("words")
    if not isinstance(words, str):
        raise RefusedError(422, "A decision says in words what it is.")
    edits = edits_from_json(said.get("edits"))
    return await _changed(desk, lambda: desk.document.decide(revision, words, edits))


async def _undo(request: Request) -> Response:
    desk, revision = desk_of(request), _revision_of(await json_body(request))
    return await _changed(desk, lambda: desk.document.undo(revision))


async def _redo(request: Request) -> Response:
    desk, revision = desk_of(request), _revision_of(await json_body(request))
    return await _changed(desk, lambda: desk.document.redo(revision))


async def _changed(desk: Desk, make: Callable[[], int]) -> Response:
    return answer({"revision": await run_in_threadpool(desk.change, make)})


async def _try(request: Request) -> Response:
    desk, said = desk_of(request), await json_body(request)
    name, edits = said.get("sticker"), said.get("edits")
    if not isinstance(name, str) or said.get("of", "drawing") not in ("drawing", "cut"):
        raise RefusedError(422, "What is tried says on which sticker, and whether its drawing or its cut.")
    # Without an edit, it is asked how things are.
    edits = () if edits == [] else edits_from_json(edits)
    return await (_try_cut if said.get("of") == "cut" else _try_drawing)(desk, name, edits)


async def _try_drawing(desk: Desk, name: str, edits: tuple[Edit, ...]) -> Response:
    number = desk.trying.begin(name)
    task = await run_in_threadpool(desk.tried, name, edits)
    if task is None:
        raise RefusedError(422, "There is no such sticker on the desk.")
    if not desk.trying.is_newest(name, number):
        return Response(status_code=204)
    outcome = await asyncio.wrap_future(desk.trying.ask(task))
    if outcome is None or not desk.trying.is_newest(name, number):
        return Response(status_code=204)
    if isinstance(outcome, Outcome):
        raise RefusedError(422, outcome.sentence)
    return Response(outcome, media_type="application/json")


async def _try_cut(desk: Desk, name: str, edits: tuple[Edit, ...]) -> Response:
    text, _ = await run_in_threadpool(desk.document.tried, edits)
    cut = await desk.sheets.cut(name, text)
    return Response(status_code=204) if cut is None else answer(cut)


# One picture at a time is held in memory as it comes in.
_ONE_UPLOAD = anyio.Semaphore(1)


async def _sketch(request: Request) -> Response:
    desk = desk_of(request)
    async with _ONE_UPLOAD:
        data = await limited_body(request, LARGEST_SKETCH_BYTES, TOO_LARGE)
        name = await run_in_threadpool(_added, desk, data, request.headers.get("x-name", ""))
    return answer({"name": name, "revision": desk.document.revision})


def _added(desk: Desk, data: bytes, asked: str) -> str:
    names: list[str] = []

    def make() -> int:
        names.append(add_sketch(desk.document, data, asked))
        return desk.document.revision

    desk.change(make)
    return names[0]


async def _demo(request: Request) -> Response:
    desk, revision = desk_of(request), _revision_of(await json_body(request))
    return await _changed(desk, lambda: desk.take_demo(revision))


async def _write(request: Request) -> Response:
    await json_body(request)
    desk_of(request).sheets.write()
    return answer({}, 202)
