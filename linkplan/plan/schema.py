"""The vocabulary in which the job file is described: keys, tables, and which keys go together.

A description says everything that a single value must satisfy; `checking` applies it. The job file's
own description is in `keys`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf
from typing import Any, Literal

Kind = Literal[
    "text",  # one line
    "notes",  # text that may have several lines
    "choice",  # one word out of `choices`
    "words",  # list of one or more words, none twice, out of `choices` where there are any; kept as a tuple
    "texts",  # list of one-line texts, which may be empty or the same; kept as a tuple
    "boolean",  # true or false
    "date",  # a date without a time
    "clock",  # a time of day, "07:00"; kept as the time since midnight
    "number",  # in the unit that the key's name says
    "integer",  # a whole number
    "numbers",  # list of one or more numbers, each within the range, none twice; kept as a tuple
    "length",  # in the job's length unit; kept in metres
    "height",  # in the job's height unit; kept in metres
    "heights",  # list of one or more heights, none twice; kept in metres, ascending, as a tuple
    "file",  # path of an existing file
    "dataset",  # the same, or a folder that is one data set (.gdb)
    "files",  # list of paths and patterns of existing files
    "place",  # [easting, northing]
    "ring",  # three or more places
    "directions",  # list of one or more [azimuth, elevation] in degrees; kept as a tuple of pairs
    "classes",  # table: whole number -> table of `inner`; a number within the range where there is no `inner`
    "tables",  # [[table.key]]: list of one or more tables of `inner` and `rules`; kept as a tuple of Sections
]


@dataclass(frozen=True)
class OneWay:
    """Ways that exclude one another; a way is one key or several that are given together."""

    ways: tuple[tuple[str, ...], ...]
    required: bool = True


@dataclass(frozen=True)
class AtLeastOne:
    """Keys of which at least one is given."""

    names: tuple[str, ...]


@dataclass(frozen=True)
class Key:
    """One key of a table."""

    name: str
    kind: Kind
    example: str
    """A value as TOML, for the cure of a missing or wrong one."""
    required: bool = False
    default: Any = None
    """Taken when the key is absent; metres for lengths and heights."""
    low: float = -inf
    """Smallest value allowed, or entry of a list; metres for lengths and heights."""
    high: float = inf
    unit: str = ""
    """Unit for messages about a "number", an "integer" or "numbers"."""
    hint: str = ""
    """Said as the cure of a number outside its range, after the range."""
    fraction: bool = False
    """A share or chance, 0 to 1, that some write in per cent."""
    choices: Callable[[], Sequence[str]] | None = None
    """Asked only when the key is present, so that nothing heavy is loaded before."""
    inner: tuple[Key, ...] = ()
    rules: tuple[OneWay | AtLeastOne, ...] = ()
    """Which keys of `inner` go together ("tables")."""


@dataclass(frozen=True)
class Table:
    """One [table] of the job file, or one [[table]] that may stand there several times."""

    name: str
    about: str
    """What it holds, for the message that it is missing."""
    keys: tuple[Key, ...]
    absent: Literal["a fault", "nothing", "defaults"] = "a fault"
    """What it means when the table is not in the file."""
    rules: tuple[OneWay | AtLeastOne, ...] = ()
    many: bool = False
    """A [[table]]: what is read of it is a section whose "entries" are the sections of its entries."""

    def key(self, name: str) -> Key:
        """The key of that name (KeyError when there is none)."""
        return {key.name: key for key in self.keys}[name]
