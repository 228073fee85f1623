"""One value of the job file: is it of the right kind, is it possible, what is it in SI units.

Every reader returns the value in SI units, or None after noting what is wrong with it.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from linkplan.plan.files import find_file, find_files
from linkplan.plan.schema import Key
from linkplan.plan.words import Report, choose, figure, kind_of, quoted
from linkplan.units import METRES_PER_UNIT

LONGEST_TEXT = 200
"""Characters of a one-line text: a name on a map or a sheet, not an essay."""

FARTHEST = 1e9
"""No coordinate system of the earth has coordinates beyond this, in any unit."""

_DAY = datetime.timedelta(days=1)
_CLOCK = re.compile(r"(\d{1,2}):([0-5]\d)(?::([0-5]\d(?:\.\d{1,6})?))?", re.ASCII)

_UNIT_WORDS = {
    1.0: ("metres", "m"),
    0.3048: ("feet", "ft"),
    METRES_PER_UNIT["us-survey-foot"]: ("US survey feet", "ftUS"),
}


@dataclass(frozen=True)
class Scope:
    """Where a value stands and what is needed to judge it."""

    folder: Path
    """The job file's folder."""
    factors: Mapping[str, float | None]
    """Metres in one "length" and one "height"; None while the job's unit is not known."""
    report: Report
    prefix: str = ""

    def path(self, name: str) -> str:
        """Dotted key of a name in this scope."""
        return f"{self.prefix}.{name}" if self.prefix else name

    def inside(self, name: str) -> Scope:
        """The scope of a table in this one."""
        return replace(self, prefix=self.path(name))


def read_value(raw: Any, key: Key, scope: Scope) -> Any:
    """Check and convert one value; None when it is faulty, with the fault noted.

    For any kind but "classes" and "tables", which `checking` reads itself.
    """
    where = scope.path(key.name)
    if key.kind in ("number", "length", "height"):
        return _read_number(raw, key, scope, where)
    if key.kind in _READERS:
        return _READERS[key.kind](raw, key, scope, where)
    if key.kind in ("place", "ring"):
        return (
            _read_place(raw, where, scope.report)
            if key.kind == "place"
            else _read_ring(raw, where, scope.report)
        )
    if key.kind == "files":
        return _read_files(raw, key, scope, where)
    text = _read_line(raw, key, scope, where)
    if text is None or key.kind not in ("file", "dataset"):
        return text
    suffix = ".gdb" if key.kind == "dataset" else None
    return find_file(text, scope.folder, scope.report, where, folder_suffix=suffix)


def _read_line(raw: Any, key: Key, scope: Scope, where: str) -> str | None:
    """A text of any kind; of the kind "choice" one of its words."""
    text = _read_text(raw, key, scope.report, where)
    if text is None or key.kind != "choice":
        return text
    words = tuple(key.choices()) if key.choices else ()
    hint = f" ({key.hint})" if key.hint else ""
    if text in words:
        return text
    scope.report.fault(where, raw, "not a word that goes here", choose(text, words) + hint)
    return None


def number_of(raw: Any) -> float | None:
    """A finite float from a parsed TOML number, None from anything else."""
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        return None
    try:
        number = float(raw)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def unit_words(factor: float) -> tuple[str, str]:
    """Name and sign of the length unit of so many metres."""
    return _UNIT_WORDS[factor]


def _read_number(raw: Any, key: Key, scope: Scope, where: str) -> float | None:
    factor = scope.factors[key.kind] if key.kind in ("length", "height") else 1.0
    number = number_of(raw)
    if number is None:
        problem = "a number is wanted, not " + (
            "one that is infinite or undefined"
            if isinstance(raw, int | float) and not isinstance(raw, bool)
            else kind_of(raw)
        )
        scope.report.fault(where, raw, problem, _number_cure(raw, key, factor))
        return None
    if factor is None:  # the unit is faulty: all that can be said is whether the sign is right
        if not number <= 0.0 < key.low:
            return None
        factor = 1.0
    value = number * factor
    # A limit in metres, written in feet and converted back, may miss itself by a rounding.
    slack = 1e-12 * max(abs(value), 1.0) if factor != 1.0 else 0.0
    if key.low - slack <= value <= key.high + slack:
        return value
    hint = f" ({key.hint})" if key.hint else ""
    if key.low <= -value <= key.high and number != 0.0:
        hint += f"; did you mean {figure(-number)}?"
    elif key.fraction and 1.0 < number <= 100.0:
        hint = f"; write {figure(number / 100.0)} for {figure(number)} %"
    side = "too small" if value < key.low else "too large"
    scope.report.fault(where, raw, side, f"{_range_words(key, factor)}{hint}")
    return None


def _number_cure(raw: Any, key: Key, factor: float | None) -> str:
    start = re.match(r"\s*[-+]?\d+(\.\d+)?", raw) if isinstance(raw, str) else None
    example = start[0].strip() if start and not key.example.startswith("[") else key.example
    if key.kind not in ("length", "height"):
        unit = f" in {key.unit}" if key.unit else ""
    else:
        unit = f" in {_UNIT_WORDS[factor][0]} (units.{key.kind})" if factor else ""
    return f"write a bare number{unit}, such as {key.name} = {example}"


def _range_words(key: Key, factor: float) -> str:
    if key.kind not in ("length", "height"):
        unit = f" {key.unit}" if key.unit else ""
        return f"give {figure(key.low)} to {figure(key.high)}{unit}"
    metres = f"{figure(key.low)} to {figure(key.high)} m"
    if factor == 1.0:
        return f"give {metres}"
    own = f"{figure(key.low / factor)} to {figure(key.high / factor)} {_UNIT_WORDS[factor][1]}"
    return f"give {own} ({metres})"


def _read_text(raw: Any, key: Key, report: Report, where: str) -> str | None:
    if not isinstance(raw, str):
        report.fault(where, raw, f"text is wanted, not {kind_of(raw)}", f"write {key.name} = {key.example}")
        return None
    if key.kind == "notes":
        return raw
    if not raw.strip():
        report.fault(where, raw, "empty", f"write, for example, {key.name} = {key.example}")
    elif not raw.isprintable():
        report.fault(where, raw, "has a line break or an unprintable character", "write it in one line")
    elif len(raw) > LONGEST_TEXT and key.kind == "text" and key.name != "crs":
        report.fault(where, raw, f"{len(raw)} characters", f"at most {LONGEST_TEXT} fit")
    else:
        return raw.strip() if key.kind in ("text", "choice") else raw
    return None


def _read_files(raw: Any, key: Key, scope: Scope, where: str) -> tuple[Path, ...] | None:
    if not isinstance(raw, list) or not raw:
        problem = "the list is empty" if raw == [] else f"a list is wanted, not {kind_of(raw)}"
        example = f"[{quoted(raw)}]" if isinstance(raw, str) and raw.isprintable() else key.example
        scope.report.fault(where, raw, problem, f"write {key.name} = {example}")
        return None
    names = [entry for entry in raw if isinstance(entry, str)]
    for entry in raw:
        if not isinstance(entry, str):
            problem = f"a file name is wanted in the list, not {kind_of(entry)}"
            scope.report.fault(where, entry, problem, f"write {key.name} = {key.example}")
    return find_files(names, scope.folder, scope.report, where)


def _read_integer(raw: Any, key: Key, scope: Scope, where: str) -> int | None:
    if isinstance(raw, bool) or not isinstance(raw, int):
        number = number_of(raw)
        if isinstance(raw, float):
            example = figure(number) if number is not None and number.is_integer() else key.example
            problem, cure = "a whole number is wanted", f"write {key.name} = {example}"
        else:
            problem = f"a whole number is wanted, not {kind_of(raw)}"
            cure = _number_cure(raw, key, 1.0)
        scope.report.fault(where, raw, problem, cure)
        return None
    if number_of(raw) is None:  # too long for a float, so beyond any range
        side = "too small" if raw < 0 else "too large"
        scope.report.fault(where, raw, side, _range_words(key, 1.0))
        return None
    return None if _read_number(raw, key, scope, where) is None else raw


def _read_boolean(raw: Any, key: Key, scope: Scope, where: str) -> bool | None:
    if isinstance(raw, bool):
        return raw
    cure = f"write {key.name} = true or {key.name} = false"
    scope.report.fault(where, raw, f"true or false is wanted, not {kind_of(raw)}", cure)
    return None


def _read_date(raw: Any, key: Key, scope: Scope, where: str) -> datetime.date | None:
    if isinstance(raw, datetime.date) and not isinstance(raw, datetime.datetime):
        return raw
    if isinstance(raw, datetime.datetime):
        problem, example = "a date without a time is wanted", raw.date().isoformat()
    else:
        quotes = isinstance(raw, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", raw.strip(), re.ASCII)
        problem = f"a date is wanted, not {kind_of(raw)}"
        example = f"{raw.strip()} without quotes" if quotes else key.example
    scope.report.fault(where, raw, problem, f"write year-month-day: {key.name} = {example}")
    return None


def _read_clock(raw: Any, key: Key, scope: Scope, where: str) -> datetime.timedelta | None:
    text = raw.isoformat() if isinstance(raw, datetime.time) else raw
    found = _CLOCK.fullmatch(text.strip()) if isinstance(text, str) else None
    if found is None:
        problem = "not a time of day" if isinstance(raw, str) else f"a time is wanted, not {kind_of(raw)}"
        scope.report.fault(where, raw, problem, f"write hours and minutes: {key.name} = {key.example}")
        return None
    since = datetime.timedelta(hours=int(found[1]), minutes=int(found[2]), seconds=float(found[3] or 0.0))
    if since <= _DAY:
        return since
    scope.report.fault(where, raw, "too large", "give 00:00 to 24:00")
    return None


def _read_directions(raw: Any, key: Key, scope: Scope, where: str) -> tuple[tuple[float, float], ...] | None:
    entries = _read_list(raw, key, scope, where, "directions")
    before = len(scope.report.faults)
    found = [
        direction_of(entry, f"{where}[{place}]", scope.report)
        for place, entry in enumerate(entries or (), start=1)
    ]
    sound = tuple(one for one in found if one is not None)
    return sound if entries is not None and len(scope.report.faults) == before else None


def direction_of(raw: Any, where: str, report: Report) -> tuple[float, float] | None:
    """A direction, [azimuth, elevation] in degrees; None, with the fault noted, where it is none."""
    pair = [number_of(number) for number in raw] if isinstance(raw, list | tuple) and len(raw) == 2 else []
    azimuth, elevation = pair if pair else (None, None)
    if azimuth is None or elevation is None:
        report.fault(
            where, raw, "not a direction", "write [azimuth, elevation] in degrees, such as [120, 15]"
        )
    elif not 0.0 <= azimuth <= 360.0:
        report.fault(where, raw, "an azimuth runs from 0 (north) to 360 degrees, clockwise")
    elif not -90.0 <= elevation <= 90.0:
        report.fault(where, raw, "an elevation lies within -90 to 90 degrees")
    else:
        return azimuth, elevation
    return None


def _read_list(raw: Any, key: Key, scope: Scope, where: str, of: str) -> list[Any] | None:
    """The list, or None after noting that it is none or empty."""
    if isinstance(raw, list) and raw:
        return raw
    problem = "the list is empty" if raw == [] else f"a list of {of} is wanted, not {kind_of(raw)}"
    scope.report.fault(where, raw, problem, f"write {key.name} = {key.example}")
    return None


def _read_numbers(raw: Any, key: Key, scope: Scope, where: str) -> tuple[float, ...] | None:
    entries = _read_list(raw, key, scope, where, key.kind)
    if entries is None:
        return None
    one = replace(key, kind="height") if key.kind == "heights" else key
    numbers = [
        _read_number(entry, one, scope, f"{where}[{place}]") for place, entry in enumerate(entries, start=1)
    ]
    sound = tuple(number for number in numbers if number is not None)
    return _without_twins(sound, entries, scope, where) if len(sound) == len(numbers) else None


def _read_heights(raw: Any, key: Key, scope: Scope, where: str) -> tuple[float, ...] | None:
    heights = _read_numbers(raw, key, scope, where)
    return None if heights is None else tuple(sorted(heights))


def _read_words(raw: Any, key: Key, scope: Scope, where: str) -> tuple[str, ...] | None:
    entries = _read_list(raw, key, scope, where, "words")
    if entries is None:
        return None
    one = replace(key, kind="choice" if key.choices else "text")
    words = [
        _read_line(entry, one, scope, f"{where}[{place}]") for place, entry in enumerate(entries, start=1)
    ]
    sound = tuple(word for word in words if word is not None)
    return _without_twins(sound, entries, scope, where) if len(sound) == len(words) else None


def _read_texts(raw: Any, key: Key, scope: Scope, where: str) -> tuple[str, ...] | None:
    entries = _read_list(raw, key, scope, where, "texts")
    if entries is None:
        return None
    one = replace(key, kind="text")
    texts = [
        "" if entry == "" else _read_text(entry, one, scope.report, f"{where}[{place}]")
        for place, entry in enumerate(entries, start=1)
    ]
    sound = tuple(text for text in texts if text is not None)
    return sound if len(sound) == len(texts) else None


def _without_twins(values: tuple[Any, ...], written: list[Any], scope: Scope, where: str) -> Any:
    """The values, or None after noting which of them stands in the list twice."""
    first: dict[Any, int] = {}
    before = len(scope.report.faults)
    for place, value in enumerate(values, start=1):
        if value in first:
            problem = f"stands in the list already, in place {first[value]}"
            scope.report.fault(f"{where}[{place}]", written[place - 1], problem, "leave it out")
        first.setdefault(value, place)
    return values if len(scope.report.faults) == before else None


_READERS: dict[str, Callable[[Any, Key, Scope, str], Any]] = {
    "integer": _read_integer,
    "numbers": _read_numbers,
    "heights": _read_heights,
    "boolean": _read_boolean,
    "date": _read_date,
    "clock": _read_clock,
    "directions": _read_directions,
    "words": _read_words,
    "texts": _read_texts,
}


def _read_place(raw: Any, where: str, report: Report, which: str = "") -> tuple[float, float] | None:
    if isinstance(raw, list) and len(raw) == 2:
        easting, northing = number_of(raw[0]), number_of(raw[1])
        if easting is not None and northing is not None and max(abs(easting), abs(northing)) <= FARTHEST:
            return easting, northing
    more = ", and a height in a key of its own" if isinstance(raw, list) and len(raw) == 3 else ""
    report.fault(where, raw, f"{which}not a pair of possible coordinates", f"write [easting, northing]{more}")
    return None


def _read_ring(raw: Any, where: str, report: Report) -> tuple[tuple[float, float], ...] | None:
    if not isinstance(raw, list):
        cure = "write [[easting, northing], [easting, northing], [easting, northing]]"
        report.fault(where, raw, f"a list of points is wanted, not {kind_of(raw)}", cure)
        return None
    points = [
        _read_place(entry, where, report, which=f"point {number}: ")
        for number, entry in enumerate(raw, start=1)
    ]
    sound = tuple(point for point in points if point is not None)
    if len(sound) < len(points):
        return None
    if len(set(sound)) < 3:
        problem = f"{len(set(sound))} different points make no area"
        report.fault(where, raw, problem, "give at least three corners")
        return None
    return sound
