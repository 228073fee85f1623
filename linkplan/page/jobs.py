"""Jobs of one folder: found by their file name, read again when they or their small files have changed."""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from typing import Any

from linkplan.errors import JobFileError, OutputError
from linkplan.page.cover import Maps
from linkplan.page.ground import Ground
from linkplan.page.stamps import job_files, stamp_of
from linkplan.page.words import RequestError, error_body
from linkplan.plan.document import MOST_BYTES
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan

MOST_OPEN = 3
"""Jobs whose ground and maps are kept."""
MOST_LISTED = 200
SUFFIX = ".toml"


class OpenJob:
    """One job file with its ground and maps; safe to use from several threads."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.ground = Ground()
        self.maps = Maps(self.ground)
        self._lock = threading.Lock()
        self._files: tuple[Path, ...] = ()
        self._stamp = ""
        self._plan: Plan | None = None
        self._texts: OrderedDict[str, str] = OrderedDict()

    @property
    def name(self) -> str:
        """The file's."""
        return self.path.name

    def plan(self) -> Plan:
        """The job as its file says now. JobFileError where it has faults."""
        with self._lock:
            if self._plan is not None and stamp_of(self._files) == self._stamp:
                return self._plan
            files = job_files(self.path)
            stamp = stamp_of(files)
            self._plan = None
            plan = read_plan(self.path)
            # a relative path would follow the process's own folder
            self._plan = plan = replace(plan, file=self.path)
            # what was computed for the job as it was may rest on a file that has changed
            self.maps = Maps(self.ground)
            self._files, self._stamp = files, stamp
            self._remember(plan.job_hash)
            return plan

    def text_of(self, job_hash: str) -> str | None:
        """The file's text as it was when it had this hash, if that is still known."""
        with self._lock:
            return self._texts.get(job_hash)

    def _remember(self, job_hash: str) -> None:
        import hashlib

        content = self.path.read_bytes()
        if hashlib.sha256(content).hexdigest() == job_hash:
            self._texts[job_hash] = content.decode("utf-8-sig")
            while len(self._texts) > 4:
                self._texts.popitem(last=False)


class JobFolder:
    """The job files of one folder, and none of any other."""

    def __init__(self, folder: Path, opened: str | None = None) -> None:
        """OutputError for the name of a file that the page cannot open."""
        self.folder = folder.resolve()
        self.opened = opened
        if opened is not None and not _is_sound(opened, SUFFIX):
            raise OutputError(
                f"{opened}: the page opens job files that end with {SUFFIX} and have none of "
                '\\ : * ? " < > | in their name; rename it'
            )
        self._lock = threading.Lock()
        self._open: OrderedDict[str, OpenJob] = OrderedDict()

    def get(self, name: str) -> OpenJob:
        """The job of that file name; RequestError (404) where the folder itself holds no such file."""
        path = self.path_of(name)
        if not path.is_file():
            raise RequestError("there is no such job file in this folder", 404, "missing")
        with self._lock:
            if name not in self._open:
                self._open[name] = OpenJob(path)
            self._open.move_to_end(name)
            while len(self._open) > MOST_OPEN:
                self._open.popitem(last=False)
            return self._open[name]

    def path_of(self, name: str, suffix: str = SUFFIX) -> Path:
        """A file or folder name's path inside this folder; RequestError for a way out of it."""
        if not _is_sound(name, suffix):
            raise RequestError("not a file name of this folder", 404, "missing")
        path = self.folder / name
        try:
            straight = path.resolve() == path
        except (OSError, RuntimeError):  # a link that leads to itself
            straight = False
        if not straight:
            raise RequestError("a link that leads out of the job's folder is not followed", 404, "missing")
        return path

    def listed(self) -> list[dict[str, Any]]:
        """Every job of the folder, readable or not."""
        import tomllib

        found = []
        names = sorted(one.name for one in self.folder.glob(f"*{SUFFIX}"))
        for name in names[:MOST_LISTED]:
            try:
                path = self.path_of(name)
                if not path.is_file():
                    continue  # a folder; or a pipe, which would never end
                with path.open("rb") as file:
                    data = tomllib.loads(file.read(MOST_BYTES).decode("utf-8-sig"))
            except RequestError:
                continue
            except (OSError, ValueError, RecursionError):
                found.append(
                    {"job": name, "name": "", "readable": False, "line": _trouble(self.path_of(name))}
                )
                continue
            job = data.get("job")
            if not isinstance(job, dict):
                continue  # a settings sheet, say
            found.append({"job": name, "name": str(job.get("name", ""))[:200], "readable": True, "line": ""})
        return found

    def new(self, name: str) -> str:
        """Write a job from the starter; its file name. OutputError where there is one already."""
        from linkplan.plan.starter import write_starter

        stem = name.strip().removesuffix(SUFFIX)
        if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,80}", stem):
            raise RequestError("name: letters, digits, blanks, _ . and - are wanted")
        path = self.path_of(f"{stem}{SUFFIX}")
        try:
            write_starter(path)
        except OutputError as error:
            raise OutputError(str(error).replace(f"{self.folder}/", "")) from None
        return path.name


def _is_sound(name: str, suffix: str) -> bool:
    """Whether a name is that of one file, on any system."""
    return (
        name.endswith(suffix)
        and len(name.encode(errors="surrogatepass")) <= 200
        and name.isprintable()
        and not name.startswith(".")
        and not set(name) & set('/\\:*?"<>|')
    )


def _trouble(path: Path) -> str:
    try:
        read_plan(path)
    except JobFileError as error:
        return str(error_body(error)["line"])
    return ""
