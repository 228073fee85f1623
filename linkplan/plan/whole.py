"""A small file written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from linkplan.errors import OutputError


def write_whole(path: Path, content: bytes, mode: int, check: Callable[[Path], None] | None = None) -> None:
    """Write a file under another name in the same folder, then rename it; an older one is replaced.

    `mode`: its permissions. `check` looks at the finished draft before it takes its name, and raises where
    it will not do. Raises OutputError, and leaves nothing behind, where the file cannot be written.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=".linkplan-", suffix=path.suffix, dir=path.parent)
        draft = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            os.chmod(draft, mode)
            if check is not None:
                check(draft)
            os.replace(draft, path)
        except BaseException:
            os.unlink(draft)
            raise
    except OutputError:
        raise
    except FileNotFoundError:
        raise OutputError(f"{path}: there is no folder {path.parent}; make it first") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OutputError(f"{path}: cannot be written ({reason})") from None
