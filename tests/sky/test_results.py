"""Figures of a working day that follow from its times, by hand."""

from __future__ import annotations

import datetime
import zoneinfo

import numpy as np
import pytest

from linkplan.sky.results import RoverSky, SystemDay, WorkingDay

NONE = float("nan")


def day_from(start: datetime.datetime, steps: int, minutes: float, zone: datetime.tzinfo) -> WorkingDay:
    utc = tuple(start + datetime.timedelta(minutes=minutes * step) for step in range(steps))
    return WorkingDay(utc, tuple(one.astimezone(zone) for one in utc), "zone", 60.0 * minutes)


def test_a_time_stands_for_half_a_step_before_and_after_it_within_the_day() -> None:
    denver = zoneinfo.ZoneInfo("America/Denver")
    day = day_from(datetime.datetime(2026, 12, 1, 14, 0, tzinfo=datetime.UTC), 7, 10.0, denver)
    # marked: 14:00, then 14:20 and 14:30, then 15:00, the last
    first, middle, last = day.stretches(np.array([1, 0, 1, 1, 0, 0, 1], dtype=bool))
    assert (first.start_utc, first.end_utc) == (day.utc[0], day.utc[0] + datetime.timedelta(minutes=5))
    assert (middle.start_utc.minute, middle.end_utc.minute) == (15, 35)
    assert (middle.start_local.hour, middle.start_local.minute) == (7, 15)  # seven hours behind UTC in winter
    assert last.end_utc == day.utc[-1]
    assert last.start_utc.minute == 55
    # 5 + 20 + 5 minutes
    assert day.hours_of(np.array([1, 0, 1, 1, 0, 0, 1], dtype=bool)) == pytest.approx(0.5)


@pytest.mark.parametrize("every", [True, False])
def test_a_day_marked_all_through_or_never(every: bool) -> None:
    day = day_from(datetime.datetime(2026, 12, 1, 23, 0, tzinfo=datetime.UTC), 9, 15.0, datetime.UTC)
    marked = np.full(9, every)
    assert len(day.stretches(marked)) == every
    assert day.hours_of(marked) == (day.hours if every else 0.0) == (2.0 if every else 0.0)


def test_the_worst_dilution_is_none_where_at_some_time_there_is_none() -> None:
    held = np.zeros(3, dtype=bool)
    counts = np.array([6, 4, 9])
    one = SystemDay("GPS", counts, np.array([2.0, 7.5, 1.5]), np.array([1.0, NONE, 1.0]), np.ones(3), held)
    assert (one.fewest, one.most) == (4, 9)
    assert one.worst_pdop == 7.5
    assert one.worst_hdop is None
    assert one.worst_vdop == 1.0


def test_shares_of_places() -> None:
    # four places, five times: all day, four of five, three of five, never
    enough = np.array([[1, 1, 1, 1, 1], [1, 1, 1, 0, 1], [1, 0, 1, 0, 1], [0, 0, 0, 0, 0]], dtype=bool)
    common = np.full((4, 5), 7, dtype=np.uint8)
    at = np.arange(4)
    rover = RoverSky(1, at, at, np.ones(4), common, np.ones((4, 5), np.float32), enough, 3, 5, 6.0, 0.8)
    assert rover.suffices_share == 0.5
    assert rover.all_day_share == 0.25
    assert rover.enough_at_worst_share == 0.25
