"""The server: one socket on the loopback, one loop, and a clean end."""

from __future__ import annotations

import secrets
import signal
import socket
from collections.abc import Callable
from contextlib import suppress
from types import FrameType
from typing import Any

from linkplan.errors import OutputError
from linkplan.page.app import Page
from linkplan.page.jobs import JobFolder

LOOPBACK = "127.0.0.1"
TOKEN_BYTES = 24
_MMAP_THRESHOLD, _LARGE_BYTES = -3, 1 << 17
"""M_MMAP_THRESHOLD of mallopt(3), and from how many bytes on memory is asked of the system by itself."""


def serve(folder: JobFolder, port: int, ready: Callable[[str], None]) -> None:
    """Serve the jobs of a folder until the user ends it; `ready` is given the address, with its token.

    `port` 0 takes any that is free. OutputError where the port is taken.
    """
    _give_memory_back()
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with bound(port) as listening:
        port = listening.getsockname()[1]
        page = Page(folder)
        server = server_of(page, token, port)
        server.on_started = lambda: ready(f"http://{LOOPBACK}:{port}/{token}/")
        try:
            server.run(sockets=[listening])
        finally:
            page.close()


def _give_memory_back() -> None:
    """Maps that are done with go back to the system at once, not when the heap around them is free too: else
    hours of dragging leave it full of holes. Only the C library of GNU can be told so."""
    import ctypes

    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).mallopt(_MMAP_THRESHOLD, _LARGE_BYTES)


def bound(port: int) -> socket.socket:
    """A socket on the loopback. OutputError where the port cannot be had."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((LOOPBACK, port))
    except (OSError, OverflowError) as error:
        listening.close()
        reason = getattr(error, "strerror", None) or "no such port"
        raise OutputError(
            f"--port {port}: cannot be had ({reason}); leave it out to take any free one"
        ) from None
    return listening


def server_of(page: Page, token: str, port: int) -> Any:
    """The server of a page; its `run(sockets=[...])` ends when `should_exit` is set."""
    import uvicorn

    config = uvicorn.Config(
        page.app(token, port), http="h11", ws="none", lifespan="off", log_config=None, access_log=False,
        log_level="critical", server_header=False, date_header=False, timeout_keep_alive=30,
        timeout_graceful_shutdown=2, limit_concurrency=200, proxy_headers=False,
    )  # fmt: skip
    return _server_class()(config)


def _server_class() -> Any:
    """The library's server, which would raise the signal that ended it once more."""
    import uvicorn

    class Server(uvicorn.Server):
        on_started: Callable[[], None] | None = None

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            if self.on_started is not None:
                self.on_started()

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            del frame
            self.force_exit = self.should_exit and sig == signal.SIGINT
            self.should_exit = True

    return Server
