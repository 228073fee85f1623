"""The local plane against the geodesic of PROJ (pyproj.Geod, Karney's method)."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Geod, Transformer

from linkplan.errors import PlaceError
from linkplan.terrain.geodesy import LocalFrame

PLACES = [
    pytest.param("EPSG:32611", 292_062.0, 4_145_507.0, id="UTM, metres"),
    pytest.param("EPSG:2229", 6_400_000.0, 1_800_000.0, id="state plane, US survey feet"),
    pytest.param("EPSG:2229+6360", 6_400_000.0, 1_800_000.0, id="compound with heights"),
    pytest.param("EPSG:4326", -118.0, 67.0, id="degrees"),
    pytest.param("EPSG:4979", 151.0, -33.0, id="degrees with ellipsoidal height"),
    pytest.param("EPSG:31467", 3_500_000.0, 5_500_000.0, id="Bessel ellipsoid"),
    pytest.param("EPSG:27572", 600_000.0, 2_200_000.0, id="Paris meridian, grads below"),
    pytest.param("EPSG:3857", 1_000_000.0, 6_000_000.0, id="web Mercator"),
]


def geodetic(frame: LocalFrame, x_m: np.ndarray, y_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Degrees on the frame's own ellipsoid."""
    crs = frame.local_crs.geodetic_crs
    assert crs is not None
    moved = Transformer.from_crs(frame.local_crs, crs, always_xy=True).transform(x_m, y_m)
    degrees = math.degrees(crs.axis_info[0].unit_conversion_factor)
    return moved[0] * degrees, moved[1] * degrees


@pytest.mark.parametrize(("code", "easting", "northing"), PLACES)
def test_distances_within_20_km_agree_with_the_geodesic(code: str, easting: float, northing: float) -> None:
    """Wanted: 0.05 %. Measured: at most 0.00016 % between any two points, exact from the base."""
    frame = LocalFrame.around(CRS.from_user_input(code), easting, northing)
    rng = np.random.default_rng(7)
    radius, angle = 20_000.0 * np.sqrt(rng.random(4000)), 2 * np.pi * rng.random(4000)
    x_m, y_m = radius * np.cos(angle), radius * np.sin(angle)
    longitude, latitude = geodetic(frame, x_m, y_m)
    geod = frame.local_crs.get_geod()
    assert geod is not None
    half = 2000
    _, _, between = geod.inv(longitude[:half], latitude[:half], longitude[half:], latitude[half:])
    plane = np.hypot(x_m[:half] - x_m[half:], y_m[:half] - y_m[half:])
    assert np.abs(plane / between - 1.0).max() < 3e-6
    base_longitude, base_latitude = geodetic(frame, np.zeros(1), np.zeros(1))
    azimuth, _, from_base = geod.inv(
        np.full(4000, base_longitude[0]), np.full(4000, base_latitude[0]), longitude, latitude
    )
    assert from_base == pytest.approx(radius, abs=1e-3)
    plane_azimuth = np.degrees(np.arctan2(x_m, y_m))
    assert np.abs((azimuth - plane_azimuth + 180.0) % 360.0 - 180.0)[radius > 100.0].max() < 1e-5


@pytest.mark.parametrize(("code", "easting", "northing"), PLACES)
def test_the_base_is_the_origin_and_the_way_back_is_exact(code: str, easting: float, northing: float) -> None:
    frame = LocalFrame.around(CRS.from_user_input(code), easting, northing)
    assert frame.to_local(easting, northing) == pytest.approx((0.0, 0.0), abs=1e-4)
    x_m, y_m = np.array([15_000.0, -200.0, 3.0]), np.array([-9_000.0, 12_000.0, 0.5])
    back_x, back_y = frame.to_local(*frame.to_job(x_m, y_m))
    assert back_x == pytest.approx(x_m, abs=1e-4)
    assert back_y == pytest.approx(y_m, abs=1e-4)


def test_degrees_of_the_base_match_the_published_transformation() -> None:
    """UTM 11 N, easting 500 000 m lies on the central meridian 117 W by definition of the zone."""
    frame = LocalFrame.around(CRS.from_epsg(32611), 500_000.0, 4_000_000.0)
    longitude, latitude = frame.to_geographic(0.0, 0.0)
    assert longitude == pytest.approx(-117.0, abs=1e-9)
    expected = Transformer.from_crs(32611, 4326, always_xy=True).transform(500_000.0, 4_000_000.0)
    assert latitude == pytest.approx(expected[1], abs=1e-9)


def test_local_metres_of_a_job_in_survey_feet_are_metres() -> None:
    """1000 US survey feet east on the grid are 304.8006 m of projection, here 0.1 % of scale at most."""
    frame = LocalFrame.around(CRS.from_epsg(2229), 6_400_000.0, 1_800_000.0)
    x_m, y_m = frame.to_local(6_401_000.0, 1_800_000.0)
    assert math.hypot(x_m, y_m) == pytest.approx(304.8006, rel=1e-3)


@settings(max_examples=25, deadline=None)
@given(
    longitude=st.floats(-179.0, 179.0),
    latitude=st.floats(-80.0, 80.0),
    azimuth=st.floats(0.0, 360.0),
    distance_m=st.floats(1.0, 20_000.0),
)
def test_any_place_on_earth(longitude: float, latitude: float, azimuth: float, distance_m: float) -> None:
    frame = LocalFrame.around(CRS.from_epsg(4326), longitude, latitude)
    far_longitude, far_latitude, _ = Geod(ellps="WGS84").fwd(longitude, latitude, azimuth, distance_m)
    x_m, y_m = frame.to_local(far_longitude, far_latitude)
    assert math.hypot(x_m, y_m) == pytest.approx(distance_m, abs=1e-3)
    assert x_m == pytest.approx(distance_m * math.sin(math.radians(azimuth)), abs=1e-2)
    assert y_m == pytest.approx(distance_m * math.cos(math.radians(azimuth)), abs=1e-2)


def test_geometries_go_there_and_back(utm_frame: LocalFrame) -> None:
    shape = shapely.Polygon(
        [(399_000, 5_299_000), (402_000, 5_299_500), (401_000, 5_303_000)],
        [[(400_000, 5_300_000), (400_500, 5_300_000), (400_200, 5_300_400)]],
    )
    local = utm_frame.geometry_to_local(shape)
    assert local.exterior.coords[0] == pytest.approx(utm_frame.to_local(399_000.0, 5_299_000.0))
    back = utm_frame.geometry_to_job(local)
    assert shapely.equals_exact(back, shape, tolerance=1e-3)
    degrees = utm_frame.geometry_to_geographic(local)
    assert degrees.exterior.coords[1] == pytest.approx(
        Transformer.from_crs(32633, 4326, always_xy=True).transform(402_000, 5_299_500), abs=1e-9
    )


def test_equal_frames_are_equal_and_say_what_they_are(utm_frame: LocalFrame) -> None:
    again = LocalFrame.around(CRS.from_epsg(32633), 400_000.0, 5_300_000.0)
    again.to_local(1.0, 2.0)
    assert again == utm_frame
    assert hash(again) == hash(utm_frame)
    assert again != LocalFrame.around(CRS.from_epsg(32633), 400_001.0, 5_300_000.0)
    assert "azimuthal equidistant around the base at 47.8" in again.description
    assert "WGS 84" in again.description


@pytest.mark.parametrize(
    ("code", "easting", "northing", "part"),
    [
        ("EPSG:4978", 1.0, 2.0, "neither projected nor geographic"),
        ("EPSG:32633", 1e12, 5e6, "cannot|can describe"),
        ("EPSG:32633", math.nan, 5e6, "can describe"),
        ("EPSG:4326", 10.0, 95.0, "can describe"),
    ],
)
def test_a_base_that_is_nowhere(code: str, easting: float, northing: float, part: str) -> None:
    with pytest.raises(PlaceError, match=part) as caught:
        LocalFrame.around(CRS.from_user_input(code), easting, northing)
    assert "\n" not in str(caught.value)
