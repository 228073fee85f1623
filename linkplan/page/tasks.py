"""Questions that may take long: started, asked about, cancelled, and ended when nobody asks any more."""

from __future__ import annotations

import secrets
import shutil
import tempfile
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from linkplan.page.drops import Drops
from linkplan.page.jobs import OpenJob
from linkplan.page.lanes import Lanes, Tell, Work
from linkplan.page.words import RequestError, StoppedError, choice_of, error_body, tab_of

ABANDONED_AFTER_S = 90.0
FORGOTTEN_AFTER_S = 600.0
MOST_TASKS = 100
_LOOK_EVERY_S = 2.0

KINDS = ("siting", "airtime", "channels", "safety", "agree", "log", "capture", "export")
LONG = ("siting", "export")


@dataclass(eq=False)
class Task:
    """One question on its way."""

    name: str
    kind: str
    work: Work
    items: list[dict[str, Any]] = field(default_factory=list)
    """What it has found so far, in order."""
    file: Path | None = None
    asked_s: float = field(default_factory=time.monotonic)
    cancelled: bool = False


Emit = Callable[[dict[str, Any]], None]
Question = Callable[[Task, Tell], dict[str, Any]]


class TaskBook:
    """All tasks of a server."""

    def __init__(self, lanes: Lanes) -> None:
        self._lanes = lanes
        self._lock = threading.Lock()
        self._tasks: OrderedDict[str, Task] = OrderedDict()
        self._serial = 0
        self._folder: Path | None = None
        self._closed = threading.Event()
        self._warden = threading.Thread(target=self._watch, name="linkplan-warden", daemon=True)
        self._warden.start()

    def start(self, job: OpenJob, tab: str, kind: str, question: Question) -> Task:
        """Put a question into its lane; an older one of the same tab and kind ends."""
        with self._lock:
            self._serial += 1
            serial = self._serial

        def run(tell: Tell) -> dict[str, Any]:
            return question(task, tell)

        work = Work(tab, job.name, f"task {kind}", serial, run)
        task = Task(secrets.token_urlsafe(9), kind, work)
        with self._lock:
            self._tasks[task.name] = task
            gone = []
            while len(self._tasks) > MOST_TASKS:
                gone.append(self._tasks.popitem(last=False)[1])
        for one in gone:
            self._drop(one)
        self._lanes.submit(self._lanes.long if kind in LONG else self._lanes.slow, work)
        return task

    def get(self, name: str) -> Task:
        """A task by its name; RequestError (404) where there is none."""
        with self._lock:
            task = self._tasks.get(name)
        if task is None:
            raise RequestError("there is no such task any more", 404, "missing")
        task.asked_s = time.monotonic()
        return task

    def of_tab(self, tab: str) -> list[str]:
        """Tasks of a tab that are not done."""
        with self._lock:
            return [
                one.name for one in self._tasks.values() if one.work.tab == tab and not one.work.answer.done()
            ]

    def cancel(self, task: Task) -> None:
        """End a task; it stops at its next step."""
        task.cancelled = True
        self._lanes.end(task.work)

    def folder(self) -> Path:
        """The server's folder for files of a moment."""
        with self._lock:
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="linkplan-page-"))
            return self._folder

    def scratch(self) -> Path:
        """A new folder in it."""
        return Path(tempfile.mkdtemp(dir=self.folder()))

    def body(self, task: Task, after: int) -> dict[str, Any]:
        """A task's state, and what it has found after the first `after` items."""
        answer, work = task.work.answer, task.work
        state, result, error = "running", None, None
        if answer.done():
            raised = answer.exception()
            if raised is not None:
                state, error = (
                    "failed",
                    error_body(raised if isinstance(raised, Exception) else StoppedError()),
                )
            else:
                result = answer.result()
                state = "done" if result is not None else "cancelled"
        items = task.items[after:]
        return {
            "task": task.name, "kind": task.kind, "state": state, "stage": work.stage, "share": work.share,
            "waiting": work.waiting and state == "running", "items": items,
            "items_from": min(after, len(task.items)), "result": result, "error": error,
        }  # fmt: skip

    def close(self) -> None:
        """End everything; what still runs may write until its lane is closed: `remove` comes after."""
        self._closed.set()
        with self._lock:
            tasks = list(self._tasks.values())
            self._tasks.clear()
        for task in tasks:
            self.cancel(task)
        self._warden.join(5.0)

    def remove(self) -> None:
        """Remove all files."""
        with self._lock:
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)

    def look_round(self, now_s: float) -> None:
        """Cancel what nobody has asked about, forget what has long been done."""
        with self._lock:
            tasks = list(self._tasks.values())
        for task in tasks:
            silent_s = now_s - task.asked_s
            if not task.work.answer.done():
                if silent_s > ABANDONED_AFTER_S:
                    self.cancel(task)
            elif silent_s > FORGOTTEN_AFTER_S:
                with self._lock:
                    self._tasks.pop(task.name, None)
                self._drop(task)

    def _watch(self) -> None:
        while not self._closed.wait(_LOOK_EVERY_S):
            self.look_round(time.monotonic())

    def _drop(self, task: Task) -> None:
        self.cancel(task)
        if task.file is not None:
            shutil.rmtree(task.file.parent, ignore_errors=True)


def task_work(book: TaskBook, drops: Drops, job: OpenJob, body: Mapping[str, Any]) -> Task:
    """Start the task that a request asks for; RequestError for one that makes no sense."""
    from linkplan.page import checks, export, siting_task

    kind = choice_of(body.get("kind"), "kind", KINDS)
    tab = tab_of(body)
    rest = {key: value for key, value in body.items() if key not in {"kind", "tab"}}
    if kind == "siting":
        question = siting_task.siting_question(book, job, rest)
    elif kind == "export":
        question = export.export_question(book, job, rest)
    else:
        question = checks.question(kind, job, drops, rest)
    return book.start(job, tab, kind, question)
