"""A log's summary: stations, ages, stretches, midnight, breaks, several talkers, bounded memory."""

from __future__ import annotations

import dataclasses
import datetime
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.gnss.rover_log import FRESH, LATE, NO_POSITION, UNKNOWN_AGE, WITHOUT, RoverLog, read_log
from tests.gnss.recorded import REAL_FRAMES, cut, gga, gns, rmc, sentence


def read(*parts: bytes) -> RoverLog:
    return read_log("x", list(parts))


def test_a_steady_log() -> None:
    log = read(*(gga(n, age=f"{1 + n % 5 / 10:.1f}") for n in range(100, 200)))
    assert (log.epochs, log.seconds, log.interval_s, log.position_epochs) == (100, 99.0, 1.0, 100)
    assert log.epochs_by_quality == {"RTK fixed": 100}
    assert (log.median_age_s, log.high_age_s, log.largest_age_s, log.age_epochs) == (1.2, 1.4, 1.4, 100)
    assert log.states == {FRESH: (100, 99.0)}
    assert (log.breaks, log.steps_back, log.interruption_count, log.interruptions) == (0, 0, 0, ())
    (use,) = log.stations
    assert (use.station, use.epochs, use.seconds, use.times) == ("31", 100, 99.0, 1)
    assert str(log.first) == "00:01:40"
    assert str(log.last) == "00:03:19"


def test_another_base_for_a_while() -> None:
    lines = [gga(n, station="0031" if n not in range(40, 60) and n != 80 else "0077") for n in range(100)]
    log = read(*lines)
    mine, other = log.stations
    assert (mine.station, mine.epochs, mine.times) == ("31", 79, 3)
    assert (other.station, other.epochs, other.seconds, other.times) == ("77", 21, 21.0, 2)
    assert [(str(one.start), str(one.end), one.epochs) for one in other.longest] == [
        ("00:00:40", "00:00:59", 20),
        ("00:01:20", "00:01:20", 1),
    ]


def test_late_and_absent_corrections_are_stretches() -> None:
    lines = [gga(n, 1, "", "") for n in range(5)]  # before the first corrections
    lines += [gga(n) for n in range(5, 50)]
    lines += [gga(n, 5, f"{n - 49 + 1:.1f}") for n in range(50, 80)]  # ages 2 to 31
    lines += [gga(n, 1, "", "") for n in range(80, 90)]
    lines += [gga(n, 0, "", "") for n in range(90, 92)]
    lines += [gga(n, 4, "") for n in range(92, 95)]
    log = read(*lines)
    assert str(log.first_corrected) == "00:00:05"
    assert log.seconds_before_corrected == 5.0
    # ages 2 to 10 are in time (a limit of 10), 11 to 31 late
    assert log.states == {
        FRESH: (54, 54.0),
        LATE: (21, 21.0),
        WITHOUT: (10, 10.0),
        NO_POSITION: (2, 2.0),
        UNKNOWN_AGE: (3, 3.0),
    }
    assert [(one.state, str(one.start), one.seconds) for one in log.interruptions] == [
        (LATE, "00:00:59", 21.0),
        (WITHOUT, "00:01:20", 10.0),
        (NO_POSITION, "00:01:30", 2.0),
    ]
    assert log.largest_age_s == 31.0
    assert read_log("x", lines, age_limit_s=40.0).states[FRESH][0] == 75


def test_over_midnight_with_and_without_a_date() -> None:
    times = range(86_390, 86_410)
    plain = read(*(gga(n) for n in times))
    assert (plain.seconds, plain.steps_back, plain.breaks) == (19.0, 0, 0)
    assert str(plain.last) == "day 2 00:00:09"
    dated = read(*(gga(n) + rmc(n, "311226" if n < 86_400 else "010127") for n in times))
    assert (dated.seconds, dated.steps_back, dated.breaks) == (19.0, 0, 0)
    assert str(dated.first) == "2026-12-31 23:59:50"
    assert str(dated.last) == "2027-01-01 00:00:09"
    assert dated.timeline[0].start.date == datetime.date(2026, 12, 31)
    # RMC before GGA
    swapped = read(*(rmc(n, "311226" if n < 86_400 else "010127") + gga(n) for n in times))
    assert (swapped.seconds, swapped.breaks, str(swapped.last)) == (19.0, 0, "2027-01-01 00:00:09")


def test_a_pause_over_days_shows_by_its_date() -> None:
    log = read(
        *(gga(n) + rmc(n, "100526") for n in range(50)), *(gga(n) + rmc(n, "130526") for n in range(55, 99))
    )
    assert log.breaks == 1
    assert log.longest_break_s == 3 * 86_400.0
    assert str(log.last) == "2026-05-13 00:01:38"


def test_breaks_and_steps_back() -> None:
    log = read(*(gga(n) for n in [*range(10), *range(500, 510), *range(300, 310)]))
    assert (log.breaks, log.longest_break_s, log.steps_back, log.seconds) == (1, 491.0, 1, 27.0)
    assert log.epochs == 30


def test_the_same_epoch_from_two_talkers_counts_once() -> None:
    log = read(*(gga(n, talker="GP") + gga(n, talker="GN") for n in range(20)))
    assert (log.epochs, log.repeated_epochs) == (20, 20)
    assert log.sentence_kinds == {"GPGGA": 20, "GNGGA": 20}


def test_gns_serves_where_gga_is_not_there() -> None:
    log = read(*(gns(n) for n in range(20)))
    assert (log.epoch_kind, log.epochs) == ("GNS", 20)
    assert log.stations[0].station == "31"
    both = read(*(gga(n) + gns(n) for n in range(20)))
    assert (both.epoch_kind, both.epochs) == ("GGA", 20)


def test_other_protocols_in_between_are_counted() -> None:
    junk = b"\xb5\x62\x01\x07\x02\x00ab\x12\x34"
    log = read(gga(1), REAL_FRAMES["1005"], gga(2), junk, sentence("PDEMO,1"), gga(3)[:-4] + b"00\r\n")
    assert (log.epochs, log.rtcm_frames, log.sentences.wrong_checksum) == (2, 1, 1)
    assert log.sentences.outside_bytes == len(REAL_FRAMES["1005"]) + len(junk)
    assert log.sentence_kinds == {"GNGGA": 2, "PDEMO": 1}


def test_positions_have_their_extent() -> None:
    log = read(gga(1), sentence("GNGGA,000002,3800.0,S,01030.0,E,4,9,1,1,M,1,M,1,31"), gga(3, 0))
    west, south, east, north = log.extent_deg
    assert (west, east) == (pytest.approx(-119.350233485), pytest.approx(10.5))
    assert (south, north) == (pytest.approx(-38.0), pytest.approx(37.43305815))
    assert log.position_epochs == 2


def test_epochs_without_time_and_broken_fields_are_counted() -> None:
    log = read(
        sentence("GNGGA,,3725.98,N,11921.01,W,4,18,0.7,1,M,1,M,1.0,0031") * 3,
        sentence("GNGGA,1,2"),
        gga(5, 9),
    )
    assert (log.epochs, log.epochs_without_time, log.broken_fields) == (3, 3, 2)
    assert log.first is None


def test_what_is_kept_is_bounded() -> None:
    lines = [gga(n * 0.2, 4 if n % 3 else 1, f"{n % 700 / 10:.1f}", f"X{n:04d}") for n in range(20_000)]
    lines += [sentence(f"P{n:05d},1") for n in range(1000)]
    log = read(*lines)
    assert log.epochs == 20_000
    assert len(log.stations) <= 257
    assert sum(use.epochs for use in log.stations) == sum(1 for n in range(20_000) if n % 3)
    assert len(log.sentence_kinds) <= 257
    assert len(log.timeline) <= 32
    assert sum(one.epochs for one in log.timeline) == 20_000
    assert len(log.interruptions) <= 10


@given(
    st.lists(
        st.one_of(
            st.builds(
                gga, st.integers(0, 86_399), st.integers(0, 8), st.sampled_from(["", "1.0", "30.0"]),
                st.sampled_from(["", "0031", "0077", "A"]),
            ),
            st.builds(rmc, st.integers(0, 86_399), st.sampled_from(["130526", "310226", "010100", "x"])),
            st.builds(gns, st.integers(0, 86_399)),
            st.binary(max_size=40),
            st.sampled_from(list(REAL_FRAMES.values())),
        ),
        max_size=20,
    ),
    st.randoms(use_true_random=False),
)  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_any_cutting_gives_the_same_summary(parts: list[bytes], chance: random.Random) -> None:
    data = b"".join(parts)
    mine, theirs = read_log("x", [data]), read_log("x", cut(data, chance))
    assert dataclasses.asdict(mine) == dataclasses.asdict(theirs)
    assert sum(mine.epochs_by_quality.values()) == mine.epochs
