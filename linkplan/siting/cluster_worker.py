"""What is done on a worker of a cluster; nothing here needs the cluster's library until it runs there."""

from __future__ import annotations

import os
import sys
import threading
import weakref
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from shutil import rmtree
from typing import Any

from linkplan.errors import WorkError
from linkplan.siting.alike import Surroundings, difference, surroundings
from linkplan.siting.piece import Failure, Result, attempt, failure, make_ready, new_folder


class Carried:
    """What all items share, as a worker holds it: made ready at the first item, gone with the client.

    Workers pass it on to each other as it was sent, not as it was made ready.
    """

    def __init__(self, work: bytes, wanted: Surroundings) -> None:
        self._work = work
        self._wanted = wanted
        self._lock = threading.Lock()
        self._made: tuple[Callable[[Any, Any], Result], Any] | Failure | None = None

    def __reduce__(self) -> tuple[Any, ...]:
        return Carried, (self._work, self._wanted)

    def attempt(self, what: Any, worker: str, folder: Path) -> Result | Failure:
        """One item by the worker of that address, with files in a folder inside `folder`."""
        with self._lock:
            if self._made is None:
                self._made = self._make_ready(worker, folder)
        return self._made if isinstance(self._made, Failure) else attempt(*self._made, what)

    def _make_ready(self, worker: str, folder: Path) -> tuple[Callable[[Any, Any], Result], Any] | Failure:
        unlike = difference(self._wanted, surroundings())
        if unlike:
            return failure(WorkError(f"worker {worker} {unlike}; install the same there as here"))
        if "numba" not in sys.modules:  # later it would be told twice what it takes up once only
            os.environ.setdefault("NUMBA_NUM_THREADS", "1")
        try:
            own = new_folder(folder)
        except Exception as error:
            return failure(error)
        weakref.finalize(self, rmtree, own, ignore_errors=True)
        return make_ready(self._work, own)


@dataclass(frozen=True)
class Done:
    """What became of an item, and on what kind of processor."""

    outcome: Result | Failure
    processor: str


def carry(work: bytes, wanted: Surroundings) -> Carried:
    """The task whose result all items share: computed anew where all workers that had it are gone."""
    return Carried(work, wanted)


def do(carried: Carried, what: Any) -> Done:
    """The task of one item."""
    from distributed import get_worker

    worker = get_worker()
    outcome = carried.attempt(what, worker.address, Path(worker.local_directory))
    return Done(outcome, surroundings().processor)
