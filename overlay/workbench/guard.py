"""Who may speak to the page's server: this computer's own page of this very run, and in small words."""

from __future__ import annotations

import secrets
from collections.abc import Iterable

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 256 * 1024  # bytes; a request holds a few names and numbers
TOKEN_HEADER = "x-bench-token"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
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
    """Turns away what is not for this server before anything else sees it.

    Parameters
    ----------
    hosts
        Values of ``Host`` that are served, with the port. Any other name that leads here (DNS rebinding) is refused.
    token
        Secret of this run; every address below ``/api/`` wants it in a header, which pages of other origins cannot
        send.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str], token: str) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._token = token.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return  # no web sockets

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = [(name.encode(), value.encode()) for name, value in _HEADERS.items()]
                kept = [pair for pair in message.get("headers", []) if pair[0].decode("latin-1") not in _HEADERS]
                message = {**message, "headers": [*kept, *own]}
            await send(message)

        refusal = self._refusal(scope)
        if refusal is None:
            body = await _body(scope, receive)
            if body is None:
                refusal = PlainTextResponse("the request is too large", 413)
        if refusal is not None:
            await refusal(scope, receive, send_guarded)
            return
        given: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive_kept() -> Message:
            return given.pop() if given else await receive()

        await self._app(scope, receive_kept, send_guarded)

    def _refusal(self, scope: Scope) -> PlainTextResponse | None:
        headers: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
        hosts = headers.get("host", [])
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return PlainTextResponse("this server answers to its own address only", 421)
        origins = {f"http://{host}" for host in self._hosts}
        if any(origin.lower() not in origins for origin in headers.get("origin", [])):
            return PlainTextResponse("requests of other origins are refused", 403)
        if any(site not in ("same-origin", "none") for site in headers.get("sec-fetch-site", [])):
            return PlainTextResponse("requests of other sites are refused", 403)
        if scope["path"].startswith("/api/"):
            tokens = headers.get(TOKEN_HEADER, [])
            # compared as bytes: compare_digest takes no text beyond ASCII
            if len(tokens) != 1 or not secrets.compare_digest(tokens[0].encode("latin-1"), self._token):
                return PlainTextResponse("open the address that the command printed", 401)
        return None


async def _body(scope: Scope, receive: Receive) -> bytes | None:
    """The whole body; None where it is longer than allowed, or the other side has gone."""
    for name, value in scope["headers"]:
        if name == b"content-length" and (not value.isdigit() or len(value) > 15 or int(value) > LARGEST_BODY):
            return None
    body: bytes = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return None
        body += bytes(message.get("body", b""))
        if len(body) > LARGEST_BODY:
            return None
        if not message.get("more_body", False):
            return body
