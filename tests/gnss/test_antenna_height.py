"""Antenna heights against right-angled triangles worked by hand, both ways, and against what cannot be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.gnss.antenna_height import (
    METHODS,
    all_readings,
    arp_height_m,
    arp_of_mounted_m,
    confusions,
    mounted_height_m,
    reading_m,
    slant_as_vertical_m,
)

# A triangle of whole numbers, 8-15-17: slant 1.7 m, radius 0.8 m, so the mark stands 1.5 m high.
SLANT, RADIUS, MARK_HIGH = 1.7, 0.8, 1.5


def test_a_triangle_of_whole_numbers():
    assert arp_height_m(SLANT, "slant", RADIUS) == pytest.approx(MARK_HIGH, abs=1e-12)
    assert arp_height_m(SLANT, "slant", RADIUS, 0.06) == pytest.approx(1.44, abs=1e-12)
    assert arp_height_m(MARK_HIGH, "vertical", RADIUS, 0.06) == pytest.approx(1.44, abs=1e-12)
    assert arp_height_m(SLANT, "slant", RADIUS, -0.06) == pytest.approx(1.56, abs=1e-12)  # mark below the ARP
    assert arp_height_m(1.44, "arp", RADIUS, 0.06) == 1.44
    assert reading_m(1.44, "slant", RADIUS, 0.06) == pytest.approx(SLANT, abs=1e-12)
    assert reading_m(1.44, "vertical", RADIUS, 0.06) == pytest.approx(MARK_HIGH, abs=1e-12)
    # 1.7 m entered as vertical would put the antenna 1.7 - 1.5 m too high
    assert slant_as_vertical_m(SLANT, RADIUS) == pytest.approx(0.2, abs=1e-12)


def test_readings_by_every_way_that_the_antennas_data_allow():
    every = all_readings(SLANT, "slant", RADIUS, 0.06)
    assert list(every) == ["slant", "vertical", "arp"]
    assert every == pytest.approx({"slant": 1.7, "vertical": 1.5, "arp": 1.44})
    assert all_readings(1.44, "arp", RADIUS, 0.06) == pytest.approx(every)
    assert all_readings(1.44, "arp") == {"arp": 1.44}
    assert all_readings(1.5, "vertical", None, 0.06) == pytest.approx({"vertical": 1.5, "arp": 1.44})
    assert all_readings(0.05, "arp", 0.1, -0.06) == {"arp": 0.05}  # its mark would be under the ground


def test_a_tripod_by_hand():
    # 1.874^2 = 3.511876, 0.173^2 = 0.029929, the root of 3.481947 is 1.865997; less 0.064 is 1.801997
    assert arp_height_m(1.874, "slant", 0.173, 0.064) == pytest.approx(1.801997, abs=1e-6)
    # For a small radius the error is radius^2 / (2 slant) = 0.029929 / 3.748 = 7.985 mm, first order
    assert slant_as_vertical_m(1.874, 0.173) == pytest.approx(0.007985, abs=2e-5)


def test_what_else_stands_on_the_mast_both_ways():
    assert mounted_height_m(1.8, 3.2) == pytest.approx(5.0)
    assert arp_of_mounted_m(5.0, 3.2) == pytest.approx(1.8)
    assert mounted_height_m(1.8, -0.3) == pytest.approx(1.5)  # below the GNSS antenna
    with pytest.raises(RangeError, match=r"2 m below what stands 1\.8 m high lies below the ground"):
        mounted_height_m(1.8, -2.0)


@given(
    st.floats(0.0, 49.0), st.floats(0.0, 1.0), st.floats(-1.0, 0.9), st.sampled_from(METHODS)
)  # fmt: skip
def test_there_and_back(arp, radius, mark, method):
    if arp + mark > 1e-3:  # the mark is above the ground
        tape = reading_m(arp, method, radius, mark)
        assert arp_height_m(tape, method, radius, mark) == pytest.approx(arp, abs=1e-9)
        # the tape in the slope is the longest, and reaches the mark's place in the plane of tape and axis
        assert reading_m(arp, "slant", radius, mark) == pytest.approx(
            math.dist((0.0, 0.0), (radius, arp + mark)), abs=1e-12
        )


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            (0.15, "slant", 0.17),
            "a slant of 0.15 m is not longer than the antenna's radius, 0.17 m: impossible",
        ),
        (
            (0.17, "slant", 0.17),
            "a slant of 0.17 m is not longer than the antenna's radius, 0.17 m: impossible",
        ),
        ((0.0, "slant"), "a slant of 0 m is not longer than the antenna's radius, 0 m: impossible"),
        ((0.05, "vertical", 0.0, 0.06), "puts that point below the ground"),
        ((0.0, "vertical"), "puts that point below the ground"),
        ((51.0, "arp"), "antenna height reading = 51 m is outside 0 to 50 m"),
        ((-1.8, "vertical"), "antenna height reading = -1.8 m is outside 0 to 50 m"),
        ((math.nan, "slant"), "antenna height reading = nan m"),
        ((1.8, "slant", 173.0), "antenna radius = 173 m is outside 0 to 1 m"),  # millimetres for metres
        ((1.8, "slant", 0.17, 64.0), "mark above the reference point = 64 m is outside -1 to 1 m"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(arguments, words):
    with pytest.raises(RangeError) as caught:
        arp_height_m(*arguments)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_the_way_back_refuses_a_mark_under_the_ground():
    with pytest.raises(RangeError, match="is not above the ground"):
        reading_m(0.05, "vertical", 0.0, -0.06)
    assert reading_m(0.05, "arp", 0.0, -0.06) == 0.05


def test_an_antenna_flat_on_its_pillar_is_possible():
    assert arp_height_m(0.3, "vertical", 0.0, 0.1 + 0.2) == 0.0  # 0.1 + 0.2 is a hair above 0.3
    assert arp_height_m(0.0, "arp") == 0.0


def test_confusions_by_hand():
    # Slant 1.7 to the mark is ARP 1.44. As vertical it would be 1.64, as ARP 1.70; left out, 0.
    found = [(one.measured, one.entered, one.error_m) for one in confusions(SLANT, "slant", RADIUS, 0.06)]
    expected = [("slant", None, -1.44), ("slant", "arp", 0.26), ("slant", "vertical", 0.20)]
    assert [one[:2] for one in found] == [one[:2] for one in expected]
    assert [one[2] for one in found] == pytest.approx([one[2] for one in expected], abs=1e-12)
    # Vertical 1.5 taken as slant: the root of 2.25 - 0.64 is 1.268858, 0.231142 less.
    found = {one.entered: one.error_m for one in confusions(MARK_HIGH, "vertical", RADIUS, 0.06)}
    assert found == pytest.approx({None: -1.44, "slant": -0.231142, "arp": 0.06}, abs=1e-6)


def test_confusions_ask_only_for_what_is_known_and_possible():
    assert [one.entered for one in confusions(1.8, "arp")] == [None]
    assert [one.entered for one in confusions(1.8, "vertical", None, 0.06)] == [None, "arp"]
    assert [one.entered for one in confusions(0.1, "arp", 0.17, 0.0)] == [None]  # no slant is so short
    with pytest.raises(RangeError):
        confusions(0.1, "slant", 0.17, 0.0)
