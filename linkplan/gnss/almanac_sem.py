"""SEM almanacs of GPS: nine lines of bare numbers for each satellite, angles in semicircles [IS-GPS-870].

A head of two lines (number of satellites and title; week and time of applicability), then the lines of each
satellite, _ROWS below. Empty lines count for nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from linkplan.gnss.almanac_yuma import GPS_NUMBERS, LATEST_WEEK
from linkplan.gnss.gnss_time import ROLLOVER_WEEKS, WEEK_S, from_week, resolve_rollover
from linkplan.gnss.orbit_sets import ALMANAC, KeplerSet, Orbits, Skipped
from linkplan.gnss.orbit_text import Line, fault, number
from linkplan.tables.constellations import SYSTEMS

MOST_SATELLITES = 999
REFERENCE_INCLINATION = 0.30
"""Semicircles [IS-GPS-200, 20.3.3.5.1.2]."""

_AXIS = "square root of the semi-major axis"
_ROWS: tuple[tuple[tuple[str, float, float], ...], ...] = (
    (("satellite number", 0, 999),),
    (("serial number", 0, 9999),),
    (("accuracy number", 0, 99),),
    (("eccentricity", 0.0, 0.5), ("inclination less 0.30", -0.3, 0.7), ("node's rate", -4e-7, 4e-7)),
    ((_AXIS, 2530.0, 8192.0), ("right ascension", -2.0, 2.0), ("argument of perigee", -2.0, 2.0)),
    (("mean anomaly", -2.0, 2.0), ("af0", -1.0, 1.0), ("af1", -1.0, 1.0)),
    (("health", 0, 255),),
    (("configuration", 0, 99),),
)  # fmt: skip
"""What stands in each line of a satellite, and what it may be."""


def read_sem(name: str, lines: Iterable[Line], near_gps_s: float) -> Orbits:
    """The almanac in a file's lines; raises AlmanacError.

    A week below 1024 is taken in the cycle of 1024 weeks nearest to `near_gps_s`, a greater one as it stands.
    """
    full = (line for line in lines if line.text.strip())
    head = _needed(name, full, 0, "the head")
    words = head.text.split()
    count = int(number(name, head.number, "number of satellites", words[0], 1, MOST_SATELLITES, whole=True))
    line = _needed(name, full, head.number, "week and time of applicability")
    words = line.text.split()
    if len(words) != 2:
        fault(name, line.number, f"has {len(words)} values", "week and time of applicability belong there")
    week = int(number(name, line.number, "week", words[0], 0, LATEST_WEEK, whole=True))
    toa_s = number(name, line.number, "time of applicability", words[1], 0.0, WEEK_S)
    old = week < ROLLOVER_WEEKS
    reference_s = resolve_rollover(week, toa_s, near_gps_s) if old else from_week(week, toa_s)
    sets: dict[KeplerSet, None] = {}
    others = 0
    for satellite in range(1, count + 1):
        line, value = _satellite(name, full, line, f"satellite {satellite} of {count}")
        if int(value["satellite number"]) in GPS_NUMBERS:
            sets[_kepler(value, reference_s, toa_s)] = None
        else:
            others += 1
    more = next(full, None)
    if more is not None:
        announced = f"comes after the {count} satellites that line {head.number} announces"
        fault(name, more.number, announced, "the file should end there")
    skipped = (Skipped("satellites that are not GPS (1 to 63)", others),) if others else ()
    return Orbits(name, ALMANAC, tuple(sets), skipped=skipped)


def _needed(name: str, lines: Iterator[Line], last: int, what: str) -> Line:
    line = next(lines, None)
    if line is None:
        fault(name, last, "is the last", f"{what} of a SEM almanac should follow")
    return line


def _satellite(name: str, lines: Iterator[Line], line: Line, what: str) -> tuple[Line, dict[str, float]]:
    """The last line of a satellite, and its values by name."""
    value: dict[str, float] = {}
    for row in _ROWS:
        line = _needed(name, lines, line.number, f"{row[0][0]} of {what}")
        words = line.text.split()
        if len(words) != len(row):
            wanted = ", ".join(one[0] for one in row)
            fault(name, line.number, f"has {len(words)} values", f"of {what} {wanted} belong there")
        for word, (key, low, high) in zip(words, row, strict=True):
            value[key] = number(name, line.number, key, word, low, high, whole=isinstance(low, int))
    return line, value


def _kepler(value: dict[str, float], reference_s: float, toa_s: float) -> KeplerSet:
    return KeplerSet(
        satellite=f"G{int(value['satellite number']):02d}",
        reference_s=reference_s,
        healthy=value["health"] == 0,
        root_semi_major_axis=value[_AXIS],
        eccentricity=value["eccentricity"],
        inclination_rad=math.pi * (value["inclination less 0.30"] + REFERENCE_INCLINATION),
        node_rad=math.pi * value["right ascension"] - SYSTEMS["G"].earth_rate_rad_s * toa_s,
        perigee_rad=math.pi * value["argument of perigee"],
        mean_anomaly_rad=math.pi * value["mean anomaly"],
        node_rate_rad_s=math.pi * value["node's rate"],
    )
