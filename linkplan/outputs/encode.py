"""Results as JSON: the one encoder behind every `--json`."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

LEFT_OUT = object()


def to_jsonable(result: Any, *, arrays: bool = False) -> Any:
    """Plain objects for JSON: a frozen dataclass becomes a dict under its own field names.

    NaN and infinity become None (JSON has no word for them), numpy numbers become Python's, paths
    and coordinate systems become text, geometries become GeoJSON. Arrays are left out with their
    keys unless `arrays` is true, then they become nested lists.
    """
    value = _plain(result, arrays)
    return None if value is LEFT_OUT else value


def to_json(result: Any, *, arrays: bool = False) -> str:
    """One JSON object, indented, keys in the order of the fields."""
    return json.dumps(to_jsonable(result, arrays=arrays), indent=2, ensure_ascii=False, allow_nan=False)


def _plain(value: Any, arrays: bool) -> Any:
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.bool_ | np.integer):
        return value.item()
    if isinstance(value, np.ndarray):
        return _plain(value.tolist(), arrays) if arrays else LEFT_OUT
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _mapping({one.name: getattr(value, one.name) for one in dataclasses.fields(value)}, arrays)
    if isinstance(value, Mapping):
        return _mapping(value, arrays)
    if isinstance(value, list | tuple | set | frozenset):
        items = (_plain(item, arrays) for item in value)
        return [item for item in items if item is not LEFT_OUT]
    if isinstance(value, Path | date):
        return str(value)
    return _foreign(value)


def _mapping(fields: Mapping[Any, Any], arrays: bool) -> dict[str, Any]:
    pairs = ((str(key), _plain(value, arrays)) for key, value in fields.items())
    return {key: value for key, value in pairs if value is not LEFT_OUT}


def _foreign(value: Any) -> Any:
    """Objects of the geographic libraries, known by what they offer so that none is imported here."""
    if hasattr(value, "__geo_interface__"):
        return _plain(value.__geo_interface__, True)
    if hasattr(value, "to_authority"):
        authority = value.to_authority(min_confidence=100)
        return f"{authority[0]}:{authority[1]}" if authority else value.to_wkt()
    raise TypeError(f"no JSON form for {type(value).__name__}")
