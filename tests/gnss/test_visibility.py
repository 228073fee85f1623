"""Azimuth and elevation against PROJ, horizons against numpy, areas against single points."""

from __future__ import annotations

import math

import numpy as np
import pyproj
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.gnss.constellations import typical_orbits
from linkplan.gnss.positions import satellite_positions
from linkplan.gnss.visibility import (
    Look,
    above,
    east_north_up,
    ecef_from_geodetic,
    horizon_at,
    look,
    visible_over_area,
)

latitudes, longitudes = st.floats(-90.0, 90.0), st.floats(-180.0, 180.0)


@given(latitudes, longitudes, st.floats(-500.0, 9000.0))
@settings(max_examples=50, deadline=None)
def test_earth_fixed_positions_are_those_of_proj(latitude: float, longitude: float, height: float) -> None:
    to_ecef = pyproj.Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    theirs = to_ecef.transform(longitude, latitude, height)
    assert ecef_from_geodetic(latitude, longitude, height) == pytest.approx(theirs, abs=1e-6)


@given(latitudes, longitudes, st.floats(-80.0, 80.0), st.floats(-180.0, 180.0))
@settings(max_examples=50, deadline=None)
def test_directions_are_those_of_proj(
    latitude: float, longitude: float, their_latitude: float, their_longitude: float
) -> None:
    satellite = ecef_from_geodetic(their_latitude, their_longitude, 20_200e3)
    local = pyproj.Transformer.from_pipeline(
        f"+proj=pipeline +step +proj=topocentric +ellps=WGS84 +lon_0={longitude} +lat_0={latitude} +h_0=250"
    )
    east, north, up = local.transform(*satellite)
    found = look(satellite, latitude, longitude, 250.0)
    level = math.hypot(east, north)
    assert found.distance_m == pytest.approx(math.hypot(level, up), abs=1e-3)
    assert found.elevation_deg == pytest.approx(math.degrees(math.atan2(up, level)), abs=1e-9)
    assert 0.0 <= found.azimuth_deg < 360.0
    if level > 1000.0:
        off = found.azimuth_deg - math.degrees(math.atan2(east, north))
        assert math.remainder(float(off), 360.0) == pytest.approx(0.0, abs=1e-7)


def test_directions_by_hand() -> None:
    # On the equator at Greenwich the x axis points up, y east, z north. A satellite 20 000 km above 90 E is
    # 6378137 m below the point and 26378137 m east: elevation -atan(6378137 / 26378137) = -13.593 deg.
    east = look(np.array([0.0, 26_378_137.0, 0.0]), 0.0, 0.0, 0.0)
    assert (float(east.azimuth_deg), float(east.elevation_deg)) == pytest.approx((90.0, -13.593), abs=1e-3)
    up = look(np.array([26_378_137.0, 0.0, 0.0]), 0.0, 0.0, 0.0)
    assert (float(up.elevation_deg), float(up.distance_m)) == pytest.approx((90.0, 20_000_000.0))
    # a hair west of north is just below 360, never 360 itself
    assert look(np.array([6_378_137.0, -1e-12, 1e7]), 0.0, 0.0, 0.0).azimuth_deg < 360.0
    assert np.eye(3)[[1, 2, 0]] == pytest.approx(east_north_up(0.0, 0.0))


def test_shapes_and_limits() -> None:
    satellites = np.full((3, 4, 3), 2e7)
    assert look(satellites, 50.0, 8.0, 0.0).azimuth_deg.shape == (3, 4)
    assert look(satellites, np.zeros((2, 5)), 8.0, 0.0).azimuth_deg.shape == (2, 5, 3, 4)
    gone = look(np.full((1, 1, 3), np.nan), 50.0, 8.0, 0.0)
    assert not above(gone, -90.0).any()
    for latitude, longitude in ((91.0, 0.0), (0.0, 400.0), (math.nan, 0.0)):
        with pytest.raises(RangeError, match="latitude_deg"):
            look(satellites, latitude, longitude, 0.0)


azimuth_lists = st.lists(st.integers(0, 3599), min_size=1, max_size=20, unique=True).map(
    lambda tenths: np.array(sorted(tenths)) / 10.0
)


@given(azimuth_lists, st.lists(st.floats(0.0, 360.0, exclude_max=True), min_size=1, max_size=20), st.data())
@settings(max_examples=100)
def test_horizon_between_azimuths_is_numpys(
    azimuths: np.ndarray, asked: list[float], data: st.DataObject
) -> None:
    size = azimuths.size
    values = np.array(data.draw(st.lists(st.floats(-5.0, 60.0), min_size=size, max_size=size)))
    theirs = np.interp(asked, azimuths, values, period=360.0)
    assert horizon_at(np.array(asked), azimuths, values) == pytest.approx(theirs, abs=1e-9)
    rows = horizon_at(np.tile(asked, (2, 1)), azimuths, np.stack((values, 2.0 * values)))
    assert rows == pytest.approx(np.stack((theirs, 2.0 * theirs)), abs=1e-9)


def test_horizon_by_hand() -> None:
    # 350 to 10 degrees through north: halfway between 4 and 8 is 6 at 0 degrees; 5 at 355
    azimuths, values = [10.0, 120.0, 350.0], [8.0, np.nan, 4.0]
    assert horizon_at(np.array([0.0, 355.0, 10.0, 350.0]), azimuths, values)[:2] == pytest.approx([6.0, 5.0])
    seen = Look(np.array([0.0, 0.0, 60.0, 0.0]), np.array([7.0, 6.0, 89.0, 12.0]), np.ones(4))
    horizon = horizon_at(seen.azimuth_deg, azimuths, values)
    # over it; level with it, which is hidden; beside an unknown one; over it too
    assert above(seen, 5.0, horizon).tolist() == [True, False, False, True]
    assert above(seen, 10.0, horizon).tolist() == [False, False, False, True]
    assert above(seen, 7.0).tolist() == [True, False, True, True]
    for wrong in ([10.0, 10.0], [20.0, 10.0], [0.0, 360.0], [5.0]):
        with pytest.raises(RangeError, match="azimuths_deg"):
            horizon_at(np.array([1.0]), wrong, [1.0, 2.0])


@pytest.mark.parametrize("latitude", [-72.0, 0.0, 48.0])
def test_an_area_is_its_points(latitude: float) -> None:
    chance = np.random.default_rng(5)
    found = satellite_positions(typical_orbits(1.2e9, "GRECJ"), 1.2e9 + np.arange(0.0, 86_400.0, 3600.0))
    # up to 100 km away and some hundred metres higher
    latitudes = latitude + chance.uniform(-0.4, 0.4, 12)
    longitudes = 8.0 + chance.uniform(-0.5, 0.5, 12)
    heights, azimuths = chance.uniform(0.0, 900.0, 12), np.arange(0.0, 360.0, 5.0)
    horizons = chance.uniform(-1.0, 30.0, (12, 72))
    horizons[3, 10:20] = np.nan
    area = visible_over_area(found.ecef_m, latitudes, longitudes, heights, 8.0, azimuths, horizons)
    bare = visible_over_area(found.ecef_m, latitudes, longitudes, heights, 8.0)
    for number in range(12):
        one = look(found.ecef_m, latitudes[number], longitudes[number], heights[number])
        assert np.array_equal(bare[number], above(one, 8.0))
        horizon = horizon_at(one.azimuth_deg, azimuths, horizons[number])
        assert np.array_equal(area[number], above(one, 8.0, horizon))
    assert 0.05 < area.mean() < bare.mean() < 0.6


def test_an_area_has_an_end() -> None:
    satellites = np.full((1, 1, 3), 2e7)
    with pytest.raises(RangeError, match="100 km"):
        visible_over_area(satellites, np.array([50.0, 51.0]), np.array([8.0, 8.0]), np.zeros(2), 10.0)
    with pytest.raises(RangeError, match="1 points, not 2"):
        visible_over_area(
            satellites,
            np.array([50.0, 50.1]),
            np.array([8.0, 8.0]),
            np.zeros(2),
            10.0,
            [0.0],
            np.zeros((1, 1)),
        )
