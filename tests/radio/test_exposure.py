"""Exposure against published limits and distances, a search over places, and what must hold for any radio."""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.radio import exposure
from linkplan.radio.antenna import checked_pattern, gain_dbi
from linkplan.radio.equipment import Antenna
from linkplan.radio.exposure import Radiator
from linkplan.tables.exposure import GROUPS, LIMITS

PUBLISHED = json.loads((Path(__file__).parents[1] / "published" / "exposure.json").read_text("utf-8"))
CASES = [(quantity, case) for quantity, cases in PUBLISHED.items() if quantity != "about" for case in cases]


@pytest.mark.parametrize(
    ("quantity", "case"),
    CASES,
    ids=[f"{quantity}-{list(case['inputs'].values())}" for quantity, case in CASES],
)
def test_quantity_has_its_published_value(quantity, case):
    value = float(getattr(exposure, quantity)(**case["inputs"]))
    assert value == pytest.approx(case["expected"], abs=case["tolerance"], rel=0), case["source"]


@pytest.mark.parametrize("key", LIMITS)
def test_limits_do_not_jump_where_bands_meet(key):
    # true of both documents; a number wrongly remembered on either side would break it
    bands = LIMITS[key].bands
    for below, above in itertools.pairwise(bands):
        assert below.high_mhz == above.low_mhz
        edge = below.high_mhz
        for group in GROUPS:
            here, beyond = (exposure.limit_w_m2(key, group, f) for f in (edge, edge * (1.0 + 1e-9)))
            assert beyond == pytest.approx(here, rel=1e-6)
    for frequency_mhz in (100.0, 450.0, 1000.0, 5000.0):
        # both give workers five times the public's limit throughout
        worker = exposure.worker_limit_w_m2(key, frequency_mhz)
        assert worker == pytest.approx(5.0 * exposure.public_limit_w_m2(key, frequency_mhz))


@pytest.mark.parametrize("frequency_mhz", [420.0, 900.0, 1450.0])
def test_one_document_is_four_thirds_of_the_other(frequency_mhz):
    # a published survey of limits, read: the US limit for the public is 4/3 of f/200 W/m2
    ratio = exposure.public_limit_w_m2("fcc-1.1310", frequency_mhz) / exposure.public_limit_w_m2(
        "icnirp-2020", frequency_mhz
    )
    assert ratio == pytest.approx(4.0 / 3.0)


def test_what_is_not_given_is_refused():
    with pytest.raises(RangeError, match=r"icnirp-2020, fcc-1\.1310"):
        exposure.limit_w_m2("other", "public", 450.0)
    with pytest.raises(RangeError, match="public, worker"):
        exposure.limit_w_m2("icnirp-2020", "visitor", 450.0)
    assert exposure.public_limit_w_m2("fcc-1.1310", 30.0) < exposure.public_limit_w_m2("fcc-1.1310", 6000.0)
    for frequency_mhz in (29.9, 6000.1, math.nan):
        with pytest.raises(RangeError, match="30 to 6000 MHz"):
            exposure.limit_w_m2("fcc-1.1310", "public", frequency_mhz)
    with pytest.raises(RangeError, match="limit_w_m2"):
        exposure.exposure_distance_m(1.0, 0.0)
    with pytest.raises(RangeError, match="duty"):
        exposure.exposure_distance_m(1.0, 2.0, duty=1.1)
    with pytest.raises(RangeError, match="reflection_factor"):
        exposure.exposure_distance_m(1.0, 2.0, reflection_factor=0.9)
    with pytest.raises(RangeError, match="distance_m"):
        exposure.power_density_w_m2(1.0, [1.0, 0.0])


@given(
    eirp_w=st.floats(0.01, 1000.0),
    limit=st.floats(0.5, 50.0),
    duty=st.floats(0.01, 0.9),
    more=st.floats(1.001, 1.1),
)
def test_distance_grows_with_power_and_duty_and_keeps_the_limit(eirp_w, limit, duty, more):
    distance_m = exposure.exposure_distance_m(eirp_w, limit, duty=duty)
    assert exposure.exposure_distance_m(more * eirp_w, limit, duty=duty) > distance_m
    assert exposure.exposure_distance_m(eirp_w, limit, duty=more * duty) > distance_m
    assert exposure.exposure_distance_m(eirp_w, more * limit, duty=duty) < distance_m
    assert exposure.power_density_w_m2(eirp_w, distance_m, duty=duty) == pytest.approx(limit)


def test_ground_radius_by_hand():
    # 5 m from an antenna 5 m up, heads 3 m below it: sqrt(25 - 9) = 4 m
    assert exposure.ground_radius_m(5.0, 5.0) == pytest.approx(4.0)
    assert exposure.ground_radius_m(3.0, 5.0) == 0.0
    assert exposure.ground_radius_m(2.9, 5.0) == 0.0
    # no higher than a head: it stands beside the body somewhere, also on the ground
    for height_m in (0.0, 0.5, 2.0):
        assert exposure.ground_radius_m(1.2, height_m) == 1.2


def test_antennas_on_one_mast_add_up():
    # each alone 3 m and 4 m: at 5 m 9/25 + 16/25 = 1
    assert exposure.added_distance_m([3.0, 4.0]) == pytest.approx(5.0)
    assert exposure.added_distance_m([]) == 0.0
    # reach 3 m: 4 pi 9 2 / 2.56; reach 4 m with another limit and half the time
    first = Radiator(0.0, 0.0, 5.0, 4.0 * math.pi * 9.0 * 2.0 / 2.56, 2.0)
    second = Radiator(0.0, 0.0, 5.0, 4.0 * math.pi * 16.0 * 3.0 / 2.56 / 0.5, 3.0, duty=0.5)
    share = exposure.exposure_share([first, second], [4.0, 0.0, 0.0], 0.0, [2.0, 0.0, 5.0])
    assert share == pytest.approx([1.0, 1.0, math.inf])


def test_antennas_apart_add_up():
    # reaches of 3 and 4 m, 10 m apart; between them, 6 m from the first and 4 m from the second:
    # 9/36 + 16/16 = 1.25
    first = Radiator(0.0, 0.0, 2.0, 4.0 * math.pi * 9.0 * 2.0 / 2.56, 2.0)
    second = Radiator(10.0, 0.0, 2.0, 4.0 * math.pi * 16.0 * 3.0 / 2.56, 3.0)
    assert exposure.exposure_share([first, second], 6.0, 0.0, 2.0) == pytest.approx(1.25)
    assert exposure.exposure_share([], np.zeros(3), 0.0, 2.0).tolist() == [0.0, 0.0, 0.0]


def test_far_field_by_hand():
    # 450 MHz: wavelength 299.792458/450 = 0.66621 m; over 2 pi 0.10603 m; 2 x 1^2/0.66621 = 3.0020 m
    assert exposure.far_field_from_m(450.0, 0.0) == pytest.approx(0.10603, abs=1e-5)
    assert exposure.far_field_from_m(450.0, 1.0) == pytest.approx(3.0020, abs=1e-4)
    assert exposure.in_far_field(3.1, 450.0, 1.0)
    assert not exposure.in_far_field(2.9, 450.0, 1.0)


@st.composite
def patterns(draw):
    """A pattern of a few rows, each at most 30 dB below the peak."""
    angles = sorted(5 * angle for angle in draw(st.sets(st.integers(-18, 18), min_size=2, max_size=6)))
    relative = draw(st.lists(st.floats(-30.0, 0.0), min_size=len(angles), max_size=len(angles)))
    return checked_pattern(tuple(map(float, angles)), tuple(relative))


@settings(max_examples=60)
@given(patterns(), st.floats(0.5, 500.0), st.floats(0.0, 8.0))
def test_pattern_radius_equals_a_search_over_places(pattern, power_w, antenna_height_m):
    antenna = Antenna(5.0, pattern)
    limit, eirp_w = 2.25, power_w * 10.0**0.5
    peak_m = exposure.exposure_distance_m(eirp_w, limit)

    def highest_density(across, heights):
        up = np.linspace(0.0, 2.0, heights) - antenna_height_m
        density = exposure.power_density_w_m2(eirp_w, np.hypot(across[:, None], up))
        relative = gain_dbi(antenna, np.degrees(np.arctan2(up, across[:, None]))) - 5.0
        return (density * 10.0 ** (relative / 10.0)).max(axis=1)

    found = exposure.pattern_ground_radius_m(antenna, power_w, limit, antenna_height_m)
    assert found <= exposure.ground_radius_m(peak_m, antenna_height_m) + 1e-9
    # nobody farther out is over the limit; one ray every 0.01 degrees leaves up to a centimetre
    across = np.linspace(0.0, peak_m, 400)[1:]
    assert not (highest_density(across, 81)[across > found + 0.01] > limit).any()
    # and somebody at the radius is, within the 1 dB that heights 0.5 mm apart can miss
    if found > 0.3:
        assert highest_density(np.array([found]), 4001)[0] > 0.79 * limit


@given(st.floats(0.5, 500.0), st.floats(0.0, 8.0))
def test_without_a_pattern_the_radius_is_the_peak_gains(power_w, antenna_height_m):
    antenna = Antenna(5.0)
    peak_m = exposure.exposure_distance_m(power_w * 10.0**0.5, 2.25)
    found = exposure.pattern_ground_radius_m(antenna, power_w, 2.25, antenna_height_m)
    wanted = exposure.ground_radius_m(peak_m, antenna_height_m)
    # a ray every 0.01 degrees meets the layer of people within R^2 x 0.00018 rad / radius
    assert found == pytest.approx(wanted, abs=0.001 + 0.0002 * peak_m**2 / max(wanted, 0.01))
