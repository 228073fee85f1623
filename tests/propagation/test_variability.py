"""Location variability and the inverse normal behind it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from linkplan.errors import RangeError
from linkplan.propagation.variability import (
    inverse_complementary_normal,
    location_height_factor,
    location_loss_db,
    location_sigma_db,
)


@given(st.floats(1e-6, 1.0 - 1e-6))
def test_inverse_normal_against_scipy(probability: float) -> None:
    # Abramowitz and Stegun 26.2.23 states 4.5e-4 for the rule that P.1812 took over.
    assert inverse_complementary_normal(probability) == pytest.approx(norm.isf(probability), abs=4.6e-4)


def test_inverse_normal_is_nought_in_the_middle() -> None:
    # The constant of P.1812-8, Attachment 2, 2.515516698 in place of 2.515517, is chosen for this.
    assert inverse_complementary_normal(0.5) == pytest.approx(0.0, abs=2e-9)


def test_inverse_normal_holds_at_its_limits() -> None:
    # P.1812-8, Attachment 2: x below 1e-6 or above 1 - 1e-6 is taken as the limit.
    assert inverse_complementary_normal(0.0) == inverse_complementary_normal(1e-6) > 4.7
    assert inverse_complementary_normal(1.0) == pytest.approx(-inverse_complementary_normal(1e-6), abs=1e-9)


@pytest.mark.parametrize(
    ("percent", "z"),
    # Standard normal quantiles: 1.2816, 1.6449, 2.3263.
    [(90.0, 1.2816), (95.0, 1.6449), (99.0, 2.3263), (10.0, -1.2816), (50.0, 0.0)],
)
def test_location_loss_is_a_quantile_times_sigma(percent: float, z: float) -> None:
    assert location_loss_db(percent, 5.5) == pytest.approx(5.5 * z, abs=5.5 * 5e-4)


@pytest.mark.parametrize(
    ("rx_height_m", "factor"),
    # P.1812-8, section 4.10: 1 below the clutter height, 0 from 10 m above it, linear between.
    [(0.0, 1.0), (2.0, 1.0), (15.0, 1.0), (17.5, 0.75), (20.0, 0.5), (25.0, 0.0), (40.0, 0.0)],
)
def test_height_factor_over_clutter_of_15_m(rx_height_m: float, factor: float) -> None:
    assert location_height_factor(rx_height_m, 15.0) == pytest.approx(factor, abs=1e-12)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((0.029, 100.0), r"frequency_ghz = 0\.029 GHz is outside 0\.03 to 6 GHz \(P\.1812-8\)"),
        ((6.1, 100.0), r"frequency_ghz = 6\.1 GHz"),
        ((0.45, -1.0), r"square_width_m = -1 m is outside 0 to 1000 m"),
        ((0.45, 1001.0), r"square_width_m = 1001 m"),
    ],
)
def test_sigma_out_of_range(arguments: tuple[float, float], message: str) -> None:
    with pytest.raises(RangeError, match=message):
        location_sigma_db(*arguments)


@pytest.mark.parametrize("heights", [(-1.0, 0.0), (2.0, -1.0), (3001.0, 0.0), (float("nan"), 0.0)])
def test_height_factor_out_of_range(heights: tuple[float, float]) -> None:
    with pytest.raises(RangeError, match="height_m"):
        location_height_factor(*heights)
