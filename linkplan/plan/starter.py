"""The commented job file that a new job starts from."""

from __future__ import annotations

import os
from importlib import resources
from pathlib import Path

from linkplan.errors import OutputError
from linkplan.plan.whole import write_whole


def starter_text() -> str:
    """The starter job file, TOML with a word on every key; all its values are invented."""
    return resources.files("linkplan.plan").joinpath("starter.toml").read_text(encoding="utf-8")


def write_starter(path: str | Path) -> None:
    """Write the starter to a new file; raises OutputError, and leaves nothing behind, where it cannot.

    An existing file is never overwritten.
    """
    path = Path(path)
    try:
        there, is_folder = os.path.lexists(path), path.is_dir()
    except (OSError, ValueError) as error:
        raise OutputError(f"{path}: cannot be written ({error})") from None
    if there:
        kind = "is a folder; name a new file in it" if is_folder else "exists already; name another file"
        raise OutputError(f"{path}: {kind}")
    write_whole(path, starter_text().encode(), 0o666 & ~_umask())


def _umask() -> int:
    """The process's mask of permissions, which the system only tells while setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
