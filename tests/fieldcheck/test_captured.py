"""Captures of a rover's radio: what came and what did not, at one place and between positions."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dem_samples.rtcm_writer import frame, msm
from linkplan.errors import RecordingError
from linkplan.fieldcheck import observed_rover, observed_track
from linkplan.fieldcheck.captured import Stay, StayTally
from linkplan.fieldcheck.samples import CAPTURE, IN_TIME, NMEA, NOT_IN_TIME
from tests.coverage.conftest import EAST, NORTH
from tests.fieldcheck.field_logs import RULES, gga, observed
from tests.fieldcheck.test_observed_rover import same
from tests.gnss.recorded import cut

PLACE = (EAST + 300.0, NORTH - 200.0)
UTC_BEHIND_GPS_S = 18
"""Since 2017 [IERS C]."""


def message(second: int, station: int = 31, number: int = 1074) -> bytes:
    """Observations of a second of the GPS week."""
    return frame(msm(number, station, 1000 * second, [1, 5, 9], [2, 16]))


def plainly(came: list[bool], limit_s: float) -> tuple[bool, bool] | None:
    """The rule as it is written, for a second each: the first and last have come."""
    last = len(came) - 1
    picked = max((1 << power for power in range(20) if 1 << power < last), default=None)
    if picked is None:
        return None
    newest = max(index for index in range(picked + 1) if came[index])
    return picked - newest <= limit_s, came[picked]


@settings(max_examples=80, deadline=None)
@given(st.lists(st.booleans(), max_size=300), st.sampled_from([2.0, 10.0]))
def test_a_stay_is_as_the_plain_rule(between: list[bool], limit_s: float) -> None:
    came = [True, *between, True]
    tally = StayTally(1.0, limit_s)
    for second, good in enumerate(came):
        if good:
            tally.take(1000 * second)
            tally.take(1000 * second)  # a second message of the same epoch
    expected = plainly(came, limit_s)
    in_time, arrived = (None, None) if expected is None else expected
    assert tally.finish() == Stay(sum(came), came.count(False), in_time, arrived)


def test_the_interval_is_taken_from_the_stream_where_none_is_planned() -> None:
    for seconds in (40, 400):  # before and behind the count from which it is taken
        tally = StayTally(None, 10.0)
        for second in range(0, seconds, 2):
            if second % 20:
                tally.take(1000 * second)
        stay = tally.finish()
        assert (stay.received, stay.missed) == (seconds * 9 // 20, seconds // 20 - 1)


def test_a_base_that_sends_every_other_second() -> None:
    """Nothing is missing then, though a message a second was planned; and it is said."""
    found = observed(*(message(second) for second in range(0, 200, 2)), place=PLACE)
    assert found.facts.epochs == 100
    assert found.columns.arrived.tolist() == [IN_TIME]
    assert "every 2 s and not every 1 s as planned" in found.notes[0]


def test_one_piece_of_evidence_however_long_the_stay() -> None:
    """Of seconds 1000 to 1599 every third is missing; counted from the first, 512 is one that is there."""
    seconds = [second for second in range(600) if second % 3 != 1]
    found = observed(*(message(1000 + second) for second in seconds), place=PLACE)
    assert found.facts.kind == CAPTURE
    # second 599 is there, 1 and 598 are not: 600 seconds, 200 missing
    assert (found.facts.epochs, found.facts.judged, found.facts.kept) == (600, 600, 1)
    assert found.columns.arrived.tolist() == [IN_TIME if 512 % 3 != 1 else NOT_IN_TIME]
    assert found.columns.outcome.tolist() == [IN_TIME]
    assert found.columns.x_m[0] == pytest.approx(300.0, abs=0.3)
    assert found.columns.y_m[0] == pytest.approx(-200.0, abs=0.3)


def test_the_share_of_good_stays_is_that_of_messages() -> None:
    chance = random.Random(3)
    stays = 4000
    good = 0
    for _ in range(stays):
        tally = StayTally(1.0, 10.0)
        for second in range(chance.randrange(40, 300)):
            if chance.random() < 0.6:
                tally.take(1000 * second)
        good += bool(tally.finish().arrived)
    assert good / stays == pytest.approx(0.6, abs=0.025)  # three standard deviations


def test_other_stations_and_damage_are_told_apart() -> None:
    damaged = bytearray(message(5))
    damaged[10] ^= 1
    lines = [
        message(0),
        message(1, 77),
        message(1, 77, 1094),
        message(1),
        message(2),
        message(2, 77),
        bytes(damaged),
        message(6),
        message(7),
    ]
    found = observed(*lines, place=PLACE)
    assert found.facts.epochs == 8  # 3, 4 and 5 missing
    left = found.facts.left_out
    assert (left[observed_rover.STRANGE], left["damaged RTCM 3 frames"]) == (2, 1)
    assert [(spot[0], spot[5]) for spot in found.spots] == [("77", 2)]
    # the fourth counted from the first is the last power of two with one behind it
    assert found.columns.arrived.tolist() == [NOT_IN_TIME]


def test_a_capture_that_does_not_serve() -> None:
    short = observed(message(0), message(1), place=PLACE)
    assert (len(short.columns), short.facts.left_out) == (0, {observed_rover.TOO_SHORT: 2})
    away = observed(*(message(n) for n in range(9)), place=(EAST + 5000.0, NORTH))
    assert (len(away.columns), away.facts.left_out) == (0, {observed_track.OUTSIDE: 9})
    with pytest.raises(RecordingError, match="--at x=EASTING,NORTHING"):
        observed(*(message(n) for n in range(9)))


def test_silence_of_over_ten_minutes_is_a_break() -> None:
    found = observed(*(message(n) for n in [*range(5), *range(1000, 1005)]), place=PLACE)
    assert found.facts.epochs == 10


def test_positions_between_the_frames() -> None:
    """A rover without RTK walks east, 30 m a second, beside a radio; messages of seconds 5 to 7 are missing,
    and none comes from second 14 on. A message of second n stands before the position of second n + 1."""
    lines = [gga(100, -30, quality=1, age="", station="")]
    for n in range(30):
        if n not in (5, 6, 7) and n < 14:
            lines.append(message(100 + n + UTC_BEHIND_GPS_S))
        lines.append(gga(101 + n, 30 * n, quality=1, age="", station=""))
    found = observed(*lines)
    assert found.facts.kind == CAPTURE
    assert found.facts.epochs == 31
    assert found.facts.left_out == {observed_track.START_UP: 1}
    # ages are 1 to second 104, then 2, 3, 4, then 1 to second 114, then 2 and on: 11 from 124 on
    assert found.columns.outcome.tolist() == [IN_TIME] * 23 + [NOT_IN_TIME] * 7
    arrived = found.columns.arrived.tolist()
    assert arrived[:28] == [1] * 4 + [0] * 3 + [1] * 6 + [0] * 15
    whole = b"".join(lines)
    for seed in range(5):
        assert same(found, observed(pieces=cut(whole, random.Random(seed))))


@pytest.mark.parametrize(("quality", "station"), [(1, ""), (2, ""), (2, "0133")])
def test_positions_of_a_rover_that_takes_no_corrections_itself(quality: int, station: str) -> None:
    """With or without a satellite's help; a job without a station ID takes 131 for a base's too."""
    lines = []
    for n in range(10):
        lines.append(message(100 + n + UTC_BEHIND_GPS_S, 131))
        lines.append(gga(101 + n, 30 * n, quality=quality, age="", station=station))
    found = observed(*lines, rules=replace(RULES, station=None))
    assert found.facts.kind == CAPTURE
    assert found.columns.outcome.tolist() == [IN_TIME] * 10


def test_a_log_that_tells_ages_itself_is_a_rover_log() -> None:
    lines = []
    for n in range(10):
        lines += [message(100 + n + UTC_BEHIND_GPS_S), gga(101 + n, 30 * n, age="12.0")]
    found = observed(*lines)
    assert found.facts.kind == NMEA
    assert found.columns.outcome.tolist() == [NOT_IN_TIME] * 10


def test_frames_are_what_a_library_reads() -> None:
    """Epoch and station of the frames that are fed in above, by pyrtcm."""
    from pyrtcm import RTCMReader

    parsed = RTCMReader.parse(message(1234, 31))
    assert (parsed.identity, parsed.DF003, parsed.DF004) == ("1074", 31, 1_234_000)
