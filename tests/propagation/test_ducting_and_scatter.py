"""Terms of ducting, troposcatter and the combination that the validation data do not reach."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.propagation.ducting import Ducting, ducting_loss
from linkplan.propagation.horizons import horizons
from linkplan.propagation.line_of_sight import multipath_focusing_db
from linkplan.propagation.p1812_combination import combine, time_interpolation
from linkplan.propagation.profile import path_profile
from linkplan.propagation.radio_climate import ZoneLengths
from linkplan.propagation.smooth_earth import smooth_surface
from linkplan.propagation.troposcatter import troposcatter_loss_db


def over_flat_sea(sea_fraction: float = 1.0, tx_height_m: float = 50.0, **changes: float) -> Ducting:
    """Ducting over 100 km at sea level, antennas 50 m up, horizons some 30 km away."""
    d = np.linspace(0.0, 100.0, 101)
    flat = np.zeros(101)
    profile = path_profile(d, flat, flat, tx_height_m=tx_height_m, rx_height_m=50.0, least_points=5)
    inputs: dict[str, Any] = {
        "effective_earth_radius_km": 8500.0,
        "beta0_percent": 10.0,
        "frequency_ghz": 0.5,
        "time_percent": 10.0,
        "tx_to_coast_km": 500.0,
        "rx_to_coast_km": 500.0,
        **changes,
    }
    return ducting_loss(
        profile,
        smooth_surface(profile),
        horizons(profile, effective_earth_radius_km=8500.0, wavelength_m=0.6),
        ZoneLengths(sea_fraction=sea_fraction, longest_land_km=0.0, longest_inland_km=0.0),
        **inputs,
    )


@pytest.mark.parametrize("end", ["tx_to_coast_km", "rx_to_coast_km"])
@pytest.mark.parametrize(
    ("coast_km", "gain_db"),
    # Antennas at 50 m: tanh 0 = 0, so Ac = -3 exp(-0.25 d^2): 3, 3/e, 3 exp(-6.25); none beyond 5 km.
    [(0.0, 3.0), (2.0, 1.103638), (5.0, 0.005791), (5.01, 0.0), (500.0, 0.0)],
)
def test_coast_near_an_antenna_helps(end: str, coast_km: float, gain_db: float) -> None:
    gain = over_flat_sea().coupling_loss_db - over_flat_sea(**{end: coast_km}).coupling_loss_db
    assert gain == pytest.approx(gain_db, abs=1e-6)


def test_low_antenna_gains_more_from_a_coast() -> None:
    # At 10 m: 3 (1 + tanh 2.8) = 3 x 1.992632 = 5.977895 dB.
    low = {"tx_height_m": 10.0}
    gain = over_flat_sea(**low).coupling_loss_db - over_flat_sea(**low, tx_to_coast_km=0.0).coupling_loss_db
    assert gain == pytest.approx(5.977895, abs=1e-5)


def test_coast_counts_from_three_quarters_of_sea() -> None:
    near = {"tx_to_coast_km": 0.0, "rx_to_coast_km": 0.0}
    assert over_flat_sea(0.7499, **near).coupling_loss_db == over_flat_sea(0.7499).coupling_loss_db
    gain = over_flat_sea(0.75).coupling_loss_db - over_flat_sea(0.75, **near).coupling_loss_db
    assert gain == pytest.approx(6.0)


def test_coupling_over_flat_sea_by_hand() -> None:
    """Horizons at 29 km from both ends, no shielding, at 0.5 GHz no low-frequency term (it ends there):
    Af = 102.45 + 20 log 0.5 + 20 log 58 = 102.45 - 6.0206 + 35.2686."""
    duct = over_flat_sea()
    assert duct.coupling_loss_db == pytest.approx(131.698, abs=1e-3)
    assert duct.terrain_roughness_m == 0.0
    assert duct.tx_effective_height_m == 50.0


def test_low_frequency_term() -> None:
    # Alf at 0.1 GHz: 45.375 - 13.7 + 0.925 = 32.6 dB; it ends at 0.5 GHz, where it is 0.
    at = {
        f: over_flat_sea(frequency_ghz=f).coupling_loss_db - 20 * math.log10(f) for f in (0.1, 0.4999999, 0.6)
    }
    assert at[0.1] - at[0.6] == pytest.approx(32.6, abs=1e-9)
    assert at[0.4999999] == pytest.approx(at[0.6], abs=1e-4)


def test_angular_term_by_hand() -> None:
    """gamma_d theta' = 5e-5 x 8500 x 0.5^(1/3) x theta'; horizons of 50 m antennas lie below the horizontal:
    theta_t = 1000 atan(-50/29000 - 29/17000) = -3.430008 mrad, so theta' = 11.764706 - 6.860016."""
    assert over_flat_sea().angular_loss_db == pytest.approx(0.425 * 0.5 ** (1 / 3) * 4.904690, abs=2e-5)


def test_time_share_of_the_layer() -> None:
    """At p = beta the bracket is 0: Ap = -12 + 12 = 0; rarer is stronger."""
    beta = over_flat_sea().beta_percent
    assert over_flat_sea(time_percent=beta).time_loss_db == pytest.approx(0.0, abs=1e-9)
    assert over_flat_sea(time_percent=1.0).time_loss_db < over_flat_sea(time_percent=5.0).time_loss_db


def over_a_rise(rise_m: float) -> Ducting:
    """As `over_flat_sea`, 30 km long, with a rise in the middle and an effective earth without a bulge."""
    d = np.linspace(0.0, 30.0, 31)
    ground = np.zeros(31)
    ground[15] = rise_m
    profile = path_profile(d, ground, ground, tx_height_m=50.0, rx_height_m=50.0, least_points=5)
    return ducting_loss(
        profile,
        smooth_surface(profile),
        horizons(profile, effective_earth_radius_km=8500.0, wavelength_m=0.6),
        ZoneLengths(sea_fraction=0.0, longest_land_km=30.0, longest_inland_km=30.0),
        effective_earth_radius_km=8500.0,
        beta0_percent=10.0,
        frequency_ghz=0.5,
        time_percent=10.0,
        tx_to_coast_km=500.0,
        rx_to_coast_km=500.0,
    )


def test_roughness_up_to_10_m_does_not_count() -> None:
    """In sight, both horizons are the rise: mu2 is 1 (the path is short), and mu3 is 1 up to hm = 10 m,
    then exp(-4.6e-5 (hm - 10) 43), for nothing lies between the horizons."""
    for rise_m in (3.0, 9.0, 10.1, 30.0):
        duct = over_a_rise(rise_m)
        assert duct.terrain_roughness_m <= rise_m
        factor = math.exp(-4.6e-5 * max(duct.terrain_roughness_m - 10.0, 0.0) * 43.0)
        assert duct.beta_percent == pytest.approx(10.0 * factor, rel=1e-12)
    assert over_a_rise(9.0).beta_percent == 10.0
    assert over_a_rise(30.0).beta_percent < 9.7


def test_geometry_of_very_long_inland_paths_is_held() -> None:
    """alpha = -0.6 - 3.5e-9 d^3.1 tau never falls below -3.4: at 2000 km inland it would be -60.

    mu2 = (500/8500 x 2000^2 / (2 sqrt 50)^2)^-3.4 = 1176.4706^-3.4 = 3.6336e-11, and beta = 10 mu2.
    """
    d = np.linspace(0.0, 2000.0, 101)
    flat = np.zeros(101)
    profile = path_profile(d, flat, flat, tx_height_m=50.0, rx_height_m=50.0, least_points=5)
    duct = ducting_loss(
        profile,
        smooth_surface(profile),
        horizons(profile, effective_earth_radius_km=8500.0, wavelength_m=0.6),
        ZoneLengths(sea_fraction=0.0, longest_land_km=2000.0, longest_inland_km=2000.0),
        effective_earth_radius_km=8500.0,
        beta0_percent=10.0,
        frequency_ghz=0.5,
        time_percent=10.0,
        tx_to_coast_km=500.0,
        rx_to_coast_km=500.0,
    )
    assert duct.beta_percent == pytest.approx(3.6336e-10, rel=1e-3)


def test_troposcatter_by_hand() -> None:
    """2 GHz, 100 km, 10 mrad, N0 = 320, 5 % of the time:
    190.1 + 25 log 2 + 40 + 5.73 - 48 - 10.125 (log 10)^0.7 = 190.1 + 7.525750 + 40 + 5.73 - 48 - 10.125."""
    loss = troposcatter_loss_db(
        100.0, 10.0, frequency_ghz=2.0, time_percent=5.0, sea_level_refractivity_n_units=320.0
    )
    assert loss == pytest.approx(185.230750, abs=1e-6)


def test_focusing_by_hand() -> None:
    # 2.6 (1 - exp(-0.1 x 10)) log10(5/50) = -2.6 x 0.632121.
    assert multipath_focusing_db(4.0, 6.0, 5.0) == pytest.approx(-1.643513, abs=1e-6)
    assert multipath_focusing_db(4.0, 6.0, 50.0) == 0.0


@given(st.floats(1.0, 50.0), st.floats(0.01, 46.8))
def test_time_interpolation_runs_from_one_to_nought(time_percent: float, beta0: float) -> None:
    weight = time_interpolation(time_percent, beta0)
    assert 0.0 <= weight <= 1.0
    assert (weight == 1.0) == (time_percent <= beta0)
    assert time_interpolation(50.0, beta0) == 0.0


def combined(**changes: float) -> Any:
    inputs = {
        "length_km": 20.0,
        "angular_distance_mrad": 0.3,
        "sea_fraction": 0.0,
        "time_percent": 50.0,
        "beta0_percent": 5.0,
        "free_space_db": 120.0,
        "los_time_p_db": 120.0,
        "los_time_beta0_db": 115.0,
        "diffraction_median_db": 20.0,
        "diffraction_time_p_db": 20.0,
        "anomalous_db": 150.0,
        "troposcatter_db": 200.0,
    }
    return combine(**{**inputs, **changes})


def test_blends_are_half_in_the_middle() -> None:
    """P.1812-8, section 4.6: Fj is a half at 0.3 mrad, Fk at 20 km."""
    result = combined()
    assert result.angle_blend == 0.5
    assert result.distance_blend == 0.5
    assert combined(angular_distance_mrad=3.0).angle_blend < 1e-9
    assert combined(length_km=0.25).distance_blend == pytest.approx(0.95, abs=0.01)


def test_equal_mechanisms_share_by_three_tenths_of_a_decade() -> None:
    """-5 log(2 x 10^(-0.2 L)) = L - 5 log 2 = L - 1.505150 dB."""
    result = combined(troposcatter_db=140.0, anomalous_db=500.0)
    assert result.modified_diffraction_and_anomalous_db == pytest.approx(140.0, abs=1e-9)
    assert result.combined_db == pytest.approx(140.0 - 1.505150, abs=1e-6)


def test_ducting_and_line_of_sight_add_up() -> None:
    """Lminbap = 2.5 ln(exp(Lba/2.5) + exp(Lb0p/2.5)): two alike give L + 2.5 ln 2 = L + 1.732868 dB."""
    result = combined(anomalous_db=120.0)
    assert result.notional_minimum_anomalous_db == pytest.approx(121.732868, abs=1e-6)


def test_great_losses_do_not_overflow() -> None:
    result = combined(
        anomalous_db=5000.0,
        troposcatter_db=4000.0,
        diffraction_median_db=4200.0,
        diffraction_time_p_db=4200.0,
    )
    assert result.combined_db == pytest.approx(4000.0, abs=1e-6)
    assert result.notional_minimum_anomalous_db == pytest.approx(5000.0, abs=1e-6)


def test_sea_share_takes_diffraction_off_the_line_of_sight_minimum() -> None:
    """Below beta0: Lminb0p = Lb0p + (1 - omega) Ldp."""
    rare = {"time_percent": 1.0, "sea_fraction": 0.25, "los_time_p_db": 110.0, "diffraction_time_p_db": 8.0}
    assert combined(**rare).notional_minimum_los_db == pytest.approx(110.0 + 0.75 * 8.0)
