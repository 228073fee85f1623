"""A job file with something changed in it: comments, order and spacing stay as its user left them.

What is to change is decided on the parsed values; the text is then changed in those places only, and parsed
again to see that it says just that. The file is replaced whole, after the new one has been read as a job.
"""

from __future__ import annotations

import codecs
import hashlib
import os
import stat
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from linkplan.errors import JobFileError, OutputError
from linkplan.plan.reader import read_plan
from linkplan.plan.whole import write_whole

Values = Mapping[str, Any]
"""A parsed job file, or a table of it."""


def changed_text(text: str, wanted: Values, rewritten: Callable[[], str], by_hand: Callable[[], str]) -> str:
    """The text of a sound job file made to say what is wanted; the same text where it does already.

    `rewritten` gives the new text; `by_hand` says what the user would do where that cannot be done without
    harm: OutputError then.
    """
    import tomlkit.exceptions

    if wanted == tomllib.loads(text):
        return text
    try:
        result = rewritten()
        if tomllib.loads(result) == wanted:
            return result
    except (tomlkit.exceptions.TOMLKitError, LookupError, TypeError, ValueError, RecursionError):
        pass
    raise OutputError(f"is written in a way that cannot be changed safely; {by_hand()}")


def write_back(path: str | Path, job_hash: str, change: Callable[[str], str], what: str) -> bool:
    """Change a job file's text; False where `change` gives the same.

    `job_hash` is that of the plan for which the change was found; `what` names it in a refusal, e.g. "this
    base". The file keeps its permissions, and is replaced whole, only after the new one has been read as a
    job. Raises OutputError, and leaves the file as it is, where it has changed since, cannot be written, or
    would not be a sound job.
    """
    path = Path(path)
    before = _unchanged(path, job_hash)
    mark = codecs.BOM_UTF8 if before.startswith(codecs.BOM_UTF8) else b""
    try:
        after = mark + change(before.decode("utf-8-sig")).encode()
    except OutputError as error:
        raise OutputError(f"{path}: {error}") from None
    if after == before:
        return False
    if not os.access(path, os.W_OK):
        raise OutputError(f"{path}: is write-protected; nothing was changed")

    def check(draft: Path) -> None:
        try:
            read_plan(draft)
        except JobFileError as error:
            line = error.faults[0].line(str(path))
            raise OutputError(f"{line} (with {what}; nothing was changed)") from None
        _unchanged(path, job_hash)

    target = path.resolve()  # a link stays one
    write_whole(target, after, stat.S_IMODE(target.stat().st_mode), check)
    return True


def _unchanged(path: Path, job_hash: str) -> bytes:
    """The file's bytes, as long as they are those that were read."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise OutputError(f"{path}: cannot be read again ({error.strerror}); nothing was changed") from None
    if hashlib.sha256(content).hexdigest() != job_hash:
        raise OutputError(
            f"{path}: has changed since it was read; nothing was written; run the command again"
        )
    return content


def line_end(text: str) -> str:
    """How lines of a text end."""
    return "\r\n" if "\r\n" in text else "\n"


def set_value(table: Any, key: str, value: Any) -> None:
    """Another value for a key that a table of the parsed document has; its comment stays."""
    if isinstance(value, list):  # one by one, so that what stands between the numbers stays
        for place, number in enumerate(value):
            table[key][place] = number
    else:
        table[key] = value


def add_value(table: Any, key: str, value: Any, after: str, text: str) -> None:
    """A new key behind the line of another one; left to itself the library puts it below the notes that
    stand above the next table."""
    import tomlkit
    from tomlkit.items import Table

    if not isinstance(table, Table):  # one in braces, or dotted keys
        table[key] = value
        return
    trivia = table[after].trivia
    end = line_end(text)
    line = f"{trivia.indent}{key} = {tomlkit.item(value).as_string()}"
    trivia.trail = f"{trivia.trail or end}{line}{end if trivia.trail else ''}"
