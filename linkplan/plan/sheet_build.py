"""Entries of a settings sheet, in any order and writing, made into one checked Sheet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from linkplan.plan.secrecy import is_secret_name, is_secret_text
from linkplan.plan.sheet_fields import BY_NAME, ROLES, Field, Role, keys_of
from linkplan.plan.sheet_values import EXAMPLES, UNITS_OF, BadValueError, Stated, fold, read_stated
from linkplan.plan.sheets import FileReport, Sheet
from linkplan.plan.words import nearest, shown

_SUFFIXES = {
    "mhz": "mhz", "khz": "khz", "hz": "hz", "ghz": "ghz", "kbit_s": "kbit/s", "bit_s": "bit/s",
    "kbps": "kbps", "bps": "bps", "deg": "deg", "degrees": "deg", "m": "m", "cm": "cm", "mm": "mm",
    "metres": "m", "ft": "ft", "feet": "ft", "ftus": "ftus", "us_survey_feet": "ftus",
}  # fmt: skip
"""Unit at the end of a name, folded, and as a word for the unit."""

_ABOUT = {"set": "set", "name": "set", "role": "role", "notes": "notes", "code": "code", "check_code": "code"}
"""What a sheet says about itself."""
_CHANNEL = re.compile(r"channels?(?:\s*\.\s*(\S.*)|[ _-]+(\d.*))", re.ASCII | re.IGNORECASE)
_SECRET_CURE = (
    'leave it out: a sheet never holds a secret; scrambling_key_id = "K2" names a key, "off" says none'
)


@dataclass(frozen=True)
class Entry:
    """One line of a sheet."""

    name: str
    """As written."""
    where: str
    """For a message: the key of a TOML file, the row of a CSV."""
    value: Any
    unit: str = ""
    """From a column of units."""


@dataclass
class _Draft:
    """A sheet in the making."""

    role: Role
    report: FileReport
    fields: dict[str, tuple[Entry, Field, str]]
    channels: dict[str, Entry]
    about: dict[str, Entry]
    channel: Entry | None = None


def build_sheet(entries: Sequence[Entry], name: str, role: Role, report: FileReport) -> Sheet | None:
    """The sheet of a set; None when it has faults, which are noted.

    `name` is its name where the sheet does not give one; `role` what the command line takes it for.
    """
    before = len(report.faults)
    draft = _Draft(role, report, {}, {}, {})
    for entry in entries:
        _sort_in(entry, draft)
    _check_about(draft)
    values = _read_fields(draft)
    remarks = _apply_channel(draft, values)
    if "repeater_frequency" not in values and values.get("repeater", _NO_REPEATER).canonical == "none":
        values.setdefault("repeater_frequency", Stated("none", "none"))
    if values.get("messages", _NO_REPEATER).canonical == "any" and role == "base":
        report.add(_where(draft, "messages"), '"any"', "a base sends certain messages", "list their numbers")
    if len(report.faults) > before:
        return None
    written = draft.about.get("set")
    code = draft.about.get("code")
    set_name = str(written.value).strip() if written else name
    channel = str(draft.channel.value).strip() if draft.channel else ""
    return Sheet(role, set_name, report.file, values, remarks, str(code.value) if code else "", channel)


_NO_REPEATER = Stated("", "")


def _where(draft: _Draft, name: str) -> str:
    entry = draft.fields[name][0]
    return _place(entry)


def _place(entry: Entry) -> str:
    """Where an entry stands, with its name where that is not said yet; a name that is a secret is hidden."""
    if _hides_secret(entry.name):
        return (
            entry.where if entry.where.startswith("row ") and "," not in entry.where else "a name not shown"
        )
    if not entry.where.startswith("row ") or "," in entry.where:
        return entry.where
    return f"{entry.where}, {entry.name[:40]}" if entry.name.isprintable() else entry.where


def _hides_secret(name: str) -> bool:
    return is_secret_text(name.replace(".", " "))


def fold_name(name: str) -> str:
    """A setting's name without what does not count: case, spaces, hyphens, brackets."""
    return re.sub(r"[^a-z0-9]+", "_", name.casefold()).strip("_")


def _sort_in(entry: Entry, draft: _Draft) -> None:
    """Put an entry where it belongs, or note why it belongs nowhere."""
    report, folded = draft.report, fold_name(entry.name)
    if is_secret_name(entry.name) or _hides_secret(entry.name):
        report.add(_place(entry), "", "looks like a secret", _SECRET_CURE)
        return
    if folded in _ABOUT and entry.value == "" and entry.where.startswith("row "):
        return  # an empty cell says nothing
    if folded in _ABOUT:
        _once(draft.about, _ABOUT[folded], entry, report)
        return
    known = keys_of(draft.role)
    field, unit = known.get(folded), entry.unit.strip().casefold()
    if field is None:
        ends = sorted((end for end in _SUFFIXES if folded.endswith("_" + end)), key=len, reverse=True)
        for end in ends:
            field = known.get(folded[: -len(end) - 1])
            if field is not None:
                unit = _SUFFIXES[end]
                break
    if field is not None:
        if field.name in draft.fields:
            other = _place(draft.fields[field.name][0])
            report.add(_place(entry), "", f"is stated already ({other})", "keep one of them")
        elif unit and unit not in UNITS_OF.get(field.kind, {}):
            report.add(
                _place(entry), "", "has a unit that does not go here", "leave the unit out, or correct it"
            )
        else:
            draft.fields[field.name] = (entry, field, unit)
    elif folded == "channel":
        draft.channel = entry
    elif found := _CHANNEL.fullmatch(entry.name.strip()):
        _once(draft.channels, fold(found[1] or found[2]), entry, report)
    else:
        guess = nearest(folded, known)
        cure = f"did you mean {guess}?" if guess else "the settings are " + ", ".join(list(known)[:30])
        report.add(_place(entry), "", "unknown setting", cure)  # its value might be a secret: not repeated


def _once(home: dict[str, Entry], name: str, entry: Entry, report: FileReport) -> None:
    if name in home:
        report.add(_place(entry), "", "is there twice", "keep one of them")
    home.setdefault(name, entry)


def _check_about(draft: _Draft) -> None:
    """Name, role and code are text; the role is the one that the command line takes the set for."""
    for name, entry in draft.about.items():
        text = entry.value
        if isinstance(text, int) and not isinstance(text, bool) and abs(text) < 10**9:
            text = str(text)
        if not isinstance(text, str) or not (text.isprintable() or name == "notes"):
            draft.report.add(_place(entry), "", "text is wanted here", f'write {name} = "..."')
        elif name != "notes" and is_secret_text(text):
            draft.report.add(_place(entry), "", "looks like a secret", _SECRET_CURE)
        elif name in ("set", "code") and not 1 <= len(text.strip()) <= 60:
            draft.report.add(_place(entry), "", "is empty or too long", f"give a short {name}")
        elif name == "role" and text.strip().casefold() != draft.role:
            there = text.strip().casefold()
            problem = f"this sheet is taken for a {draft.role}'s"
            cure = "give the base's sheet first, then those of the rovers"
            draft.report.add(_place(entry), f'"{there}"' if there in ROLES else "", problem, cure)


def _read_fields(draft: _Draft) -> dict[str, Stated]:
    values: dict[str, Stated] = {}
    own_unit = ""
    # The unit of coordinates first: bare numbers need it.
    for name, (entry, field, unit) in sorted(
        draft.fields.items(), key=lambda item: item[0] != "coordinate_unit"
    ):
        try:
            stated = read_stated(entry.value, field, unit, own_unit)
        except BadValueError as bad:
            value = "" if field.kind == "key id" else _shown(entry.value)
            draft.report.add(_place(entry), value, bad.problem, bad.cure)
            continue
        if stated is not None:
            values[name] = stated
            own_unit = stated.canonical if name == "coordinate_unit" else own_unit
    return values


def _shown(value: Any) -> str:
    """A value for a message: nothing that looks like a secret, nor a list, whose inside might be one."""
    if isinstance(value, str):
        return "" if is_secret_text(value) else shown(value)
    return shown(value) if isinstance(value, int | float) and abs(value) < 10**15 else ""


def _apply_channel(draft: _Draft, values: dict[str, Stated]) -> tuple[str, ...]:
    """Resolve the channel by the set's own table; frequency decides, and the two must not differ."""
    field = BY_NAME["corrections_frequency"]
    table: dict[str, Stated] = {}
    for name, entry in draft.channels.items():
        if fold_name(entry.name.partition(".")[2]) in keys_of(draft.role):
            cure = "move [channels] with its channels to the end of the file"
            draft.report.add(_place(entry), "", "a setting stands below [channels]", cure)
            continue
        try:
            stated = read_stated(entry.value, field, entry.unit.strip().casefold())
        except (BadValueError, KeyError):
            cure = f"write, for example, {EXAMPLES['frequency']}"
            draft.report.add(_place(entry), "", "is not a frequency with a unit", cure)
            continue
        if stated is not None:
            table[name] = stated
    if draft.channel is None:
        return ()
    raw = draft.channel.value
    usable = isinstance(raw, str) or (isinstance(raw, int) and not isinstance(raw, bool) and abs(raw) < 10**9)
    text = str(raw).strip() if usable else ""
    if not text and raw != "":
        draft.report.add(
            _place(draft.channel), "", "a channel's number or name is wanted", 'write channel = "3"'
        )
        return ()
    if is_secret_text(text) or len(text) > 40 or not text.isprintable():
        draft.report.add(_place(draft.channel), "", "is no channel's name", 'write channel = "3"')
        return ()
    if not text:
        draft.channel = None
        return ()
    found, own = table.get(fold(text)), values.get(field.name)
    key = field.key(draft.role).replace("_", " ")
    if found is None:
        remark = f"channel {text} says nothing: the set's own channel table does not stand on the sheet"
        return () if own else (remark,)
    if own is None:
        values[field.name] = replace(found, via=f"channel {text} in its own table")
    elif own.canonical != found.canonical:
        problem = f"channel {text} is {found.shown} in the set's own table, but its {key} says {own.shown}"
        cure = "look at the set, and keep the one that it really uses"
        draft.report.add(_place(draft.channel), "", problem, cure)
    else:
        values[field.name] = replace(own, via=f"channel {text} in its own table")
    return ()
