"""Unwanted levels: against values by hand, the bound of a clear path, and the path computation itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkplan.channels.unwanted import Source, ground_if_any, least_loss_db, unwanted_levels
from linkplan.propagation import p1812
from linkplan.terrain.profile import profile_between

EAST, NORTH = 500_000.0, 4_500_000.0
SOURCE = Source(EAST, NORTH, 6.0, 450.0, 40.0)


def rough_ground(seed, side=161):
    """Hills of several sizes."""
    chance = np.random.default_rng(seed)
    rows, columns = np.mgrid[0:side, 0:side]
    ground = np.full((side, side), 300.0)
    for size in (60.0, 25.0, 9.0):
        ground += (
            size * np.sin(rows / size + chance.uniform(0, 6)) * np.cos(columns / size + chance.uniform(0, 6))
        )
    return ground


def test_least_loss_by_hand():
    # 92.4 + 20 log10 0.45 + 20 log10 10 = 105.464 dB; 2.6 (1 - e^-1) log10(1/50) = -2.792 dB
    assert least_loss_db(10_000.0, 450.0) == pytest.approx(102.672, abs=0.001)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10_000))
def test_no_path_loses_less_than_the_bound_and_rare_hours_are_stronger(make_plan, make_grid, seed):
    grid = make_grid(rough_ground(seed))
    chance = np.random.default_rng(seed)
    easting = EAST + chance.uniform(-3500, 3500, 6)
    northing = NORTH + chance.uniform(-3500, 3500, 6)
    levels = unwanted_levels(make_plan(), SOURCE, grid, easting, northing, -1.0)
    bound = np.array([40.0 - 1.0 - least_loss_db(float(d), 450.0) for d in levels.distance_m])
    assert (levels.level_dbm <= bound + 1e-9).all()
    assert np.allclose(levels.level_dbm[levels.bounded], bound[levels.bounded])
    assert (levels.bounded == (levels.distance_m < 250.0)).all()
    for place in np.flatnonzero(~levels.bounded):
        x_m, y_m = grid.frame.to_local(float(easting[place]), float(northing[place]))
        profile = profile_between(grid, (0.0, 0.0), (x_m, y_m))
        median = p1812.basic_transmission_loss(
            profile.distance_m / 1e3, profile.height_m, profile.clutter_height_m,
            radio_climatic_zone=4, frequency_ghz=0.45, time_percent=50.0, location_percent=50.0,
            tx_height_m=6.0, rx_height_m=2.0, polarization="vertical",
            tx_latitude_deg=40.65, tx_longitude_deg=15.0, rx_latitude_deg=40.65, rx_longitude_deg=15.0,
            refractivity_gradient_n_units_per_km=45.0, sea_level_refractivity_n_units=325.0,
            tx_to_coast_km=500.0, rx_to_coast_km=500.0,
        ).basic_transmission_loss_db  # fmt: skip
        assert levels.level_dbm[place] >= 40.0 - 1.0 - median - 1e-3


def test_where_no_terrain_reaches_a_clear_path_is_assumed(make_plan, make_grid):
    ground = rough_ground(3)
    ground[:, 120:] = np.nan
    easting, northing = np.array([EAST + 1500.0, EAST + 3500.0]), np.array([NORTH, NORTH])
    levels = unwanted_levels(make_plan(), SOURCE, make_grid(ground), easting, northing, 0.0)
    assert levels.bounded.tolist() == [False, True]
    nowhere = unwanted_levels(make_plan(), SOURCE, None, easting, northing, 0.0)
    assert nowhere.bounded.all()
    assert nowhere.level_dbm[1] == pytest.approx(levels.level_dbm[1], abs=1e-6)


def test_a_transmitter_off_the_terrain_has_no_ground(rolling_plan):
    assert ground_if_any(rolling_plan, EAST + 2000.0, NORTH) is not None
    assert ground_if_any(rolling_plan, EAST + 40_000.0, NORTH) is None
