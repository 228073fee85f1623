"""Finished results kept in a file from run to run: what is still valid is not computed again.

The file is an SQLite database with one row a result. A row that is damaged counts as not there; a file that
is damaged is set aside, one that is not ours is refused. Several runs may use one file at once.
"""

from __future__ import annotations

import json
import sqlite3
import time
import zlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import OutputError
from linkplan.siting.content import content_key
from linkplan.siting.piece import Result, plain

__all__ = ["MOST_BYTES", "Kept", "content_key"]

MOST_BYTES = 2_000_000_000
"""A file that has grown beyond this loses the older half of its results when it is opened."""

_OURS = 0x6C706B31
"""SQLite's application_id of our files ("lpk1")."""
_VERSION = 1
"""Of the table and of how a row is written; rows of another are dropped."""
_TABLE = "CREATE TABLE results (key TEXT PRIMARY KEY, content BLOB NOT NULL, crc INTEGER NOT NULL)"
_INSERT = "INSERT OR REPLACE INTO results VALUES (?, ?, ?)"
_MAGIC = b"SQLite format 3\0"
_HEAD = 100
"""Bytes of an SQLite file's head; the application's number begins at byte 68 [SQLite file format, 1.3]."""
_BESIDE = ("", "-wal", "-shm", "-journal")
_BUSY_S = 30.0
"""That another run may hold the file."""
_SAMPLE = 4096
_PAYS = 0.7
"""An array is compressed where a sample of it shrinks to less than this."""
_OUT_OF_ORDER = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_NO_PLACE = (
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_AUTH,
    sqlite3.SQLITE_IOERR,
)


class Kept:
    """A store of results by key (see `content_key`); close it, or use it as a context."""

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self.notes: list[str] = []
        """What the user should know: a file set aside, or that nothing can be kept."""
        self._database: sqlite3.Connection | None = None

    @classmethod
    def open(cls, path: Path | None) -> Kept:
        """Open the file, or make it; with None, or where nothing can be written, nothing is kept.

        Raises OutputError where the file holds something else, the disk is full, or another program holds it.
        """
        kept = cls(path)
        if path is not None:
            if not _may_be_ours(path):
                raise OutputError(f"{path}: holds something else than finished places; name another file")
            kept._begin(path)
        return kept

    def _begin(self, path: Path) -> None:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            if path.exists() and not path.is_file():
                raise OSError(0, "it is no plain file")
            try:
                self._database = _ready(path, self.notes)
            except sqlite3.Error as error:
                if _kind(error) not in _OUT_OF_ORDER:
                    raise
                self._database = _begun_anew(path, self.notes)
        except (OSError, sqlite3.Error) as error:
            if isinstance(error, sqlite3.Error) and _kind(error) not in _NO_PLACE:
                raise _refused(path, error) from None
            word = error.strerror if isinstance(error, OSError) else error
            self.notes.append(f"{path}: cannot be written ({word}); finished results are not kept")

    def __enter__(self) -> Kept:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; nothing is kept from here on."""
        database, self._database = self._database, None
        if database is not None:
            with suppress(sqlite3.Error):
                database.close()

    def get(self, key: str) -> Result | None:
        """The result of that key to the last bit, arrays read-only; None where there is none, or damaged."""
        if self._database is None:
            return None
        row = None
        with suppress(sqlite3.Error):
            found = self._database.execute("SELECT content, crc FROM results WHERE key = ?", (key,))
            row = found.fetchone()
        if row is None or not isinstance(row[0], bytes) or _crc(key, row[0]) != row[1]:
            return None
        return _decoded(row[0])

    def put(self, key: str, result: Result) -> None:
        """Keep a result, in place of an earlier one of that key, whatever happens to this process then.

        Raises OutputError where the file cannot be written any more, as when the disk is full.
        """
        if self._database is None or self.path is None:
            return
        content = _encoded(result)
        row = (key, content, _crc(key, content))
        try:
            try:
                self._database.execute(_INSERT, row)
            except sqlite3.Error as error:
                if _kind(error) not in _OUT_OF_ORDER:
                    raise
                self.close()
                self._database = _begun_anew(self.path, self.notes)
                self._database.execute(_INSERT, row)
        except sqlite3.Error as error:
            raise _refused(self.path, error) from None
        except OSError as error:
            raise OutputError(f"{self.path}: a finished result cannot be kept ({error.strerror})") from None


def _may_be_ours(path: Path) -> bool:
    """Whether there is no file, an empty one, or one whose head says that it is of this kind."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except OSError:  # none there, or none to be read: opening it will tell
        return True
    return not head or (head.startswith(_MAGIC) and int.from_bytes(head[68:72], "big") == _OURS)


def _begun_anew(path: Path, notes: list[str]) -> sqlite3.Connection:
    """Set the file aside and make a new one."""
    aside = _set_aside(path)
    notes.append(f"{path}: is damaged; it is now {aside.name}, and a new one is begun")
    return _ready(path, notes)


def _ready(path: Path, notes: list[str]) -> sqlite3.Connection:
    """A connection to a file of ours, made if there is none; sqlite3.Error with one of the codes above."""
    database = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None)
    try:
        database.execute("BEGIN IMMEDIATE")
        if _check_or_make(database):
            notes.append(f"{path}: was kept by another version of linkplan; its results are dropped")
        _make_room(database)
        database.execute("COMMIT")
        # results are safe from a crash of the program at once, from one of the machine soon after
        _patiently(lambda: database.execute("PRAGMA journal_mode = WAL"))
        database.execute("PRAGMA synchronous = NORMAL")
    except BaseException:
        database.close()
        raise
    return database


def _check_or_make(database: sqlite3.Connection) -> bool:
    """See that it is ours and as this version wants it; True where results of another had to go."""
    (ours,) = database.execute("PRAGMA application_id").fetchone()
    (version,) = database.execute("PRAGMA user_version").fetchone()
    names = [name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    if ours != _OURS and (names or ours or version):
        raise _not_ours()
    if names == ["results"] and version == _VERSION:
        return False
    for name in names:
        database.execute(f'DROP TABLE "{name}"')
    database.execute(f"PRAGMA application_id = {_OURS}")
    database.execute(f"PRAGMA user_version = {_VERSION}")
    database.execute(_TABLE)
    return bool(names)


def _make_room(database: sqlite3.Connection) -> None:
    """Drop the older half of the results where the file is too large; later ones take their room."""
    pages, free, size = (
        database.execute(f"PRAGMA {what}").fetchone()[0]
        for what in ("page_count", "freelist_count", "page_size")
    )
    if (pages - free) * size > MOST_BYTES:
        (count,) = database.execute("SELECT COUNT(*) FROM results").fetchone()
        older = "SELECT rowid FROM results ORDER BY rowid LIMIT ?"
        database.execute(f"DELETE FROM results WHERE rowid IN ({older})", (count // 2,))


def _patiently(do: Callable[[], Any]) -> None:
    """Changing the journal does not wait for others by itself."""
    until = time.monotonic() + _BUSY_S
    while True:
        try:
            do()
            return
        except sqlite3.OperationalError as error:
            if _kind(error) not in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) or time.monotonic() > until:
                raise
            time.sleep(0.01)


def _set_aside(path: Path) -> Path:
    """Give the file, and what SQLite keeps beside it, the first free name of this kind."""
    number = 1
    while (aside := path.with_name(f"{path.name}.aside-{number}")).exists():
        number += 1
    for ending in reversed(_BESIDE):  # the file itself last: it is what others look for
        with suppress(FileNotFoundError):
            path.with_name(path.name + ending).rename(aside.with_name(aside.name + ending))
    return aside


def _kind(error: sqlite3.Error) -> int:
    """Primary result code of SQLite, or 0."""
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


def _not_ours() -> sqlite3.Error:
    error = sqlite3.DatabaseError("not a file of finished results")
    error.sqlite_errorcode = sqlite3.SQLITE_NOTADB
    return error


def _refused(path: Path, error: sqlite3.Error) -> OutputError:
    cures = {
        sqlite3.SQLITE_FULL: "make room, and run again to go on from there",
        sqlite3.SQLITE_BUSY: "another program holds the file; end it, or name another file",
    }
    cure = cures.get(_kind(error), "name another file")
    return OutputError(f"{path}: finished results cannot be kept ({error}); {cure}")


def _crc(key: str, content: bytes) -> int:
    return zlib.crc32(content, zlib.crc32(key.encode()))


def _encoded(result: Result) -> bytes:
    """A line of JSON with the numbers and what the arrays are, then the bytes of all arrays."""
    numbers, arrays = plain(result)
    about, bodies = [], []
    for name, array in arrays.items():
        body = array.tobytes()
        middle = max(0, len(body) - _SAMPLE) // 2
        sample = body[middle : middle + _SAMPLE]
        packed = len(zlib.compress(sample, 1)) < _PAYS * len(sample)
        bodies.append(zlib.compress(body, 1) if packed else body)
        about.append([name, array.dtype.str, array.shape, packed, len(bodies[-1])])
    return b"\n".join([json.dumps([numbers, about]).encode(), b"".join(bodies)])


def _decoded(content: bytes) -> Result:
    head, _, rest = content.partition(b"\n")
    numbers, about = json.loads(head)
    arrays: dict[str, NDArray[Any]] = {}
    start = 0
    for name, kind, shape, packed, length in about:
        body = rest[start : start + length]
        start += length
        arrays[name] = np.frombuffer(zlib.decompress(body) if packed else body, kind).reshape(shape)
    return numbers, arrays
