"""One short name for everything that a result depends on: equal content, equal key."""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Iterable, Mapping, Set
from dataclasses import fields, is_dataclass
from datetime import date, time
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np


def content_key(**parts: Any) -> str:
    """SHA-256, as hexadecimal digits, of the content of all parts and of their names, in whatever order.

    Parts are None, numbers, text, bytes, dates, enumerations, numpy arrays, paths (the content of the file,
    not its name), shapely shapes, coordinate systems, and dataclasses, lists, tuples, sets and mappings of
    such. A list equals the tuple of the same; an integer never equals a float. What is large and common to
    many keys is best hashed once, and the key of it used as a part. Raises TypeError for other kinds, OSError
    for a file that cannot be read.
    """
    return _digest(parts, "").hex()


def _digest(value: Any, where: str) -> bytes:
    tag, pieces = _taken_apart(value, where)
    found = hashlib.sha256()
    for piece in (tag.encode(), *pieces):
        # with its length before it, no piece can be taken for a part of its neighbour
        found.update(struct.pack("<q", len(piece)))
        found.update(piece)
    return found.digest()


def _taken_apart(value: Any, where: str) -> tuple[str, Iterable[bytes | memoryview]]:
    """Kind and content of a value."""
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, bool | int):
        return type(value).__name__, [str(value).encode()]
    if isinstance(value, Enum):
        return type(value).__name__, [value.name.encode()]
    if isinstance(value, float):
        return "float", [struct.pack("<d", value)]
    if isinstance(value, str):
        return "str", [value.encode("utf-8", "surrogatepass")]
    if isinstance(value, bytes | bytearray):
        return "bytes", [bytes(value)]
    if isinstance(value, date | time):
        return type(value).__name__, [value.isoformat().encode()]
    if isinstance(value, Path):
        return "file", [_file_digest(value)]
    return _many_taken_apart(value, where)


def _many_taken_apart(value: Any, where: str) -> tuple[str, Iterable[bytes | memoryview]]:
    if isinstance(value, np.ndarray) and value.dtype.kind in "biufc":
        plain = np.asarray(value, order="C").astype(value.dtype.newbyteorder("<"), copy=False)
        return "array", [f"{plain.dtype.str} {plain.shape}".encode(), plain.tobytes()]
    if is_dataclass(value) and not isinstance(value, type):
        held = {one.name: getattr(value, one.name) for one in fields(value)}
        return type(value).__name__, [_digest(held, where)]
    if isinstance(value, Mapping):
        pairs = [(_digest(key, where), _digest(held, f"{where}.{key}")) for key, held in value.items()]
        return "mapping", [piece for pair in sorted(pairs) for piece in pair]
    if isinstance(value, list | tuple):
        return "list", [_digest(one, f"{where}[{number}]") for number, one in enumerate(value)]
    if isinstance(value, Set):
        return "set", sorted(_digest(one, where) for one in value)
    if hasattr(value, "wkb") and hasattr(value, "geom_type"):
        return "shape", [value.wkb]
    if hasattr(value, "to_wkt") and hasattr(value, "is_geographic"):
        return "crs", [value.to_wkt().encode()]
    raise TypeError(f"{where.lstrip('.') or 'value'}: no key can be made of a {type(value).__name__}")


def _file_digest(path: Path) -> bytes:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").digest()
