"""The sweep against a plain computation of the same radials, over random terrain of every kind."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.propagation.bullington import delta_bullington
from linkplan.propagation.sweep import HIGHEST_CLEARANCE, sweep
from linkplan.propagation.sweep_plan import radials_beside
from tests.propagation import terrain_samples
from tests.propagation.plain_profile import RADIUS_KM, FloatArray, direct_path, path_loss, sampled

DOUBLE_DB = 1e-6
SINGLE_DB = 1e-3


@st.composite
def jobs(draw: st.DrawFn) -> tuple[FloatArray, FloatArray | None, dict[str, Any], int]:
    """Terrain, clutter, a base anywhere (corners and edges often) and a seed."""
    rows, columns = draw(
        st.one_of(
            st.tuples(st.integers(1, 28), st.integers(1, 28)),
            st.tuples(st.just(1), st.integers(1, 120)),
            st.tuples(st.integers(1, 120), st.just(1)),
            st.tuples(st.integers(2, 4), st.integers(30, 70)),
        )
    )
    seed = draw(st.integers(0, 10_000))
    random = np.random.default_rng(seed)
    ground = draw(st.sampled_from(terrain_samples.KINDS))(rows, columns, seed)
    ground = ground + draw(st.sampled_from([0.0, 2500.0]))
    clutter = None
    if draw(st.booleans()):
        clutter = np.where(random.random(ground.shape) < 0.3, random.uniform(0.0, 25.0, ground.shape), 0.0)
    base = (
        draw(st.one_of(st.sampled_from([0, rows - 1]), st.integers(0, rows - 1))),
        draw(st.one_of(st.sampled_from([0, columns - 1]), st.integers(0, columns - 1))),
    )
    holes = draw(st.sampled_from([0.0, 0.0, 0.01, 0.1]))
    ground[random.random(ground.shape) < holes] = np.nan
    if clutter is not None:
        clutter[random.random(ground.shape) < holes] = np.nan
    if draw(st.integers(0, 9)):
        ground[base] = np.nan_to_num(ground[base])
    job = {
        "cell_size_m": draw(st.sampled_from([1.0, 10.0, 30.0, 90.0, 1000.0])),
        "tx_row": base[0],
        "tx_column": base[1],
        "tx_height_m": draw(st.sampled_from([1.0, 2.5, 5.0, 12.0, 150.0])),
        "rx_height_m": draw(st.sampled_from([1.0, 1.5, 2.0, 4.0, 60.0])),
        "frequency_ghz": draw(st.sampled_from([0.03, 0.16, 0.45, 0.9, 6.0])),
        "effective_earth_radius_km": draw(st.sampled_from([RADIUS_KM, RADIUS_KM, 6371.0, 2500.0, 1e6])),
    }
    return ground, clutter, job, seed


def expected_by_radials(
    ground: FloatArray, clutter: FloatArray | None, job: dict[str, Any], cell: tuple[int, int], radials: int
) -> tuple[float, float]:
    """Loss and clearance of a cell from the plain computation of the radials beside it."""
    base = (job["tx_row"], job["tx_column"])
    if not np.isfinite(ground[base]):
        return math.nan, math.nan
    if cell == base:
        return 0.0, HIGHEST_CLEARANCE
    complete = bool(np.isfinite(ground if clutter is None else ground + clutter).all())
    loss = clearance = 0.0
    for weight, rows, columns in radials_beside(ground.shape, base, cell, radials, complete):
        path, nu = path_loss(ground, clutter, rows, columns, job)
        loss += weight * path
        clearance += weight * min(-nu / math.sqrt(2.0), HIGHEST_CLEARANCE)
    return loss, clearance


def every_cell(shape: tuple[int, int], seed: int, most: int = 150) -> list[tuple[int, int]]:
    cells = [(row, column) for row in range(shape[0]) for column in range(shape[1])]
    order = np.random.default_rng(seed).permutation(len(cells))[:most]
    return [cells[n] for n in order]


@settings(max_examples=250, deadline=None)
@given(drawn=jobs(), density=st.sampled_from([0.25, 0.5, 1.0, 1.7, 3.0]))
def test_sweep_equals_the_plain_computation_of_the_same_radials(drawn: Any, density: float) -> None:
    ground, clutter, job, seed = drawn
    radials = max(8, math.ceil(2 * density * sum(ground.shape)))
    double = sweep(ground, clutter_height_m=clutter, precision="double", radials=radials, **job)
    single = sweep(ground, clutter_height_m=clutter, precision="single", radials=radials, **job)
    for cell in every_cell(ground.shape, seed):
        loss, clearance = expected_by_radials(ground, clutter, job, cell, radials)
        assert double.diffraction_db[cell] == pytest.approx(loss, abs=DOUBLE_DB, nan_ok=True)
        assert single.diffraction_db[cell] == pytest.approx(loss, abs=SINGLE_DB, nan_ok=True)
        assert double.fresnel_clearance[cell] == pytest.approx(clearance, rel=1e-5, abs=1e-5, nan_ok=True)
        assert np.isnan(double.line_of_sight[cell]) == math.isnan(loss)
    np.testing.assert_array_equal(np.isnan(single.diffraction_db), np.isnan(double.diffraction_db))


@settings(max_examples=120, deadline=None)
@given(drawn=jobs())
def test_small_maps_hold_the_exact_path_to_every_cell(drawn: Any) -> None:
    ground, clutter, job, seed = drawn
    result = sweep(ground, clutter_height_m=clutter, **job)
    assert result.radials == 0
    base = (job["tx_row"], job["tx_column"])
    for cell in every_cell(ground.shape, seed):
        loss, nu = path_loss(ground, clutter, *direct_path(base, cell), job)
        assert result.diffraction_db[cell] == pytest.approx(loss, abs=DOUBLE_DB, nan_ok=True)
        clearance = min(-nu / math.sqrt(2.0), HIGHEST_CLEARANCE)
        assert result.fresnel_clearance[cell] == pytest.approx(clearance, rel=1e-5, abs=1e-5, nan_ok=True)


@settings(max_examples=60, deadline=None)
@given(drawn=jobs())
def test_the_path_function_tells_the_same(drawn: Any) -> None:
    ground, clutter, job, seed = drawn
    result = sweep(ground, clutter_height_m=clutter, **job)
    base = (job["tx_row"], job["tx_column"])
    for cell in every_cell(ground.shape, seed, most=20):
        if cell == base or not np.isfinite(result.diffraction_db[cell]):
            continue
        rows, columns = direct_path(base, cell)
        bare = sampled(ground, rows, columns)
        full = bare if clutter is None else sampled(ground + clutter, rows, columns)
        full[0], full[-1] = bare[0], bare[-1]
        path = delta_bullington(
            np.hypot(rows - rows[0], columns - columns[0]) * job["cell_size_m"] / 1000.0,
            full,
            bare,
            tx_height_m=job["tx_height_m"],
            rx_height_m=job["rx_height_m"],
            frequency_ghz=job["frequency_ghz"],
            effective_earth_radius_km=job["effective_earth_radius_km"],
        )
        assert result.diffraction_db[cell] == pytest.approx(path.diffraction_db, abs=DOUBLE_DB)
        assert bool(result.line_of_sight[cell]) == (path.line_of_sight and path.nu < 0.0)


@pytest.mark.parametrize("radials", [None, 24])
def test_ground_that_just_touches_the_ray_has_an_answer(radials: int | None) -> None:
    """A dome where the straight ray grazes the ground exactly: no 0/0 at any cell."""
    ground = np.broadcast_to(2500.0 - 0.05 * (np.arange(11) - 5.5) ** 2, (2, 11)).copy()
    ground[0] -= 0.05
    job = {"cell_size_m": 1.0, "tx_row": 0, "tx_column": 10, "tx_height_m": 1.0, "rx_height_m": 1.5}
    swept = sweep(ground, frequency_ghz=0.03, radials=radials, **job)
    assert np.isfinite(swept.diffraction_db).all()
    expected, nu = path_loss(ground, None, *direct_path((0, 10), (1, 0)), {**job, "frequency_ghz": 0.03})
    assert abs(nu) < 1e-5
    assert swept.diffraction_db[1, 0] == pytest.approx(expected, abs=DOUBLE_DB if radials is None else 0.1)


def long_ground(kind: str) -> FloatArray:
    """2500 samples in a row, most of them in sight or new highest horizons: long hulls and record lists."""
    i = np.arange(2500)
    random = np.random.default_rng(3)
    return {
        "flat": np.zeros(2500),
        "noise": random.uniform(0.0, 0.5, 2500),
        "hollow": 1e-5 * i**2 + random.uniform(0.0, 0.3, 2500),
        "terraces": np.round(2e-5 * i**2),
        "hills": terrain_samples.rolling(1, 2500)[0],
    }[kind]


@pytest.mark.parametrize("kind", ["flat", "noise", "hollow", "terraces", "hills"])
@pytest.mark.parametrize("frequency_ghz", [0.45, 6.0])
def test_long_radials_with_many_samples_in_sight(kind: str, frequency_ghz: float) -> None:
    ground = long_ground(kind)[None, :]
    job = {"cell_size_m": 10.0, "tx_row": 0, "tx_column": 0, "tx_height_m": 8.0, "rx_height_m": 4.0}
    job["frequency_ghz"] = frequency_ghz
    double = sweep(ground, precision="double", radials=5000, **job)
    single = sweep(ground, precision="single", radials=5000, **job)
    for last in (*range(2, 100, 7), *range(100, 2500, 29), 2499):
        loss, nu = path_loss(ground, None, *direct_path((0, 0), (0, last)), job)
        assert double.diffraction_db[0, last] == pytest.approx(loss, abs=DOUBLE_DB)
        assert single.diffraction_db[0, last] == pytest.approx(loss, abs=SINGLE_DB)
        clearance = min(-nu / math.sqrt(2.0), HIGHEST_CLEARANCE)
        assert double.fresnel_clearance[0, last] == pytest.approx(clearance, abs=1e-5)
