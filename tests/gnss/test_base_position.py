"""A wrong base: the usual rule against double differences by least squares; two occupations by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from linkplan.errors import RangeError
from linkplan.gnss.antenna_height import confusions
from linkplan.gnss.base_position import (
    PositionError,
    compare_occupations,
    distortion_ppm,
    effect_of,
    position_error,
)
from linkplan.tables.base_position import AVERAGED_95_M, KNOWN_95_M

EARTH_M, ORBIT_M = 6_371e3, 26_560e3


def test_ten_metres_are_half_a_ppm():
    # common practice; 10 / 20 200 000 = 0.495e-6
    assert distortion_ppm(10.0) == pytest.approx(0.495, abs=5e-4)
    assert distortion_ppm(0.0) == 0.0


def baseline_error_ppm(satellites, error, rover):
    """Solve the rover against a wrong base, at the pole, from double differences of exact distances."""
    base = np.array([0.0, 0.0, EARTH_M])

    def distances(place):
        return np.linalg.norm(satellites - place, axis=1)

    observed = distances(rover) - distances(base)
    wrong = base + error
    place = rover + error
    for _ in range(5):
        away = observed - (distances(place) - distances(wrong))
        design = np.column_stack(
            [-(satellites - place) / distances(place)[:, None], np.ones(len(satellites))]
        )
        place = place + np.linalg.lstsq(design, away, rcond=None)[0][:3]
    return 1e6 * np.linalg.norm((place - wrong) - (rover - base)) / np.linalg.norm(rover - base)


@pytest.mark.parametrize("error", [(0.0, 0.0, 10.0), (10.0, 0.0, 0.0), (6.0, 0.0, -8.0)])
def test_the_rule_is_a_rough_upper_figure_of_what_double_differences_give(error):
    rng = np.random.default_rng(1)
    found = []
    while len(found) < 100:
        towards = rng.normal(size=(200, 3))
        satellites = ORBIT_M * towards / np.linalg.norm(towards, axis=1)[:, None]
        rise = satellites - (0.0, 0.0, EARTH_M)
        satellites = satellites[rise[:, 2] / np.linalg.norm(rise, axis=1) > math.sin(math.radians(10.0))][:12]
        azimuth = rng.uniform(0.0, 2.0 * math.pi)
        rover = np.array([10e3 * math.sin(azimuth), 10e3 * math.cos(azimuth), EARTH_M])
        found.append(baseline_error_ppm(satellites, np.array(error), rover))
    rule = distortion_ppm(float(np.linalg.norm(error)))
    assert 0.3 * rule < np.median(found) < 0.7 * rule
    assert 0.6 * rule < np.quantile(found, 0.95) < 1.3 * rule


def test_effect_by_hand():
    # 3 m and 4 m are 5 m in space: 5 / 20.2 = 0.2475 ppm, of 8 km 1.98 mm
    effect = effect_of(PositionError(3.0, 4.0), 8000.0)
    assert (effect.shift_horizontal_m, effect.shift_vertical_m) == (3.0, 4.0)
    assert effect.ppm == pytest.approx(0.24752, abs=1e-5)
    assert effect.distortion_m == pytest.approx(0.00198, abs=1e-6)


def test_averaging_helps_slowly_and_never_beyond_the_floor():
    for seconds, horizontal_m, vertical_m in AVERAGED_95_M:
        assert position_error("averaged", seconds) == PositionError(horizontal_m, vertical_m)
    times = np.geomspace(1.0, 600_000.0, 200)
    errors = [position_error("averaged", float(time)) for time in times]
    for one in ("horizontal_m", "vertical_m", "spatial_m"):
        assert (np.diff([getattr(error, one) for error in errors]) <= 1e-12).all()
    assert position_error("averaged", 604_800.0) == position_error("averaged", 86_400.0)
    # halfway from 60 s to 600 s by the logarithm is 60 sqrt(10) s: halfway from 4 and 7 m to 3 and 5 m
    between = position_error("averaged", 60.0 * math.sqrt(10.0))
    assert (between.horizontal_m, between.vertical_m) == pytest.approx((3.5, 6.0))


def test_no_average_is_as_good_as_control():
    # a day's average is metres; the horizontal figure of one position is within the 8 m that the GPS service
    # itself promises for 95 %, the vertical one within its 13 m [GPS SPS performance standard, from memory]
    assert position_error("averaged", 1.0).horizontal_m <= 8.0
    assert position_error("averaged", 1.0).vertical_m <= 13.0
    assert position_error("averaged", 604_800.0).horizontal_m > 10 * KNOWN_95_M[0]
    assert position_error("known") == PositionError(*KNOWN_95_M)


@pytest.mark.parametrize("seconds", [None, 0.0, 0.5, math.nan, 1e7])
def test_averages_of_no_time_are_refused(seconds):
    with pytest.raises(RangeError):
        position_error("averaged", seconds)


CONTROL = PositionError(0.02, 0.03)


def test_two_occupations_by_hand():
    # 3-4-5: 15 mm apart; allowed is 20 mm times the root of 2, 28.3 mm, in height 42.4 mm
    found = compare_occupations(0.009, 0.012, -0.050, CONTROL, CONTROL)
    assert found.horizontal_m == pytest.approx(0.015)
    assert found.allowed_horizontal_m == pytest.approx(0.028284, abs=1e-6)
    assert found.allowed_vertical_m == pytest.approx(0.042426, abs=1e-6)
    assert (found.horizontal_agrees, found.vertical_agrees) == (True, False)
    unequal = compare_occupations(2.0, 0.0, None, CONTROL, PositionError(3.0, 5.0))
    assert (unequal.horizontal_agrees, unequal.vertical_agrees, unequal.hints) == (True, None, ())
    assert not compare_occupations(4.0, 0.0, 0.0, CONTROL, PositionError(3.0, 5.0)).horizontal_agrees


# Slant 1.7 m to a mark 0.8 m beside, 60 mm above: as vertical 0.20 m wrong, as ARP 0.26 m, left out 1.44 m.
# Both points allow 42 mm in height, less than the 60 mm between the first two.
BLUNDERS = confusions(1.7, "slant", 0.8, 0.06)


@pytest.mark.parametrize(
    ("east_m", "up_m", "entered"),
    [
        (0.0, 0.200, ["vertical"]),
        (0.0, -0.201, ["vertical"]),
        (0.01, 1.44, [None]),
        (0.0, -1.43, [None]),
        (0.0, 0.7, []),  # nothing explains it
        (0.1, 0.2, []),  # not a difference in height alone
        (0.0, 0.0, []),
    ],
)
def test_a_difference_in_height_alone_hints_at_the_reading(east_m, up_m, entered):
    found = compare_occupations(east_m, 0.0, up_m, CONTROL, CONTROL, BLUNDERS)
    assert [one.entered for one in found.hints] == entered


def test_a_few_millimetres_hint_too_but_never_under_the_noise_of_averages():
    small = confusions(1.874, "slant", 0.173, 0.0)  # as vertical, which is to the ARP here: 8 mm
    for up_m, entered in (
        (0.008, ["vertical", "arp"]),
        (-0.010, ["vertical", "arp"]),
        (0.012, []),
        (0.002, []),
    ):
        hints = compare_occupations(0.0, 0.0, up_m, CONTROL, CONTROL, small).hints
        assert [one.entered for one in hints] == entered
    rough = position_error("averaged", 600.0)
    assert compare_occupations(0.0, 0.0, 1.8, rough, rough, small).hints == ()
    assert compare_occupations(0.0, 0.0, 0.008, rough, rough, small).hints == ()
