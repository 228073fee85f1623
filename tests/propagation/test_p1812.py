"""The whole of P.1812-8 against its validation data, and what must hold for any path."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import FrozenInstanceError, fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.propagation.bullington import delta_bullington
from linkplan.propagation.free_space import slant_free_space_loss_db
from linkplan.propagation.p1812 import P1812Result, basic_transmission_loss
from linkplan.propagation.radio_climate import median_effective_earth_radius_km

DATA = Path(__file__).parents[1] / "data" / "p1812"


def load_cases() -> list[tuple[str, dict[str, Any], dict[str, float]]]:
    """Name, arguments and expected values of every validation case."""
    found = []
    for file in sorted(DATA.glob("*.json")):
        profile = json.loads(file.read_text("utf-8"))
        name = profile.pop("profile")
        for case in profile.pop("cases"):
            expected = case.pop("expected")
            label = f"{name}-{case['frequency_ghz']:g}GHz-{case['time_percent']:g}%"
            found.append((label, {**profile, **case}, expected))
    return found


CASES = load_cases()


def arguments_of(prefix: str) -> dict[str, Any]:
    """Arguments of the first case whose name begins so."""
    return dict(next(arguments for label, arguments, _ in CASES if label.startswith(prefix)))


def short_path(n: int = 60, length_km: float = 6.0, seed: int = 4, **changes: Any) -> dict[str, Any]:
    """A base and a rover over invented rolling ground with some clutter."""
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, length_km, n)
    terrain = 300.0 + 15.0 * np.sin(1.7 * x) + np.cumsum(rng.normal(0.0, 1.0, n))
    return {
        "distance_km": x,
        "terrain_height_m": terrain,
        "clutter_height_m": rng.choice([0.0, 0.0, 8.0], n),
        "radio_climatic_zone": 4,
        "frequency_ghz": 0.45,
        "time_percent": 50.0,
        "location_percent": 50.0,
        "tx_height_m": 5.0,
        "rx_height_m": 2.0,
        "polarization": "vertical",
        "tx_latitude_deg": 45.0,
        "tx_longitude_deg": 8.0,
        "rx_latitude_deg": 45.0,
        "rx_longitude_deg": 8.0 + length_km / 78.6,
        "refractivity_gradient_n_units_per_km": 45.0,
        "sea_level_refractivity_n_units": 325.0,
        "tx_to_coast_km": 500.0,
        "rx_to_coast_km": 500.0,
        **changes,
    }


@pytest.mark.parametrize(("arguments", "expected"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_validation_case_with_all_intermediate_values(
    arguments: dict[str, Any], expected: dict[str, float]
) -> None:
    """P.1812-8 data: every value has 9 or 10 significant digits, so 1e-6 is about their last."""
    result = basic_transmission_loss(**arguments)
    assert len(expected) == 19
    differing = {
        name: (getattr(result, name), value)
        for name, value in expected.items()
        if abs(getattr(result, name) - value) > 1e-6
    }
    assert differing == {}


def test_all_validation_cases_are_there() -> None:
    assert len(CASES) == 42
    assert {case["polarization"] for _, case, _ in CASES} == {"horizontal", "vertical"}


def test_map_and_path_tell_the_same_number_at_the_median() -> None:
    """Over land within 15 km, half of the time: free space and delta-Bullington are all there is."""
    radius = median_effective_earth_radius_km(45.0)
    for seed, length_km in enumerate((0.5, 2.0, 6.0, 15.0)):
        link = short_path(length_km=length_km, seed=seed)
        result = basic_transmission_loss(**link)
        terrain = link["terrain_height_m"]
        simple = delta_bullington(
            link["distance_km"],
            terrain + link["clutter_height_m"],
            terrain,
            tx_height_m=5.0,
            rx_height_m=2.0,
            frequency_ghz=0.45,
            effective_earth_radius_km=radius,
        ).diffraction_db + slant_free_space_loss_db(length_km, terrain[0] + 5.0, terrain[-1] + 2.0, 0.45)
        assert result.basic_transmission_loss_db == pytest.approx(simple, abs=0.01)


def test_lists_of_whole_numbers_and_arrays_give_the_same() -> None:
    link = short_path(n=7, length_km=6.0)
    as_lists = {
        "distance_km": [0, 1, 2, 3, 4, 5, 6],
        "terrain_height_m": [10, 12, 30, 8, 9, 20, 11],
        "clutter_height_m": [0, 5, 0, 0, 10, 0, 7],
    }
    from_lists = basic_transmission_loss(**{**link, **as_lists, "radio_climatic_zone": [4, 4, 4, 3, 3, 3, 4]})
    as_arrays = {name: np.array(values, dtype=np.float32) for name, values in as_lists.items()}
    zone = np.array([4, 4, 4, 3, 3, 3, 4], dtype=np.uint8)
    from_arrays = basic_transmission_loss(**{**link, **as_arrays, "radio_climatic_zone": zone})
    assert from_lists == from_arrays


def test_numbers_of_any_width_are_computed_in_double() -> None:
    """A raster's 32-bit number as an argument must not make the whole computation 32-bit."""
    changes = {"frequency_ghz": 0.5, "tx_height_m": 6.0, "rx_height_m": 2.5, "tx_to_coast_km": 3.0}
    narrow = {name: np.float32(value) for name, value in changes.items()}
    result = basic_transmission_loss(**short_path(**narrow, location_percent=np.int64(50)))
    assert result == basic_transmission_loss(**short_path(**changes))
    assert json.loads(json.dumps(result.to_dict()))["frequency_ghz"] == 0.5


@pytest.mark.parametrize("zone", [1, 3, 4])
def test_one_zone_may_stand_for_all(zone: int) -> None:
    link = short_path()
    everywhere = np.full(60, zone)
    assert basic_transmission_loss(**{**link, "radio_climatic_zone": zone}) == basic_transmission_loss(
        **{**link, "radio_climatic_zone": everywhere}
    )


def test_inputs_are_left_as_they_were() -> None:
    link = short_path()
    before = {name: np.array(link[name]) for name in ("distance_km", "terrain_height_m", "clutter_height_m")}
    basic_transmission_loss(**link)
    for name, values in before.items():
        np.testing.assert_array_equal(link[name], values)


def test_clutter_at_the_two_ends_does_not_count() -> None:
    link = short_path()
    clutter = np.array(link["clutter_height_m"])
    clutter[[0, -1]] = 40.0
    assert basic_transmission_loss(**{**link, "clutter_height_m": clutter}) == basic_transmission_loss(**link)


def swapped(link: dict[str, Any]) -> dict[str, Any]:
    """The same path from the other end."""
    x = np.asarray(link["distance_km"], dtype=float)
    turned = {
        "distance_km": x[-1] - x[::-1],
        **{name: np.asarray(link[name])[::-1] for name in ("terrain_height_m", "clutter_height_m")},
    }
    for key in ("height_m", "latitude_deg", "longitude_deg", "to_coast_km"):
        turned[f"tx_{key}"], turned[f"rx_{key}"] = link[f"rx_{key}"], link[f"tx_{key}"]
    return {**link, **turned}


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    length_km=st.floats(0.3, 150.0),
    time_percent=st.floats(1.0, 50.0),
    zone=st.sampled_from([1, 3, 4]),
    polarization=st.sampled_from(["horizontal", "vertical"]),
)
def test_both_directions_lose_the_same(
    seed: int, length_km: float, time_percent: float, zone: int, polarization: str
) -> None:
    """Reciprocity; both ends at one latitude, so that the middle of the path is the same point."""
    link = short_path(length_km=length_km, seed=seed, time_percent=time_percent)
    link |= {"radio_climatic_zone": zone, "polarization": polarization, "tx_to_coast_km": 1.0}
    there, back = basic_transmission_loss(**link), basic_transmission_loss(**swapped(link))
    assert there.basic_transmission_loss_db == pytest.approx(back.basic_transmission_loss_db, abs=1e-6)
    assert there.anomalous_db == pytest.approx(back.anomalous_db, abs=1e-6)
    assert there.tx_horizon_distance_km == pytest.approx(back.rx_horizon_distance_km, abs=1e-9)


@pytest.mark.parametrize(
    "prefix", ["b2iseac-", "b2iseac_eqdist_vertical", "rburg_rural_noclutter_los", "rburg-"]
)
def test_loss_not_exceeded_grows_with_the_share_of_time(prefix: str) -> None:
    link = arguments_of(prefix)
    losses = [
        basic_transmission_loss(**{**link, "time_percent": p}).basic_transmission_loss_db
        for p in (1, 2, 3, 5, 8, 13, 20, 30, 40, 49.9, 50)
    ]
    assert losses == sorted(losses)
    assert losses[0] < losses[-1] - 4.0


def test_time_joins_at_its_borders() -> None:
    """At beta0 and at 50 % one rule takes over from another: no step there."""
    link = arguments_of("b2iseac-")
    beta0 = basic_transmission_loss(**link).beta0_percent
    for border in (beta0, 50.0):
        below = basic_transmission_loss(**{**link, "time_percent": border * (1.0 - 1e-9)})
        at = basic_transmission_loss(**{**link, "time_percent": border})
        # The inverse normal at 50 % is 1e-9, not 0, and troposcatter has a steep foot there.
        assert below.diffraction_time_p_db == pytest.approx(at.diffraction_time_p_db, abs=1e-5)
        assert below.notional_minimum_los_db == pytest.approx(at.notional_minimum_los_db, abs=1e-5)


@pytest.mark.parametrize(
    ("location_percent", "z"),
    # Standard normal quantiles.
    [(50.0, 0.0), (90.0, 1.28155), (99.0, 2.32635), (10.0, -1.28155)],
)
def test_location_variability_moves_the_loss(location_percent: float, z: float) -> None:
    link = short_path(location_sigma_db=4.0)
    middle = basic_transmission_loss(**link).combined_db
    result = basic_transmission_loss(**{**link, "location_percent": location_percent})
    assert result.location_loss_db == pytest.approx(4.0 * z, abs=2e-3)
    assert result.basic_transmission_loss_db == pytest.approx(middle + 4.0 * z, abs=2e-3)


def test_location_variability_never_lifts_the_field_over_free_space() -> None:
    """P.1812-8, section 4.8: Lb = max(Lb0p, Lbc + Lloc)."""
    link = short_path(location_percent=1.0, location_sigma_db=40.0)
    result = basic_transmission_loss(**link)
    assert result.combined_db + result.location_loss_db < result.los_time_p_db
    assert result.basic_transmission_loss_db == result.los_time_p_db


def test_no_location_variability_at_sea() -> None:
    zone = np.full(60, 4)
    zone[-1] = 1
    link = short_path(location_percent=95.0, location_sigma_db=4.0)
    assert basic_transmission_loss(**link).location_loss_db > 6.5
    assert basic_transmission_loss(**{**link, "radio_climatic_zone": zone}).location_loss_db == 0.0


def test_field_strength_belongs_to_the_loss() -> None:
    """Common conversion: E in dB(uV/m) = level at an isotropic antenna in dBm + 77.21 + 20 log f(MHz);
    1 kW e.r.p. radiates 60 + 2.15 dBm from an isotropic antenna."""
    result = basic_transmission_loss(**short_path())
    field = 60.0 + 2.15 - result.basic_transmission_loss_db + 77.21 + 20.0 * np.log10(450.0)
    assert result.field_strength_1kw_dbuv_m == pytest.approx(field, abs=0.02)


def test_result_is_frozen_and_becomes_json_whole() -> None:
    result = basic_transmission_loss(**short_path())
    with pytest.raises(FrozenInstanceError):
        result.free_space_db = 0.0  # type: ignore[misc]
    read_back = json.loads(json.dumps(result.to_dict(), allow_nan=False))
    assert set(read_back) == {field.name for field in fields(P1812Result)}
    assert read_back["basic_transmission_loss_db"] == result.basic_transmission_loss_db
    assert read_back["line_of_sight"] is result.line_of_sight


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"frequency_ghz": 0.0299}, r"frequency_ghz = 0\.0299 GHz is outside 0\.03 to 6 GHz \(P\.1812-8\)"),
        ({"frequency_ghz": 6.01}, r"frequency_ghz = 6\.01 GHz is outside"),
        ({"frequency_ghz": float("nan")}, r"frequency_ghz = nan GHz is outside"),
        ({"time_percent": 0.99}, r"time_percent = 0\.99 % is outside 1 to 50 % \(P\.1812-8\)"),
        ({"time_percent": 50.1}, r"time_percent = 50\.1 % is outside"),
        ({"location_percent": 0.9}, r"location_percent = 0\.9 % is outside 1 to 99 % \(P\.1812-8\)"),
        ({"location_percent": 99.1}, r"location_percent = 99\.1 % is outside"),
        ({"tx_height_m": 0}, r"tx_height_m = 0 m is outside above 0 to 3000 m \(P\.1812-8\)"),
        ({"rx_height_m": 0.0}, r"rx_height_m = 0 m is outside above 0"),
        ({"tx_height_m": -1.0}, r"tx_height_m = -1 m is outside"),
        ({"rx_height_m": 3001.0}, r"rx_height_m = 3001 m is outside 0 to 3000 m \(P\.1812-8\)"),
        ({"polarization": "circular"}, r"polarization = 'circular' is not 'horizontal' or 'vertical'"),
        ({"tx_latitude_deg": 91.0}, r"tx_latitude_deg = 91 degrees is outside -90 to 90 degrees"),
        ({"rx_latitude_deg": -91.0}, r"rx_latitude_deg = -91 degrees"),
        ({"tx_longitude_deg": 361.0}, r"tx_longitude_deg = 361 degrees"),
        ({"rx_longitude_deg": -181.0}, r"rx_longitude_deg = -181 degrees"),
        (
            {"refractivity_gradient_n_units_per_km": 157.0},
            r"refractivity_gradient_n_units_per_km = 157 N-units",
        ),
        (
            {"refractivity_gradient_n_units_per_km": -1.0},
            r"refractivity_gradient_n_units_per_km = -1 N-units",
        ),
        ({"sea_level_refractivity_n_units": 0.0}, r"sea_level_refractivity_n_units = 0 N-units"),
        ({"tx_to_coast_km": -1.0}, r"tx_to_coast_km = -1 km"),
        ({"rx_to_coast_km": -1.0}, r"rx_to_coast_km = -1 km"),
        ({"location_sigma_db": -1.0}, r"location_sigma_db = -1 dB"),
        ({"radio_climatic_zone": 2}, r"radio_climatic_zone: value 0 is 2; it must be 1 \(sea\), 3"),
        ({"radio_climatic_zone": [4, 4]}, r"radio_climatic_zone has 2 values but distance_km has 60"),
        (
            {"distance_km": np.linspace(0, 0.2499, 60)},
            r"distance_km\[-1\], the length of the path, = 0\.2499 km is outside 0\.25 to 3000",
        ),
        (
            {"distance_km": np.linspace(0, 3001, 60)},
            r"distance_km\[-1\], the length of the path, = 3001 km is outside 0\.25 to 3000 km",
        ),
        ({"distance_km": np.linspace(0.1, 6, 60)}, r"distance_km starts at 0\.1 km; it must start at 0"),
        ({"distance_km": np.linspace(0, 6, 59)}, r"terrain_height_m has 60 values but distance_km has 59"),
        ({"clutter_height_m": np.zeros(61)}, r"clutter_height_m has 61 values but distance_km has 60"),
        (
            {"clutter_height_m": [0.0] * 9 + [-2.0] * 51},
            r"clutter_height_m: value 9 is -2 m; it must be at least 0",
        ),
        (
            {"terrain_height_m": [1.0] * 7 + [float("nan")] * 53},
            r"terrain_height_m has 53 missing or infinite value\(s\), the first at index 7",
        ),
        (
            {"terrain_height_m": [1.0] * 59 + [float("inf")]},
            r"terrain_height_m has 1 missing or infinite .* index 59",
        ),
        ({"terrain_height_m": np.zeros((60, 1))}, r"terrain_height_m has 2 dimensions"),
        ({"terrain_height_m": ["high"] * 60}, r"terrain_height_m is not a list of numbers"),
        ({"terrain_height_m": [[1.0], [1.0, 2.0]]}, r"terrain_height_m is not a list of numbers"),
    ],
)
def test_bad_input_is_named(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(RangeError, match=message):
        basic_transmission_loss(**short_path(**changes))


@pytest.mark.parametrize("repeated", [[0.0, 1.0, 1.0, 2.0, 3.0], [0.0, 1.0, 0.9, 2.0, 3.0]])
def test_distances_must_ascend(repeated: list[float]) -> None:
    link = short_path(n=5, distance_km=repeated)
    with pytest.raises(
        RangeError, match=r"not ascending: value 2 \(.* km\) does not exceed the one before it \(1 km\)"
    ):
        basic_transmission_loss(**link)


def test_limits_themselves_are_allowed() -> None:
    link = short_path(n=5, length_km=0.25)
    for changes in (
        {
            "frequency_ghz": 0.03,
            "time_percent": 1,
            "location_percent": 1,
            "tx_height_m": 3000,
            "rx_height_m": 0.01,
        },
        {
            "frequency_ghz": 6,
            "time_percent": 50,
            "location_percent": 99,
            "tx_height_m": 0.01,
            "rx_height_m": 3000,
        },
        {"distance_km": [0, 750, 1500, 2250, 3000]},
    ):
        result = basic_transmission_loss(**{**link, **changes})
        assert np.isfinite([v for v in result.to_dict().values() if isinstance(v, float)]).all()


OWN_LIMITS = {
    "tx_latitude_deg": (-90.0, 90.0),
    "rx_latitude_deg": (-90.0, 90.0),
    "tx_longitude_deg": (-180.0, 360.0),
    "rx_longitude_deg": (-180.0, 360.0),
    "refractivity_gradient_n_units_per_km": (0.0, 150.0),
    "sea_level_refractivity_n_units": (200.0, 500.0),
    "tx_to_coast_km": (0.0, 20_000.0),
    "rx_to_coast_km": (0.0, 20_000.0),
    "location_sigma_db": (0.0, 50.0),
}


@pytest.mark.parametrize("name", OWN_LIMITS)
def test_limits_of_what_can_be_meant(name: str) -> None:
    low, high = OWN_LIMITS[name]
    for inside in (low, high):
        assert basic_transmission_loss(**short_path(**{name: inside})).free_space_db > 0.0
    for outside in (low - 1e-3, high + 1e-3):
        with pytest.raises(RangeError, match=f"^{name} = "):
            basic_transmission_loss(**short_path(**{name: outside}))


def test_without_a_sigma_all_locations_are_alike() -> None:
    median, most = (basic_transmission_loss(**short_path(location_percent=p)) for p in (50.0, 95.0))
    assert most.location_loss_db == median.location_loss_db == 0.0
    assert most.basic_transmission_loss_db == median.basic_transmission_loss_db


def test_four_points_are_too_few() -> None:
    with pytest.raises(RangeError, match="distance_km has 4 points; at least 5 are needed"):
        basic_transmission_loss(**short_path(n=4))


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    roughness=st.sampled_from([0.0, 1.0, 30.0, 500.0]),
    length_km=st.floats(0.25, 3000.0),
    frequency_ghz=st.floats(0.03, 6.0),
    tx_height_m=st.floats(0.1, 3000.0),
    latitude=st.floats(-90.0, 90.0),
    time_percent=st.floats(1.0, 50.0),
)
def test_every_allowed_path_has_a_finite_answer(
    seed: int,
    roughness: float,
    length_km: float,
    frequency_ghz: float,
    tx_height_m: float,
    latitude: float,
    time_percent: float,
) -> None:
    """Dead flat and very rough ground, deep shadow, any climate: no overflow, no warning, no NaN."""
    rng = np.random.default_rng(seed)
    link = short_path(
        n=25,
        length_km=length_km,
        frequency_ghz=frequency_ghz,
        tx_height_m=tx_height_m,
        time_percent=time_percent,
        terrain_height_m=np.round(rng.normal(0.0, roughness, 25)),
        radio_climatic_zone=rng.choice([1, 3, 4], 25),
        tx_latitude_deg=latitude,
        rx_latitude_deg=latitude,
        rx_longitude_deg=9.0,
        rx_to_coast_km=0.0,
    )
    result = basic_transmission_loss(**link)
    numbers = [value for value in result.to_dict().values() if isinstance(value, float)]
    assert np.isfinite(numbers).all()
    assert result.basic_transmission_loss_db >= result.los_time_p_db
    assert 0.0 <= result.sea_fraction <= 1.0
    assert 0.0 < result.beta0_percent < 50.0


def test_import_needs_no_compiler_and_no_scipy() -> None:
    code = (
        "import sys, linkplan.propagation.p1812; "
        "print(sorted({'numba', 'scipy', 'matplotlib', 'rasterio'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
