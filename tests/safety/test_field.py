"""The antenna's field at a job: distances by hand from the published formulas, and what must hold for any."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from shapely import box

from linkplan.errors import RangeError
from linkplan.plan.model import Base, Environment, FurtherBase, Goal, Plan, Rover
from linkplan.plan.safety import SafetyWishes
from linkplan.radio.air_time import air_time
from linkplan.radio.equipment import Antenna, Feeder, Receiver, Transmitter, VerticalPattern
from linkplan.radio.exposure import ground_radius_m
from linkplan.radio.stream import CorrectionStream, Framing, Message
from linkplan.safety.field import added_radius_m, averaged_duty, exposure_of
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.source import TerrainSource

EAST, NORTH = 500_000.0, 4_500_000.0
CRS_OF_JOB = CRS("EPSG:32633")  # on its central meridian a local metre is 1/0.9996 of a grid metre
FRAME = LocalFrame.around(CRS_OF_JOB, EAST, NORTH)


def plan_of(
    power_dbm: float = 10.0 * math.log10(35_000.0),
    gain_dbi: float = 5.0,
    height_m: float = 5.0,
    loss_db: float = 0.0,
    pattern: VerticalPattern | None = None,
    **changes: object,
) -> Plan:
    """35 W into 5 dBi at 450 MHz, 5 m up, no feeder loss."""
    receiver = Receiver(Antenna(0.0), Feeder(0.0), 12.5, 8.0, False, sensitivity_dbm=-110.0)
    plan = Plan(
        file=Path("invented.toml"),
        name="invented",
        notes="",
        crs=CRS_OF_JOB,
        length_unit="metre",
        height_unit="metre",
        boundary=box(EAST - 900, NORTH - 900, EAST + 900, NORTH + 900),
        terrain=TerrainSource((Path("invented.tif"),)),
        clutter=None,
        base=Base("base", EAST, NORTH, None, height_m),
        transmitter=Transmitter(power_dbm, 450.0, 12.5, Feeder(loss_db), Antenna(gain_dbi, pattern)),
        rover=Rover(2.0, receiver),
        environment=Environment("rural", 6.0, False, 45.0, 325.0),
        goal=Goal(0.95, None),
    )
    return replace(plan, **changes)  # type: ignore[arg-type]


def figures(plan: Plan):
    return {(one.limits, one.group): one for one in exposure_of(plan, FRAME).figures}


# 35 W x 10^0.5 = 110.68 W; R = sqrt(2.56 x 110.68 / (4 pi S)) [OET 65, equations 3 and 6]
# with S = f/200 and f/40 [ICNIRP 2020], f/150 and f/30 W/m2 [47 CFR 1.1310, table 1: f/1500, f/300 mW/cm2].
# Heads are 3 m below the antenna: on the ground sqrt(R^2 - 9), so sqrt(10.0211 - 9) = 1.0105 m.
BY_HAND = {
    ("icnirp-2020", "public"): (2.25, 3.1656, 1.0105),
    ("icnirp-2020", "worker"): (11.25, 1.4157, 0.0),
    ("fcc-1.1310", "public"): (3.0, 2.7415, 0.0),
    ("fcc-1.1310", "worker"): (15.0, 1.2260, 0.0),
}


def test_distances_by_hand():
    found = figures(plan_of())
    assert found.keys() == BY_HAND.keys()
    for key, (limit, away_m, ground_m) in BY_HAND.items():
        keyed = found[key].keyed
        assert found[key].limit_w_m2 == pytest.approx(limit)
        assert keyed.distance_m == pytest.approx(away_m, abs=2e-4)
        assert keyed.ground_radius_m == pytest.approx(ground_m, abs=7e-4)
        assert (keyed.lowest_m, keyed.highest_m) == pytest.approx((5.0 - away_m, 5.0 + away_m), abs=2e-4)
        assert found[key].averaged is None  # the job does not say what is sent


def test_feeder_and_low_antenna():
    # 10 log10 4 dB of feeder halve the distance; the band of heights ends at the ground
    reach = figures(plan_of(loss_db=10.0 * math.log10(4.0), height_m=1.0))["icnirp-2020", "public"].keyed
    assert reach.distance_m == pytest.approx(3.1656 / 2.0, abs=1e-4)
    assert reach.ground_radius_m == pytest.approx(reach.distance_m)
    assert reach.lowest_m == 0.0


def test_averaged_over_the_documents_time():
    # 100 bytes each second at 9600 bit/s, 40 ms of key-up: 0.04 + (64 + 96 + 800)/9600 = 0.14 s keyed.
    # RTCM 3 puts 6 bytes around a payload: 94 + 6 = 100 bytes [RTCM 10403.3].
    framing = Framing("stated", 9600.0, 40.0, 64.0, 96.0, 256, 1.0, 0.0)
    stream = CorrectionStream(1, (Message(4090, 1.0, payload_bytes=94),), framing, None)
    found = figures(plan_of(corrections=stream))
    for key, (_, away_m, _) in BY_HAND.items():
        assert found[key].duty == pytest.approx(0.14)
        assert found[key].averaged.distance_m == pytest.approx(away_m * math.sqrt(0.14), abs=2e-4)
        assert found[key].keyed.distance_m == pytest.approx(away_m, abs=2e-4)
    assert (found["fcc-1.1310", "worker"].averaging_min, found["fcc-1.1310", "public"].averaging_min) == (
        6,
        30,
    )


def test_a_pattern_longer_than_the_averaging_time_counts_whole():
    # 0.14 s keyed every 1000 s: 6 minutes hold one such burst at most, not 0.36 of one; 30 minutes two
    framing = Framing("stated", 9600.0, 40.0, 64.0, 96.0, 256, 1.0, 0.0)
    air = air_time((Message(4090, 1000.0, payload_bytes=94),), framing)
    assert averaged_duty(air, 6.0) == pytest.approx(0.14 / 360.0)
    assert averaged_duty(air, 30.0) == pytest.approx(0.28 / 1800.0)
    assert averaged_duty(replace(air, bounded=True), 6.0) is None


def test_own_limits_decide_and_are_not_averaged():
    # a quarter of 2.25 W/m2 doubles the distance
    answer = exposure_of(plan_of(safety=SafetyWishes(None, 0.5625, 2.25)), FRAME)
    assert answer.judged_by == "own"
    assert answer.figure("public").keyed.distance_m == pytest.approx(2 * 3.1656, abs=2e-4)
    assert answer.figure("worker").keyed.distance_m == pytest.approx(3.1656, abs=2e-4)
    assert answer.figure("public").averaging_min is None
    assert len(answer.figures) == 6


def test_the_far_field_begins_by_the_antennas_length():
    # 450 MHz: half a wave 0.33310 m, 2 D^2 / wave = 0.33310 m; 1 m long: 2/0.66621 = 3.0020 m
    answer = exposure_of(plan_of(), FRAME)
    assert (answer.antenna_length_m, answer.far_field_from_m) == pytest.approx((0.3331, 0.3331), abs=1e-4)
    assert (answer.antenna_length_assumed, answer.antenna_is_longer) == (True, True)
    assert not any(one.keyed.near_field for one in answer.figures)
    answer = exposure_of(plan_of(safety=SafetyWishes(1.0)), FRAME)
    assert answer.far_field_from_m == pytest.approx(3.0020, abs=1e-4)
    assert not answer.antenna_is_longer
    assert [one.keyed.near_field for one in answer.figures] == [False, True, True, True]
    assert not exposure_of(plan_of(gain_dbi=2.15), FRAME).antenna_is_longer


def test_a_pattern_narrows_the_circle_only_where_it_holds():
    # 20 dB down below -20 degrees: towards heads 3 m lower the limit reaches 0.32 m, at 20 degrees and
    # flatter only beyond 3/tan(20) = 8.2 m: nothing of 3.17 m arrives on the ground
    pattern = VerticalPattern((-90.0, -20.0, -19.9, 90.0), (-20.0, -20.0, 0.0, 0.0))
    assert figures(plan_of(pattern=pattern))["icnirp-2020", "public"].keyed.pattern_radius_m == 0.0
    flat = VerticalPattern((-90.0, 90.0), (0.0, 0.0))
    keyed = figures(plan_of(pattern=flat))["icnirp-2020", "public"].keyed
    assert keyed.pattern_radius_m == pytest.approx(keyed.ground_radius_m, abs=1e-3)
    near = plan_of(pattern=flat, safety=SafetyWishes(3.0))  # 2 x 9/0.666 = 27 m
    assert figures(near)["icnirp-2020", "public"].keyed.pattern_radius_m is None


def further(away_m: float, height_m: float) -> FurtherBase:
    """The same radio again, east of the base by true metres."""
    easting, northing = FRAME.to_job(away_m, 0.0)
    return FurtherBase(
        Base("second", float(easting), float(northing), None, height_m), 10 * math.log10(35_000), None, 2
    )


def test_antennas_on_one_mast_add_up():
    # two alike at one place: sqrt(2) farther; 10.1 m away it does not count
    found = figures(plan_of(bases=(further(0.0, 5.0),)))
    assert found["fcc-1.1310", "public"].keyed.distance_m == pytest.approx(math.sqrt(2.0) * 2.7415, abs=3e-4)
    alone = figures(plan_of(bases=(further(10.1, 5.0),)))
    assert alone["fcc-1.1310", "public"].keyed.distance_m == pytest.approx(2.7415, abs=2e-4)


def test_antennas_apart_by_hand():
    # reaches of 3 m and 4 m, the second 2 m away, all on heads' height: 9/r^2 + 16/(r - 2)^2 is
    # 9/42.25 + 16/20.25 = 1.003 at r = 6.5 and 9/43.56 + 16/21.16 = 0.963 at 6.6
    found = added_radius_m([3.0, 4.0], [0.0, 2.0], [0.0, 0.0])
    assert 9.0 / found**2 + 16.0 / (found - 2.0) ** 2 == pytest.approx(1.0)
    assert 6.5 < found < 6.6
    # 5 m over heads each, 30 and 40 m of reach at one place: r^2 + 25 = 2500
    assert added_radius_m([30.0, 40.0], [0.0, 0.0], [5.0, 5.0]) == pytest.approx(math.sqrt(2475.0))
    assert added_radius_m([3.0, 4.0], [0.0, 0.0], [5.1, 5.1]) == 0.0
    with pytest.raises(RangeError, match="away_m"):
        added_radius_m([1.0], [-1.0], [0.0])


metres = st.floats(0.0, 20.0)
antenna = st.tuples(st.floats(0.01, 30.0), metres, metres)


@settings(max_examples=60)
@given(st.lists(antenna, min_size=1, max_size=4), st.floats(1.01, 3.0))
def test_every_antenna_more_reaches_at_least_as_far(antennas, more):
    reaches, away, over = (list(values) for values in zip(*antennas, strict=True))
    whole = added_radius_m(reaches, away, over)
    assert whole >= added_radius_m(reaches[1:] or [0.0], away[1:] or [0.0], over[1:] or [0.0]) - 1e-9
    assert added_radius_m([more * one for one in reaches], away, over) >= whole - 1e-9
    assert added_radius_m(reaches[:1], [0.0], over[:1]) == pytest.approx(
        ground_radius_m(reaches[0], over[0] + 2.0), abs=1e-6
    )
    # beyond it the shares of the limits add up to no more than 1, wherever on the circle
    for angle in (0.0, 1.0, 2.0, 3.0):
        x, y = whole * math.cos(angle), whole * math.sin(angle)
        used = sum(r**2 / max((x - d) ** 2 + y**2 + o**2, 1e-12) for r, d, o in antennas)
        assert used <= 1.0 + 1e-6


@settings(max_examples=30)
@given(
    power_dbm=st.floats(20.0, 50.0),
    gain_dbi=st.floats(0.0, 9.0),
    more_db=st.floats(0.1, 6.0),
    height_m=st.floats(1.0, 12.0),
)
def test_more_power_or_gain_reaches_farther(power_dbm, gain_dbi, more_db, height_m):
    before = figures(plan_of(power_dbm, gain_dbi, height_m))
    for after in (
        figures(plan_of(power_dbm + more_db, gain_dbi, height_m)),
        figures(plan_of(power_dbm, gain_dbi + more_db, height_m)),
    ):
        for key, one in before.items():
            assert after[key].keyed.distance_m > one.keyed.distance_m
            assert after[key].keyed.ground_radius_m >= one.keyed.ground_radius_m


@settings(max_examples=20)
@given(st.integers(10, 400), st.integers(1, 400))
def test_a_longer_message_reaches_at_least_as_far_on_average(size, more):
    framing = Framing("stated", 9600.0, 20.0, 64.0, 96.0, 1023, 1.0, 0.0)
    shorter, longer = (
        figures(
            plan_of(corrections=CorrectionStream(1, (Message(4090, 1.0, payload_bytes=n),), framing, None))
        )
        for n in (size, size + more)
    )
    for key, one in shorter.items():
        assert one.averaged.distance_m <= longer[key].averaged.distance_m
        assert longer[key].averaged.distance_m <= longer[key].keyed.distance_m
