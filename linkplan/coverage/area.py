"""Coverage of a whole area: every cell's loss, level, margin and chance from one base.

The loss is the median of the whole of P.1812-8, as a path to the cell has it: diffraction from the sweep,
ducting and scatter where they count (tests/coverage/test_map_and_path.py holds the two together).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from linkplan.coverage.calibrated import class_offset_db
from linkplan.coverage.classes import classes_for, classify
from linkplan.coverage.reliability import chance_of_corrections
from linkplan.coverage.results import CoverageMap, FloatMap
from linkplan.coverage.site import SiteConstants, site_constants
from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.propagation.sweep import SweepResult, sweep
from linkplan.propagation.sweep_whole import whole_median_loss
from linkplan.radio import antenna, budget
from linkplan.terrain.grid import FloatArray, TerrainGrid
from linkplan.terrain.masks import inside_mask

_ROWS_AT_ONCE = 256
"""Rows per block of array arithmetic, so that temporaries stay small beside the map."""


@dataclass(frozen=True)
class Losses:
    """What paths lose to every cell; powers and antennas come later. Arrays are (rows, columns)."""

    loss_db: FloatMap
    """Median basic transmission loss; NaN where unknown or not wanted."""
    swept: SweepResult


def compute_coverage(
    plan: Plan, grid: TerrainGrid, *, progress: Callable[[float], None] | None = None
) -> CoverageMap:
    """Coverage of every cell of `grid` from the job's base.

    Raises PlaceError where the job is smaller than a cell.
    """
    area = grid.frame.geometry_to_local(plan.boundary)
    inside = inside_mask(grid, area)
    _check_holds_cells(grid, inside, area)
    losses = cell_losses(plan, grid, progress=progress)
    loss, swept = losses.loss_db, losses.swept
    unknown = np.isnan(loss)
    sight = np.where(unknown, np.float32(np.nan), swept.line_of_sight.astype(np.float32))
    clearance = np.where(unknown, np.float32(np.nan), swept.fresnel_clearance)
    return _coverage(plan, grid, inside, loss, (sight, clearance))


def with_same_losses(plan: Plan, coverage: CoverageMap) -> CoverageMap:
    """The coverage of a job that differs in power, antennas, receiver, chance or what was learned alone: in
    nothing that changes what paths lose."""
    seen = coverage.line_of_sight, coverage.fresnel_clearance
    return _coverage(plan, coverage.grid, coverage.inside, coverage.loss_db, seen)


def _coverage(
    plan: Plan,
    grid: TerrainGrid,
    inside: NDArray[np.bool_],
    loss: FloatMap,
    seen: tuple[FloatMap, FloatMap],
) -> CoverageMap:
    """From losses to classes; `seen`: line of sight and Fresnel clearance."""
    constants = site_constants(plan, grid.cell_size_m)
    received = cell_levels(plan, grid, loss, constants=constants)
    margin = received - np.float32(constants.weakest.level_dbm)
    chance = chance_of_corrections(margin, constants.sigma_db)
    classes = classes_for(plan.goal.chance)
    return CoverageMap(
        grid=grid,
        classes=classes,
        loss_db=loss,
        received_dbm=received,
        margin_db=margin,
        chance=chance,
        line_of_sight=seen[0],
        fresnel_clearance=seen[1],
        class_index=classify(chance, classes),
        inside=inside,
        weakest_usable_dbm=constants.weakest.level_dbm,
        sigma_db=constants.sigma_db,
    )


def cell_losses(
    plan: Plan,
    grid: TerrainGrid,
    wanted: NDArray[np.bool_] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Losses:
    """Losses from the job's base to every cell of `grid`, or to those `wanted` (rows, columns) alone.

    They depend on the place, the antenna heights, the frequency and the air, not on power, feeder and
    antenna. A wanted cell has the numbers of the whole map, whichever others are wanted; the rest is NaN.
    """
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
        wanted=wanted,
        progress=_part(progress, 0.0),
    )
    _, latitude_deg = grid.frame.to_geographic(0.0, 0.0)
    loss = whole_median_loss(
        grid.height_m,
        swept.diffraction_db,
        cell_size_m=grid.cell_size_m,
        tx_row=grid.base_row,
        tx_column=grid.base_column,
        tx_height_m=plan.base.antenna_height_m,
        rx_height_m=plan.rover.antenna_height_m,
        frequency_ghz=constants.frequency_ghz,
        tx_latitude_deg=latitude_deg,
        refractivity_gradient_n_units_per_km=plan.environment.refractivity_gradient_n_units_per_km,
        sea_level_refractivity_n_units=plan.environment.sea_level_refractivity_n_units,
        wanted=wanted,
        progress=_part(progress, 0.5),
    )
    return Losses(loss, swept)


def cell_levels(
    plan: Plan,
    grid: TerrainGrid,
    loss_db: FloatMap,
    wanted: NDArray[np.bool_] | None = None,
    *,
    constants: SiteConstants | None = None,
) -> FloatMap:
    """Received level of every cell, dBm, or of those `wanted`, for the job's transmitter and antenna.

    With what field logs have taught.

    `loss_db` from `cell_losses` for the same place, antenna heights, frequency and air; `constants` those of
    this plan, where they are at hand. NaN where the loss is, and outside the rows and columns of `wanted`.
    """
    constants = constants or site_constants(plan, grid.cell_size_m)
    rows, columns = slice(0, grid.shape[0]), slice(0, grid.shape[1])
    if wanted is not None:
        rows, columns = _reach(wanted, 1), _reach(wanted, 0)
    received = np.full(grid.shape, np.nan, dtype=np.float32)
    for first in range(rows.start, rows.stop, _ROWS_AT_ONCE):
        block = slice(first, min(first + _ROWS_AT_ONCE, rows.stop))
        loss = loss_db[block, columns]
        received[block, columns] = _received(plan, grid, constants, block, columns, loss)
    return received


def _reach(wanted: NDArray[np.bool_], over_axis: int) -> slice:
    """From the first to the last row (over axis 1) or column (over axis 0) that holds a wanted cell."""
    found = np.flatnonzero(np.any(wanted, axis=over_axis))
    return slice(int(found[0]), int(found[-1]) + 1) if found.size else slice(0, 0)


def cell_margins(
    plan: Plan,
    grid: TerrainGrid,
    loss_db: FloatMap,
    wanted: NDArray[np.bool_] | None = None,
    *,
    constants: SiteConstants | None = None,
) -> FloatMap:
    """Margin of cells over the weakest usable level, dB; arguments as `cell_levels`."""
    constants = constants or site_constants(plan, grid.cell_size_m)
    level = cell_levels(plan, grid, loss_db, wanted, constants=constants)
    return np.subtract(level, np.float32(constants.weakest.level_dbm), out=level)


def _part(progress: Callable[[float], None] | None, begun: float) -> Callable[[float], None] | None:
    """Progress of the whole from that of the half that begins at `begun`."""
    return None if progress is None else lambda share: progress(begun + 0.5 * share)


def _received(
    plan: Plan, grid: TerrainGrid, constants: SiteConstants, rows: slice, columns: slice, loss: FloatMap
) -> FloatArray:
    """Received level of a block of cells, dBm."""
    transmitter = plan.transmitter
    elevation_deg: FloatArray | float = 0.0
    if transmitter.antenna.pattern is not None:
        elevation_deg = _elevation_deg(plan, grid, constants, rows, columns)
    eirp: FloatArray = (
        budget.peak_eirp_dbm(transmitter)
        - transmitter.antenna.gain_dbi
        + antenna.gain_dbi(transmitter.antenna, elevation_deg)
    )
    gain_db = constants.receive_gain_db + constants.learned_db
    received = budget.received_dbm(eirp, loss.astype(np.float64), gain_db)
    of_class = class_offset_db(plan, grid, (rows, columns))
    return received if isinstance(of_class, float) else received + of_class


def _elevation_deg(
    plan: Plan, grid: TerrainGrid, constants: SiteConstants, rows: slice, columns: slice
) -> FloatArray:
    """Angle over the base antenna's horizon at which it sees the rover's antenna."""
    # half a cell stands for the mean distance within the base's own cell
    distance_m = np.maximum(grid.distance_from_base_m(rows)[:, columns], 0.5 * grid.cell_size_m)
    base_m = grid.height_m[grid.base_row, grid.base_column] + plan.base.antenna_height_m
    rover_m = grid.height_m[rows, columns] + plan.rover.antenna_height_m
    bulge_angle = distance_m / (2e3 * constants.effective_earth_radius_km)
    elevation: FloatArray = np.degrees(np.arctan((rover_m - base_m) / distance_m - bulge_angle))
    return elevation


def _check_holds_cells(grid: TerrainGrid, inside: NDArray[np.bool_], area: BaseGeometry) -> None:
    if not inside.any():
        raise PlaceError(
            f"the job's boundary ({area.area:.0f} m2) holds no centre of a {grid.cell_size_m:g} m cell; "
            "set terrain.cell_size smaller, or use finer terrain"
        )
