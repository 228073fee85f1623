"""A job file with what field logs have taught written back, in place of what earlier ones had."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

from linkplan.plan.calibration import Calibration
from linkplan.plan.write_back import Values, add_value, changed_text, line_end, set_value, write_back

_DIGITS = 2
"""Of a decibel: more is more than any log can tell."""

_NOTE = "# learned from field logs by linkplan fieldcheck"


def write_calibration(path: str | Path, learned: Calibration, job_hash: str) -> bool:
    """Put [calibration] into a job file; False where it stands there already.

    `job_hash` is that of the plan for which it was learned. Raises OutputError, and leaves the file as it is,
    where it has changed since, cannot be written, or would not be a sound job.
    """
    return write_back(path, job_hash, lambda text: with_calibration(text, learned), "this calibration")


def with_calibration(text: str, learned: Calibration) -> str:
    """The text of a sound job file with [calibration] in it: at its end where it had none."""
    data = tomllib.loads(text)
    wanted = copy.deepcopy(data)
    wanted["calibration"] = section_of(learned)
    there = data.get("calibration", {})
    if {**there, "made": learned.made} == wanted["calibration"]:
        return text  # the same logs on a later day: it keeps the day when it was learned
    return changed_text(
        text,
        wanted,
        lambda: _rewritten(text, data.get("calibration"), wanted["calibration"]),
        lambda: f"put these lines into it yourself: {'; '.join(_lines(wanted['calibration']))}",
    )


def section_of(learned: Calibration) -> dict[str, Any]:
    """The section as it is parsed."""
    found: dict[str, Any] = {
        "offset_db": _rounded(learned.offset_db),
        "sigma_db": _rounded(learned.sigma_db),
        "made": learned.made,
        "logs": learned.logs,
        "epochs": learned.epochs,
        "samples": learned.samples,
        "blocks": learned.blocks,
    }
    if learned.class_offsets_db:
        found["classes"] = {
            str(code): _rounded(offset_db) for code, offset_db in sorted(learned.class_offsets_db.items())
        }
    return found


def _rounded(value_db: float) -> float:
    return round(float(value_db), _DIGITS) + 0.0  # no negative zero


def _rewritten(text: str, old: Values | None, new: Values) -> str:
    if old is None:
        end = line_end(text)
        apart = "" if text.endswith(("\n", "\r")) or not text else end
        return text + apart + end + end.join(_lines(new)) + end
    import tomlkit

    document = tomlkit.parse(text)
    table: Any = document["calibration"]
    _edit(table, old, new, text)
    return tomlkit.dumps(document)


def _edit(table: Any, old: Values, new: Values, text: str) -> None:
    """Make a table of the document say what `new` says in place of `old`."""
    import tomlkit
    from tomlkit.items import Table

    for key in old:
        if key not in new:
            _drop(table, key)
    last = ""
    for key, value in new.items():
        if key == "classes" and isinstance(old.get(key), dict):
            _edit(table[key], old[key], value, text)
        elif key == "classes":
            inner: Any = tomlkit.table() if isinstance(table, Table) else tomlkit.inline_table()
            inner.update(value)
            table[key] = inner
        elif key not in old:
            kept = last or next((one for one in old if one in new and one != "classes"), "")
            if kept:
                add_value(table, key, value, kept, text)
            else:
                table[key] = value
        else:
            last = key
            if old[key] != value:
                set_value(table, key, value)


def _drop(table: Any, key: str) -> None:
    """Take a key out; notes that stand in a table of that name stay."""
    from tomlkit.items import Table

    inner = table[key]
    notes = [item for name, item in inner.value.body if name is None] if isinstance(inner, Table) else []
    del table[key]
    for note in notes:
        table.add(note)


def _lines(section: Values) -> list[str]:
    import tomlkit

    def line(key: str, value: Any) -> str:
        return f"{key} = {tomlkit.item(value).as_string()}"

    lines = [f"[calibration]  {_NOTE}"]
    lines += [line(key, value) for key, value in section.items() if key != "classes"]
    if "classes" in section:
        lines += ["[calibration.classes]", *(line(code, value) for code, value in section["classes"].items())]
    return lines
