"""Losses once, margins for each power and antenna, of the wanted cells alone: the map's own numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import box

from linkplan.coverage.area import cell_levels, cell_losses, cell_margins, compute_coverage
from linkplan.coverage.site import site_constants
from linkplan.plan.model import Base, Plan
from linkplan.radio.antenna import checked_pattern
from linkplan.radio.equipment import Antenna
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.masks import inside_mask
from tests.coverage.conftest import EAST, NORTH
from tests.propagation.terrain_samples import rough, spectral

PATTERN = checked_pattern((-90.0, -20.0, 0.0, 20.0, 90.0), (-30.0, -6.0, 0.0, -6.0, -30.0))


@pytest.fixture(params=["small", "by radials"])
def job(
    request: pytest.FixtureRequest, make_plan: Callable[..., Plan], make_grid: Callable[..., TerrainGrid]
) -> tuple[Plan, TerrainGrid]:
    """A job east and south of its base, with a hole in the ground and some clutter."""
    side = 90 if request.param == "small" else 420
    height = rough(side, side) if request.param == "small" else spectral(side, side, 2.2, 15.0)
    height[side // 2 : side // 2 + 4, side // 2 : side // 2 + 9] = np.nan
    clutter = np.where(np.random.default_rng(2).random(height.shape) < 0.05, 10.0, 0.0)
    base = (side // 5, side // 8)
    grid = make_grid(height, base, 50.0, clutter)
    reach = 50.0 * side
    boundary = box(EAST + 0.2 * reach, NORTH - 0.6 * reach, EAST + 0.8 * reach, NORTH - 0.05 * reach)
    return make_plan(boundary=boundary), grid


def inside(plan: Plan, grid: TerrainGrid) -> NDArray[np.bool_]:
    return inside_mask(grid, grid.frame.geometry_to_local(plan.boundary))


def with_transmitter(plan: Plan, **changes: Any) -> Plan:
    return replace(plan, transmitter=replace(plan.transmitter, **changes))


def test_wanted_cells_are_those_of_the_map(job: tuple[Plan, TerrainGrid]) -> None:
    plan, grid = job
    plan = with_transmitter(plan, antenna=Antenna(5.0, PATTERN))
    coverage = compute_coverage(plan, grid)
    wanted = inside(plan, grid)
    losses = cell_losses(plan, grid, wanted)
    level = cell_levels(plan, grid, losses.loss_db, wanted)
    margin = cell_margins(plan, grid, losses.loss_db, wanted)
    assert 0.1 < wanted.mean() < 0.4
    assert 0.0 < np.isnan(coverage.loss_db[wanted]).mean() < 0.5
    for some, whole in (
        (losses.loss_db, coverage.loss_db),
        (losses.swept.fresnel_clearance, coverage.fresnel_clearance),
        (losses.swept.line_of_sight, coverage.line_of_sight),
        (level, coverage.received_dbm),
        (margin, coverage.margin_db),
    ):
        np.testing.assert_array_equal(some[wanted], whole[wanted])
        assert np.isnan(some[~wanted]).all()


@pytest.mark.parametrize(
    "change", [{"power_dbm": 33.0}, {"antenna": Antenna(2.0)}, {"antenna": Antenna(8.0, PATTERN)}]
)
def test_losses_serve_every_power_and_antenna(job: tuple[Plan, TerrainGrid], change: dict[str, Any]) -> None:
    plan, grid = job
    losses = cell_losses(plan, grid)
    other = with_transmitter(plan, **change)
    coverage = compute_coverage(other, grid)
    np.testing.assert_array_equal(losses.loss_db, coverage.loss_db)
    constants = site_constants(other, grid.cell_size_m)
    margin = cell_margins(other, grid, losses.loss_db, constants=constants)
    np.testing.assert_array_equal(margin, coverage.margin_db)
    assert np.nanmax(np.abs(margin - compute_coverage(plan, grid).margin_db)) > 1.0


def test_a_level_worked_by_hand(
    make_plan: Callable[..., Plan], make_grid: Callable[..., TerrainGrid]
) -> None:
    """40 dBm - 1.5 dB feeder + gain - 100 dB + 0 dBi - 0.5 dB - 2 dB, towards a rover 10 degrees down.

    At -10 degrees the pattern, linear between 0 and -6 dB, takes off 3 dB: 5 - 3 = 2 dBi; 38 dBm in all less
    100 dB. tan 10 degrees is 0.176327; the bulge of the earth adds 500 m / (2 x 8931 km) = 0.000028, so the
    base's antenna stands 500 m x 0.176299 = 88.15 m over the rover's. Weakest usable: the stated -110 dBm.
    """
    plan = make_plan(base=Base("base", EAST, NORTH, None, 88.15 + 2.0))
    plan = with_transmitter(plan, antenna=Antenna(5.0, PATTERN))
    grid = make_grid(np.zeros((1, 11)), (0, 0))
    wanted = np.zeros(grid.shape, dtype=bool)
    wanted[0, 10] = True
    loss = np.full(grid.shape, 100.0, dtype=np.float32)
    level = cell_levels(plan, grid, loss, wanted)
    assert level[0, 10] == pytest.approx(40.0 - 1.5 + 2.0 - 100.0 - 0.5 - 2.0, abs=1e-3)
    assert cell_margins(plan, grid, loss, wanted)[0, 10] == pytest.approx(-62.0 + 110.0, abs=1e-3)
    assert np.isnan(level[~wanted]).all()


def test_nothing_wanted_is_nothing_known(job: tuple[Plan, TerrainGrid]) -> None:
    plan, grid = job
    nothing = np.zeros(grid.shape, dtype=bool)
    losses = cell_losses(plan, grid, nothing)
    assert np.isnan(losses.loss_db).all()
    assert np.isnan(cell_margins(plan, grid, losses.loss_db, nothing)).all()
