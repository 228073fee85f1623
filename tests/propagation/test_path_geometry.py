"""Profiles, horizons and the smooth surface of a path, worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.propagation.horizons import horizons
from linkplan.propagation.profile import PathProfile, path_profile
from linkplan.propagation.smooth_earth import least_squares_ends, smooth_surface


def profile_of(d: list[float], h: list[float], tx: float = 10.0, rx: float = 10.0) -> PathProfile:
    return path_profile(d, h, h, tx_height_m=tx, rx_height_m=rx, least_points=2)


def test_antennas_stand_on_the_ground_of_their_ends() -> None:
    profile = path_profile(
        [0, 1, 3], [105, 130, 220], [100, 120, 200], tx_height_m=5, rx_height_m=2, least_points=3
    )
    assert (profile.tx_antenna_m, profile.rx_antenna_m, profile.length_km) == (105.0, 202.0, 3.0)
    assert profile.surface_height_m.tolist() == [100.0, 130.0, 200.0]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.floats(-300.0, 300.0), st.floats(-50.0, 50.0), st.integers(3, 40))
def test_smooth_surface_of_straight_ground_is_that_ground(
    seed: int, start: float, slope: float, n: int
) -> None:
    """Unevenly spaced points on a straight slope: the fit returns the slope at both ends."""
    d = np.concatenate(([0.0], np.cumsum(np.random.default_rng(seed).uniform(0.01, 2.0, n - 1))))
    h = start + slope * d
    smooth = smooth_surface(profile_of(d.tolist(), h.tolist()))
    assert smooth.fit_tx_m == pytest.approx(start, abs=1e-6)
    assert smooth.fit_rx_m == pytest.approx(h[-1], abs=1e-6)
    assert smooth.diffraction_tx_m == pytest.approx(start, abs=1e-6)
    assert smooth.ducting_rx_m == pytest.approx(h[-1], abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_fit_is_the_least_squares_line_of_the_continuous_profile(seed: int) -> None:
    """Against numpy's fit to a very dense sampling of the same broken line."""
    rng = np.random.default_rng(seed)
    d = np.concatenate(([0.0], np.cumsum(rng.uniform(0.1, 2.0, 8))))
    h = rng.uniform(0.0, 100.0, 9)
    dense = np.linspace(0.0, d[-1], 200_001)
    slope, start = np.polyfit(dense, np.interp(dense, d, h), 1)
    found = least_squares_ends(profile_of(d.tolist(), h.tolist()))
    assert found == pytest.approx((start, start + slope * d[-1]), abs=2e-3)


def test_obstruction_lowers_the_smooth_surface_by_hand() -> None:
    """A spike of 50 m at 1 km of 4 km, flat ground, antennas at 10 m.

    Fit: v1 = 1 x 50 + 1 x 50 = 100; v2 = 1 (50 (2 + 0)) + 1 (50 (2 + 2)) = 100 + 200 = 300;
    hst = (2 x 100 x 4 - 300) / 16 = 31.25, hsr = (300 - 400) / 16 = -6.25.
    H = 40 at 1 km and -10 elsewhere: hobs 40, aobt 40 / 1, aobr 40 / 3; shares 3/4 and 1/4:
    hst' = 31.25 - 30 = 1.25 (above the ground: 0), hsr' = -6.25 - 10 = -16.25.
    """
    smooth = smooth_surface(profile_of([0, 1, 2, 3, 4], [0, 50, 0, 0, 0]))
    assert smooth.fit_tx_m == pytest.approx(31.25)
    assert smooth.fit_rx_m == pytest.approx(-6.25)
    assert smooth.diffraction_tx_m == 0.0
    assert smooth.diffraction_rx_m == pytest.approx(-16.25)
    assert smooth.ducting_tx_m == 0.0
    assert smooth.ducting_rx_m == pytest.approx(-6.25)


def test_ground_under_the_line_keeps_the_fit() -> None:
    """A spike of 9.9 m stays under antennas at 10 m: hobs < 0, nothing is lowered.

    v1 = 19.8, v2 = 19.8 + 39.6 = 59.4; hsr = (59.4 - 79.2) / 16 = -1.2375.
    """
    smooth = smooth_surface(profile_of([0, 1, 2, 3, 4], [0, 9.9, 0, 0, 0]))
    assert smooth.diffraction_rx_m == pytest.approx(-1.2375)


def test_horizons_of_a_hidden_path_by_hand() -> None:
    """Two equal hills: the transmitter's horizon is the first, the receiver's the last.

    At 2 km: atan(30/2000 - 2/(2 x 8500)) = atan(0.0148823529) = 14.881254 mrad from each end;
    theta = 10 / 8.5 + 2 x 14.881254 = 1.176471 + 29.762509.
    """
    profile = profile_of([0, 2, 5, 8, 10], [0, 40, 20, 40, 0])
    seen = horizons(profile, effective_earth_radius_km=8500.0, wavelength_m=0.3)
    assert seen.trans_horizon
    assert (seen.tx_index, seen.rx_index) == (1, 3)
    assert (seen.tx_distance_km, seen.rx_distance_km) == (2.0, 2.0)
    assert seen.tx_elevation_mrad == pytest.approx(14.881254, abs=1e-6)
    assert seen.rx_elevation_mrad == pytest.approx(14.881254, abs=1e-6)
    assert seen.angular_distance_mrad == pytest.approx(30.938979, abs=1e-5)


def test_of_equal_horizons_the_first_counts_from_one_end_and_the_last_from_the_other() -> None:
    """Flat earth: from each end at 10 m two points stand at exactly 20 mrad; the nearer one counts."""
    profile = profile_of([0, 1, 2, 3, 4], [0, 30, 50, 30, 0])
    seen = horizons(profile, effective_earth_radius_km=math.inf, wavelength_m=0.3)
    assert seen.tx_elevation_mrad == pytest.approx(19.997334, abs=1e-6)  # 1000 atan 0.02
    assert (seen.tx_index, seen.rx_index) == (1, 3)


def test_horizons_of_a_clear_path_are_its_worst_point() -> None:
    """10 m antennas over flat ground with one rise of 4 m at 3 km of 4 km: that point is both horizons."""
    profile = profile_of([0, 1, 2, 3, 4], [0, 0, 0, 4, 0])
    seen = horizons(profile, effective_earth_radius_km=8500.0, wavelength_m=0.3)
    assert not seen.trans_horizon
    assert (seen.tx_index, seen.rx_index) == (3, 3)
    assert (seen.tx_distance_km, seen.rx_distance_km) == (3.0, 1.0)
    # The ray itself is above every point: theta_t = theta_r = -1000 atan(4 / 17000) = -0.235294 mrad.
    assert seen.tx_elevation_mrad == pytest.approx(-0.235294, abs=1e-6)
    assert seen.rx_elevation_mrad == pytest.approx(-0.235294, abs=1e-6)
    assert seen.angular_distance_mrad == pytest.approx(0.0, abs=1e-6)
