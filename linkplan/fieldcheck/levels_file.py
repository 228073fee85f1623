"""Measured levels out of a CSV file: a radio survey, or a receiver's own log.

The first row names the columns, in any order and case: `easting` and `northing` (or `x` and `y`) in the job's
coordinate system, or `latitude` and `longitude` in degrees; `level_dbm`; if wanted `time` (ISO 8601; UTC
where it states no other) and `name`. Columns are separated by commas, semicolons or tabs; where it is not by
commas, numbers may have a decimal comma. Other columns are not read.

A level below what the receiver can tell ("<-120", "below") is left out and counted: only a bound is known. So
where many are, what is left is stronger than the ground is.
"""

from __future__ import annotations

import csv
import datetime
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from linkplan.errors import RecordingError

LOWEST_DBM, HIGHEST_DBM = -150.0, 20.0
"""No receiver of this trade reads beyond [common practice]."""
WANTED = "easting,northing,level_dbm or latitude,longitude,level_dbm, and if wanted time,name"
FARTHEST = 1e8
"""No coordinate system of a job counts further."""
LONGEST_ROW_BYTES = 1 << 16
_BLOCK_ROWS = 4096
_NAMES = {
    "easting": "easting", "x": "easting", "northing": "northing", "y": "northing",
    "latitude": "latitude", "lat": "latitude", "longitude": "longitude", "lon": "longitude",
    "level_dbm": "level_dbm", "time": "time",
}  # fmt: skip
_CENSORED = re.compile(r"<.*|below.*|under.*|nd|n\.d\.", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_FIRST_FAULTS = 3


@dataclass(frozen=True)
class LevelRow:
    """One row that can be used."""

    across: float
    """Easting, or longitude in degrees."""
    along: float
    """Northing, or latitude in degrees."""
    level_dbm: float
    utc_s: float
    """NaN where it is not stated."""


@dataclass(frozen=True)
class Header:
    """How a file's rows are to be read."""

    delimiter: str
    columns: dict[str, int]

    @property
    def geographic(self) -> bool:
        """Positions are in degrees."""
        return "latitude" in self.columns


def header_of(line: str) -> Header | None:
    """The header that a line is; None where it names no level, so that it is none."""
    line = line.lstrip("\ufeff").strip("\r\n")
    for delimiter in (";", "\t", ","):
        cells = [cell.strip().strip('"').strip().lower() for cell in line.split(delimiter)]
        if "level_dbm" in cells and len(cells) > 1:
            columns: dict[str, int] = {}
            for index, cell in enumerate(cells):
                if cell in _NAMES:
                    columns.setdefault(_NAMES[cell], index)
            return Header(delimiter, columns)
    return None


def require_place(name: str, header: Header) -> None:
    """Raise RecordingError where the header names no place."""
    pairs = ({"easting", "northing"}, {"latitude", "longitude"})
    if not any(pair <= header.columns.keys() for pair in pairs):
        there = ", ".join(header.columns)
        raise RecordingError(
            f"{name}: row 1 names no place beside the level (of what is known here: {there}); "
            f"the first row is {WANTED}"
        )


class LevelsReader:
    """Rows of a file that comes in pieces cut anywhere; what cannot be used is counted."""

    def __init__(self, name: str) -> None:
        self.rows = 0
        """With anything in them, the header left out."""
        self.used = self.censored = self.faulty = 0
        self.header: Header | None = None
        self._name = name
        self._line = 0
        self._first_faults: list[str] = []
        self._first_rows: list[int] = []

    def read(self, pieces: Iterable[bytes]) -> Iterator[list[LevelRow]]:
        """Usable rows, block by block. Raises RecordingError where the header will not do."""
        block: list[LevelRow] = []
        for raw in _lines(pieces):
            self._line += 1
            text = raw.decode("utf-8", "replace").lstrip("\ufeff").strip()
            if not text:
                continue
            if self.header is None:
                self.header = header_of(text)
                if self.header is None:
                    raise RecordingError(
                        f'{self._name}: row {self._line} = "{text[:60]}": the first row is {WANTED}'
                    )
                require_place(self._name, self.header)
                continue
            self.rows += 1
            row = self._row(text, self.header)
            if row is not None:
                self.used += 1
                block.append(row)
                if len(block) >= _BLOCK_ROWS:
                    yield block
                    block = []
        if block:
            yield block

    def require_rows(self) -> None:
        """Raise RecordingError where no row could be used, after the last block."""
        if self.used:
            return
        first = f"; {self._first_faults[0]}" if self._first_faults else ""
        if self.censored:
            first = f"; {self.censored} are below what the receiver can tell{first}"
        raise RecordingError(f"{self._name}: no row with a level that can be used, of {self.rows}{first}")

    def left_out(self) -> dict[str, int]:
        """Rows that were not used, and why."""
        where = ", ".join(map(str, self._first_rows))
        more = " and on" if self.faulty > len(self._first_rows) else ""
        told = f" (row {where}{more})" if where else ""
        return {
            f"rows that cannot be used{told}": self.faulty,
            "rows below what the receiver can tell": self.censored,
        }

    def _row(self, text: str, header: Header) -> LevelRow | None:
        """The row, or None, counted, where it cannot be used."""
        try:
            cells = next(csv.reader([text], delimiter=header.delimiter, skipinitialspace=True))
            cell = {key: cells[at].strip() for key, at in header.columns.items() if at < len(cells)}
            if _CENSORED.fullmatch(cell.get("level_dbm", "")):
                self.censored += 1
                return None
            return _row_of(cell, header)
        except (csv.Error, _RowError) as error:
            self.faulty += 1
            if len(self._first_rows) < _FIRST_FAULTS:
                self._first_rows.append(self._line)
                self._first_faults.append(f"row {self._line}: {error}")
            return None


class _RowError(Exception):
    """What is wrong with a row, in words."""

    def __init__(self, column: str, value: str, problem: str) -> None:
        shown = "".join(c for c in value[:40] if c.isprintable())
        super().__init__(f'{column} = "{shown}" {problem}')


def _row_of(cell: dict[str, str], header: Header) -> LevelRow:
    comma = header.delimiter != ","
    level = cell.get("level_dbm", "")
    level_dbm = _number(level, comma)
    if level_dbm is None:
        raise _RowError("level_dbm", level, "is not a number")
    if not LOWEST_DBM <= level_dbm <= HIGHEST_DBM:
        raise _RowError("level_dbm", level, f"is outside {LOWEST_DBM:g} to {HIGHEST_DBM:g} dBm")
    names = (
        (("longitude", 180.0), ("latitude", 90.0))
        if header.geographic
        else (("easting", FARTHEST), ("northing", FARTHEST))
    )
    place = []
    for name, most in names:
        value = _number(cell.get(name, ""), comma)
        if value is None or abs(value) > most:
            raise _RowError(name, cell.get(name, ""), "is no possible coordinate")
        place.append(value)
    return LevelRow(place[0], place[1], level_dbm, _utc_s(cell.get("time", "")))


def _lines(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Lines without their ends; one that will not end is cut, so that memory stays flat."""
    rest = b""
    for piece in pieces:
        rest = (rest + piece).replace(b"\r\n", b"\n")
        *whole, rest = rest.split(b"\n")
        yield from (line[:LONGEST_ROW_BYTES] for line in whole)
        if len(rest) > 2 * LONGEST_ROW_BYTES:
            rest = rest[: LONGEST_ROW_BYTES + 1]
    if rest:
        yield rest[:LONGEST_ROW_BYTES]


def _number(text: str, comma: bool) -> float | None:
    if comma and text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    if not _NUMBER.fullmatch(text) or not text.isascii():
        return None
    value = float(text)
    return value if math.isfinite(value) else None


def _utc_s(text: str) -> float:
    """Seconds since 1970 of an ISO 8601 time; NaN where it is none."""
    try:
        time = datetime.datetime.fromisoformat(text)
        if time.tzinfo is None:
            time = time.replace(tzinfo=datetime.UTC)
        return time.timestamp()
    except (ValueError, OverflowError):
        return math.nan
