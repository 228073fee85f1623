"""Coverage of a whole area: every cell's loss, level, margin and chance from one base.

The loss is free space plus delta-Bullington diffraction, which for the median equals the whole of
P.1812-8 within 0.05 dB up to `LONGEST_MAP_PATH_KM` (tests/coverage/test_map_and_path.py measures it).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from linkplan.coverage.classes import classes_for, classify
from linkplan.coverage.reliability import chance_of_corrections
from linkplan.coverage.results import CoverageMap, FloatMap
from linkplan.coverage.site import SiteConstants, site_constants
from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.propagation import free_space
from linkplan.propagation.sweep import sweep
from linkplan.radio import antenna, budget
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.masks import inside_mask

LONGEST_MAP_PATH_KM = 25.0
"""Longest path for which the map's shorter computation is known to equal the whole Recommendation."""

_ROWS_AT_ONCE = 256
"""Rows per block of array arithmetic, so that temporaries stay small beside the map."""


def compute_coverage(
    plan: Plan, grid: TerrainGrid, *, progress: Callable[[float], None] | None = None
) -> CoverageMap:
    """Coverage of every cell of `grid` from the job's base.

    Raises PlaceError where the job reaches farther than the map's computation is known to hold, or
    where it is smaller than a cell.
    """
    area = grid.frame.geometry_to_local(plan.boundary)
    inside = inside_mask(grid, area)
    _check_reach(grid, inside, area)
    constants = site_constants(plan, grid.cell_size_m)
    swept = sweep(
        grid.height_m,
        cell_size_m=grid.cell_size_m,
        tx_row=grid.base_row,
        tx_column=grid.base_column,
        tx_height_m=plan.base.antenna_height_m,
        rx_height_m=plan.rover.antenna_height_m,
        frequency_ghz=constants.frequency_ghz,
        clutter_height_m=grid.clutter_height_m,
        effective_earth_radius_km=constants.effective_earth_radius_km,
        precision="single",
        progress=progress,
    )
    loss = np.empty(grid.shape, dtype=np.float32)
    received = np.empty(grid.shape, dtype=np.float32)
    for first in range(0, grid.shape[0], _ROWS_AT_ONCE):
        rows = slice(first, min(first + _ROWS_AT_ONCE, grid.shape[0]))
        loss[rows], received[rows] = _levels(plan, grid, constants, rows, swept.diffraction_db[rows])
    margin = received - np.float32(constants.weakest.level_dbm)
    chance = chance_of_corrections(margin, constants.sigma_db)
    classes = classes_for(plan.goal.chance)
    unknown = np.isnan(loss)
    return CoverageMap(
        grid=grid,
        classes=classes,
        loss_db=loss,
        received_dbm=received,
        margin_db=margin,
        chance=chance,
        line_of_sight=np.where(unknown, np.float32(np.nan), swept.line_of_sight.astype(np.float32)),
        fresnel_clearance=np.where(unknown, np.float32(np.nan), swept.fresnel_clearance),
        class_index=classify(chance, classes),
        inside=inside,
        weakest_usable_dbm=constants.weakest.level_dbm,
        sigma_db=constants.sigma_db,
    )


def _levels(
    plan: Plan, grid: TerrainGrid, constants: SiteConstants, rows: slice, diffraction: NDArray[Any]
) -> tuple[FloatMap, FloatMap]:
    """Basic loss and received level of a block of rows."""
    # half a cell stands for the mean distance within the base's own cell
    distance_m = np.maximum(grid.distance_from_base_m(rows), 0.5 * grid.cell_size_m)
    base_m = grid.height_m[grid.base_row, grid.base_column] + plan.base.antenna_height_m
    rover_m = grid.height_m[rows] + plan.rover.antenna_height_m
    loss = diffraction + free_space.slant_free_space_loss_db(
        distance_m / 1e3, base_m, rover_m, constants.frequency_ghz
    )
    transmitter = plan.transmitter
    bulge_angle = distance_m / (2e3 * constants.effective_earth_radius_km)
    elevation_deg = np.degrees(np.arctan((rover_m - base_m) / distance_m - bulge_angle))
    eirp = (
        budget.peak_eirp_dbm(transmitter)
        - transmitter.antenna.gain_dbi
        + antenna.gain_dbi(transmitter.antenna, elevation_deg)
    )
    received = budget.received_dbm(eirp, loss, constants.receive_gain_db)
    return loss.astype(np.float32), received.astype(np.float32)


def _check_reach(grid: TerrainGrid, inside: NDArray[np.bool_], area: BaseGeometry) -> None:
    if not inside.any():
        raise PlaceError(
            f"the job's boundary ({area.area:.0f} m2) holds no centre of a {grid.cell_size_m:g} m cell; "
            "set terrain.cell_size smaller, or use finer terrain"
        )
    longest_km = float(grid.distance_from_base_m()[inside].max()) / 1e3
    if longest_km > LONGEST_MAP_PATH_KM:
        raise PlaceError(
            f"the job reaches {longest_km:.1f} km from the base; maps are checked to "
            f"{LONGEST_MAP_PATH_KM:g} km only: move the base or split the job"
        )
