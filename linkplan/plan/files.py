"""Paths that stand in a job file: resolved against its folder, patterns expanded, existence checked."""

from __future__ import annotations

import glob
from pathlib import Path

from linkplan.plan.words import Report, nearest, quoted


def find_file(
    written: str, folder: Path, report: Report, key: str, *, folder_suffix: str | None = None
) -> Path | None:
    """The file that `written` names, counted from `folder`; None, with a fault noted, where there is none.

    `folder_suffix` (".gdb") lets a folder with that ending pass as one data set.
    """
    if not _writable_name(written, report, key):
        return None
    path = folder / written
    try:
        if path.is_file() or (folder_suffix and path.suffix.lower() == folder_suffix and path.is_dir()):
            return path
        problem = "this is a folder, not a file" if path.is_dir() else _not_there(written, folder)
    except OSError as error:
        report.fault(key, written, f"cannot be looked up ({error.strerror})")
        return None
    cure = "name the file in it" if problem.startswith("this is a folder") else _near_file(path)
    report.fault(key, written, problem, cure)
    return None


def find_files(written: list[str], folder: Path, report: Report, key: str) -> tuple[Path, ...]:
    """All files that the names and patterns (`*`, `?`, `[...]`) name, patterns sorted by name.

    Each file comes once, at its first place. A name that is there is taken as it stands, even with a
    pattern's characters in it. Each name or pattern without a file is a fault.
    """
    found: dict[Path, None] = {}
    for entry in written:
        if not _writable_name(entry, report, key):
            continue
        if glob.has_magic(entry) and not _is_there(folder / entry):
            matches = sorted(glob.glob(entry, root_dir=folder, recursive=True))
            files = [folder / match for match in matches if (folder / match).is_file()]
            if not files:
                report.fault(key, entry, f"no file fits this pattern; looked in {_words(folder)}")
            found.update(dict.fromkeys(files))
        else:
            single = find_file(entry, folder, report, key)
            if single is not None:
                found[single] = None
    return tuple(found)


def _writable_name(written: str, report: Report, key: str) -> bool:
    if written.strip() and written.isprintable():
        return True
    report.fault(key, written, "not a file name", 'write a path such as "terrain/site.tif"')
    return False


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:
        return False


def _words(folder: Path) -> str:
    return f"{folder.resolve()}, the job file's folder"


def _not_there(written: str, folder: Path) -> str:
    return "no such file" if Path(written).is_absolute() else f"no such file; looked in {_words(folder)}"


def _near_file(path: Path) -> str:
    """What to do about a file that is not there: perhaps another one of its folder is meant."""
    try:
        names = sorted(entry.name for entry in path.parent.iterdir())
    except OSError:
        return f"there is no folder {quoted(str(path.parent))} either" if not _is_there(path.parent) else ""
    guess = nearest(path.name, names)
    return f"did you mean {quoted(guess)}?" if guess else ""
