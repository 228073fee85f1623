"""A job file from disk to parsed TOML, and what is wrong with it as a file."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from linkplan.errors import Fault, JobFileError
from linkplan.plan.secrecy import HIDDEN, is_secret_name, is_secret_text
from linkplan.plan.words import LONGEST_SHOWN, WrittenFloat, quoted

NEW_HINT = "`linkplan new FILE` writes one to start from"

MOST_BYTES = 10_000_000
"""A boundary of some 300 000 corners; a longer file, or a device without end, is no job file."""

_HINTS = (
    ("overwrite a value", "the same key stands twice in its table; keep one of them"),
    ("twice", "the same [table] stands twice; join them"),
    ("unescaped '\\'", "write paths with / instead of \\, or in single quotes"),
    ("invalid hex", "write paths with / instead of \\, or in single quotes"),
    ("invalid value", 'text stands in double quotes, numbers stand alone: name = "East pit", height = 5'),
    ("after a statement", "one key = value a line; a number takes no unit, and text stands in double quotes"),
    ("end of document", "a quote or a bracket that was opened is not closed"),
)
"""What a parser's complaint usually means, searched in order."""


@dataclass(frozen=True)
class Document:
    """A job file as parsed, with the SHA-256 (hex) of its bytes."""

    data: dict[str, Any]
    sha256: str


def read_document(path: Path) -> Document:
    """Read and parse a job file; raises JobFileError with one fault when it is no TOML file."""
    content = _read_bytes(path)
    text = _decode(path, content)
    try:
        data = tomllib.loads(text, parse_float=WrittenFloat)
    except tomllib.TOMLDecodeError as error:
        raise JobFileError(str(path), (_syntax_fault(text, str(error)),)) from None
    except (RecursionError, ValueError):
        # Brackets nested thousands deep, or an integer of thousands of digits.
        raise _refused(path, "a value is nested too deep or a number has too many digits") from None
    return Document(data, hashlib.sha256(content).hexdigest())


def _refused(path: Path, problem: str, cure: str = "") -> JobFileError:
    return JobFileError(str(path), (Fault("", "", problem, cure),))


def _read_bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _refused(path, "no such file", NEW_HINT) from None
    except IsADirectoryError:
        raise _refused(path, "a folder, not a file", "name the job file in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(path, f"cannot be read ({reason})") from None
    if len(content) > MOST_BYTES:
        raise _refused(path, f"more than {MOST_BYTES // 1_000_000} MB", "name the job file, not its data")
    return content


def _decode(path: Path, content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        byte = content[error.start]
        raise _refused(
            path, f"not UTF-8 text: byte 0x{byte:02X} in line {line}", "save the file as UTF-8"
        ) from None


def _syntax_fault(text: str, message: str) -> Fault:
    """Say where the text stops being TOML, show that line, and what usually is wrong there."""
    found = re.search(r"\(at line (\d+), column (\d+)\)", message)
    reason = re.sub(r"\s*\(at .*\)$", "", message).strip()
    reason = reason[:1].lower() + reason[1:]
    cure = next((hint for mark, hint in _HINTS if mark in message.lower()), "")
    if found is None:
        return Fault("", "", f"not valid TOML at the end of the file ({reason})", cure)
    row, column = int(found[1]), int(found[2])
    lines = text.split("\n")
    line = lines[row - 1].strip() if row <= len(lines) else ""
    if is_secret_name(line.partition("=")[0]) or is_secret_text(line):
        line = HIDDEN
    stands = f": {_one_line(line)[:LONGEST_SHOWN]}" if line else ""
    return Fault("", "", f"not valid TOML in line {row}, column {column}{stands} ({_one_line(reason)})", cure)


def _one_line(text: str) -> str:
    return text if text.isprintable() else quoted(text)
