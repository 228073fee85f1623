"""Details of diffraction over the smooth earth that whole paths seldom reach, worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.propagation.horizons import radio_horizon_km
from linkplan.propagation.spherical_earth import (
    first_term_loss_db,
    smallest_clearance,
    spherical_earth_loss_db,
    surface_admittance,
)
from linkplan.tables.p1812_8 import LAND_GROUND, SEA_GROUND

RADIUS_KM = 8500.0


def test_surface_admittance_by_hand() -> None:
    """Land at 0.45 GHz: KH = 0.036 x 3825^(-1/3) x (21^2 + 0.12^2)^(-1/4) = 0.036 x 0.0639425 x 0.2182161;
    KV = KH x sqrt(22^2 + 0.12^2) = KH x 22.000327."""
    horizontal = surface_admittance(RADIUS_KM, 0.45, "horizontal", LAND_GROUND)
    vertical = surface_admittance(RADIUS_KM, 0.45, "vertical", LAND_GROUND)
    assert horizontal == pytest.approx(5.02318e-4, rel=1e-5)
    assert vertical == pytest.approx(1.105117e-2, rel=1e-5)
    # Sea: 18 x 5 / 0.45 = 200; KH = 0.036 x 0.0639425 x (79^2 + 200^2)^(-1/4) = 2.301930e-3 x 0.0681933.
    assert surface_admittance(RADIUS_KM, 0.45, "horizontal", SEA_GROUND) == pytest.approx(
        1.569767e-4, rel=1e-5
    )


def ground_loss(tx_m: float, rx_m: float, distance_km: float = 30.0) -> float:
    return first_term_loss_db(
        distance_km,
        tx_m,
        rx_m,
        radius_km=RADIUS_KM,
        frequency_ghz=0.45,
        polarization="vertical",
        sea_fraction=0.0,
    )


def test_height_gain_has_a_floor() -> None:
    """P.1812-8, section 4.3.3: G is at least 2 + 20 log K = 2 - 39.1318 = -37.1318 dB.

    beta = 0.9996458 (K = 0.0110512); at 3 m B = beta^2 x 0.9575 (0.2025 / 8500)^(1/3) x 3 = 0.082602 and
    G = 20 log(B + 0.1 B^3) = -21.6544 dB, so lowering one antenna to the ground costs 15.4775 dB.
    """
    assert ground_loss(1e-6, 3.0) == ground_loss(1e-3, 3.0)
    assert ground_loss(1e-6, 3.0) - ground_loss(3.0, 3.0) == pytest.approx(15.4775, abs=2e-3)


def test_both_forms_of_the_distance_and_height_terms_meet() -> None:
    """At X = 1.6 and B = 2 one form takes over from the other: steps of 0.03 and 0.01 dB."""
    x_per_km = 21.88 * 0.99965 * (0.45 / RADIUS_KM**2) ** (1 / 3)
    at = 1.6 / x_per_km
    losses = [ground_loss(10.0, 10.0, at * (1.0 + shift)) for shift in np.linspace(-0.02, 0.02, 401)]
    assert max(np.abs(np.diff(losses))) < 0.06
    height = 2.0 / (0.99965**2 * 0.9575 * (0.2025 / RADIUS_KM) ** (1 / 3))
    gains = [ground_loss(height * (1.0 + shift), 10.0) for shift in np.linspace(-0.02, 0.02, 401)]
    assert max(np.abs(np.diff(gains))) < 0.03


@given(st.floats(1.0, 60.0), st.floats(1.0, 60.0), st.floats(0.01, 0.999))
def test_smallest_clearance_against_a_search(tx_m: float, rx_m: float, share: float) -> None:
    d = share * radio_horizon_km(tx_m, rx_m, RADIUS_KM)
    clearance, d1 = smallest_clearance(d, tx_m, rx_m, effective_earth_radius_km=RADIUS_KM)
    x = np.linspace(0.0, d, 20_001)[1:-1]
    # Per Fresnel radius the smallest is the published point; the plain height over the bulge follows.
    over = tx_m + (rx_m - tx_m) * x / d - x * (d - x) / (2.0 * RADIUS_KM) * 1e3
    best = int(np.argmin(over / np.sqrt(x * (d - x))))
    assert clearance / math.sqrt(d1 * (d - d1)) == pytest.approx(
        over[best] / math.sqrt(x[best] * (d - x[best])), rel=2e-3, abs=1e-3
    )


def smooth_loss(distance_km: float, tx_m: float = 10.0, rx_m: float = 10.0) -> float:
    return spherical_earth_loss_db(
        distance_km,
        tx_m,
        rx_m,
        effective_earth_radius_km=RADIUS_KM,
        frequency_ghz=0.45,
        wavelength_m=2.0 / 3.0,
        polarization="vertical",
        sea_fraction=0.0,
    )


def test_beyond_the_horizon_it_is_the_first_term() -> None:
    """The horizon of two 10 m antennas is 2 sqrt(2 x 8500 x 0.01) = 26.0768 km."""
    assert smooth_loss(26.08) == ground_loss(10.0, 10.0, 26.08)
    assert smooth_loss(26.07) < ground_loss(10.0, 10.0, 26.07) - 1e-4


def test_a_clear_path_loses_nothing() -> None:
    """P.1812-8, section 4.3.2: nothing is lost where the clearance exceeds 17.456 sqrt(d1 d2 lambda / d).

    Equal antennas: the middle counts; 10 - d^2 1000 / (8 x 8500) > 17.456 sqrt(d/6), at d = 1.9 km
    9.947 > 9.823, at 2.0 km 9.941 < 10.078.
    """
    assert smooth_loss(1.9) == 0.0
    assert smooth_loss(2.0) >= 0.0
    # Where a loss begins it is (1 - clearance / needed) of the first term for grazing.
    d = 15.0
    clearance, needed = 10.0 - d * d / 68.0, 17.456 * math.sqrt(d / 6.0)
    grazing_radius = 500.0 * (d / (2.0 * math.sqrt(10.0))) ** 2
    grazing = first_term_loss_db(
        d,
        10.0,
        10.0,
        radius_km=grazing_radius,
        frequency_ghz=0.45,
        polarization="vertical",
        sea_fraction=0.0,
    )
    assert smooth_loss(d) == pytest.approx((1.0 - clearance / needed) * grazing, abs=1e-9)
    assert smooth_loss(d) > 1.0


@given(st.floats(0.1, 100.0), st.floats(1.01, 2.0))
def test_loss_grows_with_distance(distance_km: float, factor: float) -> None:
    assert smooth_loss(distance_km * factor) >= smooth_loss(distance_km) - 1e-9
