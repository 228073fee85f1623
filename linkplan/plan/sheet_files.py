"""A file of settings sheets taken apart: TOML, CSV with a row a setting, or CSV with a row a set.

Nothing of a line that cannot be read is ever repeated in a message: it may hold a secret.
"""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from linkplan.plan.sheet_build import Entry, build_sheet
from linkplan.plan.sheet_fields import Role
from linkplan.plan.sheets import SUFFIXES, FileReport, Sheet
from linkplan.plan.words import WrittenFloat, key_text

LARGEST_BYTES = 2_000_000
"""A sheet has some 30 lines; 200 rovers in one file make some 100 kB."""
_TALL = "the first line is field,value or field,value,unit; or a column a setting and a row a set"


@dataclass(frozen=True)
class _Row:
    line: int
    cells: dict[str, str]


def read_sheet_file(path: Path, role: Role, reports: list[FileReport]) -> list[Sheet]:
    """The sheets of one file, whose sets are taken for `role`; faults go into a new report of `reports`."""
    report = FileReport(str(path))
    reports.append(report)
    if path.suffix.lower() not in SUFFIXES:
        report.add("", "", "is neither .toml nor .csv", "name a settings sheet, or a folder of them")
        return []
    text = _read_text(path, report)
    if text is None:
        return []
    if path.suffix.lower() == ".toml":
        data = _parse_toml(text, report)
        if data is None:
            return []
        return _built(_toml_entries(data), path.stem, role, report)
    return _read_csv(text, path.stem, role, report)


def _built(entries: list[Entry], name: str, role: Role, report: FileReport) -> list[Sheet]:
    sheet = build_sheet(entries, name, role, report)
    return [sheet] if sheet is not None else []


def _read_text(path: Path, report: FileReport) -> str | None:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            report.add("", "", "is too large for a settings sheet", "name the right file")
            return None
        content = path.read_bytes()
    except (OSError, ValueError) as error:
        missing = isinstance(error, FileNotFoundError)
        reason = getattr(error, "strerror", None) or "not a possible name"
        cure = "`linkplan sheet JOB` writes sheets to start from" if missing else ""
        report.add("", "", "no such file" if missing else f"cannot be read ({reason})", cure)
        return None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        report.add("", "", f"not UTF-8 text in line {line}", "save the file as UTF-8")
        return None
    return text


def _parse_toml(text: str, report: FileReport) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text, parse_float=WrittenFloat)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        where = f"in line {found[1]}, column {found[2]}" if found else "at the end of the file"
        cure = 'one key = value a line, each key once; text stands in double quotes: protocol = "..."'
        report.add("", "", f"not valid TOML {where}", cure)
    except (RecursionError, ValueError):
        report.add("", "", "a value is nested too deep or a number has too many digits")
    return None


def _toml_entries(data: Mapping[str, Any]) -> list[Entry]:
    entries = []
    for key, value in data.items():
        if isinstance(value, Mapping) and key.casefold() in ("channels", "channel"):
            entries += [
                Entry(f"channels.{name}", f"channels.{key_text(name)}", one) for name, one in value.items()
            ]
        else:
            entries.append(Entry(key, key_text(key), value))
    return entries


def _read_csv(text: str, stem: str, role: Role, report: FileReport) -> list[Sheet]:
    rows = _csv_rows(text, report)
    if rows is None:
        return []
    if not rows:
        report.add("", "", "holds no row below its header", _TALL)
        return []
    if "field" in rows[0].cells:
        entries = [
            Entry(row.cells["field"], f"row {row.line}", row.cells["value"], row.cells.get("unit", ""))
            for row in rows
        ]
        return _built(entries, stem, role, report)
    sheets = []
    for row in rows:
        entries = [
            Entry(column, f"row {row.line}, {_column(column)}", cell) for column, cell in row.cells.items()
        ]
        if not row.cells.get("set"):
            report.add(f"row {row.line}, set", "", "is empty", "give every set a name")
            continue
        sheets += _built(entries, row.cells["set"], role, report)
    return sheets


def _column(name: str) -> str:
    return key_text(name[:40])


def _csv_rows(text: str, report: FileReport) -> list[_Row] | None:
    """Rows by the header's columns; None after a fault of the file as a whole."""
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    header: list[str] | None = None
    rows = []
    try:
        for cells in reader:
            cells = [cell.strip() for cell in cells]
            if not any(cells):
                continue
            if header is None:
                header = _header(cells, report)
                if header is None:
                    return None
            elif len(cells) != len(header):
                problem = f"has {len(cells)} cells where the header has {len(header)}"
                report.add(f"row {reader.line_num}", "", problem, "put a value with commas in double quotes")
            else:
                rows.append(_Row(reader.line_num, dict(zip(header, cells, strict=True))))
    except csv.Error:
        report.add(f"row {reader.line_num}", "", "is not comma-separated text", "check its double quotes")
    if header is None:
        report.add("", "", "the file is empty", _TALL)
        return None
    return rows if rows or not report.faults else None


def _header(cells: list[str], report: FileReport) -> list[str] | None:
    lower = [cell.casefold() for cell in cells]
    if len(cells) == 1:
        marks = any(mark in cells[0] for mark in ";\t")
        problem = "the columns are not separated by commas" if marks else "the header has one column only"
        report.add("row 1", "", problem, _TALL)
        return None
    if len(set(lower)) < len(lower):
        report.add("row 1", "", "a column is there twice", "keep one of them")
        return None
    if "field" in lower:
        extra = [name for name in lower if name not in ("field", "value", "unit", "notes")]
        if "value" not in lower or extra:
            report.add("row 1", "", "the columns of this header do not belong together", _TALL)
            return None
        return lower
    if "set" not in lower:
        report.add("row 1", "", "there is neither a column field nor a column set", _TALL)
        return None
    return ["set" if name == "set" else cell for name, cell in zip(lower, cells, strict=True)]
