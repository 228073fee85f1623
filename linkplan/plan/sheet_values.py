"""One setting as a sheet writes it, brought to the one form in which it is compared.

`450.0 MHz`, `450000 kHz` and `"450000000 Hz"` are one value, and so are `4-Level FSK` and `4level fsk`.
Decimal numbers are taken exactly as written. A length needs its unit, or the sheet's own unit of
coordinates.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from typing import Any

from linkplan.plan.secrecy import is_secret_text
from linkplan.plan.sheet_fields import Field
from linkplan.plan.words import WrittenFloat, kind_of

LONGEST_TEXT = 200

HERTZ: dict[str, Fraction] = {
    "hz": Fraction(1),
    "khz": Fraction(1000),
    "mhz": Fraction(10**6),
    "ghz": Fraction(10**9),
}
BITS_PER_SECOND: dict[str, Fraction] = {
    **dict.fromkeys(("bit/s", "bits/s", "bps", "b/s", "bit_s"), Fraction(1)),
    **dict.fromkeys(("kbit/s", "kbits/s", "kbps", "kb/s", "kbit_s"), Fraction(1000)),
}
DEGREES: dict[str, Fraction] = dict.fromkeys(("deg", "degree", "degrees", "\N{DEGREE SIGN}"), Fraction(1))
FOOT, US_SURVEY_FOOT = Fraction(3048, 10000), Fraction(1200, 3937)
METRES: dict[str, Fraction] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Fraction(1)),
    "cm": Fraction(1, 100),
    "mm": Fraction(1, 1000),
    **dict.fromkeys(("ft", "foot", "feet", "international foot", "international feet"), FOOT),
    **dict.fromkeys(
        ("ftus", "usft", "us ft", "us-survey-foot", "us survey foot", "us survey feet"), US_SURVEY_FOOT
    ),
}
"""Exact lengths of units: international foot (1959), US survey foot (1893), as in `linkplan.units`."""

UNIT_NAMES = {
    **{name: "metre" for name, size in METRES.items() if size == 1},
    **{name: "foot" for name, size in METRES.items() if size == FOOT},
    **{name: "us-survey-foot" for name, size in METRES.items() if size == US_SURVEY_FOOT},
    **dict.fromkeys(DEGREES, "degree"),
}
UNITS_OF: dict[str, Mapping[str, Fraction]] = {
    "frequency": HERTZ,
    "spacing": HERTZ,
    "rate": BITS_PER_SECOND,
    "angle": DEGREES,
    "length": METRES,
    "coordinate": {**METRES, **DEGREES},
}
"""Words for the units of each kind of number, lower case."""

LIMITS = {
    "frequency": (30 * 10**6, 6 * 10**9, "30 MHz to 6 GHz"),
    "spacing": (1000, 10**6, "1 to 1000 kHz"),
    "rate": (100, 10**7, "100 bit/s to 10 Mbit/s"),
    "angle": (0, 90, "0 to 90 degrees"),
    "length": (-10_000, 10_000, "-10000 to 10000 m"),
    "coordinate": (-(10**9), 10**9, "a possible coordinate"),
}
EXAMPLES = {
    "frequency": '"450.0 MHz"',
    "spacing": '"12.5 kHz"',
    "rate": '"9600 bit/s"',
    "angle": '"10 deg"',
    "length": '"1.802 m"',
    "coordinate": '"500200.125 m"',
}
SYSTEMS = {
    "GPS": ("gps", "g"),
    "GLONASS": ("glonass", "glo", "gln", "r"),
    "Galileo": ("galileo", "gal", "e"),
    "BeiDou": ("beidou", "bds", "bd", "c"),
    "QZSS": ("qzss", "qzs", "j"),
    "SBAS": ("sbas", "s"),
    "NavIC": ("navic", "irnss", "i"),
}
"""Satellite systems and how sheets write them; the single letters are those of RINEX."""
_SYSTEM = {word: name for name, words in SYSTEMS.items() for word in words}

NONE_WORDS = frozenset({"none", "no", "off", "false", "disabled", "not used", "unused"})
ON_WORDS = frozenset({"on", "yes", "true", "enabled"})
ANY_WORDS = NONE_WORDS | {"any", "all"}
UNSAID = frozenset({"", "?", "-", "--", "n/a", "na", "unknown", "not stated", "tbd", "_"})
"""Written where nothing is known: no statement, so never agreement."""

_NUMBER = re.compile(r"([-+]?\d{1,15}(?:\.\d{0,20})?(?:[eE][-+]?\d{1,2})?)\s*(.*)", re.ASCII | re.DOTALL)
_SLOT = re.compile(r"(?:slot\s*)?(\d{1,3})(?:\s*(?:of|/)\s*(\d{1,3}))?", re.ASCII)
_KEY_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,15}", re.ASCII)
_CODE = re.compile(r"([a-z]{2,6})\s*[: ]\s*(\d{1,7}(?:\s*\+\s*\d{1,7})?)", re.ASCII)


class BadValueError(Exception):
    """A value that cannot be taken: what is wrong, and what would be right. Never repeats the value."""

    def __init__(self, problem: str, cure: str) -> None:
        self.problem, self.cure = problem, cure
        super().__init__(problem)


@dataclass(frozen=True)
class Stated:
    """A setting as a sheet states it."""

    canonical: str
    """The one form of this value: equal texts are equal settings."""
    shown: str
    """As people read it."""
    number: Fraction | None = None
    """Hz, bit/s, degrees or metres."""
    unit: str = ""
    """"deg" or "m" of a coordinate or length."""
    via: str = ""
    """Where it comes from when the sheet does not give it itself."""

    @property
    def members(self) -> frozenset[str]:
        """Parts of a set of messages or systems."""
        return frozenset(self.canonical.split(","))


def fold(text: str) -> str:
    """Free text without what does not count: case, spaces, hyphens, underscores."""
    return re.sub(r"[\s_\-\u2010-\u2015\u2212]+", "", text.casefold())


def decimal_text(number: Fraction) -> str:
    """A fraction as a plain decimal number without trailing zeros."""
    wide = Context(prec=40)
    value = wide.divide(Decimal(number.numerator), Decimal(number.denominator))
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def read_stated(raw: Any, field: Field, unit: str = "", own_unit: str = "") -> Stated | None:
    """A raw value of a sheet (text, number, true or false, or a list) as a setting; None for no statement.

    `unit` is what its name or its unit column says, `own_unit` the sheet's unit of coordinates; both may
    be "". Raises BadValueError.
    """
    text = _as_text(raw, field)
    if text.casefold() in UNSAID:
        return None
    if field.kind in UNITS_OF:
        return _read_number(text, field, unit, own_unit)
    if unit:
        raise BadValueError("this setting has no unit", "leave the unit out")
    return _READERS[field.kind](text)


def _as_text(raw: Any, field: Field) -> str:
    many = field.kind in ("messages", "systems")
    if isinstance(raw, list | tuple) and many:
        if any(isinstance(entry, list | tuple) for entry in raw):
            raise BadValueError("is a list of lists", f"write {example(field)}")
        return ", ".join(_as_text(entry, field) for entry in raw)
    if isinstance(raw, bool):
        text = "on" if raw else "none"
    elif isinstance(raw, WrittenFloat):
        text = raw.text.replace("_", "")
    elif isinstance(raw, int):
        text = str(raw) if abs(raw) < 10**15 else "9" * 16
    elif isinstance(raw, str):
        text = " ".join(raw.split())
    else:
        wanted = "a list or text" if many else "a number or text"
        raise BadValueError(f"{wanted} is wanted, not {kind_of(raw)}", f"write {example(field)}")
    if is_secret_text(text):
        raise BadValueError("looks like a secret key", "leave it out: a sheet never holds a secret")
    if not text.isprintable() or len(text) > LONGEST_TEXT:
        problem = "is too long or has unprintable characters"
        raise BadValueError(problem, f"at most {LONGEST_TEXT} characters in one line")
    return text


def example(field: Field) -> str:
    """A sound value for the cure of a faulty one."""
    others = {
        "text": '"..."', "key id": '"K2", or "off"', "slot": '"1 of 2", or "none"',
        "messages": "[1006, 1074, 1084]", "systems": '["GPS", "Galileo"]', "station": "17",
        "filter": '17, or "any"', "system": '"EPSG:32611"', "unit": '"metre"',
    }  # fmt: skip
    return EXAMPLES.get(field.kind) or others[field.kind]


def _read_number(text: str, field: Field, unit: str, own_unit: str) -> Stated:
    if field.kind == "frequency" and text.casefold() in NONE_WORDS:
        return Stated("none", "none")
    units = UNITS_OF[field.kind]
    found = _NUMBER.fullmatch(text.replace("\N{MINUS SIGN}", "-"))
    if found is None or found[2].startswith((",", ".")) or found[2][:1].isdigit():
        cure = "write a decimal point" if "," in text else f"write, for example, {EXAMPLES[field.kind]}"
        raise BadValueError("is not a number with a unit", cure)
    written = " ".join(found[2].split()).casefold()
    if written and written not in units:
        raise BadValueError("has a unit that does not go here", f"write, for example, {EXAMPLES[field.kind]}")
    if written and unit and units[written] != units[unit]:
        raise BadValueError("has one unit in its name and another in its value", "keep the one that is true")
    word = written or unit or _usual_unit(field, own_unit)
    number = Fraction(found[1].rstrip(".")) * units[word]
    turned = word in DEGREES
    low, high, words = LIMITS[field.kind] if not (turned and field.kind == "coordinate") else _TURN
    if not low <= number <= high:
        raise BadValueError("is out of all bounds", f"give {words}")
    return _number_stated(number, field, found[1], word, turned)


_TURN = (-360, 360, "degrees within -360 to 360")


def _usual_unit(field: Field, own_unit: str) -> str:
    """The unit of a bare number: only where nobody can mean another."""
    if field.kind == "rate":
        return "bit/s"
    if field.kind == "angle":
        return "deg"
    measured = field.kind in ("length", "coordinate")
    if measured and own_unit in UNITS_OF[field.kind]:
        return own_unit
    more = ", or give coordinate_unit" if measured else ""
    raise BadValueError("has no unit", f"write, for example, {EXAMPLES[field.kind]}{more}")


_SHORT = {"metre": "m", "foot": "ft", "us-survey-foot": "ftUS", "degree": "deg"}


def _number_stated(number: Fraction, field: Field, written: str, word: str, turned: bool) -> Stated:
    if field.kind in ("frequency", "spacing", "rate"):
        whole = Fraction(round(number))
        scale, name = {"frequency": (10**6, "MHz"), "spacing": (1000, "kHz"), "rate": (1, "bit/s")}[
            field.kind
        ]
        return Stated(str(whole), f"{decimal_text(whole / scale)} {name}", whole)
    if field.kind == "angle":
        return Stated(
            _stepped(number, Fraction(1, 100)) + " deg", f"{decimal_text(number)} deg", number, "deg"
        )
    unit = "deg" if turned else "m"
    step = Fraction(1, 10**8) if turned else Fraction(1, 1000)
    short = _SHORT.get(UNIT_NAMES.get(word, ""), word)
    return Stated(f"{_stepped(number, step)} {unit}", f"{written} {short}", number, unit)


def _stepped(number: Fraction, step: Fraction) -> str:
    return decimal_text(round(number / step) * step)


def _read_text(text: str) -> Stated:
    lower = text.casefold()
    if lower in NONE_WORDS:
        return Stated("none", "none")
    if lower in ON_WORDS:
        return Stated("on", "on")
    canonical = fold(text)
    if not canonical:
        raise BadValueError("has no letter or digit", "write a name, or leave it out")
    return Stated(canonical, text)


def _read_key_id(text: str) -> Stated:
    if text.casefold() in NONE_WORDS:
        return Stated("none", "off")
    squeezed = fold(text)
    is_hex = re.fullmatch(r"(0x)?[0-9a-f]{10,}", squeezed) is not None
    if is_hex or not _KEY_ID.fullmatch(text) or not squeezed:
        cure = 'write the short name of the key, such as "K2", or "off"'
        raise BadValueError("looks like a secret, not like the name of a key", cure)
    return Stated(squeezed, text)


def _read_slot(text: str) -> Stated:
    if text.casefold() in NONE_WORDS:
        return Stated("none", "none")
    found = _SLOT.fullmatch(re.sub(r"[\s_-]+", " ", text.casefold()))
    if found is None or not 1 <= int(found[1]) <= int(found[2] or 999):
        raise BadValueError("is not a time slot", 'write "1 of 2", or "none"')
    shown = str(int(found[1])) + (f" of {int(found[2])}" if found[2] else "")
    return Stated(shown, shown)


def _parts(text: str) -> list[str]:
    return [part for part in re.split(r"[\s,;+/&]+|\band\b", text.strip("[]() ")) if part]


def _read_messages(text: str) -> Stated:
    if text.casefold() in ("any", "all"):
        return Stated("any", "any")
    parts = _parts(text)
    if not parts or not all(re.fullmatch(r"[0-9]{1,4}", part) and 1 <= int(part) <= 4095 for part in parts):
        raise BadValueError("is not a list of message numbers, 1 to 4095", "write [1006, 1074, 1084]")
    numbers = sorted({int(part) for part in parts})
    return Stated(",".join(map(str, numbers)), ", ".join(map(str, numbers)))


def _read_systems(text: str) -> Stated:
    parts = [part.casefold() for part in _parts(text)]
    if not parts or not all(part in _SYSTEM for part in parts):
        raise BadValueError("names a satellite system that is not known", f"write {_list(SYSTEMS)}")
    there = {_SYSTEM[part] for part in parts}
    names = [name for name in SYSTEMS if name in there]
    return Stated(",".join(names), ", ".join(names))


def _read_station(text: str) -> Stated:
    if not re.fullmatch(r"[0-9]{1,4}", text) or int(text) > 4095:
        raise BadValueError("is not a station ID", "write a whole number, 0 to 4095")
    return Stated(str(int(text)), str(int(text)))


def _read_filter(text: str) -> Stated:
    return Stated("any", "any") if text.casefold() in ANY_WORDS else _read_station(text)


def _read_system(text: str) -> Stated:
    from linkplan.plan.sheet_system import canonical_system

    found = _CODE.fullmatch(text.casefold())
    if found:
        code = re.sub(r"\s", "", found[2])
        return Stated(f"{found[1].upper()}:{code}", text)
    canonical = canonical_system(text) or fold(text)
    if not canonical:
        raise BadValueError("has no letter or digit", 'write a code such as "EPSG:32611", or a name')
    return Stated(canonical, text)


def _read_unit(text: str) -> Stated:
    name = UNIT_NAMES.get(text.casefold())
    if name is None:
        cure = 'write "metre", "foot" (0.3048 m), "us-survey-foot" or "degree"'
        raise BadValueError("is not a unit of coordinates", cure)
    return Stated(name, name)


def _list(words: Iterable[str]) -> str:
    return ", ".join(words)


_READERS = {
    "text": _read_text, "key id": _read_key_id, "slot": _read_slot, "messages": _read_messages,
    "systems": _read_systems, "station": _read_station, "filter": _read_filter, "system": _read_system,
    "unit": _read_unit,
}  # fmt: skip
