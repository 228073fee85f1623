"""GPS time against astropy's, which has the leap seconds of IERS Bulletin C; weeks by hand."""

from __future__ import annotations

import datetime
from datetime import UTC, timedelta, timezone

import pytest
from astropy.time import Time
from astropy.utils import iers
from astropy_iers_data import IERS_LEAP_SECOND_FILE
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.gnss import gnss_time
from linkplan.tables.leap_seconds import KNOWN_UNTIL, LEAP_SECONDS

WEEK = 604_800.0


def test_table_is_that_of_the_bulletin() -> None:
    theirs = iers.LeapSeconds.from_iers_leap_seconds(IERS_LEAP_SECOND_FILE)
    later = [
        (datetime.date(int(row["year"]), int(row["month"]), 1), int(row["tai_utc"]) - 19)
        for row in theirs
        if int(row["year"]) > 1980
    ]
    assert list(LEAP_SECONDS[1:]) == later
    # a later edition of the file may say more, never less
    assert theirs.expires.to_datetime().date() >= KNOWN_UNTIL


@given(st.datetimes(datetime.datetime(1980, 1, 6), datetime.datetime(2027, 6, 27)))
@settings(max_examples=100, deadline=None)
def test_gps_seconds_are_those_of_astropy(moment: datetime.datetime) -> None:
    utc = moment.replace(tzinfo=UTC)
    ours = gnss_time.gps_from_utc(utc)
    assert ours == pytest.approx(Time(moment, scale="utc").gps, abs=2e-6)
    assert abs(gnss_time.utc_from_gps(ours) - utc) <= timedelta(microseconds=1)


@pytest.mark.parametrize("number", range(1, len(LEAP_SECONDS)))
def test_edges_of_each_leap_second(number: int) -> None:
    day, leap = LEAP_SECONDS[number]
    midnight = datetime.datetime.combine(day, datetime.time(), UTC)
    assert gnss_time.leap_seconds(midnight) == leap
    assert gnss_time.leap_seconds(midnight - timedelta(microseconds=1)) == leap - 1
    after = gnss_time.gps_from_utc(midnight)
    # the second before the last of the day is two seconds earlier: the leap second lies between
    assert after - gnss_time.gps_from_utc(midnight - timedelta(seconds=1)) == 2.0
    assert gnss_time.utc_from_gps(after) == midnight
    assert gnss_time.utc_from_gps(after - 2.0) == midnight - timedelta(seconds=1)
    # 23:59:60.5 itself
    assert gnss_time.utc_from_gps(after - 0.5) == midnight + timedelta(seconds=0.5)


def test_what_is_known_of_leap_seconds() -> None:
    assert gnss_time.leap_seconds_known(datetime.datetime(2027, 6, 27, 23, 59, tzinfo=UTC))
    assert not gnss_time.leap_seconds_known(datetime.datetime(2027, 6, 28, tzinfo=UTC))
    assert gnss_time.leap_seconds(datetime.datetime(2100, 1, 1, tzinfo=UTC)) == 18


def test_zones_and_limits() -> None:
    here = datetime.datetime(2018, 6, 19, 2, 0, tzinfo=timezone(timedelta(hours=2)))
    # week 2006 began on 17 June 2018; Tuesday 0:00 UTC is 172 818 s of it in GPS time
    assert gnss_time.split_week(gnss_time.gps_from_utc(here)) == (2006, 172_818.0)
    with pytest.raises(RangeError, match="no time zone"):
        gnss_time.gps_from_utc(datetime.datetime(2018, 6, 19))
    for year in (1979, 2200):
        with pytest.raises(RangeError, match="GPS time begins in 1980"):
            gnss_time.gps_from_utc(datetime.datetime(year, 12, 31, tzinfo=UTC))
    with pytest.raises(RangeError, match="GPS time begins in 1980"):
        gnss_time.gps_from_utc(datetime.datetime.max.replace(tzinfo=timezone(timedelta(hours=-5))))
    with pytest.raises(RangeError):
        gnss_time.utc_from_gps(-1.0)


def test_first_seconds_of_the_cycles_of_1024_weeks() -> None:
    # the rollovers as announced: 22 August 1999 and 7 April 2019, 0:00 GPS time
    for week, utc in (
        (1024, datetime.datetime(1999, 8, 21, 23, 59, 47, tzinfo=UTC)),
        (2048, datetime.datetime(2019, 4, 6, 23, 59, 42, tzinfo=UTC)),
    ):
        assert gnss_time.gps_from_utc(utc) == gnss_time.from_week(week, 0.0)
        before, after = gnss_time.from_week(week, -10.0), gnss_time.from_week(week, 10.0)
        for near in (before, after):
            assert gnss_time.resolve_rollover(0, 10.0, near) == after
            assert gnss_time.resolve_rollover(1023, WEEK - 10.0, near) == before


def test_nearest_cycle_changes_halfway() -> None:
    # week 0 of a cycle against dates 512 weeks on: the cycle before, or the one behind
    half = gnss_time.from_week(2048 + 512, 0.0)
    assert gnss_time.resolve_rollover(0, 0.0, half - 1.0) == gnss_time.from_week(2048, 0.0)
    assert gnss_time.resolve_rollover(0, 0.0, half + 1.0) == gnss_time.from_week(3072, 0.0)
    assert gnss_time.resolve_rollover(1023, 0.0, 0.0) == gnss_time.from_week(1023, 0.0)
    with pytest.raises(RangeError):
        gnss_time.resolve_rollover(1024, 0.0, half)


@given(st.integers(0, 4000), st.integers(0, 604_799), st.integers(-511, 511))
@settings(max_examples=100)
def test_rollover_finds_any_week_within_512(week: int, second: int, weeks_off: int) -> None:
    truth = gnss_time.from_week(week, float(second))
    near = max(0.0, truth + weeks_off * WEEK)
    assert gnss_time.resolve_rollover(week % 1024, float(second), near) == truth


@given(st.integers(1, 4000), st.floats(0.0, 604_799.0), st.floats(-302_300.0, 302_300.0))
@settings(max_examples=100)
def test_a_second_of_week_finds_its_week_over_the_end(week: int, second: float, off: float) -> None:
    truth = gnss_time.from_week(week, second)
    assert gnss_time.resolve_week(second, truth + off) == pytest.approx(truth, abs=1e-6)


def test_over_the_weeks_end() -> None:
    sunday = gnss_time.from_week(2007, 0.0)
    assert gnss_time.resolve_week(WEEK - 16.0, sunday + 10.0) == sunday - 16.0
    assert gnss_time.resolve_week(0.0, sunday - 16.0) == sunday
    assert gnss_time.resolve_week(WEEK, sunday - 16.0) == sunday
