"""Zones along a path, the time beta0 and the middle of a path."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from linkplan.errors import RangeError
from linkplan.propagation.radio_climate import (
    beta0_effective_earth_radius_km,
    beta0_percent,
    median_effective_earth_radius_km,
    middle_latitude_deg,
    zone_lengths,
)

SPHERE = Geod(a=6_371_000.0, f=0.0)


def test_zones_change_halfway_between_points() -> None:
    # Points at 0, 1, 3, 6, 10 km; borders at 0.5, 2, 4.5, 8 km. Sea holds 2 to 4.5: 2.5 km of 10.
    # Land: 0 to 2 and 4.5 to 10 (5.5 km). Inland: 0.5 to 2 and 8 to 10 (2 km).
    lengths = zone_lengths(np.array([0.0, 1.0, 3.0, 6.0, 10.0]), np.array([3, 4, 1, 3, 4]))
    assert lengths.sea_fraction == pytest.approx(0.25)
    assert lengths.longest_land_km == pytest.approx(5.5)
    assert lengths.longest_inland_km == pytest.approx(2.0)


def test_several_stretches_of_sea_add_up_and_the_longest_land_counts() -> None:
    # Borders at 0.5, 1.5, ...; sea: 0 to 0.5, 2.5 to 3.5 and 5.5 to 6 = 2 of 6 km; land: twice 2 km.
    lengths = zone_lengths(np.arange(7.0), np.array([1, 4, 4, 1, 4, 3, 1]))
    assert lengths.sea_fraction == pytest.approx(2.0 / 6.0)
    assert lengths.longest_land_km == pytest.approx(2.0)
    assert lengths.longest_inland_km == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("zone", "expected"), [(1, (1.0, 0.0, 0.0)), (3, (0.0, 6.0, 0.0)), (4, (0.0, 6.0, 6.0))]
)
def test_one_zone_all_along(zone: int, expected: tuple[float, float, float]) -> None:
    lengths = zone_lengths(np.arange(7.0), np.full(7, zone))
    found = (lengths.sea_fraction, lengths.longest_land_km, lengths.longest_inland_km)
    assert found == pytest.approx(expected)


def test_beta0_over_sea_alone() -> None:
    # No land: mu1 = min(1, (1 + 10^-2.48)^0.2) = 1, so mu4 = 1: 10^(1.67 - 0.015 x 45) = 10^0.995.
    assert beta0_percent(45.0, 0.0, 0.0) == pytest.approx(9.8855, abs=1e-4)
    assert beta0_percent(-45.0, 0.0, 0.0) == beta0_percent(45.0, 0.0, 0.0)
    # Beyond 70 degrees: 4.17 mu1 mu4 = 4.17, and 10^(1.67 - 1.05) = 4.169 at 70 degrees.
    assert beta0_percent(70.1, 0.0, 0.0) == pytest.approx(4.17, abs=1e-9)
    assert beta0_percent(75.0, 0.0, 0.0) == pytest.approx(4.17, abs=1e-9)
    assert beta0_percent(70.0, 0.0, 0.0) == pytest.approx(4.1687, abs=1e-4)


def test_beta0_beyond_70_degrees_over_coastal_land() -> None:
    # 32 km of coast: tau = 0, mu1 = (10^-2 + 10^-2.48)^0.2 = 0.0133113^0.2 = 0.421545;
    # 4.17 mu1^1.3 = 4.17 x 0.325311 = 1.35655.
    assert beta0_percent(80.0, 32.0, 0.0) == pytest.approx(1.35655, abs=2e-5)


@given(st.floats(0.0, 90.0), st.floats(0.0, 3000.0), st.floats(0.0, 1.0))
def test_beta0_rules_meet_at_70_degrees_and_stay_below_half_the_time(
    latitude: float, land_km: float, share: float
) -> None:
    # mu4's exponent at 70 degrees is -0.935 + 1.232 = 0.297, beside 0.3 beyond; 4.169 beside 4.17.
    below, above = (beta0_percent(phi, land_km, share * land_km) for phi in (70.0, 70.0001))
    assert above == pytest.approx(below, rel=0.01)
    assert 0.0 < beta0_percent(latitude, land_km, share * land_km) < 50.0


def test_effective_earth_radii() -> None:
    assert median_effective_earth_radius_km(0.0) == 6371.0
    assert median_effective_earth_radius_km(78.5) == pytest.approx(2.0 * 6371.0)
    assert beta0_effective_earth_radius_km() == 3.0 * 6371.0


@pytest.mark.parametrize("gradient", [-0.1, 150.1, float("nan")])
def test_gradient_out_of_range(gradient: float) -> None:
    with pytest.raises(RangeError, match=r"refractivity_gradient_n_units_per_km = .* is outside 0 to 150"):
        median_effective_earth_radius_km(gradient)


@given(st.floats(-89.0, 89.0), st.floats(-180.0, 180.0), st.floats(-89.0, 89.0), st.floats(-180.0, 180.0))
def test_middle_of_a_path_against_proj(lat_1: float, lon_1: float, lat_2: float, lon_2: float) -> None:
    azimuth, _, length_m = SPHERE.inv(lon_1, lat_1, lon_2, lat_2)
    if not 1_000.0 < length_m < 19_900_000.0:
        return
    _, expected, _ = SPHERE.fwd(lon_1, lat_1, azimuth, length_m / 2.0)
    found = middle_latitude_deg(lat_1, lon_1, lat_2, lon_2, length_m / 1000.0)
    assert found == pytest.approx(expected, abs=1e-6)


def test_middle_follows_the_length_not_the_coordinates() -> None:
    # Due north from the equator: half of 222.4 km is 1 degree, wherever the other end is said to be.
    length_km = 2.0 * math.radians(1.0) * 6371.0
    assert middle_latitude_deg(0.0, 5.0, 40.0, 5.0, length_km) == pytest.approx(1.0, abs=1e-9)
    assert middle_latitude_deg(90.0, 0.0, 90.0, 0.0, 0.25) == pytest.approx(90.0, abs=0.01)
