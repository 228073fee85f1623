"""Whole results or none: files are made in a hidden folder beside the target and moved in when done."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from linkplan.errors import OutputError


@contextmanager
def staged_folder(target: Path) -> Iterator[Path]:
    """A folder to write into; its files move to `target` when the block ends without an error.

    Files of the same names in `target` are replaced, others are left alone. Raises OutputError before
    any work where `target` cannot be written, and leaves nothing behind when the block fails.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.exists():
            if not target.is_dir():
                raise OutputError(f"{target}: is a file; name a folder to write to")
            if not os.access(target, os.W_OK | os.X_OK):
                raise OutputError(f"{target}: folder is not writable; choose another with --out")
        stage = Path(tempfile.mkdtemp(prefix=f".{target.name}-", suffix=".partial", dir=target.parent))
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"{target}: cannot write there ({error.strerror}); choose another folder") from None
    try:
        yield stage
        _move_all(stage, target)
    except OSError as error:
        if isinstance(error, OutputError) or error.errno is None or type(error).__module__ != "builtins":
            raise
        raise OutputError(f"{target}: cannot write there ({error.strerror})") from None
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _move_all(stage: Path, target: Path) -> None:
    target.mkdir(exist_ok=True)
    for made in sorted(stage.rglob("*")):
        place = target / made.relative_to(stage)
        if made.is_dir():
            place.mkdir(exist_ok=True)
        else:
            os.replace(made, place)


def copy_folder(source: Path, target: Path, *, but: tuple[str, ...] = ()) -> None:
    """Copy the files of a folder (not its subfolders) to another that is made if need be.

    Files whose names end in one of `but` stay behind.
    """
    with staged_folder(target) as stage:
        for file in sorted(source.iterdir()):
            if file.is_file() and not file.name.startswith(".") and file.suffix not in but:
                shutil.copyfile(file, stage / file.name)
