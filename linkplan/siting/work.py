"""Many independent pieces of work, done here or by processes of this machine: the same numbers either way.

An item is a key and what is to be computed for it. `prepare` makes ready, once in each process, what all
items share; `compute` does one item. `cluster` does it on other machines, `kept` remembers what is done.
"""

from __future__ import annotations

import pickle
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from linkplan.propagation.sweep_threads import worker_count
from linkplan.ranges import require_range
from linkplan.siting.crew import Crew, share_out
from linkplan.siting.piece import Ready, Result, Shared, What, Work, plain, scratch_folder

Key = TypeVar("Key")

MOST_PROCESSES = 256


def run_items(
    items: Sequence[tuple[Key, What]],
    shared: Shared,
    *,
    prepare: Callable[[Shared, Path], Ready],
    compute: Callable[[Ready, What], Result],
    processes: int,
    on_result: Callable[[Key, Result], None],
    progress: Callable[[float], None] | None = None,
    name: Callable[[What], str] = str,
) -> None:
    """Compute every item and hand each result to `on_result`, in this process and in no certain order.

    With 1 process all is done in this one, else in so many others, which share the cores. `prepare` is given
    a folder of its own for files, which is removed in the end; `progress` is given the share done, 0 to 1;
    `name` makes a word for messages of an item. For other processes everything must be picklable, and
    functions such as can be imported.

    What `prepare`, `compute` or `on_result` raises comes out as it is and ends the work, as an interrupt
    does; what was done before has gone to `on_result`. A process that dies costs the item that it had in
    hand another try; WorkError when that happens to one item MOST_TRIES times.
    """
    require_range("processes", processes, 1, MOST_PROCESSES)
    count = len(items)
    done = 0

    def deliver(number: int, result: Result) -> None:
        nonlocal done
        on_result(items[number][0], result)
        done += 1
        if progress is not None:
            progress(done / count)

    if not items:
        return
    with ends_in_order(), scratch_folder() as folder:
        if processes == 1:
            ready = prepare(shared, folder)
            for number, (_, what) in enumerate(items):
                deliver(number, plain(compute(ready, what)))
        else:
            work = pickle.dumps(Work(shared, prepare, compute), protocol=pickle.HIGHEST_PROTOCOL)
            tasks = [what for _, what in items]
            with Crew(work, max(1, worker_count() // processes), folder) as crew:
                share_out(tasks, crew, min(processes, count), deliver, name)


@contextmanager
def ends_in_order() -> Iterator[None]:
    """Told to terminate, the program leaves the block as by sys.exit: ends what it started and tidies up."""

    def leave(number: int, _frame: object) -> None:
        raise SystemExit(128 + number)

    asked: list[signal.Signals] = []
    if threading.current_thread() is threading.main_thread():
        known = [getattr(signal, label) for label in ("SIGTERM", "SIGHUP") if hasattr(signal, label)]
        asked = [one for one in known if signal.getsignal(one) is signal.SIG_DFL]
    for one in asked:
        signal.signal(one, leave)
    try:
        yield
    finally:
        for one in asked:
            signal.signal(one, signal.SIG_DFL)
