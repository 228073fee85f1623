"""RINEX navigation files of versions 3 and 4: orbits of GPS, GLONASS, Galileo, BeiDou and QZSS [RINEX].

SBAS, NavIC and what is not an orbit are counted and skipped.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from typing import NoReturn

from linkplan.errors import AlmanacError
from linkplan.gnss.orbit_sets import NAVIGATION, KeplerSet, Orbits, Skipped, StateSet
from linkplan.gnss.orbit_text import MOST_SETS, Line, as_number, fault, shown
from linkplan.gnss.rinex_records import LAYOUTS, VERSION_3_KINDS, Record, read_record

LABEL_COLUMN = 60
FIRST_LABEL = "RINEX VERSION / TYPE"
MOST_HEADER_LINES = 2000
_MOST_RECORD_LINES = 12
_SATELLITE = re.compile(r"([A-Z])([ 0-9][0-9])", re.ASCII)
_NOT_READ = {"S": "SBAS records", "I": "NavIC records"}
_OTHER_KIND = "orbits of a kind that is not read"
_OTHER_TYPE = "records of time, earth rotation and ionosphere"
_NO_ORBIT = "unhealthy satellites without a possible orbit"


def read_navigation(name: str, lines: Iterable[Line]) -> Orbits:
    """The orbits in a file's lines; raises AlmanacError with the line where it cannot be read."""
    rest = iter(lines)
    version = _version(name, rest)
    _pass_header(name, rest)
    skipped: Counter[str] = Counter()
    kepler: dict[KeplerSet, None] = {}
    states: dict[StateSet, None] = {}
    for record in _records_3(name, rest, skipped) if version < 4.0 else _records_4(name, rest, skipped):
        one = read_record(name, record)
        if one is None:
            skipped[_NO_ORBIT] += 1
        elif isinstance(one, KeplerSet):
            kepler[one] = None
        else:
            states[one] = None
        if len(kepler) + len(states) > MOST_SETS:
            fault(
                name,
                record.lines[0].number,
                f"begins set {MOST_SETS + 1}",
                "give the files of the days that count",
            )
    counts = tuple(Skipped(what, count) for what, count in sorted(skipped.items()))
    return Orbits(name, NAVIGATION, tuple(kepler), tuple(states), counts)


def _version(name: str, lines: Iterator[Line]) -> float:
    first = next(lines, Line(1, ""))
    if first.text[LABEL_COLUMN:].strip() != FIRST_LABEL:
        fault(
            name,
            first.number,
            f"is {shown(first.text)}",
            f'a RINEX file begins with "{FIRST_LABEL}" in column 61',
        )
    version = as_number(first.text[:9].strip())
    if version is None or not 3.0 <= version < 5.0:
        shown_version = shown(first.text[:9].strip())
        fault(name, first.number, f"RINEX version is {shown_version}", "versions 3 and 4 are read")
    kind = first.text[20:21].upper()
    if kind != "N":
        raise AlmanacError(
            f"{name}: line 1: file type is {shown(first.text[20:40].strip())}; a navigation file (N) is "
            "needed, which receivers and services give beside the observations"
        )
    return version


def _pass_header(name: str, lines: Iterator[Line]) -> None:
    last = 1
    for line in itertools.islice(lines, MOST_HEADER_LINES):
        last = line.number
        if line.text[LABEL_COLUMN:].strip() == "END OF HEADER":
            return
    fault(name, last, "ends or goes on without an end of the header", '"END OF HEADER" belongs in column 61')


def _records_3(name: str, lines: Iterator[Line], skipped: Counter[str]) -> Iterator[Record]:
    for group in _groups(name, lines, lambda text: not text.startswith(" ")):
        system, satellite = _satellite(name, group[0], group[0].text)
        if system in _NOT_READ:
            skipped[_NOT_READ[system]] += 1
        elif system in VERSION_3_KINDS:
            yield Record(satellite, VERSION_3_KINDS[system], group)
        else:
            _no_system(name, group[0])


def _records_4(name: str, lines: Iterator[Line], skipped: Counter[str]) -> Iterator[Record]:
    for group in _groups(name, lines, lambda text: text.startswith(">")):
        head = group[0]
        words = head.text[1:].split()
        if not head.text.startswith(">") or len(words) < 3 or words[0] not in ("EPH", "STO", "EOP", "ION"):
            fault(
                name,
                head.number,
                f"is {shown(head.text)}",
                '"> EPH", "> STO", "> EOP" or "> ION" belongs there',
            )
        if words[0] != "EPH":
            skipped[_OTHER_TYPE] += 1
            continue
        system, satellite = _satellite(name, head, words[1])
        if system in _NOT_READ:
            skipped[_NOT_READ[system]] += 1
        elif system not in VERSION_3_KINDS:
            _no_system(name, head)
        elif (system, words[2]) not in LAYOUTS:
            skipped[_OTHER_KIND] += 1
        elif len(group) < 2 or _satellite(name, group[1], group[1].text)[1] != satellite:
            fault(
                name, head.number, f"announces {satellite}", "the next line should begin with it and an epoch"
            )
        else:
            yield Record(satellite, words[2], group[1:])


def _groups(name: str, lines: Iterator[Line], begins: Callable[[str], bool]) -> Iterator[tuple[Line, ...]]:
    """Lines from one that begins a record to before the next; empty ones left out."""
    group: list[Line] = []
    for line in lines:
        if not line.text:
            continue
        if begins(line.text) and group:
            yield tuple(group)
            group = []
        group.append(line)
        if len(group) > _MOST_RECORD_LINES:
            fault(
                name,
                group[0].number,
                f"begins a record of over {_MOST_RECORD_LINES} lines",
                "none is as long",
            )
    if group:
        yield tuple(group)


def _satellite(name: str, line: Line, text: str) -> tuple[str, str]:
    """Letter of the system, and letter with two figures."""
    found = _SATELLITE.match(text)
    if found is None or int(found[2]) == 0:
        fault(name, line.number, f"begins with {shown(text[:4])}", "a satellite such as G05 belongs there")
    return found[1], f"{found[1]}{int(found[2]):02d}"


def _no_system(name: str, line: Line) -> NoReturn:
    fault(
        name,
        line.number,
        f"is of no known system: {shown(line.text[:12])}",
        "G, R, E, C, J, S or I belongs there",
    )
