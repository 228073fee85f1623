"""Delta-Bullington against published examples and an independent library, and what must always hold."""

from __future__ import annotations

import json
import math
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.propagation.bullington import bullington, delta_bullington
from linkplan.propagation.knife_edge import knife_edge_loss_db
from linkplan.propagation.radio_climate import median_effective_earth_radius_km
from linkplan.propagation.spherical_earth import smallest_clearance

EXAMPLES = json.loads(
    (Path(__file__).parents[1] / "data" / "p526" / "delta_bullington.json").read_text("utf-8")
)
RADIUS_KM = 8500.0


@pytest.mark.parametrize(
    "case",
    EXAMPLES["cases"],
    ids=[f"path{case['path']}-{case['frequency_ghz']:g}GHz" for case in EXAMPLES["cases"]],
)
def test_published_example_with_its_intermediate_values(case: dict[str, Any]) -> None:
    """P.526 data, published tolerance 0.1 dB; ours 0.01 dB. 8500 km, c = 3e8 m/s, horizontal, land."""
    profile = EXAMPLES["profiles"][str(case["path"])]
    result = delta_bullington(
        profile["distance_km"],
        profile["height_m"],
        profile["height_m"],
        tx_height_m=case["tx_height_m"],
        rx_height_m=case["rx_height_m"],
        frequency_ghz=case["frequency_ghz"],
        effective_earth_radius_km=EXAMPLES["effective_earth_radius_km"],
        polarization=EXAMPLES["polarization"],
        sea_fraction=EXAMPLES["sea_fraction"],
        wavelength_constant_m_ghz=EXAMPLES["speed_of_light_m_s"] / 1e9,
    )
    assert len(case["expected"]) == 6
    for name, value in case["expected"].items():
        assert getattr(result, name) == pytest.approx(value, abs=0.01, rel=0), name


def test_all_published_examples_are_there() -> None:
    assert len(EXAMPLES["cases"]) == 20


def random_path(seed: int, n: int, length_km: float, roughness_m: float) -> tuple[np.ndarray, np.ndarray]:
    """A random walk of heights at evenly spaced distances."""
    rng = np.random.default_rng(seed)
    return np.linspace(0.0, length_km, n), 300.0 + np.cumsum(rng.normal(0.0, roughness_m, n))


def test_against_pycraf_on_random_terrain() -> None:
    """pycraf 2.1, P.452-16: the same delta-Bullington, over land only (it weighs the sea wrongly)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its imports use deprecated parts of astropy
        from astropy import units as u
        from pycraf import conversions as cnv
        from pycraf import pathprof

        dimensionless_per_km = cnv.dimless / u.km
        rng = np.random.default_rng(7)
        for seed in range(60):
            d, h = random_path(
                seed, int(rng.integers(6, 300)), rng.uniform(0.3, 60.0), rng.choice([0.5, 3, 20])
            )
            frequency, turn = rng.choice([0.15, 0.45, 0.9, 3.0]), int(rng.integers(0, 2))
            tx, rx = rng.uniform(1.5, 30.0, 2)
            path = pathprof.PathProp(
                frequency * u.GHz, 293 * u.K, 1013 * u.hPa, 0 * u.deg, 50 * u.deg, 1 * u.deg, 50 * u.deg,
                tx * u.m, rx * u.m, 50 * u.m, 50 * u.percent, polarization=turn, version=16,
                delta_N=45 * dimensionless_per_km, N0=325 * cnv.dimless, hprof_dists=d * u.km,
                hprof_heights=h * u.m, hprof_bearing=0 * u.deg, hprof_backbearing=180 * u.deg,
            )  # fmt: skip
            theirs = pathprof.loss_diffraction(path)[0].value
            ours = delta_bullington(
                d,
                h,
                h,
                tx_height_m=tx,
                rx_height_m=rx,
                frequency_ghz=frequency,
                effective_earth_radius_km=median_effective_earth_radius_km(45.0),
                polarization=("horizontal", "vertical")[turn],
                wavelength_constant_m_ghz=0.299792458,
            )
            assert ours.diffraction_db == pytest.approx(theirs, abs=1e-9)


PATHS = st.tuples(
    st.integers(0, 100_000),
    st.integers(3, 80),
    st.floats(0.05, 60.0),
    st.sampled_from([0.0, 0.3, 3.0, 25.0]),
)


def loss(d: np.ndarray, surface: np.ndarray, terrain: np.ndarray, **changes: Any) -> Any:
    settings_of_job: dict[str, Any] = {
        "tx_height_m": 5.0,
        "rx_height_m": 2.0,
        "frequency_ghz": 0.45,
        "effective_earth_radius_km": RADIUS_KM,
    }
    return delta_bullington(d, surface, terrain, **{**settings_of_job, **changes})


@settings(max_examples=80, deadline=None)
@given(PATHS, st.floats(1.0, 50.0), st.floats(1.0, 50.0), st.sampled_from(["horizontal", "vertical"]))
def test_both_directions_lose_the_same(
    path: tuple[int, int, float, float], tx: float, rx: float, polarization: str
) -> None:
    d, h = random_path(*path)
    there = loss(d, h, h, tx_height_m=tx, rx_height_m=rx, polarization=polarization)
    back = loss(d[-1] - d[::-1], h[::-1], h[::-1], tx_height_m=rx, rx_height_m=tx, polarization=polarization)
    assert there.diffraction_db == pytest.approx(back.diffraction_db, abs=1e-6)
    assert there.spherical_earth_db == pytest.approx(back.spherical_earth_db, abs=1e-6)
    assert there.nu == pytest.approx(back.nu, abs=1e-6)


@settings(max_examples=80, deadline=None)
@given(PATHS, st.floats(0.0, 1.0), st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_a_higher_spike_never_loses_less(
    path: tuple[int, int, float, float], where: float, low: float, more: float
) -> None:
    d, h = random_path(*path)
    at = 1 + min(int(where * (d.size - 2)), d.size - 3)
    surface, higher = h.copy(), h.copy()
    surface[at] += low
    higher[at] += low + more
    assert loss(d, higher, h).diffraction_db >= loss(d, surface, h).diffraction_db - 1e-9


@settings(max_examples=80, deadline=None)
@given(PATHS, st.floats(-200.0, 3000.0))
def test_only_heights_relative_to_each_other_count(path: tuple[int, int, float, float], up: float) -> None:
    d, h = random_path(*path)
    assert loss(d, h + up, h + up).diffraction_db == pytest.approx(loss(d, h, h).diffraction_db, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(PATHS)
def test_line_of_sight_is_as_the_eye_sees_it(path: tuple[int, int, float, float]) -> None:
    """A plain look along the curved ray: every interior point with its bulge below the straight line."""
    d, h = random_path(*path)
    result = loss(d, h, h)
    bulge = d * (d[-1] - d) / (2.0 * RADIUS_KM) * 1e3
    ray = np.linspace(h[0] + 5.0, h[-1] + 2.0, d.size)
    clearance = (ray - h - bulge)[1:-1]
    if abs(clearance.min()) > 1e-6:
        assert result.line_of_sight == bool((clearance > 0.0).all())
        assert (result.nu < 0.0) == result.line_of_sight
        assert (result.fresnel_clearance > 0.0) == result.line_of_sight


def test_one_obstacle_is_one_knife_edge() -> None:
    """One interior point: its own nu is the equivalent edge's, in sight and out of it alike.

    By hand: line at 10 m, point at h, 4 km and 6 km away, bulge 24/17 m, wavelength 0.3 m, so
    nu = (h + 1.411765 - 10) x 0.0527046.
    """
    for height in (0.0, 8.0, 8.5882, 8.5883, 9.0, 40.0):
        result = bullington(
            np.array([0.0, 4.0, 10.0]),
            np.array([0.0, height, 0.0]),
            tx_antenna_m=10.0,
            rx_antenna_m=10.0,
            effective_earth_radius_km=RADIUS_KM,
            wavelength_m=0.3,
        )
        nu = (height + 1.4117647 - 10.0) * 0.05270463
        assert result.nu == pytest.approx(nu, abs=1e-6)
        edge = float(knife_edge_loss_db(nu))
        # P.1812-8, section 4.3.1: L = J + (1 - exp(-J/6)) (10 + 0.02 d), here d = 10.
        assert result.loss_db == pytest.approx(edge + (1 - math.exp(-edge / 6.0)) * 10.2, abs=1e-5)
        assert result.line_of_sight == (nu < 0.0)


def test_two_obstacles_meet_in_bullingtons_point() -> None:
    """By hand, flat earth: edges of 30 m at 2 km and 8 km of 10 km, antennas at 0: the two rays rise by
    15 m a km and meet at 5 km, 75 m up; nu = 75 sqrt(2/0.3 (1/5000 + 1/5000)) = 75 x 0.0516398."""
    result = bullington(
        np.array([0.0, 2.0, 8.0, 10.0]),
        np.array([0.0, 30.0, 30.0, 0.0]),
        tx_antenna_m=0.0,
        rx_antenna_m=0.0,
        effective_earth_radius_km=1e15,
        wavelength_m=0.3,
    )
    assert result.nu == pytest.approx(3.872983, abs=1e-6)
    assert not result.line_of_sight


def test_exact_grazing_has_an_answer() -> None:
    """Ground that just touches the ray all along: nu = 0, J = 6.03 dB, no division of nothing by nothing."""
    result = bullington(
        np.linspace(0.0, 4.0, 5),
        np.full(5, 10.0),
        tx_antenna_m=10.0,
        rx_antenna_m=10.0,
        effective_earth_radius_km=math.inf,
        wavelength_m=0.3,
    )
    assert result.nu == 0.0
    assert not result.line_of_sight  # P.1812-8, section 4.3.1: in sight only if Stim < Str
    assert result.loss_db == pytest.approx(6.0329 + (1 - math.exp(-6.0329 / 6)) * 10.08, abs=1e-3)


def closed_smooth_bullington_db(d: float, tx: float, rx: float, radius: float, wavelength: float) -> float:
    """Bullington loss over smooth ground in closed form. [P.1812-8, Attachment 4]"""
    if d < math.sqrt(2e-3 * radius) * (math.sqrt(tx) + math.sqrt(rx)):
        clearance, d1 = smallest_clearance(d, tx, rx, effective_earth_radius_km=radius)
        nu = -clearance * math.sqrt(0.002 * d / (wavelength * d1 * (d - d1)))
    else:
        slope_t = 500.0 * d / radius - 2.0 * math.sqrt(500.0 * tx / radius)
        slope_r = 500.0 * d / radius - 2.0 * math.sqrt(500.0 * rx / radius)
        point = (rx - tx + slope_r * d) / (slope_t + slope_r)
        rise = tx + slope_t * point - (tx * (d - point) + rx * point) / d
        nu = rise * math.sqrt(0.002 * d / (wavelength * point * (d - point)))
    edge = float(knife_edge_loss_db(nu))
    return edge + (1.0 - math.exp(-edge / 6.0)) * (10.0 + 0.02 * d)


@pytest.mark.parametrize("length_km", [1.0, 5.0, 12.0, 16.0, 20.0, 40.0, 120.0])
@pytest.mark.parametrize("heights", [(5.0, 2.0), (12.0, 1.5), (2.0, 30.0)])
def test_smooth_bullington_against_the_closed_form(length_km: float, heights: tuple[float, float]) -> None:
    d = np.linspace(0.0, length_km, 4001)
    flat = np.zeros_like(d)
    result = loss(d, flat, flat, tx_height_m=heights[0], rx_height_m=heights[1])
    closed = closed_smooth_bullington_db(length_km, *heights, RADIUS_KM, 0.2998 / 0.45)
    assert result.bullington_smooth_db == pytest.approx(closed, abs=0.02)
    assert result.tx_height_above_smooth_surface_m == pytest.approx(heights[0], abs=1e-9)


def test_over_smooth_ground_the_whole_loss_is_the_spherical_earths() -> None:
    """P.526-16, section 4.5.2: on a profile that is itself smooth the correction restores section 3."""
    d = np.linspace(0.0, 15.0, 301)
    result = loss(d, np.zeros(301), np.zeros(301))
    assert result.spherical_earth_db > result.bullington_smooth_db > 0.0
    assert result.diffraction_db == pytest.approx(result.spherical_earth_db, abs=1e-9)


def test_no_interior_point_no_diffraction() -> None:
    result = loss(np.array([0.0, 0.01]), np.array([5.0, 9.0]), np.array([5.0, 9.0]))
    parts = (result.bullington_actual_db, result.bullington_smooth_db, result.spherical_earth_db)
    assert (result.diffraction_db, *parts) == (0.0, 0.0, 0.0, 0.0)
    edge = bullington(
        np.array([0.0, 0.01]),
        np.array([5.0, 9.0]),
        tx_antenna_m=10.0,
        rx_antenna_m=11.0,
        effective_earth_radius_km=RADIUS_KM,
        wavelength_m=0.3,
    )
    assert (edge.loss_db, edge.nu, edge.line_of_sight) == (0.0, -math.inf, True)
    assert result.line_of_sight
    assert result.nu == -math.inf
    assert result.fresnel_clearance == math.inf
    as_json = json.loads(json.dumps(result.to_dict(), allow_nan=False))
    assert as_json["nu"] is None
    assert as_json["tx_height_above_smooth_surface_m"] == 5.0
    assert as_json["rx_height_above_smooth_surface_m"] == 2.0


def test_surface_at_the_ends_is_not_used() -> None:
    d, h = random_path(3, 30, 4.0, 3.0)
    surface = h.copy()
    surface[[0, -1]] += 25.0
    assert loss(d, surface, h) == loss(d, h, h)
    assert surface[0] == h[0] + 25.0


def test_clutter_hides_but_does_not_move_the_smooth_surface() -> None:
    d, h = random_path(5, 40, 6.0, 0.5)
    bare, grown = loss(d, h, h), loss(d, h + 15.0, h)
    assert grown.diffraction_db > bare.diffraction_db + 5.0
    assert grown.spherical_earth_db == bare.spherical_earth_db
    assert grown.bullington_smooth_db == bare.bullington_smooth_db


def test_sea_share_mixes_the_two_grounds() -> None:
    """Vertical waves of 30 MHz run far better over the sea than over land."""
    d, flat = np.linspace(0.0, 40.0, 401), np.zeros(401)
    land, half, sea = (
        loss(d, flat, flat, sea_fraction=share, frequency_ghz=0.03).spherical_earth_db
        for share in (0.0, 0.5, 1.0)
    )
    assert half == pytest.approx(0.5 * (land + sea), abs=1e-9)
    assert sea < land - 5.0


def test_result_becomes_json_with_its_clearance() -> None:
    d, h = random_path(5, 40, 6.0, 0.5)
    result = loss(d, h, h)
    as_json = json.loads(json.dumps(result.to_dict(), allow_nan=False))
    assert as_json["fresnel_clearance"] == pytest.approx(-result.nu / math.sqrt(2.0))
    assert as_json["diffraction_db"] == result.diffraction_db
    assert replace(result, nu=0.0).fresnel_clearance == 0.0


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"frequency_ghz": 7.0}, r"frequency_ghz = 7 GHz is outside 0\.03 to 6 GHz"),
        ({"tx_height_m": 0.0}, r"tx_height_m = 0 m is outside above 0 to 3000 m"),
        (
            {"effective_earth_radius_km": 999.0},
            r"effective_earth_radius_km = 999 km is outside 1000 to 1e\+09",
        ),
        ({"effective_earth_radius_km": math.inf}, r"effective_earth_radius_km = inf km"),
        ({"sea_fraction": 1.001}, r"sea_fraction = 1\.001 is outside 0 to 1"),
        ({"wavelength_constant_m_ghz": 3e8}, r"wavelength_constant_m_ghz = 3e\+08 m GHz"),
        ({"polarization": "both"}, r"polarization = 'both'"),
    ],
)
def test_bad_numbers_are_named(changes: dict[str, Any], message: str) -> None:
    d, h = random_path(5, 40, 6.0, 0.5)
    with pytest.raises(RangeError, match=message):
        loss(d, h, h, **changes)


def test_numbers_of_any_width_are_computed_in_double() -> None:
    d, h = random_path(5, 40, 6.0, 0.5)
    wide = {"frequency_ghz": 0.5, "tx_height_m": 6.0, "rx_height_m": 2.5, "effective_earth_radius_km": 8192.0}
    narrow = {name: np.float32(value) for name, value in wide.items()}
    assert loss(d, h, h, **narrow) == loss(d, h, h, **wide)
    ends = loss(d[[0, -1]], h[[0, -1]], h[[0, -1]], **narrow)
    assert json.loads(json.dumps(ends.to_dict()))["tx_height_above_smooth_surface_m"] == 6.0


def test_missing_heights_are_refused() -> None:
    d, h = random_path(5, 40, 6.0, 0.5)
    holed = h.copy()
    holed[7] = np.nan
    with pytest.raises(RangeError, match=r"surface_height_m has 1 missing or infinite .* at index 7"):
        loss(d, holed, h)
    with pytest.raises(RangeError, match=r"terrain_height_m has 1 missing or infinite .* at index 7"):
        loss(d, h, holed)
    with pytest.raises(RangeError, match="distance_km has 1 points; at least 2 are needed"):
        loss(d[:1], h[:1], h[:1])
