"""Answers in JSON, and bodies that are read no further than they may be long."""

import json
from collections.abc import AsyncIterator, Mapping
from typing import Any

from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from limner.errors import LimnerError

__all__ = ["RefusedError", "answer", "json_body", "limited_body", "refusal"]

# A decision is a few hundred bytes, one with a drawn line of 10,000 points some 400 kB.
_LARGEST_JSON_BYTES = 2_000_000


class RefusedError(LimnerError):
    """A request that is not answered.

    Parameters
    ----------
    status : int
        Of HTTP.
    sentence : str
        Why.
    """

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


def answer(value: Any, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """A value in JSON, in ASCII: names may hold halves of characters."""
    body = json.dumps(value, ensure_ascii=True, separators=(",", ":")).encode("ascii")
    return Response(body, status, headers, media_type="application/json")


def refusal(status: int, sentence: str, **more: Any) -> Response:
    """One sentence."""
    return answer({"sentence": " ".join(sentence.split()), **more}, status)


async def json_body(request: Request) -> dict[str, Any]:
    """What a request says.

    Raises
    ------
    RefusedError
        It is too long, or no table in JSON.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise RefusedError(415, "The desk is told things in JSON.")
    data = await limited_body(request, _LARGEST_JSON_BYTES, "A decision of more than two megabytes is none.")
    try:
        value = json.loads(data, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise RefusedError(422, "That is not JSON.") from None
    if not isinstance(value, dict):
        raise RefusedError(422, "That is JSON, but no table.")
    return value


async def limited_body(request: Request, most: int, sentence: str) -> bytes:
    """The body of a request, if it is not too long.

    Raises
    ------
    RefusedError
        It is; 413 with the sentence.
    """
    length = request.headers.get("content-length", "")
    if length.isdecimal() and int(length) > most:
        raise RefusedError(413, sentence)
    parts, size = [], 0
    async for part in _stream(request):
        size += len(part)
        if size > most:
            raise RefusedError(413, sentence)
        parts.append(part)
    return b"".join(parts)


async def _stream(request: Request) -> AsyncIterator[bytes]:
    try:
        async for part in request.stream():
            yield part
    except ClientDisconnect:
        raise RefusedError(400, "The request broke off.") from None


def _no_number(name: str) -> float:
    raise ValueError(name)
