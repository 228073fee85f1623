"""Whether files on disk are still those that were read: a stamp over names, sizes and times."""

from __future__ import annotations

import hashlib
import os
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from linkplan.plan.model import Plan

_LONGEST_NAME = 400
MOST_FILES = 20_000
"""Followed for one job; more are a slip of the pen."""


def stamp_of(paths: Iterable[Path]) -> str:
    """Changes when any of the files changes, appears or goes; a few microseconds a file."""
    digest = hashlib.sha256()
    for path in paths:
        try:
            found = os.stat(path)
            facts: tuple[int, ...] = (
                found.st_mtime_ns,
                found.st_ctime_ns,
                found.st_size,
                found.st_ino,
                found.st_dev,
            )
        except (OSError, ValueError):
            facts = ()
        digest.update(f"{path}\0{facts}\n".encode(errors="surrogateescape"))
    return digest.hexdigest()


def raster_files(plan: Plan) -> tuple[Path, ...]:
    """Every file that says something of a job's ground: the rasters, what they are made of and what stands
    beside them. DemError for one that cannot be read."""
    from linkplan.terrain.raster import opened

    found: dict[Path, None] = {}
    rasters = [(path, "terrain file") for path in plan.terrain.files]
    if plan.clutter is not None:
        rasters.append((plan.clutter.file, "clutter file"))
    for path, kind in rasters:
        found[path] = None
        with opened(path, kind) as dataset:
            found.update(dict.fromkeys(Path(name) for name in dataset.files))
        for beside in _may_stand_beside(path):
            found[beside] = None
    return tuple(found)


def _may_stand_beside(path: Path) -> list[Path]:
    """Files that may appear later and change what a raster says of itself."""
    first, last = path.suffix[1:2], path.suffix[-1:]
    endings = [f".{first}{last}w", ".wld", ".prj"] if path.suffix else []
    return [*(path.with_suffix(ending) for ending in endings), Path(f"{path}.aux.xml"), Path(f"{path}.msk")]


def job_files(job: Path) -> tuple[Path, ...]:
    """A job file and what its texts may name: a change of any of them asks for another reading."""
    found: dict[Path, None] = {job: None}
    try:
        data = tomllib.loads(job.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return tuple(found)
    for text in _texts(data):
        if 0 < len(text) <= _LONGEST_NAME and text.isprintable() and len(found) < MOST_FILES:
            found[job.parent / text] = None
    return tuple(found)


def _texts(value: Any) -> Iterable[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)
