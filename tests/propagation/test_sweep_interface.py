"""What the sweep promises its callers: fixed names, ranges, meanings, memory, being stoppable."""

from __future__ import annotations

import math
import os
import threading
import time
import tracemalloc
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linkplan.errors import PlaceError, RangeError
from linkplan.propagation.sweep import HIGHEST_CLEARANCE, MEDIAN_EARTH_RADIUS_KM, diffraction_loss, sweep
from linkplan.propagation.sweep_numba import drop_stale_cache
from tests.propagation.terrain_samples import flat, rolling, rough

JOB: dict[str, Any] = {
    "cell_size_m": 30.0,
    "tx_row": 20,
    "tx_column": 70,
    "tx_height_m": 5.0,
    "rx_height_m": 2.0,
    "frequency_ghz": 0.45,
}


def test_default_earth_radius_is_that_of_45_n_units() -> None:
    """P.1812-8 section 3.5: a_e = 6371 x 157 / (157 - dN)."""
    assert pytest.approx(6371.0 * 157.0 / 112.0) == MEDIAN_EARTH_RADIUS_KM
    given = diffraction_loss(rolling(60, 90), effective_earth_radius_km=MEDIAN_EARTH_RADIUS_KM, **JOB)
    np.testing.assert_array_equal(given, diffraction_loss(rolling(60, 90), **JOB))


def test_a_larger_earth_radius_hides_less() -> None:
    ground = flat(3, 2000)
    job = {**JOB, "tx_row": 1, "tx_column": 0}
    normal = diffraction_loss(ground, **job)[1, -1]
    assert diffraction_loss(ground, effective_earth_radius_km=6371.0, **job)[1, -1] > normal + 5.0


@pytest.mark.parametrize("kind", [np.float32, np.int16, np.int64, list])
def test_any_numbers_are_taken_as_heights(kind: Any) -> None:
    whole = np.round(rolling(60, 90))
    given = whole.tolist() if kind is list else whole.astype(kind)
    np.testing.assert_array_equal(diffraction_loss(given, **JOB), diffraction_loss(whole, **JOB))


@pytest.mark.parametrize("radials", [None, 400])
def test_input_is_left_alone_and_strides_do_not_matter(radials: int | None) -> None:
    wide = np.repeat(np.repeat(rough(60, 90), 2, axis=0), 3, axis=1)
    view = wide[::2, ::3]
    before = wide.copy()
    loss = sweep(view, radials=radials, **JOB).diffraction_db
    np.testing.assert_array_equal(wide, before)
    np.testing.assert_array_equal(loss, sweep(rough(60, 90), radials=radials, **JOB).diffraction_db)


@pytest.mark.parametrize("radials", [None, 300, 900])
def test_turning_the_map_turns_the_answer(radials: int | None) -> None:
    ground = rough(60, 90)
    clutter = np.where(rough(60, 90, seed=3) > 30.0, 8.0, 0.0)
    loss = sweep(ground, clutter_height_m=clutter, radials=radials, precision="double", **JOB).diffraction_db

    def turned(turn: Any, row: int, column: int) -> np.ndarray:
        job = {**JOB, "tx_row": row, "tx_column": column}
        return sweep(
            turn(ground), clutter_height_m=turn(clutter), radials=radials, precision="double", **job
        ).diffraction_db

    close = {"atol": 1e-7, "rtol": 0.0}
    np.testing.assert_allclose(turned(np.flipud, 39, 70), np.flipud(loss), **close)
    np.testing.assert_allclose(turned(np.fliplr, 20, 19), np.fliplr(loss), **close)
    np.testing.assert_allclose(turned(np.transpose, 70, 20), loss.T, **close)


@pytest.mark.parametrize("radials", [None, 400])
def test_the_datum_does_not_matter(radials: int | None) -> None:
    ground = rough(60, 90)
    low = sweep(ground, radials=radials, precision="double", **JOB).diffraction_db
    high = sweep(ground + 4000.0, radials=radials, precision="double", **JOB).diffraction_db
    np.testing.assert_allclose(low, high, atol=1e-7)


@pytest.mark.parametrize("radials", [None, 400])
def test_the_base_and_its_neighbours_lose_nothing(radials: int | None) -> None:
    swept = sweep(rough(60, 90), radials=radials, **JOB)
    assert (swept.diffraction_db[19:22, 69:72] == 0.0).all()
    assert (swept.fresnel_clearance[19:22, 69:72] == HIGHEST_CLEARANCE).all()
    assert (swept.line_of_sight[19:22, 69:72] == 1.0).all()


@pytest.mark.parametrize("radials", [None, 24000])
def test_line_of_sight_ends_at_the_radio_horizon(radials: int | None) -> None:
    """Over flat ground: d = sqrt(2 a_e) (sqrt h1 + sqrt h2) [P.1812-8 section 4.3.2, d_los]."""
    swept = sweep(flat(1, 6000), **{**JOB, "tx_row": 0, "tx_column": 0}, radials=radials)
    horizon_km = math.sqrt(2.0 * MEDIAN_EARTH_RADIUS_KM * 0.001) * (math.sqrt(5.0) + math.sqrt(2.0))
    last_seen_km = np.flatnonzero(swept.line_of_sight[0] == 1.0).max() * 0.03
    assert last_seen_km == pytest.approx(horizon_km, abs=0.06)


def test_clearance_is_that_of_the_first_fresnel_zone() -> None:
    """A wall half-way, its top 3 m below the ray: clearance / sqrt(lambda d1 d2 / d) [P.526-16 section 2].

    450 MHz, 2 x 60 m: radius sqrt(0.2998/0.45 x 60 x 60 / 120) = 4.471 m; the bulge of the earth there is
    60 x 60 / (2 x 8930.8 km) = 0.2 mm. Ray from 50 m to 50 m over a floor at 0.
    """
    ground = np.zeros((1, 5))
    ground[0, 2] = 47.0
    job = {**JOB, "tx_row": 0, "tx_column": 0, "tx_height_m": 50.0, "rx_height_m": 50.0}
    assert sweep(ground, **job).fresnel_clearance[0, 4] == pytest.approx(3.0 / 4.471, abs=2e-4)
    ground[0, 2] = 53.0
    assert sweep(ground, **job).fresnel_clearance[0, 4] == pytest.approx(-3.0 / 4.471, abs=2e-4)
    assert sweep(ground, **job).line_of_sight[0, 4] == 0.0


@pytest.mark.parametrize("radials", [None, 400])
def test_clutter_counts_between_the_ends_only(radials: int | None) -> None:
    ground = flat(60, 90)
    clutter = np.zeros_like(ground)
    clutter[20, 70] = clutter[20, 40] = 30.0
    bare = sweep(ground, radials=radials, **JOB).diffraction_db
    grown = sweep(ground, clutter_height_m=clutter, radials=radials, **JOB).diffraction_db
    np.testing.assert_allclose(grown[20, 40:], bare[20, 40:], atol=1e-3)
    assert (grown[20, :40] > bare[20, :40] + 10.0).all()


def test_against_pycraf_over_land() -> None:
    """pycraf 2.1, P.452-16, vertical, land: the same delta-Bullington, with 0.29979 for 0.2998 m GHz."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its imports use deprecated parts of astropy
        from astropy import units as u
        from pycraf import conversions as cnv
        from pycraf import pathprof

        for seed in range(12):
            ground = rough(1, 400, seed)[0] * 2.0
            for radials in (None, 1600):
                job = {**JOB, "tx_row": 0, "tx_column": 0}
                loss = sweep(ground[None, :], radials=radials, precision="double", **job).diffraction_db[0]
                for last in (7, 60, 399):
                    path = pathprof.PathProp(
                        0.45 * u.GHz, 293 * u.K, 1013 * u.hPa, 0 * u.deg, 50 * u.deg, 1 * u.deg, 50 * u.deg,
                        5 * u.m, 2 * u.m, 50 * u.m, 50 * u.percent, polarization=1, version=16,
                        delta_N=45 * cnv.dimless / u.km, N0=325 * cnv.dimless,
                        hprof_dists=np.arange(last + 1) * 0.03 * u.km,
                        hprof_heights=ground[: last + 1] * u.m,
                        hprof_bearing=0 * u.deg, hprof_backbearing=180 * u.deg,
                    )  # fmt: skip
                    theirs = pathprof.loss_diffraction(path)[0].value
                    assert loss[last] == pytest.approx(theirs, abs=0.002)


@pytest.mark.parametrize(
    "change",
    [
        {"tx_height_m": 0.0},
        {"tx_height_m": -1.0},
        {"rx_height_m": 3001.0},
        {"rx_height_m": math.nan},
        {"frequency_ghz": 0.02},
        {"frequency_ghz": 450.0},
        {"cell_size_m": 0.0},
        {"effective_earth_radius_km": 0.0},
        {"clutter_height_m": np.zeros((60, 89))},
        {"height_m": np.zeros(60)},
        {"height_m": np.zeros((0, 5))},
    ],
)
def test_senseless_input_is_refused_with_its_name(change: dict[str, Any]) -> None:
    arguments = {"height_m": np.zeros((60, 90)), **JOB, **change}
    with pytest.raises(RangeError, match=next(iter(change))):
        diffraction_loss(**arguments)


def test_senseless_settings_are_refused() -> None:
    with pytest.raises(RangeError, match="precision"):
        sweep(np.zeros((60, 90)), precision="half", **JOB)
    with pytest.raises(RangeError, match="radials"):
        sweep(np.zeros((60, 90)), radials=0, **JOB)


@pytest.mark.parametrize("base", [(-1, 5), (60, 5), (5, 90), (5, -1)])
def test_a_base_outside_the_raster_is_refused(base: tuple[int, int]) -> None:
    with pytest.raises(PlaceError, match="outside"):
        diffraction_loss(np.zeros((60, 90)), **{**JOB, "tx_row": base[0], "tx_column": base[1]})


def test_progress_rises_to_one() -> None:
    for size, least in ((100, 1), (250, 5), (700, 20)):
        seen: list[float] = []
        sweep(rolling(size, size), progress=seen.append, **JOB)
        assert len(seen) >= least
        assert seen == sorted(seen)
        assert seen[-1] == 1.0


@pytest.mark.parametrize(("size", "radials"), [(700, 60_000), (260, None)])
def test_an_interrupt_is_answered_within_a_second(size: int, radials: int | None) -> None:
    """What Ctrl-C raises in the main thread, raised from the progress call; no thread works on."""

    def stop(_: float) -> None:
        raise KeyboardInterrupt

    ground = rolling(size, size)
    sweep(ground[:80, :90], radials=100, **JOB)  # compiled before the clock starts
    before = time.perf_counter()
    with pytest.raises(KeyboardInterrupt):
        sweep(ground, radials=radials, progress=stop, **JOB)
    assert time.perf_counter() - before < 1.0
    assert threading.active_count() < 4


def test_kernels_compiled_before_any_kernel_file_changed_are_forgotten(tmp_path: Path) -> None:
    source, cache = tmp_path / "sweep_a.py", tmp_path / "__pycache__"
    cache.mkdir()
    older, newer = cache / "sweep_b.older.nbi", cache / "sweep_b.newer.nbi"
    for file, age_s in ((source, 100), (older, 200), (newer, 50)):
        file.touch()
        os.utime(file, (time.time() - age_s, time.time() - age_s))
    drop_stale_cache(tmp_path)
    assert not older.exists()
    assert newer.exists()
    os.utime(source, (time.time() + 1000, time.time() + 1000))  # a clock gone wrong must not cost a compile
    drop_stale_cache(tmp_path)
    assert newer.exists()


@pytest.mark.parametrize("name", ["bare", "clutter"])
def test_peak_memory_stays_under_twelve_maps(name: str) -> None:
    ground = rough(1500, 1500).astype(np.float32)
    clutter = np.zeros_like(ground) if name == "clutter" else None
    map_bytes = ground.size * 8
    tracemalloc.start()
    try:
        swept = sweep(ground, clutter_height_m=clutter, **JOB)
        assert swept.line_of_sight.shape == ground.shape
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # The caller's rasters are counted as well.
    assert peak + ground.nbytes * (2 if name == "clutter" else 1) < 12 * map_bytes
