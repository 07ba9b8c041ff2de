"""Who may ask the page for anything: this computer, the page itself, with the token.

Each request must name a loopback host, bring the token (in the first address, then as a cookie)
and, where it opens a websocket, come from the page's own address.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable
from typing import Any

from aiohttp import web

from reach.viewer.entry import entry, entry_address

HOST = "127.0.0.1"
HOSTS = (HOST, "localhost", "[::1]")
"""Names of this computer that an address may use."""

COOKIE = "reach-view"
MOST_BYTES = 1_000_000
"""No message to the server may be longer; those of the page are some hundred bytes."""

POLICY = (
    "default-src 'none'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
    "connect-src 'self'; base-uri 'self'; form-action 'none'; frame-ancestors 'none'; "
    "object-src 'none'"
)
"""Nothing is loaded from anywhere else; the page builds itself from a template, hence eval."""

LONGEST = 500
"""Characters of a path: those of the page's own files have some dozens."""

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


def new_token() -> str:
    """Return a token that nobody guesses."""
    return secrets.token_urlsafe(24)


def refusal(
    token: str, port: int, host: str, origin: str | None, given: str | None, is_socket: bool
) -> str:
    """Return why a request is refused; empty where it may pass.

    Parameters
    ----------
    token, port : str, int
        Of this server.
    host, origin, given : str or None
        Headers of the request, and the token that it brings.
    is_socket : bool
        Whether it opens a websocket.

    Examples
    --------
    >>> refusal("t", 80, "evil.example", None, "t", False)
    'host'
    >>> refusal("t", 80, "127.0.0.1:80", "http://127.0.0.1:80", "t", True)
    ''
    """
    if host not in {f"{name}:{port}" for name in HOSTS}:
        return "host"
    if (origin is not None or is_socket) and origin != f"http://{host}":
        return "origin"
    if given is None or not hmac.compare_digest(_bytes(given), token.encode()):
        return "token"
    return ""


def _bytes(given: str) -> bytes:
    """Return what was given as bytes; what is not text at all is no token either."""
    return given.encode("utf-8", "surrogateescape")


def cookie_of(port: int) -> str:
    """Return the name of the cookie: browsers send it to every port, pages must not mix them."""
    return f"{COOKIE}-{port}"


def guard(token: str, port_of: Callable[[], int]) -> Any:
    """Return the middleware that lets in who may ask."""

    @web.middleware
    async def guarded(request: web.Request, handler: Handler) -> web.StreamResponse:
        is_socket = request.headers.get("Upgrade", "").lower() == "websocket"
        first = request.query.get("token")
        given = first if first is not None else request.cookies.get(cookie_of(port_of()))
        why = refusal(
            token, port_of(), request.headers.get("Host", ""), request.headers.get("Origin"),
            given, is_socket,
        )  # fmt: skip
        if why:
            return _marked(web.Response(status=403, text=f"Refused: {why}.\n"))
        if request.method not in ("GET", "HEAD"):
            return _marked(web.Response(status=405, text="Refused: method.\n"))
        if len(request.path) > LONGEST or "\0" in request.path:
            return _marked(web.Response(status=404, text="Refused: path.\n"))
        if first is not None and not is_socket:
            # The token goes from the address into a cookie that scripts do not see.
            answer: web.StreamResponse = web.HTTPFound(entry_address(request.headers["Host"]))
            name = cookie_of(port_of())
            answer.set_cookie(name, token, httponly=True, samesite="Strict", path="/")
            return _marked(answer)
        try:
            return _marked(entry(request) or await handler(request))
        except web.HTTPException as error:
            return _marked(error)

    return guarded


def _marked(answer: web.StreamResponse) -> web.StreamResponse:
    """Return an answer with what browsers are to keep to."""
    if not answer.prepared:
        answer.headers["Content-Security-Policy"] = POLICY
        answer.headers["X-Content-Type-Options"] = "nosniff"
        answer.headers["Referrer-Policy"] = "no-referrer"
        answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        answer.headers["Cache-Control"] = "no-store"
    return answer
