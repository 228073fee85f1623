"""A parsed job file against its description: every value checked and converted, every fault noted.

What a single value must be is said in `keys`; this module applies it. What needs a look into files
or two tables at once is left to `reader`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from linkplan.errors import Fault
from linkplan.plan.schema import AtLeastOne, Key, OneWay, Table
from linkplan.plan.values import Scope, read_value
from linkplan.plan.words import NOTHING, Report, key_text, kind_of, nearest
from linkplan.units import METRES_PER_UNIT


@dataclass(frozen=True)
class Section:
    """One table's values in SI units: those that stand in the file and are sound, and the defaults."""

    values: Mapping[str, Any]
    present: frozenset[str] = field(default_factory=frozenset)
    """Keys that stand in the file, sound or not."""
    written: Mapping[str, Any] = field(default_factory=dict)
    """The table as parsed."""

    def __getitem__(self, name: str) -> Any:
        """The value, or None where the key is absent without a default, or faulty."""
        return self.values.get(name)

    def raw(self, name: str) -> Any:
        """The value as it stands in the file, for a message; NOTHING where none stands."""
        return self.written.get(name, NOTHING)


def check_document(
    data: Mapping[str, Any], tables: tuple[Table, ...], folder: Path, report: Report
) -> dict[str, Section | None]:
    """Check a parsed job file; sections by table name, None for an optional or faulty table not there."""
    guessed = _check_table_names(data, tables, report)
    factors: dict[str, float | None] = {"length": 1.0, "height": 1.0}
    sections: dict[str, Section | None] = {}
    # Units first: every other table's numbers need them.
    for table in sorted(tables, key=lambda table: table.name != "units"):
        section = _check_table(data, table, Scope(folder, factors, report), guessed)
        sections[table.name] = section
        if table.name == "units" and section is not None:
            factors = {name: METRES_PER_UNIT.get(section[name] or "") for name in factors}
        elif table.name == "units":
            factors = dict.fromkeys(factors)
    return sections


def in_file_order(
    faults: list[Fault], data: Mapping[str, Any], tables: tuple[Table, ...]
) -> tuple[Fault, ...]:
    """Sort faults as their tables and keys follow in the file; what is missing there comes after."""
    table_names = list(dict.fromkeys([*data, *(table.name for table in tables)]))
    known = {table.name: [key.name for key in table.keys] for table in tables}

    def position(fault: Fault) -> tuple[int, int, int]:
        first, _, rest = fault.key.partition(".")
        top, _, number = first.rstrip("]").partition("[")
        section = data.get(top)
        names = [*(section if isinstance(section, Mapping) else ()), *known.get(top, ())]
        key = rest.partition(".")[0].partition("[")[0]
        return (
            table_names.index(top) if top in table_names else -1,
            int(number) if number.isdecimal() else 0,
            names.index(key) if key in names else (-1 if not rest else len(names)),
        )

    return tuple(sorted(faults, key=position))


def _check_table_names(data: Mapping[str, Any], tables: tuple[Table, ...], report: Report) -> set[str]:
    """Note unknown top-level names; the tables that they were probably meant for are returned."""
    names = [table.name for table in tables]
    headings = {table.name: f"[[{table.name}]]" if table.many else f"[{table.name}]" for table in tables}
    homes = {key.name: table.name for table in reversed(tables) for key in table.keys}
    guessed = set()
    for name, value in data.items():
        if name in names:
            continue
        is_table = isinstance(value, Mapping | list)
        guess = nearest(name, names)
        if is_table and guess and guess in data:
            cure = f"{headings[guess]} stands in the file already; move the keys there"
        elif is_table and guess:
            guessed.add(guess)
            cure = f"did you mean {headings[guess]}?"
        elif not is_table and name in homes:
            cure = f"it belongs in the table {headings[homes[name]]}"
        else:
            cure = "the tables are " + ", ".join(headings.values())
        report.fault(
            key_text(name),
            NOTHING if is_table else value,
            "unknown " + ("table" if is_table else "key"),
            cure,
        )
    return guessed


def _check_table(data: Mapping[str, Any], table: Table, scope: Scope, guessed: set[str]) -> Section | None:
    raw = data.get(table.name)
    if raw is None:
        if table.absent == "a fault" and table.name not in guessed:
            cure = f"add [{table.name}] with {table.about}"
            scope.report.fault(table.name, NOTHING, "this table is missing", cure)
        if table.absent != "defaults":
            return None
        raw = {}
    if table.many:
        entries = _check_tables(
            raw, Key(table.name, "tables", "", inner=table.keys, rules=table.rules), scope
        )
        return None if entries is None else Section({"entries": entries})
    if not isinstance(raw, Mapping):
        many = isinstance(raw, list)
        problem = "one table is wanted here, not a list" if many else "a table is wanted here"
        scope.report.fault(
            table.name, NOTHING if many else raw, problem, f"write [{table.name}] on a line of its own"
        )
        return None
    return check_keys(raw, table, scope.inside(table.name))


def check_keys(raw: Mapping[str, Any], table: Table, scope: Scope) -> Section:
    """Check one table's keys and its rules on which go together."""
    names = [key.name for key in table.keys]
    meant: set[str] = set()
    for name, value in raw.items():
        if name not in names:
            guess = nearest(name, names)
            if guess is None:
                cure = "the keys here are " + ", ".join(names)
            elif guess in raw:
                cure = f"{guess} stands here already, so leave this out"
            else:
                meant.add(guess)
                cure = f"did you mean {guess}?"
            scope.report.fault(scope.path(key_text(name)), value, "unknown key", cure)
    values: dict[str, Any] = {}
    for key in table.keys:
        if key.name in raw:
            value = _READERS.get(key.kind, read_value)(raw[key.name], key, scope)
        else:
            value = key.default
            if key.required and key.name not in meant:
                scope.report.fault(
                    scope.path(key.name), NOTHING, "missing", f"add, for example, {key.name} = {key.example}"
                )
        if value is not None:
            values[key.name] = value
    present = frozenset(raw) & frozenset(names)
    for rule in table.rules:
        _check_rule(rule, table, raw, present | meant, scope)
    return Section(values, present, raw)


def _check_classes(raw: Any, key: Key, scope: Scope) -> dict[int, Any] | None:
    """A table whose keys are whole numbers and whose values are tables with the keys of `key.inner`, or
    numbers where it has none."""
    example = key.example[2:-2]
    if not isinstance(raw, Mapping) or not raw:
        problem = f"a table of classes is wanted, not {kind_of(raw)}" if raw != {} else "no class is given"
        cure = f"write [{scope.path(key.name)}] and below it a line a class: {example}"
        scope.report.fault(scope.path(key.name), raw, problem, cure)
        return None
    inner = Table("class", "name and height", key.inner)
    here = scope.inside(key.name)
    classes: dict[int, Any] = {}
    for code, entry in raw.items():
        where = here.path(key_text(code))
        is_code = re.fullmatch(r"-?(0|[1-9][0-9]{0,9})", code) is not None
        if not is_code:
            scope.report.fault(
                where, entry, "a class goes by its whole number in the raster", f"write {example}"
            )
        if not key.inner:
            one = replace(key, name=key_text(code), kind="number", example=example.rpartition(" ")[2])
            number = read_value(entry, one, here)
            if is_code and number is not None:
                classes[int(code)] = number
        elif not isinstance(entry, Mapping):
            problem = f"a name and a height are wanted, not {kind_of(entry)}"
            scope.report.fault(where, entry, problem, f"write {example}")
        elif is_code:
            classes[int(code)] = check_keys(entry, inner, here.inside(key_text(code))).values
    return classes


def _check_tables(raw: Any, key: Key, scope: Scope) -> tuple[Section, ...] | None:
    """A list of tables with the keys of `key.inner`; messages count them from 1."""
    where = scope.path(key.name)
    cure = f"write [[{where}]] on a line of its own, and below it the keys of one entry"
    if not isinstance(raw, list) or not raw:
        problem = "the list is empty" if raw == [] else f"a list of tables is wanted, not {kind_of(raw)}"
        scope.report.fault(where, raw, problem, cure)
        return None
    inner = Table(key.name, "entries", key.inner, rules=key.rules)
    sections = []
    for number, entry in enumerate(raw, start=1):
        here = f"{key.name}[{number}]"
        if isinstance(entry, Mapping):
            sections.append(check_keys(entry, inner, scope.inside(here)))
        else:
            problem = f"a table is wanted in the list, not {kind_of(entry)}"
            scope.report.fault(scope.path(here), entry, problem, cure)
    return tuple(sections)


_READERS: dict[str, Callable[[Any, Key, Scope], Any]] = {"classes": _check_classes, "tables": _check_tables}


def _check_rule(
    rule: OneWay | AtLeastOne, table: Table, raw: Mapping[str, Any], present: frozenset[str], scope: Scope
) -> None:
    report = scope.report
    if isinstance(rule, AtLeastOne):
        if not present.intersection(rule.names):
            cure = "add at least one of " + ", ".join(rule.names)
            report.fault(scope.path(rule.names[0]), NOTHING, "missing", cure)
        return
    ways = [" with ".join(way) for way in rule.ways]
    taken = [way for way in rule.ways if present.intersection(way)]
    if not taken and rule.required:
        first = table.key(rule.ways[0][0])
        cure = f"add either {' or '.join(ways)}, for example {first.name} = {first.example}"
        report.fault(scope.path(first.name), NOTHING, "missing", cure)
    elif len(taken) > 1:
        names = [name for way in taken for name in way if name in present]
        value = raw.get(names[-1], NOTHING)
        problem = f"cannot stand beside {' and '.join(names[:-1])}"
        report.fault(scope.path(names[-1]), value, problem, f"keep either {' or '.join(ways)}")
    elif taken:
        for name in taken[0]:
            if name not in present:
                key = table.key(name)
                others = " and ".join(other for other in taken[0] if other != name)
                cure = f"it goes with {others}; add, for example, {name} = {key.example}"
                report.fault(scope.path(name), NOTHING, "missing", cure)
