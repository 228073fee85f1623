"""What a map loses by lying between radials, with the number of radials that the sweep chooses itself."""

from __future__ import annotations

import functools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio

from linkplan.propagation.sweep import SweepResult, radial_error, sweep
from tests.propagation.plain_profile import FloatArray, direct_path, path_loss
from tests.propagation.terrain_samples import flat, rolling, rough

REAL_DEM = Path(__file__).parents[2] / "dem_samples" / "basin_dem_30m.tif"
"""30 m, mountains; origin in dem_samples/README.md."""

JOB: dict[str, Any] = {"tx_height_m": 5.0, "rx_height_m": 2.0, "frequency_ghz": 0.45}


@functools.cache
def terrain(name: str) -> FloatArray:
    if name == "real":
        with rasterio.open(REAL_DEM) as file:
            return np.asarray(file.read(1), dtype=np.float64)
    return {"rolling": rolling, "rough": rough, "flat": flat}[name](1000, 1000)


def place(name: str, base: tuple[int, int]) -> dict[str, Any]:
    cell = 30.0 if name == "real" else 10.0
    return {"cell_size_m": cell, "tx_row": base[0], "tx_column": base[1], **JOB}


def rms_against_exact_paths(name: str, base: tuple[int, int], swept: SweepResult, count: int = 600) -> float:
    """RMS of map less plain path to the cell's centre, over cells drawn at random."""
    ground = terrain(name)
    random = np.random.default_rng(99)
    cells = zip(
        random.integers(0, ground.shape[0], count), random.integers(0, ground.shape[1], count), strict=True
    )
    errors = [
        swept.diffraction_db[cell] - path_loss(ground, None, *direct_path(base, cell), place(name, base))[0]
        for cell in cells
        if cell != base
    ]
    return math.sqrt(float(np.mean(np.square(errors))))


@pytest.mark.parametrize(
    ("name", "base", "limit_db"),
    [
        ("rolling", (500, 480), 0.1),
        ("rolling", (0, 999), 0.1),
        ("rough", (500, 480), 0.4),
        ("rough", (700, 20), 0.4),
        ("flat", (500, 480), 0.001),
        ("real", (215, 235), 0.4),
        ("real", (20, 400), 0.4),
    ],
)
def test_default_radials_against_the_exact_path_to_each_centre(
    name: str, base: tuple[int, int], limit_db: float
) -> None:
    swept = sweep(terrain(name), **place(name, base))
    assert swept.radials > 0
    assert rms_against_exact_paths(name, base, swept) < limit_db


def test_stated_error_is_that_of_other_cells_too() -> None:
    """The error that a map states, from its own sample, is near that of cells drawn otherwise."""
    ground, base = terrain("rolling"), (500, 480)
    swept = sweep(ground, **place("rolling", base))
    assert swept.radial_error is not None
    assert swept.radial_error.cells > 400
    other = radial_error(ground, radials=swept.radials, cells=2000, seed=5, **place("rolling", base))
    assert other.rms_db == pytest.approx(swept.radial_error.rms_db, rel=0.5)
    measured = rms_against_exact_paths("rolling", base, swept)
    assert measured == pytest.approx(other.rms_db, rel=0.5)


def test_more_radials_lose_less() -> None:
    ground, job = terrain("rough"), place("rough", (500, 480))
    errors = [radial_error(ground, radials=n, **job).rms_db for n in (1000, 4000, 16000)]
    assert errors[0] > 1.5 * errors[1] > 2.0 * errors[2] > 0.0


@pytest.mark.parametrize("height_m", [3.0, -8.0])
def test_a_heap_or_a_pit_on_flat_ground_is_not_passed_by(height_m: float) -> None:
    """Five cells wide, near the border, where a sparse map's radials would be eight cells apart."""
    ground = flat(1000, 1000)
    ground[60:65, 700:705] += height_m
    job = place("flat", (500, 480))
    swept = sweep(ground, **job)
    assert swept.radials >= 2 * sum(ground.shape) - 8
    assert sweep(terrain("flat"), **job).radials < 0.2 * swept.radials
    for cell in ((55, 703), (40, 709), (5, 720)):
        exact, _ = path_loss(ground, None, *direct_path((500, 480), cell), job)
        assert swept.diffraction_db[cell] == pytest.approx(exact, abs=1.0)


def test_rough_ground_gets_more_radials_than_smooth() -> None:
    smooth = sweep(terrain("flat"), **place("flat", (500, 480))).radials
    assert smooth < sweep(terrain("rough"), **place("rough", (500, 480))).radials
