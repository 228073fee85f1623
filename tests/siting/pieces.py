"""Pieces of work that leave marks of each call, and make trouble where they are asked to."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import psutil

from linkplan.errors import Fault, JobFileError, PlaceError
from linkplan.siting.piece import Result


@dataclass(frozen=True)
class Notes:
    """What the functions below share: numbers, and a folder where they leave a mark of each call."""

    numbers: np.ndarray
    marks: Path
    trouble: str = ""
    """That `prepare` makes."""

    def mark(self, what: str) -> int:
        """Leave one more mark; returns how many of the kind there are now."""
        (self.marks / f"{what}@{os.getpid()}@{time.monotonic_ns()}").touch()
        return len(self.of(what))

    def of(self, what: str) -> list[str]:
        """Process of each mark of one kind."""
        return [mark.name.split("@")[1] for mark in self.marks.glob(f"{what}@*")]


def prepare(notes: Notes, folder: Path) -> tuple[Notes, Path]:
    notes.mark("prepare")
    notes.mark(f"threads {os.environ.get('NUMBA_NUM_THREADS')}")
    if notes.trouble == "dies":
        os.kill(os.getpid(), signal.SIGKILL)
    if notes.trouble:
        raise PlaceError(notes.trouble)
    (folder / "numbers").write_bytes(notes.numbers.tobytes())
    return notes, folder


def compute(ready: tuple[Notes, Path], what: str) -> Result:
    """Something whose last bits tell; `what` may ask for trouble on the way."""
    notes, folder = ready
    times = notes.mark(what)
    if (what.startswith("dies once") and times == 1) or what.startswith("dies always"):
        os.kill(os.getpid(), signal.SIGKILL)
    if what.startswith("slow"):
        time.sleep(0.2)
    if what.startswith("endless"):
        time.sleep(60.0)
    if what == "no place":
        raise PlaceError("no place, 7 km off")
    if what == "bad job":
        raise JobFileError("job.toml", (Fault("base", "", "is missing", "add it"),))
    if what == "wrong":
        raise ZeroDivisionError("by nothing")
    numbers = np.frombuffer((folder / "numbers").read_bytes())
    waves = np.sin(numbers * (1.0 + len(what))) / 3.0
    return (
        {"sum": float(waves.sum()), "none": None, "nested": {"pair": (1, float(waves[0]))}},
        {"waves": waves, "turned": waves.reshape(2, -1).astype(np.float32).T, "high": waves > 0.1},
    )


def bits(results: dict[Any, Result]) -> dict[Any, Any]:
    """Results so that equal means equal to the last bit."""
    return {
        key: (numbers, {name: (a.dtype.str, a.shape, a.tobytes()) for name, a in arrays.items()})
        for key, (numbers, arrays) in results.items()
    }


def wait_for(what: str, done: Any, most_s: float = 20.0) -> None:
    until = time.monotonic() + most_s
    while not done():
        assert time.monotonic() < until, f"{what}: not within {most_s} s"
        time.sleep(0.01)


def gone(pid: int) -> bool:
    """Ended, though perhaps nobody has asked how."""
    try:
        return psutil.Process(pid).status() == psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return True
