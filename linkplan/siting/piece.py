"""One piece of work and its result, in a shape that is the same in this process, in another, or in a file."""

from __future__ import annotations

import json
import pickle
import shutil
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import LinkplanError, OutputError

Numbers = dict[str, Any]
"""What JSON can hold."""
Arrays = dict[str, NDArray[Any]]
Result = tuple[Numbers, Arrays]
"""Of one item; the arrays may be read-only."""

Shared = TypeVar("Shared")
Ready = TypeVar("Ready")
What = TypeVar("What")


@dataclass(frozen=True)
class Work(Generic[Shared, Ready, What]):
    """What every process that takes part is given."""

    shared: Shared
    prepare: Callable[[Shared, Path], Ready]
    compute: Callable[[Ready, What], Result]


@dataclass(frozen=True)
class Failure:
    """What `prepare` or `compute` raised elsewhere, on its way here."""

    error: Exception


def make_ready(sent: bytes, folder: Path) -> tuple[Callable[[Any, Any], Result], Any] | Failure:
    """What a process needs for items of a pickled Work: how to compute one, and what is ready for all."""
    try:
        work: Work[Any, Any, Any] = pickle.loads(sent)
        return work.compute, work.prepare(work.shared, new_folder(folder))
    except Exception as error:
        return failure(error)


def attempt(compute: Callable[[Ready, What], Result], ready: Ready, what: What) -> Result | Failure:
    """One item, away from the process that asked for it: what it gives, or what it raised."""
    try:
        return plain(compute(ready, what))
    except Exception as error:
        return failure(error)


def failure(error: Exception) -> Failure:
    """An error as it can be sent to another process: itself, or its words where it cannot be pickled."""
    expected = isinstance(error, LinkplanError)
    trace = "raised in another process:\n" + "".join(traceback.format_exception(error))
    try:
        if str(pickle.loads(pickle.dumps(error))) != str(error):
            raise ValueError(error)
    except Exception:
        error = LinkplanError(str(error)) if expected else RuntimeError(f"{type(error).__name__}: {error}")
    if not expected:
        error.add_note(trace)
    return Failure(error)


def plain(result: Result) -> Result:
    """A result as it also comes back from a file: numbers as from JSON, arrays in C order, little-endian.

    Raises TypeError for what cannot be kept in that way.
    """
    numbers, arrays = result
    return json.loads(json.dumps(numbers)), {label: _plain_array(array) for label, array in arrays.items()}


def _plain_array(array: NDArray[Any]) -> NDArray[Any]:
    array = np.asarray(array, order="C")
    if array.dtype.kind not in "biufc":
        raise TypeError(f"an array of {array.dtype} cannot be kept")
    return array.astype(array.dtype.newbyteorder("<"), copy=False)


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """An empty folder that is removed at the end of the block. Raises OutputError where none can be made."""
    folder = new_folder()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_folder(inside: Path | None = None) -> Path:
    """An empty folder for files of a moment. Raises OutputError where none can be made."""
    try:
        return Path(tempfile.mkdtemp(prefix="linkplan-", dir=inside))
    except OSError as error:
        raise OutputError(
            f"no temporary folder can be made ({error.strerror}); make room, or name another in TMPDIR"
        ) from None
