"""Processes of this machine that share out tasks: who dies is replaced, and none outlives the work.

Each process has a line of its own to this one, so that it is known who died over what, and others go on.
"""

from __future__ import annotations

import multiprocessing
import os
import shutil
import signal
import threading
from collections import Counter, deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing import connection
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.errors import WorkError
from linkplan.siting.piece import Failure, Result, attempt, make_ready

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

MOST_TRIES = 3
"""Times that a task may bring down the process that computes it."""
_TIME_TO_LEAVE_S = 5.0


def share_out(
    tasks: Sequence[Any],
    crew: Crew,
    size: int,
    deliver: Callable[[int, Result], None],
    name: Callable[[Any], str],
) -> None:
    """Have a crew of `size` do all tasks; what a process that died had in hand goes to another."""
    waiting = deque(range(len(tasks)))
    falls: Counter[int | None] = Counter()
    while waiting or crew.busy:
        crew.grow_to(min(size, len(waiting) + crew.busy))
        heard: list[tuple[int, Result | Failure]] = []
        for hand in crew.who_speaks():
            number = hand.number
            try:
                said = hand.hear()
            except (EOFError, OSError):
                how = crew.lose(hand)
                if number is None and hand.at_hand:
                    continue  # it had nothing to do
                falls[number] += 1
                if falls[number] >= MOST_TRIES:
                    raise WorkError(_gave_up(None if number is None else name(tasks[number]), how)) from None
                if number is not None:
                    waiting.appendleft(number)
            else:
                if said is None:
                    del falls[None]
                else:
                    heard.append((-1 if number is None else number, said))
        # give first, then store: nobody waits for the disk
        for hand in crew.idle:
            if waiting:
                number = waiting.popleft()
                hand.give(number, tasks[number])
        for number, said in heard:
            if isinstance(said, Failure):
                raise said.error
            deliver(number, said)


def _gave_up(what: str | None, how: str) -> str:
    if what is None:
        return f"{MOST_TRIES} processes ended before they were ready, the last {how}; work with 1 process"
    return (
        f"{what}: the process that computes it ended {MOST_TRIES} times, the last time {how}; "
        "where memory is short, work with fewer processes"
    )


class _Hand:
    """One process at work."""

    def __init__(self, process: SpawnProcess, pipe: Connection) -> None:
        self.process = process
        self.pipe = pipe
        self.at_hand = False
        """It has made itself ready."""
        self.number: int | None = None
        """Of the task that it has in hand."""

    def give(self, number: int, what: Any) -> None:
        self.number = number
        with suppress(OSError):  # it has died: that is heard next
            self.pipe.send(what)

    def hear(self) -> Result | Failure | None:
        """Its next word: a result, a failure, or None when it is ready to begin."""
        said: Result | Failure | None = self.pipe.recv()
        self.at_hand, self.number = True, None
        return said

    def end(self) -> str:
        """Let nothing of it remain; says how it ended."""
        self.pipe.close()
        self.process.kill()
        self.process.join()
        code = self.process.exitcode or 0
        self.process.close()
        if code >= 0:
            return f"with exit code {code}"
        with suppress(ValueError):
            return f"by {signal.Signals(-code).name}"
        return f"by signal {-code}"


class Crew:
    """Processes that do one task after another; leaving the block ends them all."""

    def __init__(self, work: bytes, threads: int, folder: Path) -> None:
        self._work = work
        self._threads = threads
        self._folder = folder
        self._hands: list[_Hand] = []

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: object, _error: object, _trace: object) -> None:
        leaving = self.idle if kind is None else []
        for hand in leaving:
            with suppress(OSError):
                hand.pipe.send(_Over())
        for hand in leaving:
            hand.process.join(_TIME_TO_LEAVE_S)
        for hand in self._hands:
            hand.process.kill()  # all of them before waiting for any
        while self._hands:
            self._hands.pop().end()

    @property
    def busy(self) -> int:
        """Processes with a task in hand."""
        return sum(hand.number is not None for hand in self._hands)

    @property
    def idle(self) -> list[_Hand]:
        """Processes that are ready and have no task."""
        return [hand for hand in self._hands if hand.at_hand and hand.number is None]

    def who_speaks(self) -> list[_Hand]:
        """Wait until there is something to hear, or somebody has died."""
        ready = set(connection.wait([hand.pipe for hand in self._hands]))
        return [hand for hand in self._hands if hand.pipe in ready]

    def lose(self, hand: _Hand) -> str:
        """Take a process that has died off the list; says how it ended."""
        self._hands.remove(hand)
        hand.process.join(_TIME_TO_LEAVE_S)
        return hand.end()

    def grow_to(self, size: int) -> None:
        """Start processes until there are `size`; all start before the first is given its load."""
        context = multiprocessing.get_context("spawn")
        new = []
        while len(self._hands) < size:
            here, there = context.Pipe()
            process = context.Process(target=_serve, args=(there, self._folder, self._threads), daemon=True)
            hand = _Hand(process, here)
            with _interrupts_held_back():
                try:
                    process.start()
                except OSError as error:
                    raise WorkError(
                        f"no further process can be started ({error.strerror}); work with fewer processes"
                    ) from None
                self._hands.append(hand)
            there.close()
            new.append(hand)
        for hand in new:
            with suppress(OSError):
                hand.pipe.send_bytes(self._work)


class _Over:
    """Said to a process: there is nothing more to do."""


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """A process that is started in the block never gets the terminal's interrupt: that is for this one."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # where it must start itself first, it would let them through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(pipe: Connection, folder: Path, threads: int) -> None:
    """The life of a process: make ready, then one task after another."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})
    watcher = _end_with_parent(folder)
    os.environ["NUMBA_NUM_THREADS"] = str(threads)
    try:
        made = make_ready(pipe.recv_bytes(), folder)
        pipe.send(made if isinstance(made, Failure) else None)
        while not isinstance(what := pipe.recv(), _Over) and not isinstance(made, Failure):
            pipe.send(attempt(*made, what))
    except (EOFError, OSError):
        watcher.join()  # nobody is there any more


def _end_with_parent(folder: Path) -> threading.Thread:
    """Should the parent die in whatever way, this process ends at once, and the work's folder goes."""
    parent = multiprocessing.parent_process()
    assert parent is not None

    def watch() -> None:
        connection.wait([parent.sentinel])
        shutil.rmtree(folder, ignore_errors=True)
        os._exit(1)

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    return watcher
