"""The working hours of a job: local time in, UTC inside, whatever the clocks do on that day."""

from __future__ import annotations

import datetime
import re
import zoneinfo
from typing import Any

from linkplan.plan.checking import Section
from linkplan.plan.sky_model import WorkHours
from linkplan.plan.words import Report, nearest, quoted

FIRST_DATE, LAST_DATE = datetime.date(1981, 1, 1), datetime.date(2199, 12, 1)
"""Between them satellites are computed (gnss.gnss_time), a week at each end left out."""

_OFFSET = re.compile(r"([-+])(\d{1,2}):([0-5]\d)", re.ASCII)
_MEANT_OFFSET = re.compile(r"(?:utc|gmt)? ?([-+\u2212]) ?(\d{1,2})(?::?([0-5]\d))?", re.ASCII)
_FARTHEST_H = 14
"""No zone's clocks are farther from UTC [common practice: Kiribati]."""
_OF_THIS_COMPUTER = ("localtime", "posixrules", "Factory")
_EXAMPLES = 'write a name such as "America/Denver", an offset such as "+01:00", or "UTC"'
_ZERO, _DAY = datetime.timedelta(0), datetime.timedelta(days=1)


def read_hours(section: Section, report: Report) -> WorkHours | None:
    """The working hours that `date`, `from`, `to` and `time_zone` say; None, with faults noted, where none.

    An end at or before the start is one of the next day. A time that the clocks leave out is a fault; of one
    that comes twice the first is taken for the start and the second for the end, with a warning.
    """
    name: str | None = section["time_zone"]
    zone = read_zone(name, "sky.time_zone", report) if name is not None else None
    date: datetime.date | None = section["date"]
    begins, ends = section["from"], section["to"]
    if date is not None and not FIRST_DATE <= date <= LAST_DATE:
        cure = f"give {FIRST_DATE} to {LAST_DATE}"
        report.fault("sky.date", section.raw("date"), "no satellites are computed for it", cure)
        return None
    if begins is not None and begins == ends:
        cure = 'write from = "00:00" and to = "24:00" for a whole day'
        report.fault("sky.to", section.raw("to"), "the same as sky.from: no time to work in", cure)
        return None
    if zone is None or name is None or date is None or begins is None or ends is None:
        return None
    midnight = datetime.datetime.combine(date, datetime.time())
    start, end = midnight + begins, midnight + ends + (_DAY if ends < begins else _ZERO)
    start_utc = _utc(start, zone, name, "sky.from", section.raw("from"), report)
    end_utc = _utc(end, zone, name, "sky.to", section.raw("to"), report)
    if start_utc is None or end_utc is None:
        return None
    _say_if_clocks_change(end - start, end_utc - start_utc, name, report)
    return WorkHours(date, name, zone, start_utc, end_utc)


def read_zone(text: str, key: str, report: Report) -> datetime.tzinfo | None:
    """A time zone by its name in the zone database, its offset from UTC or "UTC"; None with a fault noted."""
    if text == "UTC":
        return datetime.UTC
    found = _OFFSET.fullmatch(text)
    offset = _offset(found) if found else None
    if offset is not None and abs(offset) <= datetime.timedelta(hours=_FARTHEST_H):
        return datetime.timezone(offset)
    zone = _from_database(text) if found is None else None
    if zone is None:
        problem = "no zone's clocks are so far from UTC" if found else "no time zone of this name is known"
        report.fault(key, text, problem, _zone_cure(text))
    return zone


def _offset(found: re.Match[str]) -> datetime.timedelta:
    size = datetime.timedelta(hours=int(found[2]), minutes=int(found[3] or 0))
    return size if found[1] == "+" else -size


def _from_database(name: str) -> datetime.tzinfo | None:
    """A zone of the database; None where it has none of this name, or each computer its own."""
    if name in _OF_THIS_COMPUTER or name.startswith(("posix/", "right/")):
        return None
    try:
        return zoneinfo.ZoneInfo(name)
    except (KeyError, ValueError, OSError, ImportError):  # what lies in the database's folder, read or not
        return None


def _zone_cure(text: str) -> str:
    """What was probably meant: an offset written otherwise, a city, or a name with a slip in it."""
    found = _MEANT_OFFSET.fullmatch(text.lower())
    if found is not None:
        sign = "+" if found[1] == "+" else "-"
        meant = f"{sign}{int(found[2]):02d}:{found[3] or '00'}"
        return f"write {quoted(meant)}" if int(found[2]) < _FARTHEST_H else _EXAMPLES
    names = sorted(zoneinfo.available_timezones() - set(_OF_THIS_COMPUTER))
    if not names:
        return 'no zone database is there: install the package tzdata, or write an offset such as "+01:00"'
    cities = {name.rpartition("/")[2]: name for name in names if "/" in name}
    city = nearest(text.replace(" ", "_"), cities, likeness=0.85)
    guess = cities[city] if city else nearest(text, names, likeness=0.75)
    return f"did you mean {quoted(guess)}?" if guess else _EXAMPLES


def _utc(
    local: datetime.datetime, zone: datetime.tzinfo, name: str, key: str, raw: Any, report: Report
) -> datetime.datetime | None:
    """A local time in UTC: of two the first for the start, the second for the end; None where none is."""
    first, second = (local.replace(tzinfo=zone, fold=fold).astimezone(datetime.UTC) for fold in (0, 1))
    if first == second:
        return first
    if first > second:  # the clocks jump over it: before the jump they are behind
        _say_left_out(local, zone, (second, first), name, key, raw, report)
        return None
    taken, which = (first, "first") if key == "sky.from" else (second, "second")
    both = f"at {_clock(first)} and {_clock(second)} UTC"
    report.warn(key, f"{_clock(local)} comes twice in {name} on {local.date()}, {both}; the {which} is taken")
    return taken


def _say_left_out(
    local: datetime.datetime,
    zone: datetime.tzinfo,
    around: tuple[datetime.datetime, datetime.datetime],
    name: str,
    key: str,
    raw: Any,
    report: Report,
) -> None:
    """Note that the clocks leave a local time out; they jump between two moments in UTC."""
    before, behind = around
    offset = before.astimezone(zone).utcoffset() or _ZERO
    while behind - before > datetime.timedelta(seconds=1):
        middle = before + (behind - before) / 2
        early = middle.astimezone(zone).utcoffset() == offset
        before, behind = (middle, behind) if early else (before, middle)
    jump = behind.replace(microsecond=0)
    clocks = [(jump + offset).replace(tzinfo=None), jump.astimezone(zone).replace(tzinfo=None)]
    same_day = clocks[0].date() == clocks[1].date()
    jumps = " to ".join(_clock(one) if same_day else f"{one.date()} {_clock(one)}" for one in clocks)
    problem = f"{_clock(local)} does not exist in {name} on {local.date()}: the clocks go from {jumps}"
    report.fault(key, raw, problem, "give a time before or after that")


def _say_if_clocks_change(
    shown: datetime.timedelta, real: datetime.timedelta, name: str, report: Report
) -> None:
    if shown != real:
        hours, clock_hours = (f"{round(span.total_seconds() / 3600.0, 2):g}" for span in (real, shown))
        report.warn(
            "sky.date",
            f"the clocks of {name} change: {clock_hours} hours by the clock are {hours} hours of work",
        )


def _clock(moment: datetime.datetime) -> str:
    return f"{moment:%H:%M}" if not moment.second else f"{moment:%H:%M:%S}"
