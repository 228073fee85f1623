"""The commented job file that a new job starts from."""

from __future__ import annotations

import os
import tempfile
from importlib import resources
from pathlib import Path

from linkplan.errors import OutputError


def starter_text() -> str:
    """The starter job file, TOML with a word on every key; all its values are invented."""
    return resources.files("linkplan.plan").joinpath("starter.toml").read_text(encoding="utf-8")


def write_starter(path: str | Path) -> None:
    """Write the starter to a new file; raises OutputError, and leaves nothing behind, where it cannot.

    An existing file is never overwritten.
    """
    path = Path(path)
    try:
        if os.path.lexists(path):
            kind = (
                "is a folder; name a new file in it" if path.is_dir() else "exists already; name another file"
            )
            raise OutputError(f"{path}: {kind}")
        handle, draft = tempfile.mkstemp(prefix=".linkplan-", suffix=".toml", dir=path.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(starter_text())
            os.chmod(draft, 0o666 & ~_umask())
            os.replace(draft, path)
        except BaseException:
            os.unlink(draft)
            raise
    except FileNotFoundError:
        raise OutputError(f"{path}: there is no folder {path.parent}; make it first") from None
    except OutputError:
        raise
    except (OSError, ValueError) as error:
        raise OutputError(
            f"{path}: cannot be written ({getattr(error, 'strerror', None) or error})"
        ) from None


def _umask() -> int:
    """The process's mask of permissions, which the system only tells while setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
