"""The fields of a question's form: the job file's own keys, with their ranges, units and choices."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from typing import Any

from linkplan.outputs.formats import SHORT
from linkplan.page.edits import editable
from linkplan.page.jobs import OpenJob
from linkplan.page.words import RequestError
from linkplan.plan.document import read_document
from linkplan.plan.schema import Key, Table

FORMS: dict[str, tuple[str, ...]] = {
    "airtime": ("corrections", "framing", "supply"),
    "channels": ("radio", "licence", "interference", "bases", "others", "heard"),
}
_KINDS = {
    "number": "number", "length": "number", "height": "number", "integer": "whole", "boolean": "yes",
    "choice": "choice", "text": "text", "notes": "text", "date": "text", "clock": "text",
}  # fmt: skip


def form_keys(name: str) -> dict[str, Key | Table]:
    """What a form may change; RequestError (404) where there is no such form."""
    if name not in FORMS:
        raise RequestError("there is no such form", 404, "missing")
    return editable(*FORMS[name])


def form_body(job: OpenJob, name: str) -> dict[str, Any]:
    """A form with the values that stand in the job file."""
    keys = form_keys(name)
    data = read_document(job.path).data
    units = data.get("units", {})
    shorts = {
        kind: SHORT.get(str(units.get(kind, "metre")), "m") if isinstance(units, Mapping) else "m"
        for kind in ("length", "height")
    }
    fields = [_field(path, key, data, shorts) for path, key in keys.items()]
    return {"form": name, "available": True, "why_not": "", "fields": fields}


def _field(path: str, key: Key | Table, data: Mapping[str, Any], shorts: Mapping[str, str]) -> dict[str, Any]:
    table, _, name = path.partition(".")
    label = (name or table).replace("_", " ")
    held = data.get(table)
    if isinstance(key, Table):
        return {
            "key": path, "label": label, "table": table, "kind": "json", "unit": "", "value": _plain(held),
            "stated": held is not None, "default": None, "low": None, "high": None, "choices": [],
            "required": False, "hint": key.about, "example": "", "inner": [_inner(one) for one in key.keys],
        }  # fmt: skip
    value = held.get(name) if isinstance(held, Mapping) else None
    finite = {"low": key.low, "high": key.high}
    return {
        "key": path, "label": label, "table": table, "kind": _KINDS.get(key.kind, "json"),
        "unit": shorts.get(key.kind, key.unit), "value": _plain(value), "stated": value is not None,
        "default": _plain(key.default),
        **{side: limit if abs(limit) < 1e300 else None for side, limit in finite.items()},
        "choices": list(key.choices()) if key.choices is not None else [], "required": key.required,
        "hint": key.hint, "example": key.example, "inner": [_inner(one) for one in key.inner],
    }  # fmt: skip


def _inner(key: Key) -> dict[str, Any]:
    """A column of a list of tables."""
    return {
        "name": key.name, "kind": _KINDS.get(key.kind, "json"), "unit": key.unit, "required": key.required,
        "low": key.low if abs(key.low) < 1e300 else None, "high": key.high if abs(key.high) < 1e300 else None,
        "choices": list(key.choices()) if key.choices is not None else [], "example": key.example,
    }  # fmt: skip


def _plain(value: Any) -> Any:
    """A parsed value as JSON has it."""
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, float):
        number = float(value)
        return number if abs(number) < 1e300 else None
    return value if isinstance(value, str | int | bool) or value is None else str(value)
