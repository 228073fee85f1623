"""The server: one socket on the loopback, one loop, and a clean end."""

from __future__ import annotations

import secrets
import signal
import socket
import threading
from collections.abc import Callable
from types import FrameType
from typing import Any

from linkplan.errors import OutputError
from linkplan.page.app import Page
from linkplan.page.jobs import JobFolder

LOOPBACK = "127.0.0.1"
TOKEN_BYTES = 24
TRIM_EVERY_S = 3.0


def serve(folder: JobFolder, port: int, ready: Callable[[str], None]) -> None:
    """Serve the jobs of a folder until the user ends it; `ready` is given the address, with its token.

    `port` 0 takes any that is free. OutputError where the port is taken.
    """
    ended = threading.Event()
    threading.Thread(target=_give_memory_back, args=(ended,), name="linkplan-trim", daemon=True).start()
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with bound(port) as listening:
        port = listening.getsockname()[1]
        page = Page(folder)
        server = server_of(page, token, port)
        server.on_started = lambda: ready(f"http://{LOOPBACK}:{port}/{token}/")
        try:
            server.run(sockets=[listening])
        finally:
            ended.set()
            page.close()


def _give_memory_back(ended: threading.Event) -> None:
    """Hand back to the system, now and then, what maps have left: else hours of dragging leave the heap
    full of holes. Only the C library of GNU can be told so; for each map it would cost a fifth of its time.
    """
    import ctypes

    try:
        trim = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return
    while not ended.wait(TRIM_EVERY_S):
        trim(0)


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
