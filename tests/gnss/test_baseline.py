"""Accuracy over the baseline against sums worked by hand from what data sheets usually state."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.gnss import baseline


def test_accuracy_by_hand():
    # common practice: 8 mm + 1 ppm horizontal, 15 mm + 1 ppm vertical; at 10 km 8 + 10 and 15 + 10 mm
    assert baseline.accuracy_m(10_000.0) == pytest.approx(0.018, abs=1e-12)
    assert baseline.accuracy_m(10_000.0, baseline.VERTICAL_CONSTANT_M) == pytest.approx(0.025, abs=1e-12)
    assert baseline.accuracy_m(0.0) == 0.008


def test_limit_by_hand():
    # 20 mm wanted, 8 mm at any distance: 12 mm are left, at 1 mm a km 12 km, at 2 mm a km 6 km
    assert baseline.baseline_limit_m(0.020) == pytest.approx(12_000.0)
    assert baseline.baseline_limit_m(0.020, ppm=2.0) == pytest.approx(6_000.0)
    assert baseline.baseline_limit_m(0.008) == 0.0
    assert baseline.baseline_limit_m(0.008, ppm=0.0) == math.inf


def test_tolerance_below_the_constant_is_refused():
    with pytest.raises(RangeError, match=r"tolerance_m = 0.005 m is below the 0.008 m"):
        baseline.baseline_limit_m(0.005)


@pytest.mark.parametrize("arguments", [(-1.0, 0.008, 1.0), (1.0, -0.008, 1.0), (1.0, 0.008, math.nan)])
def test_numbers_that_make_no_sense_are_refused(arguments):
    with pytest.raises(RangeError):
        baseline.accuracy_m(*arguments)
    with pytest.raises(RangeError):
        baseline.baseline_limit_m(*arguments)


@given(st.floats(0.0, 0.1), st.floats(0.0, 0.05), st.floats(0.1, 10.0))
def test_at_the_limit_the_accuracy_is_the_tolerance(over_m, constant_m, ppm):
    limit_m = baseline.baseline_limit_m(constant_m + over_m, constant_m, ppm)
    if limit_m <= 200_000.0:
        assert baseline.accuracy_m(limit_m, constant_m, ppm) == pytest.approx(constant_m + over_m, abs=1e-9)
