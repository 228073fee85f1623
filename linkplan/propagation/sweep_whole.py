"""What does a path lose at the median beside diffraction? The rest of P.1812-8 for every cell of a map.

Free space and diffraction are all of it within sight and wherever steep horizons shut other ways off.
Over smooth ground, some kilometres out, waves also arrive by scatter and, in low latitudes above all,
by layers of air that lead them: there the median loss is less.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import PlaceError, RangeError
from linkplan.propagation.free_space import slant_free_space_loss_db
from linkplan.propagation.sweep_numba import FloatArray, SingleArray
from linkplan.propagation.sweep_threads import run_blocks
from linkplan.propagation.sweep_wanted import BoolArray, Box, bounds_of, distances, mask_of, turns_between
from linkplan.propagation.sweep_whole_ground import Wedge, wedges
from linkplan.propagation.sweep_whole_loss import Air, distance_table, make_air
from linkplan.propagation.sweep_whole_path import tops_size
from linkplan.propagation.sweep_whole_sector import KM_PER_DEGREE, SECTOR_RADIALS, sectors_loss
from linkplan.ranges import require_range

__all__ = ["whole_median_loss"]

RADIALS_AT_ONCE = 64
TABLE_ROWS = 1024


def whole_median_loss(
    height_m: ArrayLike,
    diffraction_db: NDArray[Any],
    *,
    cell_size_m: float,
    tx_row: int,
    tx_column: int,
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    tx_latitude_deg: float,
    refractivity_gradient_n_units_per_km: float = 45.0,
    sea_level_refractivity_n_units: float = 325.0,
    wanted: NDArray[np.bool_] | None = None,
    progress: Callable[[float], None] | None = None,
) -> SingleArray:
    """Basic transmission loss of every cell, dB, at 50 % of time and locations, all inland; float32.

    `height_m` (rows, columns): bare ground, m, NaN where missing, row 0 in the north, square cells of
    `cell_size_m`; `diffraction_db`, same shape: delta-Bullington loss of the path to each cell, from
    `sweep`, NaN where unknown (so is the result). Other arguments as `sweep`; `tx_latitude_deg` of the
    base, -90 to 90. Cells nearer than 0.25 km, where the Recommendation begins, get free space and
    diffraction; the base's own cell stands for half a cell's distance. Within 0.02 dB of the whole
    Recommendation for a path that is sampled once a cell with that diffraction; `wanted` and `progress` as
    `sweep`: cells that `wanted` does not name stay NaN, the others have the numbers of the whole map.
    Raises RangeError, or PlaceError where the base lies outside the raster or on missing ground.
    [P.1812-8, sections 4.2 to 4.7]
    """
    ground = np.asarray(height_m)
    diffraction = np.ascontiguousarray(diffraction_db)
    _check(ground, diffraction, cell_size_m, tx_row, tx_column, frequency_ghz, tx_latitude_deg)
    cell_km = cell_size_m / 1e3
    rows, columns = ground.shape
    farthest = math.hypot(max(tx_row, rows - 1 - tx_row), max(tx_column, columns - 1 - tx_column))
    longest_km = max(farthest, 1.0) * cell_km * (1.0 + 1e-9)
    air = make_air(
        tx_height_m=require_range("tx_height_m", tx_height_m, 0.01, 3000.0, unit="m"),
        rx_height_m=require_range("rx_height_m", rx_height_m, 0.01, 3000.0, unit="m"),
        cell_km=cell_km,
        frequency_ghz=frequency_ghz,
        tx_latitude_deg=tx_latitude_deg,
        refractivity_gradient_n_units_per_km=refractivity_gradient_n_units_per_km,
        sea_level_refractivity_n_units=require_range(
            "sea_level_refractivity_n_units", sea_level_refractivity_n_units, 200.0, 500.0, unit="N-units"
        ),
        table_per_km=(TABLE_ROWS - 1) / longest_km,
    )
    mask = mask_of(wanted, (rows, columns))
    bounds = bounds_of(mask, (rows, columns))
    table = distance_table(
        longest_km,
        TABLE_ROWS,
        _least_latitudes(tx_latitude_deg, longest_km),
        *(cells * cell_km for cells in distances(bounds, tx_row, tx_column)),
    )
    loss = np.empty(ground.shape, dtype=np.float32)
    if mask.size:
        loss.fill(np.nan)
    start = tx_row * columns + tx_column
    if mask.size == 0 or mask[start]:
        loss[tx_row, tx_column] = diffraction[tx_row, tx_column] + slant_free_space_loss_db(
            0.5 * cell_km, tx_height_m, rx_height_m, frequency_ghz
        )
    parts = wedges(ground, tx_row, tx_column, bounds)
    for done, wedge in enumerate(parts):
        _fill(
            wedge, air, table, start, mask, diffraction.reshape(-1), loss.reshape(-1),
            _part(progress, done, len(parts)),
        )  # fmt: skip
    return loss


def _fill(
    wedge: Wedge,
    air: Air,
    table: FloatArray,
    start: int,
    mask: BoolArray,
    diffraction: NDArray[Any],
    loss: SingleArray,
    progress: Callable[[float], None] | None,
) -> None:
    """All wanted cells of a wedge."""
    frame = wedge.frame
    begin, end = turns_between(Box(frame.near, frame.far, frame.low, frame.high), frame.reach)

    def block(first: int, stop: int) -> None:
        sums = np.empty((SECTOR_RADIALS + 1, 2, frame.far + 1))
        tops = np.empty(tops_size(frame.last), dtype=np.float32)
        cells = np.empty(SECTOR_RADIALS, dtype=np.int64)
        sectors_loss(
            wedge.height, table, sums, tops, cells, frame, air,
            begin + first, begin + stop, start, mask, diffraction, loss,
        )  # fmt: skip

    run_blocks(block, end + 1 - begin, RADIALS_AT_ONCE, progress)


def _part(progress: Callable[[float], None] | None, done: int, parts: int) -> Callable[[float], None] | None:
    """Progress of the whole from that of one of `parts` parts."""
    if progress is None:
        return None
    tell = progress
    return lambda share: tell((done + share) / parts)


def _least_latitudes(latitude_deg: float, longest_km: float) -> tuple[float, float]:
    """Ends of the latitudes that paths' middles can have, without sign."""
    half = 0.5 * longest_km / KM_PER_DEGREE
    low = max(abs(latitude_deg) - half, 0.0)
    return low, abs(latitude_deg) + half


def _check(
    ground: NDArray[Any],
    diffraction: NDArray[Any],
    cell_size_m: float,
    tx_row: int,
    tx_column: int,
    frequency_ghz: float,
    tx_latitude_deg: float,
) -> None:
    if ground.ndim != 2 or ground.size == 0:
        raise RangeError(f"height_m has shape {ground.shape}; it must be (rows, columns)")
    if diffraction.shape != ground.shape:
        raise RangeError(f"diffraction_db has shape {diffraction.shape}, but height_m {ground.shape}")
    if diffraction.dtype not in (np.float32, np.float64):
        raise RangeError(f"diffraction_db is of type {diffraction.dtype}; it must be float32 or float64")
    require_range("cell_size_m", cell_size_m, 0.01, 10_000.0, unit="m")
    require_range("frequency_ghz", frequency_ghz, 0.03, 6.0, unit="GHz", source="P.1812-8, section 1")
    require_range("tx_latitude_deg", tx_latitude_deg, -90.0, 90.0, unit="degrees")
    rows, columns = ground.shape
    if not (0 <= tx_row < rows and 0 <= tx_column < columns):
        raise PlaceError(
            f"the base at row {tx_row}, column {tx_column} lies outside the raster of "
            f"{rows} rows and {columns} columns"
        )
    if not math.isfinite(ground[tx_row, tx_column]):
        raise PlaceError(f"the ground under the base, row {tx_row}, column {tx_column}, is unknown")
