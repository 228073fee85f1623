"""A job file with another base written back; all else stays as its user left it (see `write_back`)."""

from __future__ import annotations

import copy
import math
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from linkplan.errors import OutputError
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place
from linkplan.plan.words import quoted
from linkplan.plan.write_back import add_value, changed_text, set_value, write_back
from linkplan.units import METRES_PER_UNIT, dbi_from_dbd, dbm_from_watt, watt_from_dbm

_SAME_DB = 1e-9
"""Powers and gains nearer than this are the same in other units."""

_INSTEAD = {
    "position": "point",
    "point": "position",
    "power_dbm": "power_w",
    "antenna_gain_dbi": "antenna_gain_dbd",
    "antenna_gain_dbd": "antenna_gain_dbi",
}
"""Keys of which one takes the other's line."""

_AFTER = {
    "height": ("position", "point"),
    "antenna_height": ("position", "point"),
    "power_w": ("position", "point"),
    "power_dbm": ("position", "point"),
    "antenna_pattern": ("antenna_gain_dbi", "antenna_gain_dbd"),
}
"""Keys that may be new to their table, and those behind whose line they go."""


@dataclass(frozen=True)
class BaseChoice:
    """What is to change about the base of a job file; None and "" leave things as they are."""

    point: str | None = None
    """Name of a control point on which it stands, or ..."""
    position: tuple[float, float] | None = None
    """... easting and northing in the job's coordinate system."""
    height: float | None = None
    """Ground height at `position` in the job's height unit, if known."""
    antenna_height: float | None = None
    """Radio antenna above ground in the job's height unit."""
    power_w: float | None = None
    """At the radio's connector."""
    antenna: str = ""
    """Name of an entry of [[siting.antennas]], whose gain and pattern go into [radio]."""


def base_choice(
    plan: Plan, place: Place, antenna_height_m: float, power_dbm: float, antenna: str = ""
) -> BaseChoice:
    """The changes that put a job's base on a place, with a mast, a power and an antenna by its name."""
    factor = METRES_PER_UNIT[plan.height_unit]

    def in_job_units(metres: float) -> float:
        return _short(metres / factor, metres, lambda number: number * factor)

    same_power = math.isclose(power_dbm, plan.transmitter.power_dbm, abs_tol=_SAME_DB)
    power_w = _short(watt_from_dbm(power_dbm), power_dbm, lambda watts: float(dbm_from_watt(watts)))
    return BaseChoice(
        point=place.name if place.known else None,
        position=None if place.known else (place.easting, place.northing),
        height=None if place.known or place.height_m is None else in_job_units(place.height_m),
        antenna_height=in_job_units(antenna_height_m),
        power_w=None if same_power else power_w,
        antenna=antenna,
    )


def _short(number: float, meant: float, back: Callable[[float], float]) -> float:
    """The shortest number near `number` that `back` takes to just what is meant: 2 for 2.0000000000000004."""
    tries = (float(f"{number:.{digits}g}") for digits in range(1, 17))
    return next((one for one in tries if back(one) == meant), number)


def with_base(text: str, changes: BaseChoice) -> str:
    """The text of a sound job file with the changes made in it; the same text where they change nothing.

    `base.position` gives way to `base.point` and the other way round, and `base.height` goes, or becomes
    that of the choice, where the place is another. Power in dBm gives way to watts. Further bases that took
    mast or power from the first keep theirs. Raises OutputError where there is no such antenna, or
    where the text cannot be changed without harm.
    """
    data = tomllib.loads(text)
    wanted = _changed(data, changes)
    return changed_text(text, wanted, lambda: _rewritten(text, data, wanted), lambda: _by_hand(data, wanted))


def write_base(path: str | Path, changes: BaseChoice, job_hash: str) -> bool:
    """Make the changes in a job file; False where they change nothing.

    `job_hash` is that of the plan for which the changes were found. Raises OutputError, and leaves the file
    as it is, where it has changed since, cannot be written, or would not be a sound job.
    """
    return write_back(path, job_hash, lambda text: with_base(text, changes), "this base")


def _changed(data: Mapping[str, Any], changes: BaseChoice) -> dict[str, Any]:
    """The parsed job file as it is to be."""
    wanted: dict[str, Any] = copy.deepcopy(dict(data))
    base, radio, further = wanted["base"], wanted["radio"], wanted.get("bases", [])
    _move(base, changes)
    height = changes.antenna_height
    if height is not None and height != base["antenna_height"]:
        for entry in further:
            entry.setdefault("antenna_height", base["antenna_height"])
        base["antenna_height"] = height
    power_w = changes.power_w
    if power_w is not None and not _same_db(_power_dbm(radio), _power_dbm({"power_w": power_w})):
        own = {key: radio.pop(key) for key in ("power_w", "power_dbm") if key in radio}
        for entry in further:
            if not {"power_w", "power_dbm"} & set(entry):
                entry.update(own)
        radio["power_w"] = power_w
    if changes.antenna:
        _exchange_antenna(radio, _antenna(data, changes.antenna))
    return wanted


def _move(base: dict[str, Any], changes: BaseChoice) -> None:
    if changes.point is not None:
        key: str = "point"
        value: Any = changes.point
        same = str(base.get("point", "")).strip() == value
    elif changes.position is not None:
        key, value = "position", [float(number) for number in changes.position]
        same = base.get("position") == value
    else:
        return
    if same:
        return
    base.pop(_INSTEAD[key], None)
    base.pop("height", None)
    base[key] = value
    if changes.height is not None and key == "position":
        base["height"] = changes.height


def _antenna(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    entries: list[Mapping[str, Any]] = data.get("siting", {}).get("antennas", [])
    found = next((entry for entry in entries if str(entry["name"]).strip() == name), None)
    if found is None:
        raise OutputError(f"siting.antennas: has no entry of the name {quoted(name)}")
    return found


def _exchange_antenna(radio: dict[str, Any], antenna: Mapping[str, Any]) -> None:
    keys = ("antenna_gain_dbi", "antenna_gain_dbd")
    if not _same_db(_gain_dbi(radio), _gain_dbi(antenna)):
        for key in keys:
            radio.pop(key, None)
        radio.update({key: antenna[key] for key in keys if key in antenna})
    radio.pop("antenna_pattern", None)
    if "antenna_pattern" in antenna:
        radio["antenna_pattern"] = antenna["antenna_pattern"]


def _power_dbm(table: Mapping[str, Any]) -> float:
    stated: float = table["power_dbm"] if "power_dbm" in table else dbm_from_watt(table["power_w"])
    return float(stated)


def _gain_dbi(table: Mapping[str, Any]) -> float:
    gain_dbi: float = (
        table["antenna_gain_dbi"] if "antenna_gain_dbi" in table else dbi_from_dbd(table["antenna_gain_dbd"])
    )
    return gain_dbi


def _same_db(one: float, other: float) -> bool:
    return math.isclose(one, other, abs_tol=_SAME_DB)


def _rewritten(text: str, data: Mapping[str, Any], wanted: Mapping[str, Any]) -> str:
    """The text with base, radio and further bases as wanted; errors where the library cannot do that."""
    import tomlkit

    swaps: list[_Swap] = []
    document: Any = tomlkit.parse(text)
    for name in ("base", "radio"):
        _edit(document[name], data[name], wanted[name], text, swaps)
    further = zip(data.get("bases", ()), wanted.get("bases", ()), strict=True)
    for number, (old, new) in enumerate(further):
        _edit(document["bases"][number], old, new, text, swaps)
    result = tomlkit.dumps(document)
    for swap in swaps:
        result = swap.done(result)
    return result


@dataclass(frozen=True)
class _Swap:
    """A key that takes another's line: until the text is there, a mark stands in the place of its value."""

    mark: str
    old: str
    new: str
    value: str

    def done(self, text: str) -> str:
        line = rf"""(["']?){re.escape(self.old)}\1(\s*=\s*)"{re.escape(self.mark)}\""""
        return re.sub(line, lambda found: f"{self.new}{found[2]}{self.value}", text, count=1)


def _edit(table: Any, old: Mapping[str, Any], new: Mapping[str, Any], text: str, swaps: list[_Swap]) -> None:
    """Make a table of the document say what `new` says in place of `old`."""
    import tomlkit

    added = [key for key in new if key not in old]
    for key, value in old.items():
        instead = _INSTEAD.get(key)
        if key in new:
            if new[key] != value:
                set_value(table, key, new[key])
        elif instead in added:
            mark = f"swap {len(swaps)}"
            while mark in text:
                mark += "."
            table[key] = mark
            swaps.append(_Swap(mark, key, instead, tomlkit.item(new[instead]).as_string()))
            added.remove(instead)
        else:
            del table[key]
    for key in added:
        add_value(table, key, new[key], next(one for one in _AFTER[key] if one in old), text)


def _by_hand(data: Mapping[str, Any], wanted: Mapping[str, Any]) -> str:
    """What the user would set by hand, on one line."""
    import tomlkit

    said = [
        f"{name}.{key} = {tomlkit.item(value).as_string()}"
        for name in ("base", "radio")
        for key, value in wanted[name].items()
        if data[name].get(key) != value
    ]
    return f"set {', '.join(said)} yourself" if said else "change it yourself"
