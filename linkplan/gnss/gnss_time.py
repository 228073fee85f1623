"""One clock for all satellite systems: seconds of GPS time since 6 January 1980, 0:00, as a float.

Such a float resolves 0.3 microseconds, in which a satellite moves a millimetre. Leap seconds are those of
tables/leap_seconds.py; a date behind KNOWN_UNTIL assumes that no new one came.
"""

from __future__ import annotations

import datetime
import math

from linkplan.errors import RangeError
from linkplan.ranges import require_range
from linkplan.tables.leap_seconds import KNOWN_UNTIL, LEAP_SECONDS

DAY_S = 86_400.0
WEEK_S = 604_800.0
ROLLOVER_WEEKS = 1024
"""YUMA, SEM and the older GPS messages count weeks in 10 bits [IS-GPS-870]."""

BEIDOU_BEHIND_GPS_S = 14.0
"""GPS time less BeiDou time, which began without leap seconds on 1 January 2006 [BDS ICD]."""

GPS_EPOCH = datetime.datetime(1980, 1, 6)
LATEST = datetime.datetime(2200, 1, 1)
LATEST_GPS_S = (LATEST - GPS_EPOCH).total_seconds()

_STEPS = tuple(
    (
        (datetime.datetime.combine(day, datetime.time()) - GPS_EPOCH).total_seconds(),
        float(seconds),
    )
    for day, seconds in LEAP_SECONDS
)
"""UTC's step, counted in days of 86 400 s, and GPS time less UTC from there on."""


def leap_seconds(moment: datetime.datetime) -> int:
    """GPS time less UTC at a moment with a time zone, s. RangeError as gps_from_utc."""
    return round(gps_from_utc(moment) - _days_s(moment))


def leap_seconds_known(moment: datetime.datetime) -> bool:
    """A moment lies before the day up to which leap seconds were announced [IERS C]."""
    return moment.astimezone(datetime.UTC).date() < KNOWN_UNTIL


def gps_from_utc(moment: datetime.datetime) -> float:
    """GPS seconds of a moment with a time zone, 1980-01-06 to 2199-12-31 UTC.

    RangeError where it has no time zone or lies outside.
    """
    counted = _days_s(moment)
    return counted + next(leap for start, leap in reversed(_STEPS) if counted >= start)


def utc_from_gps(gps_s: float) -> datetime.datetime:
    """UTC of GPS seconds, to the microsecond.

    The 61st second of a minute, which Python cannot write, comes out as the first of the next. RangeError.
    """
    require_range("gps_s", gps_s, 0.0, LATEST_GPS_S + _STEPS[-1][1], unit="s")
    leap = next(leap for start, leap in reversed(_STEPS) if gps_s >= start + leap)
    return (GPS_EPOCH + datetime.timedelta(seconds=gps_s - leap)).replace(tzinfo=datetime.UTC)


def gps_from_calendar(moment: datetime.datetime) -> float:
    """GPS seconds of a date and time of day that are GPS time themselves (no time zone), as RINEX writes."""
    return (moment - GPS_EPOCH).total_seconds()


def split_week(gps_s: float) -> tuple[int, float]:
    """Full GPS week, and seconds of it."""
    week = math.floor(gps_s / WEEK_S)
    return week, gps_s - week * WEEK_S


def from_week(week: int, second_of_week: float) -> float:
    """GPS seconds of a full GPS week and seconds of it."""
    return week * WEEK_S + second_of_week


def resolve_rollover(week: int, second_of_week: float, near_gps_s: float) -> float:
    """GPS seconds of a week counted modulo 1024 (0 to 1023), taken in the cycle that comes nearest a date.

    Nearest is within 512 weeks, some 9.8 years, of `near_gps_s`; never before 1980. RangeError.
    """
    require_range("week", week, 0, ROLLOVER_WEEKS - 1, source="IS-GPS-870")
    first = from_week(week, second_of_week)
    cycle_s = ROLLOVER_WEEKS * WEEK_S
    return first + max(0, math.floor((near_gps_s - first) / cycle_s + 0.5)) * cycle_s


def resolve_week(second_of_week: float, near_gps_s: float) -> float:
    """GPS seconds of a second of an unnamed week: the one within half a week of `near_gps_s`."""
    return near_gps_s + (second_of_week - near_gps_s + WEEK_S / 2.0) % WEEK_S - WEEK_S / 2.0


def _days_s(moment: datetime.datetime) -> float:
    """Seconds of UTC since 1980-01-06, days of 86 400 s."""
    if moment.tzinfo is None:
        raise RangeError(f"{moment} has no time zone: UTC, or an offset from it, is needed")
    try:
        utc = moment.astimezone(datetime.UTC).replace(tzinfo=None)
    except OverflowError:
        utc = LATEST
    if not GPS_EPOCH <= utc < LATEST:
        raise RangeError(f"{moment} is outside {GPS_EPOCH} to {LATEST} UTC: GPS time begins in 1980")
    return (utc - GPS_EPOCH).total_seconds()
