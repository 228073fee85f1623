"""Whose computation comes next: one at a time in a lane, the newest request of a tab, tabs in turn."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any

from linkplan.page.words import RequestError, StoppedError

Tell = Callable[[str, float], None]
"""Called with the stage and its share done; raises StoppedError when nobody waits any more."""

MOST_WAITING = 200
_TABS_REMEMBERED = 1000


@dataclass(eq=False)
class Work:
    """One request's computation."""

    tab: str
    job: str
    kind: str
    serial: int
    run: Callable[[Tell], Any]
    brief: bool = False
    """So short that it is finished even when a newer one has come: the map follows while the user drags."""
    stage: str = ""
    share: float = 0.0
    begun_s: float = field(default_factory=time.monotonic)
    waiting: bool = True
    stopped: threading.Event = field(default_factory=threading.Event)
    answer: Future[Any] = field(default_factory=Future)
    """Its result; None where it is stale."""

    def __post_init__(self) -> None:
        self.answer.set_running_or_notify_cancel()  # so that nobody can take it away from the lane

    def tell(self, stage: str, share: float) -> None:
        """Progress, and the place where stopped work ends."""
        if self.stopped.is_set():
            raise StoppedError
        self.stage, self.share = stage, share

    def body(self) -> dict[str, Any]:
        """For a progress bar."""
        return {
            "kind": self.kind, "serial": self.serial, "stage": self.stage, "share": self.share,
            "seconds": time.monotonic() - self.begun_s, "waiting": self.waiting,
        }  # fmt: skip


class Lane:
    """A thread that computes one piece of work after another."""

    def __init__(self, name: str) -> None:
        self._changed = threading.Condition()
        self._pending: list[Work] = []
        self._running: Work | None = None
        self._newest: OrderedDict[tuple[str, str, str], int] = OrderedDict()
        self._served: OrderedDict[str, int] = OrderedDict()
        self._turns = 0
        self._closed = False
        self._thread = threading.Thread(target=self._loop, name=f"linkplan-{name}", daemon=True)
        self._thread.start()

    def submit(self, work: Work) -> Work:
        """Take up work; older work of the same tab, job and kind becomes stale.

        RequestError where far too much is waiting.
        """
        key = (work.tab, work.job, work.kind)
        with self._changed:
            if self._closed or len(self._pending) >= MOST_WAITING:
                raise RequestError("too much is waiting; try again in a moment", 503, "busy")
            if not self._supersede(key, work.serial):
                work.answer.set_result(None)
                return work
            self._pending.append(work)
            self._changed.notify()
        return work

    def supersede(self, work: Work) -> None:
        """Newer work of this tab, job and kind has gone to another lane."""
        with self._changed:
            self._supersede((work.tab, work.job, work.kind), work.serial)

    def _supersede(self, key: tuple[str, str, str], serial: int) -> bool:
        """Make older work stale; False where the newest known is as new."""
        if serial <= self._newest.get(key, -1):
            return False
        self._remember(key, serial)
        for older in [one for one in self._pending if (one.tab, one.job, one.kind) == key]:
            self._pending.remove(older)
            older.stopped.set()
            older.answer.set_result(None)
        running = self._running
        if running is not None and (running.tab, running.job, running.kind) == key and not running.brief:
            running.stopped.set()
        return True

    def end(self, work: Work) -> None:
        """Nobody waits for this any more."""
        with self._changed:
            work.stopped.set()
            if work in self._pending:
                self._pending.remove(work)
                work.answer.set_result(None)

    def of_tab(self, tab: str) -> list[Work]:
        """What a tab has running or waiting."""
        with self._changed:
            found = [one for one in self._pending if one.tab == tab]
            if self._running is not None and self._running.tab == tab:
                found.insert(0, self._running)
            return found

    def close(self, patience_s: float = 10.0) -> None:
        """End all work and the thread."""
        with self._changed:
            self._closed = True
            for one in self._pending:
                one.stopped.set()
                one.answer.set_result(None)
            self._pending.clear()
            if self._running is not None:
                self._running.stopped.set()
            self._changed.notify()
        self._thread.join(patience_s)

    def _remember(self, key: tuple[str, str, str], serial: int) -> None:
        self._newest[key] = serial
        self._newest.move_to_end(key)
        while len(self._newest) > _TABS_REMEMBERED:
            self._newest.popitem(last=False)

    def _next(self) -> Work | None:
        """The work of the tab that has waited longest for its turn; None when the lane is closed."""
        with self._changed:
            while not self._pending and not self._closed:
                self._changed.wait()
            if self._closed:
                return None
            work = min(self._pending, key=lambda one: self._served.get(one.tab, -1))
            self._pending.remove(work)
            self._turns += 1
            self._served[work.tab] = self._turns
            self._served.move_to_end(work.tab)
            while len(self._served) > _TABS_REMEMBERED:
                self._served.popitem(last=False)
            work.waiting, self._running = False, work
            return work

    def _loop(self) -> None:
        while (work := self._next()) is not None:
            result: Any = None
            error: BaseException | None = None
            try:
                work.tell("", 0.0)
                result = work.run(work.tell)
            except StoppedError:
                result = None
            except BaseException as raised:
                # without its frames, which would keep the maps that it was about
                error = raised.with_traceback(None)
            with self._changed:
                self._running = None
            if error is not None:
                work.answer.set_exception(error)
            else:
                work.answer.set_result(result)
            del work, result, error


class Lanes:
    """Short answers, those that take seconds, and those that take minutes: none waits for a longer one."""

    def __init__(self) -> None:
        self.quick, self.slow, self.long = Lane("quick"), Lane("slow"), Lane("long")

    def submit(self, lane: Lane, work: Work) -> Work:
        """Take up work in a lane; older work of its tab, job and kind ends in all."""
        for other in (self.quick, self.slow, self.long):
            if other is not lane:
                other.supersede(work)
        return lane.submit(work)

    def end(self, work: Work) -> None:
        """Nobody waits for this any more."""
        for lane in (self.quick, self.slow, self.long):
            lane.end(work)

    def of_tab(self, tab: str) -> list[Work]:
        """What a tab has running or waiting."""
        return [one for lane in (self.quick, self.slow, self.long) for one in lane.of_tab(tab)]

    def close(self) -> None:
        """End everything."""
        for lane in (self.quick, self.slow, self.long):
            lane.close()
