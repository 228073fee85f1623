"""Whole results or none: files are made in a hidden folder beside the target and moved in when done."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from linkplan.errors import OutputError


@contextmanager
def staged_folder(target: Path) -> Iterator[Path]:
    """A folder to write into; its files move to `target` when the block ends without an error.

    Files of the same names in `target` are replaced, others are left alone. Raises OutputError before
    any work where `target` cannot be written, and leaves nothing behind when the block fails.
    """
    made: list[Path] = []
    try:
        str(target).encode()
    except UnicodeEncodeError:  # the drivers of vector files take no other names
        raise OutputError(f"{target}: a folder's name must be UTF-8 text; choose another") from None
    try:
        made = _missing_parents(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.is_symlink() and not target.exists():
            raise OutputError(f"{target}: is a link to nowhere; make the folder, or name another")
        if target.exists():
            if not target.is_dir():
                raise OutputError(f"{target}: is a file; name a folder to write to")
            if not os.access(target, os.W_OK | os.X_OK):
                raise OutputError(f"{target}: folder is not writable; choose another with --out")
        # inside a folder that is there, for it may be another disk than what it lies in
        home = target if target.exists() else target.parent
        stage = Path(tempfile.mkdtemp(prefix=".writing-", suffix=".partial", dir=home))
    except OSError as error:
        _remove_empty(made)
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"{target}: cannot write there ({error.strerror}); choose another folder") from None
    try:
        yield stage
        _move_all(stage, target)
        made = []
    except OutputError as error:
        raise OutputError(str(error).replace(str(stage), str(target))) from None
    except OSError as error:
        if error.errno is None or type(error).__module__ != "builtins":
            raise
        raise OutputError(f"{target}: cannot write there ({error.strerror})") from None
    finally:
        shutil.rmtree(stage, ignore_errors=True)
        _remove_empty(made)


def _missing_parents(target: Path) -> list[Path]:
    """Folders that have to be made for `target` to stand in, innermost first."""
    return [folder for folder in target.parents if not folder.exists()]


def _remove_empty(folders: list[Path]) -> None:
    with suppress(OSError):
        for folder in folders:
            folder.rmdir()


def _move_all(stage: Path, target: Path) -> None:
    pairs = [(made, target / made.relative_to(stage)) for made in sorted(stage.rglob("*"))]
    for made, place in pairs:
        if made.is_file() and place.is_dir():
            raise OutputError(f"{place}: is a folder where a file is to be written; remove or rename it")
    target.mkdir(exist_ok=True)
    for made, place in pairs:
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
