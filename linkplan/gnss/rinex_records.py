"""One satellite's record of a RINEX navigation file as a set of elements or a state.

Where each value stands: the appendices of RINEX 3.05 and 4.00 [RINEX]. Values that are not needed for an
orbit are not looked at.
"""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import dataclass
from typing import NamedTuple

from linkplan.gnss.gnss_time import (
    BEIDOU_BEHIND_GPS_S,
    WEEK_S,
    gps_from_calendar,
    gps_from_utc,
    resolve_week,
    split_week,
)
from linkplan.gnss.orbit_sets import KeplerSet, StateSet
from linkplan.gnss.orbit_text import Line, as_number, fault, number, shown
from linkplan.tables.constellations import BEIDOU_GEOSTATIONARY, SYSTEMS

FIELD_WIDTH = 19
_ANGLE = 2.0 * math.pi + 1e-6
_EPOCH = re.compile(r"([0-9]{4})" + r" +([0-9]{1,2})" * 5, re.ASCII)
_GLONASS_RADIUS_M = (2.0e7, 3.0e7)


class Place(NamedTuple):
    """A value of a record: line 1 is the first behind the epoch's, place 0 to 3 in it."""

    key: str
    what: str
    line: int
    place: int
    low: float
    high: float


_ORBIT = (
    Place("crs_m", "Crs", 1, 1, -1e5, 1e5),
    Place("motion_offset_rad_s", "Delta n", 1, 2, -1e-6, 1e-6),
    Place("mean_anomaly_rad", "M0", 1, 3, -_ANGLE, _ANGLE),
    Place("cuc_rad", "Cuc", 2, 0, -1e-2, 1e-2),
    Place("eccentricity", "eccentricity", 2, 1, 0.0, 0.5),
    Place("cus_rad", "Cus", 2, 2, -1e-2, 1e-2),
    Place("root_semi_major_axis", "sqrt(A)", 2, 3, 2530.0, 8192.0),
    Place("cic_rad", "Cic", 3, 1, -1e-2, 1e-2),
    Place("node_rad", "OMEGA0", 3, 2, -_ANGLE, _ANGLE),
    Place("cis_rad", "Cis", 3, 3, -1e-2, 1e-2),
    Place("inclination_rad", "i0", 4, 0, -math.pi, math.pi),
    Place("crc_m", "Crc", 4, 1, -1e5, 1e5),
    Place("perigee_rad", "omega", 4, 2, -_ANGLE, _ANGLE),
    Place("node_rate_rad_s", "OMEGA DOT", 4, 3, -1e-6, 1e-6),
    Place("inclination_rate_rad_s", "IDOT", 5, 0, -1e-6, 1e-6),
)
_TOE = Place("toe_s", "Toe", 3, 0, 0.0, WEEK_S)
_NEW_RATES = (
    Place("axis_rate_m_s", "A DOT", 1, 0, -1e3, 1e3),
    Place("motion_offset_rate_rad_s2", "Delta n0 dot", 5, 1, -1e-9, 1e-9),
)
_STATE = tuple(
    Place(f"{axis}{order}", f"{axis}{words}", line, order, -most, most)
    for line, axis in enumerate("XYZ", start=1)
    for order, (words, most) in enumerate(((" position", 3e4), (" velocity", 10.0), (" acceleration", 1e-6)))
)
"""Kilometres and seconds [GLONASS ICD]."""


@dataclass(frozen=True)
class Layout:
    """What one kind of record holds."""

    places: tuple[Place, ...]
    health: tuple[int, int]
    """Line and place."""
    lines: int
    """Behind the epoch's line."""
    unhealthy_bits: int = 0xFFFF
    """Bits of the health word that speak against use."""
    accuracy: tuple[int, int] | None = None
    """Where a negative accuracy means that none is promised."""
    last_is_new: bool = False
    """One more line since RINEX 3.05."""


_OLD = Layout((_TOE, *_ORBIT), (6, 1), 7)
_NEW = (*_ORBIT, *_NEW_RATES)

LAYOUTS = {
    ("G", "LNAV"): _OLD,
    ("J", "LNAV"): Layout((_TOE, *_ORBIT), (6, 1), 7, unhealthy_bits=0xFFFE),
    ("E", "INAV"): Layout((_TOE, *_ORBIT), (6, 1), 7, accuracy=(6, 0)),
    ("E", "FNAV"): Layout((_TOE, *_ORBIT), (6, 1), 7, accuracy=(6, 0)),
    ("C", "D1"): _OLD,
    ("C", "D2"): _OLD,
    ("R", "FDMA"): Layout(_STATE, (1, 3), 3, last_is_new=True),
    ("G", "CNAV"): Layout(_NEW, (6, 1), 8, unhealthy_bits=0b110),
    ("G", "CNV2"): Layout(_NEW, (6, 1), 9),
    ("J", "CNAV"): Layout(_NEW, (6, 1), 8, unhealthy_bits=0b110),
    ("J", "CNV2"): Layout(_NEW, (6, 1), 9),
    ("C", "CNV1"): Layout((_TOE, *_NEW), (8, 1), 9),
    ("C", "CNV2"): Layout((_TOE, *_NEW), (8, 1), 9),
    ("C", "CNV3"): Layout((_TOE, *_NEW), (7, 1), 8),
}
"""By system and kind of message. Health of QZSS: the last bit is that of an experimental signal; of the
newer message of GPS: the last is L5's, which is sent but not yet in service [from memory]."""

VERSION_3_KINDS = {"G": "LNAV", "J": "LNAV", "E": "INAV", "C": "D1", "R": "FDMA"}
"""RINEX 3 does not name the kind."""


class Record(NamedTuple):
    """The lines of one record as they stand."""

    satellite: str
    kind: str
    lines: tuple[Line, ...]


def read_record(name: str, record: Record) -> KeplerSet | StateSet | None:
    """The set in a record, or None where the satellite is unhealthy and its record holds no possible orbit.

    AlmanacError with the line where something cannot be read, or a healthy satellite's orbit is impossible.
    """
    layout = LAYOUTS[record.satellite[0], record.kind]
    first, behind = record.lines[0], len(record.lines) - 1
    if behind != layout.lines and not (layout.last_is_new and behind == layout.lines + 1):
        fault(
            name,
            first.number,
            f"begins a record of {record.satellite} with {behind} further lines",
            f"{layout.lines} belong there",
        )
    epoch = _epoch(name, record.satellite, first)
    healthy = _healthy(name, record, layout)
    value: dict[str, float] = {}
    for place in layout.places:
        line, text = _field(record, place.line, place.place)
        possible = as_number(text)
        if not healthy and (not text or (possible is not None and not place.low <= possible <= place.high)):
            return None
        value[place.key] = number(name, line, place.what, text, place.low, place.high)
    if record.satellite[0] == "R":
        return _state(name, record, epoch, healthy, value)
    return _kepler(record, epoch, healthy, value)


def _field(record: Record, line: int, place: int) -> tuple[int, str]:
    one = record.lines[line]
    start = 4 + FIELD_WIDTH * place
    return one.number, one.text[start : start + FIELD_WIDTH].strip()


def _epoch(name: str, satellite: str, line: Line) -> float:
    """GPS seconds of the record's epoch, written in its system's own time."""
    text = line.text[4:23].strip()
    found = _EPOCH.fullmatch(text)
    cure = "year, month, day, hour, minute and second belong in columns 5 to 23"
    if found is None:
        fault(name, line.number, f"epoch is {shown(text)}", cure)
    year, month, day, hour, minute, second = (int(one) for one in found.groups())
    try:
        # a second of 60 is how some receivers round up
        moment = datetime.datetime(year, month, day, hour, minute) + datetime.timedelta(seconds=second)
    except (ValueError, OverflowError):
        fault(name, line.number, f"epoch {shown(text)} is no date and time", cure)
    if not 1980 < year < 2200 or second > 60:
        fault(
            name, line.number, f"epoch {shown(text)} is impossible", "a year from 1981 to 2199 belongs there"
        )
    if satellite[0] == "R":
        return gps_from_utc(moment.replace(tzinfo=datetime.UTC))
    return gps_from_calendar(moment) + (BEIDOU_BEHIND_GPS_S if satellite[0] == "C" else 0.0)


def _healthy(name: str, record: Record, layout: Layout) -> bool:
    """A record says that its satellite may be used; one that says nothing does not."""
    line, text = _field(record, *layout.health)
    if not text:
        return False
    health = int(number(name, line, "health", text, 0, 65535, whole=True))
    if layout.accuracy is not None:
        accuracy = as_number(_field(record, *layout.accuracy)[1])
        if accuracy is not None and accuracy < 0.0:
            return False
    return health & layout.unhealthy_bits == 0


def _kepler(record: Record, epoch: float, healthy: bool, value: dict[str, float]) -> KeplerSet:
    satellite = record.satellite
    behind_s = BEIDOU_BEHIND_GPS_S if satellite[0] == "C" else 0.0
    # the newer messages of GPS and QZSS say their orbit for the epoch of their clock
    toe_s = value.pop("toe_s", split_week(epoch - behind_s)[1])
    node_rad = value.pop("node_rad") - SYSTEMS[satellite[0]].earth_rate_rad_s * toe_s
    return KeplerSet(
        satellite=satellite,
        reference_s=resolve_week(toe_s, epoch - behind_s) + behind_s,
        healthy=healthy,
        node_rad=node_rad,
        tilted=satellite[0] == "C" and (record.kind == "D2" or int(satellite[1:]) in BEIDOU_GEOSTATIONARY),
        **value,
    )


def _state(
    name: str, record: Record, epoch: float, healthy: bool, value: dict[str, float]
) -> StateSet | None:
    position, velocity, acceleration = (
        tuple(1000.0 * value[f"{axis}{order}"] for axis in "XYZ") for order in range(3)
    )
    low, high = _GLONASS_RADIUS_M
    radius = math.hypot(*position)
    if not low <= radius <= high:
        if not healthy:
            return None
        fault(
            name,
            record.lines[1].number,
            f"begins a position {radius / 1000.0:.0f} km from the earth's centre",
            f"{low / 1000.0:g} to {high / 1000.0:g} km are possible",
        )
    return StateSet(record.satellite, epoch, healthy, position, velocity, acceleration)  # type: ignore[arg-type]
