"""Files dropped onto the page: few and small, kept in a folder of a moment, never in that of the job."""

from __future__ import annotations

import re
import shutil
import tempfile
import threading
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from linkplan.page.words import RequestError, fault_body

MOST_BYTES = 64_000_000
MOST_FILES = 24
MOST_IN_ALL = 200_000_000
_SHEETS = (".toml", ".csv")
_PREAMBLE = b"\xd3"
_SENTENCE = re.compile(rb"\$[A-Z]{2}[A-Z]{3},")
_LOOKED_AT = 200_000


@dataclass(frozen=True)
class Dropped:
    """One file."""

    file: str
    name: str
    path: Path
    size: int
    kind: str
    """"sheet", "log", "capture" or "unknown"."""


class Drops:
    """The files of all tabs; the oldest goes when there are too many."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._files: OrderedDict[str, Dropped] = OrderedDict()
        self._folder: Path | None = None
        self._number = 0

    def take(self, job: str, name: str, content: bytes) -> dict[str, Any]:
        """Keep a file, and say what it is. RequestError (413) for one that is too large."""
        del job
        if len(content) > MOST_BYTES:
            raise RequestError(f"{name}: more than {MOST_BYTES // 1_000_000} MB", 413)
        safe = re.sub(r"[^\w .()-]", "_", name.replace("\\", "/").rpartition("/")[2]).strip(" .") or "file"
        with self._lock:
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="linkplan-page-"))
            self._number += 1
            place = self._folder / f"{self._number}"
            place.mkdir()
            path = place / safe[-60:]  # of four bytes a sign at most
            path.write_bytes(content)
            kind = _kind(path, content)
            one = Dropped(f"f-{self._number}", name, path, len(content), kind)
            self._files[one.file] = one
            self._make_room()
        body: dict[str, Any] = {
            "file": one.file, "name": path.name, "bytes": one.size, "kind": kind, "faults": [], "line": "",
            "set_names": [], "role": "",
        }  # fmt: skip
        if kind == "sheet":
            body.update(_sheet(path))
        elif kind == "unknown":
            body["line"] = (
                f"{path.name}: is neither a settings sheet (.toml or .csv), nor a log with NMEA 0183 "
                "sentences, nor a recorded RTCM 3 stream"
            )
        return body

    def get(self, file: str) -> Dropped:
        """A file by its number; RequestError where it is not there any more."""
        with self._lock:
            if file not in self._files:
                raise RequestError("a dropped file is not there any more; drop it once more", 404, "missing")
            return self._files[file]

    def close(self) -> None:
        """Remove all."""
        with self._lock:
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)
            self._folder = None
            self._files.clear()

    def _make_room(self) -> None:
        while len(self._files) > MOST_FILES or sum(one.size for one in self._files.values()) > MOST_IN_ALL:
            _, old = self._files.popitem(last=False)
            shutil.rmtree(old.path.parent, ignore_errors=True)


def _kind(path: Path, content: bytes) -> str:
    """What a file is, by its beginning first: a log may well be called .csv."""
    head = content[:_LOOKED_AT]
    if _SENTENCE.search(head):
        return "log"
    # a frame: preamble, six zero bits, length [RTCM 10403]
    at = head.find(_PREAMBLE)
    while 0 <= at < len(head) - 6:
        length = (head[at + 1] & 0x03) << 8 | head[at + 2]
        follows = at + 3 + length + 3
        if head[at + 1] & 0xFC == 0 and (follows == len(head) or head[follows : follows + 1] == _PREAMBLE):
            return "capture"
        at = head.find(_PREAMBLE, at + 1)
    return "sheet" if path.suffix.lower() in _SHEETS else "unknown"


def _sheet(path: Path) -> dict[str, Any]:
    """What a settings sheet says of itself, and its faults."""
    from linkplan.plan.sheet_fields import Role
    from linkplan.plan.sheet_files import read_sheet_file
    from linkplan.plan.sheets import FileReport

    read = []
    roles: tuple[Role, ...] = ("rover", "base")
    for role in roles:
        reports: list[FileReport] = []
        sheets = read_sheet_file(path, role, reports)
        read.append((role, sheets, [fault for report in reports for _, fault in report.listed()]))
    # a sheet that says whose it is has a fault more when it is read for the other
    role, sheets, faults = min(read, key=lambda one: len(one[2]))
    return {
        "faults": [fault_body(fault, path.name) for fault in faults],
        "set_names": [one.set_name for one in sheets][:200],
        "role": role,
    }
