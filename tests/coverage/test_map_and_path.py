"""A map's cell and a path to its centre tell the same loss.

Small maps get an exact path to every cell, so nothing but the arithmetic lies between: 0.02 dB, up to
30 km, the longest tried here, over flat, rolling and broken ground, near and far from the equator. A larger
map lies between radials: there the two are held together with the path's own diffraction in place of the
sweep's, and the sweep's part of the difference is bounded as its own tests bound it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import box

from linkplan.coverage.area import compute_coverage
from linkplan.coverage.link import Terminal, compute_link
from linkplan.coverage.results import LinkResult
from linkplan.plan.model import Base, Plan
from linkplan.plan.reader import read_plan
from linkplan.propagation.sweep_whole import whole_median_loss
from linkplan.study import base_terminal, job_grid
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid

WITHIN_DB = 0.025
"""0.02 dB of the computation and what single precision adds."""

EAST = 500_000.0
SIZE = 220
DEMO = Path(__file__).parents[2] / "dem_samples" / "basin.toml"


def ground_of(kind: str) -> np.ndarray:
    rng = np.random.default_rng(4)
    rows, columns = np.mgrid[:SIZE, :SIZE]
    waves = np.zeros((SIZE, SIZE))
    for _ in range(10):
        turn, phase, length = rng.uniform(0, 2 * math.pi), rng.uniform(0, 2 * math.pi), rng.uniform(15, 60)
        waves += np.sin(2 * math.pi / length * (rows * math.sin(turn) + columns * math.cos(turn)) + phase)
    made = {
        "flat": 100.0 + 0.0 * waves,
        "plain": 1.0 * waves + rng.normal(0.0, 0.2, waves.shape),
        "rolling": 6.0 * waves,
        "broken": 60.0 * waves + rng.normal(0.0, 10.0, waves.shape),
    }
    return made[kind]


def job(
    plan: Plan, northing: float, cell_m: float, ground: np.ndarray, clutter: np.ndarray | None
) -> tuple[Plan, TerrainGrid]:
    """The plain plan moved to a northing, its base a quarter into the given ground."""
    reach = SIZE * cell_m
    moved = replace(
        plan,
        boundary=box(EAST - reach, northing - reach, EAST + reach, northing + reach),
        base=Base("base", EAST, northing, None, 4.0),
    )
    grid = TerrainGrid(
        frame=LocalFrame.around(moved.crs, EAST, northing),
        cell_size_m=cell_m,
        base_row=SIZE // 4,
        base_column=SIZE // 5,
        height_m=ground,
        clutter_height_m=clutter,
        height_datum="invented",
        source_cell_m=cell_m,
    )
    return moved, grid


def link_to(plan: Plan, grid: TerrainGrid, row: int, column: int) -> LinkResult:
    easting, northing = grid.frame.to_job(*grid.centre_of(row, column))
    return compute_link(plan, grid, base_terminal(plan), Terminal("rover", float(easting), float(northing)))


def places(grid: TerrainGrid, count: int, seed: int) -> list[tuple[int, int]]:
    """Random cells and the far corner; none so near that the path function samples finer than the map."""
    rng = np.random.default_rng(seed)
    rows, columns = grid.shape
    cells = [(rows - 1, columns - 1)]
    while len(cells) < count:
        row, column = int(rng.integers(0, rows)), int(rng.integers(0, columns))
        if max(abs(row - grid.base_row), abs(column - grid.base_column)) >= 4:
            cells.append((row, column))
    return cells


@pytest.mark.parametrize("clutter_m", [None, 9.0], ids=["bare", "clutter"])
@pytest.mark.parametrize("kind", ["flat", "plain", "rolling", "broken"])
@pytest.mark.parametrize(
    ("northing", "cell_m"),
    [(200_000.0, 60.0), (200_000.0, 125.0), (3_600_000.0, 125.0), (6_800_000.0, 125.0)],
    ids=["2 degrees, 14 km", "2 degrees, 30 km", "32 degrees, 30 km", "61 degrees, 30 km"],
)
def test_exact_map_is_the_path(
    make_plan: Callable[..., Plan], northing: float, cell_m: float, kind: str, clutter_m: float | None
) -> None:
    clutter = None
    if clutter_m is not None:
        clutter = np.where(np.random.default_rng(2).random((SIZE, SIZE)) > 0.9, clutter_m, 0.0)
    plan, grid = job(make_plan(), northing, cell_m, ground_of(kind), clutter)
    coverage = compute_coverage(plan, grid)
    longest = corrected = 0.0
    for row, column in places(grid, 40, seed=9):
        link = link_to(plan, grid, row, column)
        at = f"row {row}, column {column}, {link.distance_m:.0f} m"
        assert coverage.loss_db[row, column] == pytest.approx(link.loss_db, abs=WITHIN_DB), at
        assert coverage.received_dbm[row, column] == pytest.approx(link.received_dbm, abs=WITHIN_DB), at
        longest = max(longest, link.distance_m)
        corrected = max(corrected, link.free_space_db + link.diffraction_db - link.loss_db)
    assert longest > (29_000.0 if cell_m == 125.0 else 13_000.0)
    if kind in ("flat", "plain") and cell_m == 125.0:
        assert corrected > 2.0, "nothing but free space and diffraction was asked for"


@pytest.fixture(scope="module")
def demo() -> tuple[Plan, TerrainGrid, list[tuple[int, int, LinkResult]]]:
    """The demo job on real terrain and the links to 150 of its cells."""
    plan = read_plan(DEMO)
    grid = job_grid(plan)
    cells = [cell for cell in places(grid, 150, seed=5) if np.isfinite(grid.height_m[cell])]
    return plan, grid, [(row, column, link_to(plan, grid, row, column)) for row, column in cells]


def test_demo_with_the_paths_own_diffraction(
    demo: tuple[Plan, TerrainGrid, list[tuple[int, int, LinkResult]]],
) -> None:
    plan, grid, links = demo
    diffraction = np.full(grid.shape, math.nan)
    for row, column, link in links:
        diffraction[row, column] = link.diffraction_db
    loss = whole_median_loss(
        grid.height_m,
        diffraction,
        cell_size_m=grid.cell_size_m,
        tx_row=grid.base_row,
        tx_column=grid.base_column,
        tx_height_m=plan.base.antenna_height_m,
        rx_height_m=plan.rover.antenna_height_m,
        frequency_ghz=plan.transmitter.frequency_mhz / 1e3,
        tx_latitude_deg=grid.frame.to_geographic(0.0, 0.0)[1],
        refractivity_gradient_n_units_per_km=plan.environment.refractivity_gradient_n_units_per_km,
        sea_level_refractivity_n_units=plan.environment.sea_level_refractivity_n_units,
    )
    for row, column, link in links:
        assert loss[row, column] == pytest.approx(link.loss_db, abs=WITHIN_DB), f"{link.distance_m:.0f} m"
    assert max(link.diffraction_db for _, _, link in links) > 30.0


def test_demo_differs_by_the_sweeps_radials_alone(
    demo: tuple[Plan, TerrainGrid, list[tuple[int, int, LinkResult]]],
) -> None:
    plan, grid, links = demo
    coverage = compute_coverage(plan, grid)
    known = [(row, column, link) for row, column, link in links if np.isfinite(coverage.loss_db[row, column])]
    assert len(known) >= 0.95 * len(links)
    error = np.array([coverage.loss_db[row, column] - link.loss_db for row, column, link in known])
    assert np.sqrt(np.mean(error**2)) < 0.4  # dB, what the sweep promises on real 30 m terrain
    assert np.median(np.abs(error)) < 0.05
