"""Values put into a job: for a question that is only asked, and into its text where they are to stay.

What is to change is decided on the parsed values; the text is changed in those lines only and parsed again to
see that it says just that. A value that cannot be written so is named, never half-written.
"""

from __future__ import annotations

import copy
import json
import re
import tomllib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from linkplan.page.words import RequestError
from linkplan.plan.document import read_document
from linkplan.plan.keys import TABLES
from linkplan.plan.model import Plan

# the reader's last step by itself: it takes values that stand in no file
from linkplan.plan.reader import plan_of
from linkplan.plan.schema import Key, Table

Values = dict[str, Any]
"""By the key as in messages, "radio.power_w"; a whole [[table]] by its name. None takes the key out."""

MOST_VALUES = 200
MOST_ROWS = 500
_DEEPEST = 6
_NO_PATHS = {"file", "dataset", "files"}
_LINE = r"^(?P<head>[ \t]*{key}[ \t]*=[ \t]*)(?P<value>[^\n#]*?)(?P<tail>[ \t]*(?:#[^\n]*)?)$"


def values_from(body: Any, allowed: Mapping[str, Key | Table]) -> Values:
    """Values out of a request; RequestError for keys that no form has."""
    if not isinstance(body, Mapping) or len(body) > MOST_VALUES:
        raise RequestError("values: an object of keys and values is wanted")
    found: Values = {}
    for key, value in body.items():
        if key not in allowed:
            raise RequestError(f"values: {ascii(key)[:60]} is no field of this form")
        _check_depth(value, 0)
        if isinstance(value, list) and len(value) > MOST_ROWS:
            raise RequestError(f"values: {key} has more than {MOST_ROWS} rows")
        one = allowed[key]
        is_day = isinstance(one, Key) and one.kind == "date" and isinstance(value, str)
        found[key] = _day(value) if is_day else value
    return found


def _day(text: str) -> Any:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return text  # the reader says what is wrong with it


def _check_depth(value: Any, depth: int) -> None:
    if depth > _DEEPEST:
        raise RequestError("values: nested too deep")
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        _check_depth(inner, depth + 1)


def editable(*names: str) -> dict[str, Key | Table]:
    """The keys of some tables that may be changed on the page: all but paths of files."""
    found: dict[str, Key | Table] = {}
    for table in TABLES:
        if table.name not in names:
            continue
        if table.many:
            found[table.name] = table
            continue
        for key in table.keys:
            if key.kind not in _NO_PATHS:
                found[f"{table.name}.{key.name}"] = key
    return found


def with_values(data: Mapping[str, Any], values: Values, *, keep_empty: bool = False) -> dict[str, Any]:
    """A parsed job file with the values in it; a table goes with its last key, unless `keep_empty`."""
    wanted: dict[str, Any] = copy.deepcopy(dict(data))
    for path, value in values.items():
        table, dot, key = path.partition(".")
        if not dot:
            _put(wanted, table, value)
            continue
        inner = wanted.setdefault(table, {})
        if isinstance(inner, dict):
            _put(inner, key, value)
            if not inner and not keep_empty:
                del wanted[table]
    return wanted


def _put(table: dict[str, Any], key: str, value: Any) -> None:
    if value is None or value == []:
        table.pop(key, None)
    else:
        table[key] = value


def plan_with(path: Path, values: Values) -> Plan:
    """The job with some values in place of its own. JobFileError with every fault, as for a file."""
    document = read_document(path)
    return plan_of(path, with_values(document.data, values), document.sha256)


def written(text: str, values: Values) -> tuple[str, list[str]]:
    """A job file's text with the values in it, and the keys that it could not take."""
    refused = []
    for path, value in sorted(values.items(), key=lambda one: one[1] is None):
        changed = _one_written(text, path, value)
        if changed is None:
            refused.append(path)
        else:
            text = changed
    return text, refused


def _one_written(text: str, path: str, value: Any) -> str | None:
    data = tomllib.loads(text)
    wanted = with_values(data, {path: value}, keep_empty=True)
    if wanted == data or (value is None and path.partition(".")[0] not in data):
        return text
    table, _, key = path.partition(".")
    new = toml_value(value)
    span = _span(text, table)
    if not key or (new is None and (value is not None or span is None)):
        return None
    if span is None:
        end = "" if text.endswith("\n") or not text else "\n"
        return _sound(f"{text}{end}\n[{table}]\n{key} = {new}\n", wanted)
    head, body, rest = text[: span[0]], text[span[0] : span[1]], text[span[1] :]
    line = re.compile(_LINE.format(key=re.escape(key)), re.MULTILINE)
    found = line.search(body)
    if found is not None and new is not None:
        body = f"{body[: found.start()]}{found['head']}{new}{found['tail']}{body[found.end() :]}"
    elif found is not None:
        body = body[: found.start()] + body[found.end() :].removeprefix("\r").removeprefix("\n")
    else:
        end = "\r\n" if "\r\n" in text else "\n"
        kept = body.rstrip()
        # behind the table's last line, before the blank lines and notes above the next table
        last = max((one.end() for one in re.finditer(r"^[^\n#\[]*=[^\n]*$", kept, re.MULTILINE)), default=0)
        body = f"{body[:last]}{end if last else ''}{key} = {new}{'' if last else end}{body[last:]}"
    return _sound(head + body + rest, wanted)


def _sound(text: str, wanted: Mapping[str, Any]) -> str | None:
    """The text, if it says just that."""
    try:
        return text if tomllib.loads(text) == wanted else None
    except tomllib.TOMLDecodeError:
        return None


def _span(text: str, table: str) -> tuple[int, int] | None:
    """Where the lines of a [table] begin and end."""
    found = re.search(rf"^[ \t]*\[[ \t]*{re.escape(table)}[ \t]*\][^\n]*(?:\n|\Z)", text, re.MULTILINE)
    if found is None:
        return None
    after = re.compile(r"^[ \t]*\[", re.MULTILINE).search(text, found.end())
    return found.end(), after.start() if after is not None else len(text)


def toml_value(value: Any) -> str | None:
    """A scalar as TOML writes it; None for anything else."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str) and value.isprintable():
        return json.dumps(value, ensure_ascii=False)
    return None
