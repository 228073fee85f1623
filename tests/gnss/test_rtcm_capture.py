"""A recording's summary: intervals, gaps, weeks, systems and signals, points, bytes."""

from __future__ import annotations

import dataclasses
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dem_samples.rtcm_writer import antenna, biases, frame, glonass_observations, msm, reference_point
from linkplan.gnss.rtcm_capture import Capture, read_capture
from tests.gnss.recorded import BASE_ECEF_M, REAL_FRAMES, cut, gga, stream

WEEK_MS = 604_800_000


def test_a_steady_stream() -> None:
    data = stream(61)
    seen = read_capture("x", [data])
    assert (seen.total_bytes, seen.frame_bytes, seen.outside_bytes) == (len(data), len(data), 0)
    assert (seen.frames, seen.damaged_frames, seen.cut_short) == (68, 0, False)
    assert (seen.elapsed_s, seen.epochs, seen.epoch_interval_s, seen.epochs_missed) == (60.0, 61, 1.0, 0)
    assert seen.station_ids == {31: 68}
    assert seen.first_epoch == "Mon 03:46:40 GPS time"  # 100 000 s into the week
    assert seen.bytes_per_s == pytest.approx(len(data) / 61)
    # of a 1074 with 3 satellites and 2 signals (169 + 6 + 3*18 + 6*48 bits) and of a 1006
    assert [(one.number, one.frames, one.smallest_bytes) for one in seen.messages] == [
        (1006, 7, 27),
        (1074, 61, 71),
    ]
    assert seen.worst_epoch_bytes == 71 + 27
    point, observations = seen.messages
    assert (point.interval_s, point.own_epoch, point.missed) == (10.0, False, 0)
    assert (observations.interval_s, observations.own_epoch, observations.gaps) == (1.0, True, ())
    assert observations.system is not None
    assert observations.system.system == "GPS"
    assert observations.system.signals == ("1C", "2L")
    assert observations.system.full_mask_share == 1.0
    assert [(one.frames, one.point.antenna_height_m) for one in seen.points] == [(7, 1.8)]
    assert (seen.points[0].point.x_m, seen.points[0].point.y_m, seen.points[0].point.z_m) == BASE_ECEF_M


def test_a_pause_is_a_gap_and_missing_epochs() -> None:
    data = stream(20, start_ms=0) + stream(20, start_ms=50_000)
    seen = read_capture("x", [data])
    assert seen.epochs == 40
    assert seen.epochs_missed == 30
    (gap,) = seen.gaps
    assert (gap.seconds, gap.start_s) == (31.0, 19.0)
    assert gap.offset == len(stream(20, start_ms=0))
    assert seen.message(1074).missed == 30


def test_time_runs_over_the_end_of_the_week() -> None:
    seen = read_capture("x", [stream(40, start_ms=WEEK_MS - 20_000)])
    assert (seen.elapsed_s, seen.epochs, seen.steps_back, seen.epochs_missed) == (39.0, 40, 0, 0)
    assert seen.first_epoch == "Sat 23:59:40 GPS time"


def test_systems_of_one_epoch_are_one_epoch() -> None:
    out = []
    for second in range(30):
        gps_ms = WEEK_MS - 10_000 + second * 1000
        moscow_ms = gps_ms - 18_000 + 3 * 3_600_000
        out += [
            msm(1074, 7, gps_ms % WEEK_MS, [1, 2], [2]),
            msm(1084, 7, (moscow_ms // 86_400_000) % 7 << 27 | moscow_ms % 86_400_000, [1, 2], [2]),
            msm(1094, 7, gps_ms % WEEK_MS, [1, 2], [2]),
            msm(1124, 7, (gps_ms - 14_000) % WEEK_MS, [1, 2], [2]),
            glonass_observations(1012, 7, moscow_ms % 86_400_000, 5),
            msm(1085, 7, 7 << 27 | moscow_ms % 86_400_000, [1, 2], [2]),  # the day is not known
        ]
    seen = read_capture("x", [frame(one) for one in out])
    assert (seen.epochs, seen.elapsed_s, seen.steps_back) == (30, 29.0, 0)
    assert {one.interval_s for one in seen.messages} == {1.0}
    assert {one.epochs for one in seen.messages} == {30}


def test_glonass_alone_runs_over_midnight() -> None:
    out = [frame(glonass_observations(1012, 7, (86_390_000 + 1000 * n) % 86_400_000, 3)) for n in range(20)]
    seen = read_capture("x", out)
    assert (seen.epochs, seen.elapsed_s, seen.steps_back) == (20, 19.0, 0)
    (one,) = seen.messages
    assert (one.system.system, one.system.most_satellites, one.system.signals) == ("GLONASS", 3, ("L1", "L2"))


def test_two_bases_in_one_recording_are_seen_in_ids_and_time() -> None:
    mine, theirs = stream(10, 31, 0), stream(10, 77, 500_000)
    seen = read_capture("x", [mine, theirs, mine])
    assert seen.station_ids == {31: 22, 77: 11}
    assert seen.steps_back == 1


def test_an_epoch_in_two_messages_is_one_epoch() -> None:
    out = [
        frame(msm(1077, 1, 1000 * second, satellites, [2, 16]))
        for second in range(5)
        for satellites in ([1, 2, 3], [4, 5])
    ]
    one = read_capture("x", out).message(1077)
    assert (one.frames, one.epochs, one.interval_s) == (10, 5, 1.0)
    assert (one.system.fewest_satellites, one.system.most_satellites) == (2, 3)


def test_signals_that_no_satellite_has_do_not_count_as_sent() -> None:
    payload = msm(1077, 1, 0, [1, 2], [2, 10, 16], [True, False, True, True, False, False])
    one = read_capture("x", [frame(payload)]).message(1077)
    assert one.system.signals == ("1C", "2L")
    assert one.system.most_signals == 3
    assert one.system.full_mask_share == pytest.approx(0.5)


def test_changes_of_point_and_antenna_are_all_told() -> None:
    out = [reference_point(1005, 1, BASE_ECEF_M)] * 3 + [reference_point(1005, 1, (4e6, 3e6, 4e6))]
    out += [antenna(1033, 1, ["DEMO", "1", "RX", "2", "3"])] * 2 + [biases(1, 4)]
    seen = read_capture("x", [frame(one) for one in out])
    assert [(one.frames, one.point.x_m) for one in seen.points] == [(3, BASE_ECEF_M[0]), (1, 4e6)]
    assert [(one.frames, one.text.receiver) for one in seen.antennas] == [(2, "RX")]
    assert seen.first_epoch is None
    assert seen.epoch_interval_s is None
    assert seen.bytes_per_s is None


def test_what_is_between_the_frames_is_said() -> None:
    broken = bytearray(REAL_FRAMES["1077"])
    broken[50] ^= 1
    text = b"".join(gga(second) for second in range(7))
    seen = read_capture("x", [stream(5), text, bytes(broken), stream(5)[:40]])
    assert seen.nmea_sentences == 7
    assert seen.damaged_frames == 1
    assert seen.cut_short
    assert seen.outside_bytes == len(text) + len(broken) + 40


def test_many_points_are_bounded() -> None:
    out = [frame(reference_point(1005, 1, (4e6 + n, 3e6, 4e6))) for n in range(200)]
    seen = read_capture("x", out)
    assert len(seen.points) + seen.bodies_not_kept == 200
    assert len(seen.points) < 100


def same(mine: Capture, theirs: Capture) -> bool:
    return dataclasses.asdict(mine) == dataclasses.asdict(theirs)


@given(
    st.lists(
        st.one_of(
            st.sampled_from([stream(3), stream(2, 77, 9_000_000), gga(5), *REAL_FRAMES.values()]),
            st.binary(max_size=50),
        ),
        max_size=12,
    ),
    st.randoms(use_true_random=False),
)
@settings(max_examples=80, deadline=None)
def test_any_cutting_gives_the_same_summary(parts: list[bytes], chance: random.Random) -> None:
    data = b"".join(parts)
    assert same(read_capture("x", [data]), read_capture("x", cut(data, chance)))
