"""YUMA almanacs: 13 lines "label: value" for each satellite, in radians, metres and seconds [IS-GPS-870].

Issued for GPS (1 to 63) and, with the same labels, for QZSS (193 to 202); other numbers are counted and
skipped.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from linkplan.gnss.gnss_time import ROLLOVER_WEEKS, WEEK_S, from_week, resolve_rollover
from linkplan.gnss.orbit_sets import ALMANAC, KeplerSet, Orbits, Skipped
from linkplan.gnss.orbit_text import MOST_SETS, Line, fault, number, shown
from linkplan.tables.constellations import SYSTEMS

GPS_NUMBERS = range(1, 64)
QZSS_NUMBERS = range(193, 203)
LATEST_WEEK = 8191
_ANGLE = 2.0 * math.pi + 1e-6

_LABELS = (
    ("id", "ID", 0, 999),
    ("health", "health", 0, 255),
    ("eccentricity", "eccentricity", 0.0, 0.5),
    ("time of applicability", "time of applicability", 0.0, WEEK_S),
    ("orbital inclination", "inclination", 0.0, math.pi),
    ("rate of right ascen", "rate of right ascension", -1e-6, 1e-6),
    ("sqrt(a)", "square root of the semi-major axis", 2530.0, 8192.0),
    ("right ascen at week", "right ascension", -_ANGLE, _ANGLE),
    ("argument of perigee", "argument of perigee", -_ANGLE, _ANGLE),
    ("mean anom", "mean anomaly", -_ANGLE, _ANGLE),
    ("af0", "af0", -1.0, 1.0),
    ("af1", "af1", -1.0, 1.0),
    ("week", "week", 0, LATEST_WEEK),
)
"""How a line's label begins in small letters, what it is, and what it may be [IS-GPS-200, table 20-VI]."""


class _Block:
    """The lines of one satellite, in any order."""

    def __init__(self, name: str, first: int) -> None:
        self.name = name
        self.first = first
        self.values: dict[str, tuple[int, str]] = {}

    def take(self, line: Line) -> None:
        label, colon, value = line.text.partition(":")
        small = label.strip().lower()
        key = next((one for one, *_ in _LABELS if small.startswith(one)), None)
        if not colon or key is None:
            known = ", ".join(what for _, what, *_ in _LABELS)
            fault(
                self.name,
                line.number,
                f"is {shown(line.text)}",
                f"in a YUMA almanac one of these belongs there: {known}",
            )
        if key in self.values:
            fault(self.name, line.number, f"gives {shown(label)} again", "each stands once for a satellite")
        self.values[key] = (line.number, value.strip())

    def numbers(self) -> dict[str, float]:
        """All 13 values."""
        missing = [what for key, what, *_ in _LABELS if key not in self.values]
        if missing:
            fault(
                self.name,
                self.first,
                f"begins a satellite without {missing[0]}",
                "13 lines belong to each satellite",
            )
        found: dict[str, float] = {}
        for key, what, low, high in _LABELS:
            line, text = self.values[key]
            found[key] = number(self.name, line, what, text, low, high, whole=isinstance(low, int))
        return found


def read_yuma(name: str, lines: Iterable[Line], near_gps_s: float) -> Orbits:
    """The almanac in a file's lines; raises AlmanacError.

    A week below 1024 is taken in the cycle of 1024 weeks nearest to `near_gps_s`, a greater one as it stands.
    """
    sets: dict[KeplerSet, None] = {}
    others = 0
    for block in _blocks(name, lines):
        one = _kepler(block.numbers(), near_gps_s)
        if one is None:
            others += 1
            continue
        sets[one] = None
        if len(sets) > MOST_SETS:
            fault(
                name,
                block.first,
                f"begins satellite set {len(sets)}",
                "an almanac has one for each satellite",
            )
    skipped = (
        (Skipped("satellites that are neither GPS (1 to 63) nor QZSS (193 to 202)", others),)
        if others
        else ()
    )
    return Orbits(name, ALMANAC, tuple(sets), skipped=skipped)


def _blocks(name: str, lines: Iterable[Line]) -> Iterable[_Block]:
    block: _Block | None = None
    for line in lines:
        text = line.text.strip()
        if not text:
            continue
        starred = text.startswith("*")
        # an ID begins a satellite where no line of stars did
        if starred or (text[:2].lower() == "id" and (block is None or "id" in block.values)):
            if block is not None and block.values:
                yield block
            block = _Block(name, line.number)
        if starred:
            continue
        if block is None:
            fault(
                name, line.number, f"is {shown(text)}", 'a YUMA almanac begins with "ID:" or a line of stars'
            )
        block.take(line)
    if block is not None and block.values:
        yield block


def _kepler(value: dict[str, float], near_gps_s: float) -> KeplerSet | None:
    prn, week = int(value["id"]), int(value["week"])
    if prn in GPS_NUMBERS:
        satellite, ignored = f"G{prn:02d}", 0
    elif prn in QZSS_NUMBERS:
        # the last bit is that of an experimental signal
        satellite, ignored = f"J{prn - 192:02d}", 1
    else:
        return None
    toa_s = value["time of applicability"]
    old = week < ROLLOVER_WEEKS
    return KeplerSet(
        satellite=satellite,
        reference_s=resolve_rollover(week, toa_s, near_gps_s) if old else from_week(week, toa_s),
        healthy=int(value["health"]) & ~ignored == 0,
        root_semi_major_axis=value["sqrt(a)"],
        eccentricity=value["eccentricity"],
        inclination_rad=value["orbital inclination"],
        node_rad=value["right ascen at week"] - SYSTEMS[satellite[0]].earth_rate_rad_s * toa_s,
        perigee_rad=value["argument of perigee"],
        mean_anomaly_rad=value["mean anom"],
        node_rate_rad_s=value["rate of right ascen"],
    )
