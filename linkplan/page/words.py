"""What a request may say, and how an error looks on its way back."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any

from linkplan.errors import (
    AlmanacError,
    DemError,
    Fault,
    JobFileError,
    LinkplanError,
    OutputError,
    PlaceError,
    RangeError,
    RecordingError,
    SheetError,
    VectorError,
    WorkError,
)

TAB = re.compile(r"[A-Za-z0-9_-]{1,40}")
MOST_SERIAL = 2**53
"""The largest whole number that a browser counts to."""

_KINDS: tuple[tuple[type[LinkplanError], str], ...] = (
    (JobFileError, "job"),
    (SheetError, "sheet"),
    (PlaceError, "place"),
    (DemError, "terrain"),
    (VectorError, "job"),
    (RangeError, "range"),
    (RecordingError, "recording"),
    (AlmanacError, "almanac"),
    (WorkError, "work"),
    (OutputError, "output"),
)


class RequestError(Exception):
    """A request that the page never makes, or one that asks the user back; with its HTTP status."""

    def __init__(self, line: str, status: int = 400, kind: str = "request", **more: Any) -> None:
        super().__init__(line)
        self.status = status
        self.kind = kind
        self.more = more

    def body(self) -> dict[str, Any]:
        """As JSON."""
        return {"error": {"kind": self.kind, "line": str(self), "faults": [], **self.more}}


class StoppedError(Exception):
    """Work that nobody waits for any more; raised by progress callbacks, so between two steps of it."""


def fault_body(fault: Fault, file: str) -> dict[str, str]:
    """One fault of a job file or a sheet."""
    return {
        "file": file,
        "key": fault.key,
        "value": fault.value,
        "problem": fault.problem,
        "cure": fault.cure,
        "line": fault.line(file),
    }


def error_body(error: Exception) -> dict[str, Any]:
    """An error that a user can cause and cure; of any other one no word leaves but that it happened."""
    faults: list[dict[str, str]] = []
    line = " ".join(str(error).split("\n")[0].split())
    kind = next((name for one, name in _KINDS if isinstance(error, one)), "internal")
    if isinstance(error, JobFileError):
        name = error.file.rpartition("/")[2]
        faults = [fault_body(fault, name) for fault in error.faults]
        line = faults[0]["line"] if faults else line
    elif isinstance(error, SheetError):
        faults = [fault_body(fault, file.rpartition("/")[2]) for file, fault in error.faults]
        line = faults[0]["line"] if faults else line
    elif isinstance(error, MemoryError):
        kind, line = "memory", "not enough memory for this job; set terrain.cell_size larger"
    elif isinstance(error, StoppedError):
        kind, line = "stopped", "stopped"
    elif isinstance(error, OSError) and not isinstance(error, LinkplanError):
        where = f"{str(error.filename).rpartition('/')[2]}: " if error.filename else ""
        kind, line = "output", f"{where}stopped by the system: {error.strerror or 'unknown reason'}"
    elif kind == "internal" and not isinstance(error, LinkplanError):
        line = "this should not have happened: the computation broke off; nothing was changed"
    return {"kind": kind, "line": line, "faults": faults}


def parsed(body: bytes) -> dict[str, Any]:
    """A request's JSON object. Numbers are finite; RequestError for anything else."""

    def refuse(word: str) -> float:
        raise RequestError(f"{word} is no number")

    try:
        found = json.loads(body.decode("utf-8"), parse_constant=refuse, parse_float=_finite)
    except (UnicodeDecodeError, json.JSONDecodeError):
        raise RequestError("the request's body is not JSON") from None
    except (RecursionError, ValueError):
        raise RequestError("the request's body is nested too deep or has a number that is too long") from None
    if not isinstance(found, dict):
        raise RequestError("the request's body is not a JSON object")
    return found


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise RequestError(f"{text[:20]} is too large")
    return value


def only(body: Mapping[str, Any], *names: str) -> None:
    """RequestError for keys that are not among `names`."""
    unknown = sorted(set(body) - set(names))
    if unknown:
        raise RequestError(f"unknown key {_short(unknown[0])}; known are {', '.join(names)}")


def tab_of(body: Mapping[str, Any]) -> str:
    """The tab that asks."""
    tab = body.get("tab")
    if not (isinstance(tab, str) and TAB.fullmatch(tab)):
        raise RequestError("tab: 1 to 40 letters, digits, _ and - are wanted")
    return tab


def serial_of(body: Mapping[str, Any]) -> int:
    """The request's number within its tab."""
    serial = body.get("serial")
    if isinstance(serial, bool) or not isinstance(serial, int) or not 0 <= serial < MOST_SERIAL:
        raise RequestError("serial: a whole number is wanted")
    return serial


def number_of(value: Any, name: str, low: float = -math.inf, high: float = math.inf) -> float:
    """A number of a request within its range."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise RequestError(f"{name}: a number is wanted")
    if not (low <= value <= high and abs(value) < 1e300):
        raise RequestError(f"{name}: {_short(value)} is outside {low:g} to {high:g}")
    return float(value)


def text_of(value: Any, name: str, most: int = 200) -> str:
    """A text of a request, one line."""
    if not isinstance(value, str) or len(value) > most or not value.isprintable():
        raise RequestError(f"{name}: one line of text of at most {most} signs is wanted")
    return value


def choice_of(value: Any, name: str, choices: tuple[str, ...]) -> str:
    """One word out of several."""
    if not isinstance(value, str) or value not in choices:
        raise RequestError(f"{name}: one of {', '.join(choices)} is wanted")
    return value


def yes_of(value: Any, name: str) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise RequestError(f"{name}: true or false is wanted")
    return value


def _short(value: Any) -> str:
    text = ascii(value)
    return text if len(text) <= 40 else text[:37] + "..."
