"""What keeps strangers out: host, origin, token, size, and a policy that lets no foreign content in."""

from __future__ import annotations

import hmac

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY_BYTES = 64_000
"""Largest body of a request; a field and its names need some hundred. [B]"""
TOKEN = "X-Page-Token"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class Guard:
    """Middleware that looks at every request before anything else does.

    Parameters
    ----------
    app : ASGIApp
        What is guarded.
    hosts : frozenset of str
        Host headers that mean this server.
    token : str
        Token of this run; a page of another site cannot read it.
    """

    def __init__(self, app: ASGIApp, hosts: frozenset[str], token: str) -> None:
        self.app = app
        self.hosts = hosts
        self.token = token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or hand on with the policy added to the answer."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = self._refusal(scope["method"], headers)
        if refused is not None:
            await _with_policy(refused)(scope, receive, send)
            return
        if scope["method"] == "POST":
            body = await _body(receive)
            if body is None:
                await _with_policy(_TOO_LARGE)(scope, receive, send)
                return
            receive = _replay(body, receive)
        await _with_policy(self.app)(scope, receive, send)

    def _refusal(self, method: str, headers: Headers) -> PlainTextResponse | None:
        """Why a request is not answered."""
        host = headers.get("host", "")
        if host not in self.hosts:
            return PlainTextResponse("this server answers to its own name only; open the address it printed\n", 400)
        origin = headers.get("origin")
        if origin is not None and origin != f"http://{host}":
            return PlainTextResponse("a request from another site; only the page itself may ask\n", 403)
        if method in ("GET", "HEAD"):
            return None
        if method != "POST":
            return PlainTextResponse("only GET and POST are answered\n", 405)
        if origin is None:
            return PlainTextResponse("a request without an origin; only the page itself may write\n", 403)
        if not hmac.compare_digest(headers.get(TOKEN, "").encode(), self.token.encode()):
            return PlainTextResponse("the page's token is missing or old; reload the page\n", 403)
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MOST_BODY_BYTES:
            return _TOO_LARGE
        return None


_TOO_LARGE = PlainTextResponse("the body is too large; an edit is small; reload the page\n", 413)


async def _body(receive: Receive) -> bytes | None:
    """Whole body of a request, or None where it grows past the limit; not all say their length."""
    read = bytearray()
    while True:
        message = await receive()
        read += message.get("body", b"")
        if len(read) > MOST_BODY_BYTES:
            return None
        if message["type"] == "http.disconnect" or not message.get("more_body", False):
            return bytes(read)


def _replay(body: bytes, receive: Receive) -> Receive:
    """The body in one piece, then whatever comes after it."""
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def again() -> Message:
        return waiting.pop() if waiting else await receive()

    return again


def _with_policy(app: ASGIApp) -> ASGIApp:
    """An answer with the safe headers; one that brings its own policy keeps it."""

    async def run(scope: Scope, receive: Receive, send: Send) -> None:
        async def add(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await app(scope, receive, add)

    return run
