"""Who may speak with the desk: the page that it served itself, and nobody else.

Method: the server listens on the loopback address only. The first address holds a key, which becomes a cookie
that scripts cannot read and that other sites cannot send. A page of another site that has its name lead to
this machine is told by the Host that it asks for, one that sends requests here by its Origin.
"""

import hmac
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from limner.desk.server.answers import refusal

__all__ = ["PAGE_POLICY", "Guard"]

PAGE_POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    ]
)
"""What a page of the desk may load and do: nothing from outside, no script or style but from files."""

_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}

_CLOSED = "This desk is opened by the address that limner printed when it began."
_ELSEWHERE = "This desk answers only the page that it served itself."


class Guard:
    """Lets through what comes from the desk's own page.

    Parameters
    ----------
    app : ASGI application
        What is guarded.
    port : int
        Where the desk listens: its name for itself.
    key : str
        The secret of the first address.
    """

    def __init__(self, app: ASGIApp, *, port: int, key: str) -> None:
        self._app, self._key = app, key
        # Cookies do not tell ports apart: two desks have one each.
        self._cookie = f"desk-{port}"
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self._origins = {f"http://{host}" for host in self._hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or hand it on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = Headers(scope=scope)
        closing = _with_headers(send)
        if headers.get("host", "") not in self._hosts or not self._is_own(headers):
            await refusal(403, _ELSEWHERE)(scope, receive, closing)
        elif self._is_first(scope):
            # Away from the address with the key: it is not to stay in the history of the browser.
            answer = RedirectResponse("/", status_code=303)
            answer.set_cookie(self._cookie, self._key, httponly=True, samesite="strict", path="/")
            await answer(scope, receive, closing)
        elif not self._has_cookie(headers):
            await refusal(403, _CLOSED)(scope, receive, closing)
        else:
            await self._app(scope, receive, closing)

    def _is_own(self, headers: Headers) -> bool:
        origin = headers.get("origin")
        site = headers.get("sec-fetch-site")
        return (origin is None or origin in self._origins) and site in (None, "same-origin", "none")

    def _is_first(self, scope: Scope) -> bool:
        if scope["method"] != "GET" or scope["path"] != "/":
            return False
        try:
            keys = parse_qs(scope["query_string"].decode("ascii")).get("key", [])
        except (UnicodeDecodeError, ValueError):
            return False
        return len(keys) == 1 and self._fits(keys[0])

    def _has_cookie(self, headers: Headers) -> bool:
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(self._cookie)
        except CookieError:
            return False
        return cookie is not None and self._fits(cookie.value)

    def _fits(self, key: str) -> bool:
        return hmac.compare_digest(key.encode("utf-8", "replace"), self._key.encode("ascii"))


def _with_headers(send: Send) -> Send:
    async def closing(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Content-Security-Policy", PAGE_POLICY)
            headers.setdefault("Cache-Control", "no-store")
        await send(message)

    return closing
