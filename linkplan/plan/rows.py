"""Small CSV tables beside a job file (control points, antenna pattern): strict, each fault with its row."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from linkplan.plan.words import Report, nearest, quoted

MOST_ROW_FAULTS = 20
"""Faults listed of one file; the rest are counted."""


@dataclass
class FileFaults:
    """Faults inside one file, all noted under the key that names it; many of them are cut and counted."""

    report: Report
    key: str
    written: str
    """The file's name as it stands in the job file."""
    count: int = field(default=0)

    def add(self, problem: str, cure: str = "") -> None:
        """Note one fault of the file."""
        self.count += 1
        if self.count <= MOST_ROW_FAULTS:
            self.report.fault(self.key, self.written, problem, cure)

    def close(self) -> None:
        """Say how many faults were not listed."""
        if self.count > MOST_ROW_FAULTS:
            more = self.count - MOST_ROW_FAULTS
            self.report.fault(self.key, self.written, f"and {more} more faults in this file")


@dataclass(frozen=True)
class Row:
    """One row of a table: the line that it stands on (1 is the header's) and its cells by column."""

    line: int
    cells: dict[str, str]

    def number(self, column: str, faults: FileFaults) -> float | None:
        """The cell as a finite number; None, with a fault noted, when it is none."""
        text = self.cells[column]
        try:
            # Digits with underscores or of other scripts pass float() but are slips in a data file.
            number = float(text) if text.isascii() and "_" not in text else math.nan
        except ValueError:
            number = math.nan
        if math.isfinite(number):
            return number
        cure = "write it with a decimal point" if "," in text else "write a plain number"
        problem = "is empty" if not text else f"= {quoted(text[:40])} is not a number"
        faults.add(f"row {self.line}, column {column} {problem}", cure)
        return None


def read_rows(path: Path, required: Sequence[str], optional: Sequence[str], faults: FileFaults) -> list[Row]:
    """The rows of a comma-separated UTF-8 file whose first line names its columns, in any order.

    Blank lines are skipped. Rows with faults are left out; faults are noted in `faults`.
    """
    text = _read_text(path, faults)
    if text is None:
        return []
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    header: list[str] | None = None
    rows = []
    try:
        for cells in reader:
            cells = [cell.strip() for cell in cells]
            if not any(cells):
                continue
            if header is None:
                header = [cell.lower() for cell in cells]
                if not _check_header(header, required, optional, faults):
                    return []
            elif len(cells) != len(header):
                faults.add(f"row {reader.line_num} has {len(cells)} cells where the header has {len(header)}")
            else:
                rows.append(Row(reader.line_num, dict(zip(header, cells, strict=True))))
    except csv.Error as error:
        faults.add(f"row {reader.line_num} is not comma-separated text ({error})")
    if header is None:
        faults.add("the file is empty", f"its first line is {','.join((*required, *optional))}")
    return rows


def _read_text(path: Path, faults: FileFaults) -> str | None:
    try:
        content = path.read_bytes()
    except OSError as error:
        faults.add(f"cannot be read ({error.strerror})")
        return None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        problem = f"not UTF-8 text: byte 0x{content[error.start]:02X} in row {row}"
        faults.add(problem, "save it as CSV UTF-8")
        return None


def _check_header(
    header: list[str], required: Sequence[str], optional: Sequence[str], faults: FileFaults
) -> bool:
    wanted = (*required, *optional)
    before = faults.count
    first_line = f"the first line is {','.join(wanted)}"
    if len(header) == 1 and len(wanted) > 1 and any(mark in header[0] for mark in ";\t"):
        faults.add("the columns are not separated by commas", f"save it comma-separated; {first_line}")
        return False
    for column in dict.fromkeys(header):
        if column not in wanted:
            guess = nearest(column, [name for name in wanted if name not in header])
            cure = f"did you mean {guess}?" if guess else f"{first_line}"
            faults.add(f"unknown column {quoted(column[:40])}", cure)
        elif header.count(column) > 1:
            faults.add(f"the column {column} is there twice")
    missing = [name for name in required if name not in header]
    if missing:
        faults.add(f"no column {', '.join(missing)}", first_line)
    return faults.count == before
