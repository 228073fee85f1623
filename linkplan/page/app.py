"""The addresses of the page and who answers them; computations run in lanes, so that the loop stays free."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Awaitable, Callable
from concurrent.futures import Future
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from linkplan.errors import LinkplanError, OutputError
from linkplan.page import views
from linkplan.page.answers import FRAMES, as_json, framed
from linkplan.page.drops import MOST_BYTES as MOST_DROPPED
from linkplan.page.drops import Drops
from linkplan.page.forms import form_body
from linkplan.page.guard import Guard
from linkplan.page.jobs import JobFolder, OpenJob
from linkplan.page.lanes import Lane, Lanes, Work
from linkplan.page.save import save_body
from linkplan.page.tasks import TaskBook, task_work
from linkplan.page.words import TAB, RequestError, error_body, only, parsed, text_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

MOST_JSON = 1_000_000
"""Bytes of a request's JSON."""
LONGEST_BODY_S = 60.0
"""That a request's body may take: one that never ends would keep others from being taken."""
POST_WAITS_S = 0.4
"""That the answer to the start of a task waits for its end."""
STATIC = Path(__file__).resolve().parent / "static"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".json": "application/json",
    ".txt": "text/plain; charset=utf-8",
    ".png": "image/png",
}
JSON_TYPE = "application/json"

_log = logging.getLogger("linkplan.page")
Result = TypeVar("Result")
Handler = Callable[["Request"], Awaitable["Response"]]


class Page:
    """Everything that the server holds: jobs, lanes, tasks, dropped files."""

    def __init__(self, folder: JobFolder) -> None:
        self.folder = folder
        self.lanes = Lanes()
        self.drops = Drops()
        self.tasks = TaskBook(self.lanes)
        self._dropping = asyncio.Semaphore(2)

    def close(self) -> None:
        """End all work and remove all files of a moment."""
        self.tasks.close()
        self.lanes.close()
        self.tasks.remove()
        self.drops.close()

    def app(self, token: str, port: int) -> Guard:
        """The ASGI application under a token and a port."""
        from starlette.applications import Starlette

        return Guard(Starlette(routes=self._routes()), token, port)

    def _routes(self) -> list[Route]:
        from starlette.routing import Route

        def route(path: str, handler: Handler, method: str = "GET", frames: bool = False) -> Route:
            return Route(path, answered(handler, frames=frames), methods=[method])

        return [
            route("/", self.index),
            route("/static/{path:path}", self.static),
            route("/leaflet/{name}", self.leaflet),
            route("/api/jobs", self.jobs),
            route("/api/jobs", self.new_job, "POST"),
            route("/api/job/{job}", self.facts),
            route("/api/job/{job}/hillshade.png", self.hillshade),
            route("/api/job/{job}/cover", self.cover, "POST", frames=True),
            route("/api/job/{job}/compare", self.compare, "POST", frames=True),
            route("/api/job/{job}/point", self.point, "POST"),
            route("/api/job/{job}/form/{form}", self.form),
            route("/api/job/{job}/tasks", self.start, "POST"),
            route("/api/job/{job}/drop", self.drop, "POST"),
            route("/api/job/{job}/save", self.save, "POST"),
            route("/api/tasks/{task}", self.task),
            route("/api/tasks/{task}/cancel", self.cancel, "POST"),
            route("/api/tasks/{task}/file", self.task_file),
            route("/api/tabs/{tab}", self.tab),
            route("/api/tabs/{tab}/leave", self.leave, "POST"),
            Route("/{rest:path}", answered(_missing), methods=["GET", "POST"]),
        ]

    async def index(self, request: Request) -> Response:
        """The page."""
        return _file(STATIC, "index.html", request)

    async def static(self, request: Request) -> Response:
        """The page's own files."""
        return _file(STATIC, request.path_params["path"], request)

    async def leaflet(self, request: Request) -> Response:
        """The map library's files, out of its package."""
        from linkplan.outputs.leaflet import leaflet

        found = leaflet()
        files = {"leaflet.js": found.script, "leaflet.css": found.style, "LICENSE": found.licence}
        name = request.path_params["name"]
        if name not in files:
            raise RequestError("there is nothing at this address", 404, "missing")
        media = TYPES.get(Path(name).suffix, TYPES[".txt"])
        return respond(files[name].encode(), media, keep_s=3600)

    async def jobs(self, _request: Request) -> Response:
        """Jobs of the folder."""
        listed = await aside(self.folder.listed)
        return json_response(
            {"folder": self.folder.folder.name, "jobs": listed, "opened": self.folder.opened}
        )

    async def new_job(self, request: Request) -> Response:
        """A new job from the starter."""
        body = parsed(await body_of(request))
        only(body, "name")
        name = text_of(body.get("name"), "name", 100)
        return json_response({"job": await aside(self.folder.new, name)})

    async def facts(self, request: Request) -> Response:
        """What a job is."""
        from linkplan.page.facts import facts_body

        job = self._job(request)
        return json_response(await aside(facts_body, job))

    async def hillshade(self, request: Request) -> Response:
        """The picture of the ground; its address changes with the ground."""
        picture = await aside(views.hillshade, self._job(request))
        return respond(picture, "image/png", keep_s=3600)

    async def cover(self, request: Request) -> Response:
        """Coverage of a set-up."""
        job = self._job(request)
        work, slow = views.cover_work(job, parsed(await body_of(request)))
        return await self._computed(request, self.lanes.slow if slow else self.lanes.quick, work, FRAMES)

    async def compare(self, request: Request) -> Response:
        """Two set-ups."""
        job = self._job(request)
        work = views.compare_work(job, parsed(await body_of(request)))
        return await self._computed(request, self.lanes.quick, work, FRAMES)

    async def point(self, request: Request) -> Response:
        """One place."""
        job = self._job(request)
        work = views.point_work(job, parsed(await body_of(request)))
        return await self._computed(request, self.lanes.quick, work, JSON_TYPE)

    async def _computed(self, request: Request, lane: Lane, work: Work, media: str) -> Response:
        """The result of work in a lane; the work ends when the client goes away."""
        self.lanes.submit(lane, work)
        answer = asyncio.wrap_future(work.answer)
        gone = asyncio.ensure_future(_gone(request))
        try:
            await asyncio.wait({answer, gone}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            if not answer.done():
                self.lanes.end(work)
            gone.cancel()
        found = await answer
        if found is None:
            stale = views.stale(work.serial)
            found = framed(stale) if media == FRAMES else as_json(stale)
        return respond(found, media)

    async def form(self, request: Request) -> Response:
        """The fields of a form."""
        job, name = self._job(request), request.path_params["form"]
        return json_response(await aside(form_body, job, name))

    async def start(self, request: Request) -> Response:
        """Start long work, and wait a moment whether it is so long."""
        job = self._job(request)
        body = parsed(await body_of(request))
        task = await aside(task_work, self.tasks, self.drops, job, body)
        await _waited(task.work)
        return json_response(self.tasks.body(task, 0))

    async def task(self, request: Request) -> Response:
        """How far a task is."""
        after = request.query_params.get("after", "0")
        if not (after.isascii() and after.isdecimal() and len(after) < 10):
            raise RequestError("after: a whole number is wanted")
        return json_response(self.tasks.body(self._task(request), int(after)))

    async def cancel(self, request: Request) -> Response:
        """End a task."""
        await body_of(request)
        task = self._task(request)
        self.tasks.cancel(task)
        await _waited(task.work)
        return json_response(self.tasks.body(task, 0))

    async def task_file(self, request: Request) -> Response:
        """What an export made."""
        from starlette.responses import FileResponse

        task = self._task(request)
        if task.file is None or not task.file.is_file():
            raise RequestError("this task has made no file", 404, "missing")
        return FileResponse(
            task.file,
            media_type="application/zip",
            filename=task.file.name,
            headers={"cache-control": "no-store"},
        )

    async def drop(self, request: Request) -> Response:
        """A file dropped onto the page."""
        job = self._job(request)
        tab = request.query_params.get("tab", "")
        if not TAB.fullmatch(tab):
            raise RequestError("tab: 1 to 40 letters, digits, _ and - are wanted")
        name = text_of(request.query_params.get("name"), "name")
        async with self._dropping:  # so that few of them are in memory at once
            content = await body_of(request, MOST_DROPPED)
        return json_response(await aside(self.drops.take, job.name, name, content))

    async def save(self, request: Request) -> Response:
        """Write a set-up to the job file, or say what that would change."""
        job = self._job(request)
        body = parsed(await body_of(request))
        return json_response(await aside(save_body, job, body))

    async def tab(self, request: Request) -> Response:
        """What a tab has running."""
        tab = request.path_params["tab"]
        running = [one.body() for one in self.lanes.of_tab(tab)]
        return json_response({"running": running, "tasks": self.tasks.of_tab(tab)})

    async def leave(self, request: Request) -> Response:
        """A tab goes away."""
        await body_of(request)
        tab = request.path_params["tab"]
        for work in self.lanes.of_tab(tab):
            self.lanes.end(work)
        return json_response({})

    def _job(self, request: Request) -> OpenJob:
        return self.folder.get(request.path_params["job"])

    def _task(self, request: Request) -> Any:
        return self.tasks.get(request.path_params["task"])


def answered(handler: Handler, *, frames: bool = False) -> Handler:
    """A handler whose errors become one clear line; see `words`."""

    async def answer(request: Request) -> Response:
        try:
            return await handler(request)
        except RequestError as error:
            return respond(as_json(error.body()), JSON_TYPE, status=error.status)
        except (LinkplanError, MemoryError, OSError) as error:
            body = {"error": error_body(error)}
        except Exception as error:
            _log.debug("an answer broke off", exc_info=error)
            return respond(as_json({"error": error_body(error)}), JSON_TYPE, status=500)
        return respond(framed(body), FRAMES) if frames else json_response(body)

    return answer


async def _missing(_request: Request) -> Response:
    raise RequestError("there is nothing at this address", 404, "missing")


async def aside(function: Callable[..., Result], *arguments: Any) -> Result:
    """A function's result, out of a thread that keeps nobody from ending the program: a disk may hang."""
    found: Future[Result] = Future()
    found.set_running_or_notify_cancel()  # so that nobody can take it away from the thread

    def run() -> None:
        try:
            found.set_result(function(*arguments))
        except BaseException as error:
            found.set_exception(error)

    threading.Thread(target=run, daemon=True).start()
    return await asyncio.wrap_future(found)


async def _waited(work: Work) -> None:
    """Wait a moment whether work ends; how it ends is told in its task's own state."""
    answer = asyncio.wrap_future(work.answer)
    answer.add_done_callback(lambda one: one.cancelled() or one.exception())  # or the loop would tell it too
    await asyncio.wait({answer}, timeout=POST_WAITS_S)


async def _gone(request: Request) -> None:
    """Ends when the client goes away."""
    while (await request.receive())["type"] != "http.disconnect":
        pass


async def body_of(request: Request, most: int = MOST_JSON) -> bytes:
    """A request's body; RequestError (413) where it is larger than `most`."""
    stated = request.headers.get("content-length", "")
    if stated.isdecimal() and int(stated[:20]) > most:
        raise RequestError(f"more than {most // 1_000_000} MB", 413)
    content = bytearray()
    try:
        async with asyncio.timeout(LONGEST_BODY_S):
            async for part in request.stream():
                content += part
                if len(content) > most:
                    raise RequestError(f"more than {most // 1_000_000} MB", 413)
    except TimeoutError:
        raise RequestError("the request's body takes too long", 408) from None
    return bytes(content)


def json_response(body: Any) -> Response:
    """Plain objects, never kept by the browser."""
    return respond(as_json(body), JSON_TYPE)


def respond(content: bytes, media: str, *, status: int = 200, keep_s: int = 0) -> Response:
    """Bytes of a kind."""
    from starlette.responses import Response

    keep = f"private, max-age={keep_s}" if keep_s else "no-store"
    return Response(
        content, status_code=status, media_type=None, headers={"content-type": media, "cache-control": keep}
    )


def _file(folder: Path, name: str, _request: Request) -> Response:
    """A file of the page, and none beside."""
    parts = name.split("/")
    media = TYPES.get(Path(name).suffix)
    if (
        media is None
        or any(part.startswith(".") or not part for part in parts)
        or "\\" in name
        or "\0" in name
    ):
        raise RequestError("there is nothing at this address", 404, "missing")
    path = folder.joinpath(*parts)
    try:
        found = path.resolve().is_relative_to(folder) and path.is_file()
    except OSError:  # a name that is too long
        found = False
    if not found:
        raise RequestError("there is nothing at this address", 404, "missing")
    try:
        return respond(path.read_bytes(), media)
    except OSError as error:
        raise OutputError(f"{name}: cannot be read ({error.strerror})") from None
