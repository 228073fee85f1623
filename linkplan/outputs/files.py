"""Writing one file whole or not at all: made under a hidden name beside its place, then renamed."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from linkplan.errors import OutputError

_WORDS = {
    errno.EACCES: "the folder is not writable",
    errno.EPERM: "the folder is not writable",
    errno.EROFS: "the file system is read-only",
    errno.ENOENT: "the folder does not exist",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EFBIG: "the file would grow beyond what is allowed here",
    errno.ENOTDIR: "a part of the path is a file, not a folder",
    errno.EISDIR: "there is a folder of that name",
    errno.ENAMETOOLONG: "the name is too long",
}


@dataclass(frozen=True)
class Written:
    """A file that was written, and what it is for in one line."""

    path: Path
    what: str


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A place to write a file that becomes `path` when the block ends without an error.

    The place lies in a hidden folder beside `path` and has its name, as drivers look at the ending.
    Whatever goes wrong, or an interruption, leaves `path` as it was. Raises OutputError with one line.
    """
    with blame(path):
        work = Path(tempfile.mkdtemp(prefix=".writing-", suffix=".partial", dir=path.parent))
        try:
            yield work / path.name
            os.replace(work / path.name, path)
        finally:
            shutil.rmtree(work, ignore_errors=True)


def write_file(path: Path, content: bytes | str) -> Path:
    """Write one file; text becomes UTF-8 with line feeds."""
    data = content.encode("utf-8") if isinstance(content, str) else content
    with replacing(path) as place:
        place.write_bytes(data)
    return path


@contextmanager
def blame(path: Path) -> Iterator[None]:
    """Turn what goes wrong while writing `path` into an OutputError of one line."""
    try:
        yield
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {_reason(error)}") from error
    except RuntimeError as error:  # the drivers of raster and vector files raise these
        short = _first_line(error)[:90]
        raise OutputError(f"{path}: cannot be written; the disk may be full ({short})") from error


def _reason(error: OSError) -> str:
    return _WORDS.get(error.errno or 0) or error.strerror or _first_line(error)


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
