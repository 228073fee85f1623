"""Who may ask: this machine, under this address, with the token, and no page of another site."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from linkplan.page.answers import as_json
from linkplan.page.words import RequestError

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), usb=(), serial=()"),
)
LONGEST_ADDRESS = 2000


class Guard:
    """An ASGI application in front of another, which sees requests that may be made, without the token."""

    def __init__(self, app: App, token: str, port: int) -> None:
        self._app = app
        self._token = token.encode()
        names = [f"127.0.0.1:{port}", f"localhost:{port}"]
        if port == 80:
            names += ["127.0.0.1", "localhost"]
        self._hosts = frozenset(name.encode() for name in names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or pass on."""
        if scope["type"] != "http":
            return  # no web sockets here; the server closes the connection

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *HEADERS]}
            await send(message)

        try:
            inner = self._checked(scope)
        except RequestError as error:
            await _refuse(error, guarded)
            return
        await self._app(inner, receive, guarded)

    def _checked(self, scope: Scope) -> Scope:
        """The request without the token in its path; RequestError for one that may not be made."""
        headers = list(scope["headers"])
        hosts = [value for name, value in headers if name == b"host"]
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            raise RequestError("this page is for this machine only, under the address that was printed", 403)
        if scope["method"] not in {"GET", "HEAD", "POST"}:
            raise RequestError("GET and POST only", 405)
        own = b"http://" + hosts[0].lower()
        origins = [value for name, value in headers if name == b"origin"]
        if any(origin != own for origin in origins) or (scope["method"] == "POST" and len(origins) != 1):
            raise RequestError("requests of other sites are not answered", 403)
        sites = [value for name, value in headers if name == b"sec-fetch-site"]
        if any(site not in {b"same-origin", b"none"} for site in sites):
            raise RequestError("requests of other sites are not answered", 403)
        path = str(scope["path"])
        if len(path) > LONGEST_ADDRESS or len(scope.get("query_string", b"")) > LONGEST_ADDRESS:
            raise RequestError("the address is too long", 414)
        first, slash, rest = path.removeprefix("/").partition("/")
        if not secrets.compare_digest(first.encode(errors="replace"), self._token):
            raise RequestError("the address lacks the token that was printed with it, or has an old one", 403)
        if not slash:
            raise RequestError("the address ends with a slash", 404)
        return {**scope, "path": "/" + rest, "root_path": ""}


async def _refuse(error: RequestError, send: Send) -> None:
    body = as_json(error.body())
    headers = [
        (b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"), (b"connection", b"close"),
    ]  # fmt: skip
    await send({"type": "http.response.start", "status": error.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
