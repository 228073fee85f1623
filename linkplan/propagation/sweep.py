"""How much do terrain and clutter take away at every cell around a base? The map's computation.

`sweep` gives loss, line of sight and Fresnel clearance of all cells, `diffraction_loss` the loss alone.
A cell holds the median delta-Bullington loss of the straight path from the base's cell to its centre.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import PlaceError, RangeError
from linkplan.propagation.sweep_final import NU_FLOOR, Link, make_link
from linkplan.propagation.sweep_numba import FloatArray
from linkplan.propagation.sweep_profile import cell_rows, scratch_for
from linkplan.propagation.sweep_threads import run_blocks
from linkplan.ranges import require_range

__all__ = ["HIGHEST_CLEARANCE", "MEDIAN_EARTH_RADIUS_KM", "SweepResult", "diffraction_loss", "sweep"]

MEDIAN_EARTH_RADIUS_KM = 6371.0 * 157.0 / (157.0 - 45.0)
"""Effective earth radius for a refractivity gradient of 45 N-units/km [P.1812-8, section 3.5]."""

HIGHEST_CLEARANCE = -NU_FLOOR / math.sqrt(2.0)
"""Clearances of more first Fresnel radii than this are not told apart: 2."""


@dataclass(frozen=True)
class SweepResult:
    """Every cell of a raster as seen from one base; arrays are (rows, columns), NaN where unknown.

    A cell is unknown where it is missing itself or where the path to it crosses missing ground or clutter.
    """

    diffraction_db: FloatArray | NDArray[np.float32]
    """Delta-Bullington loss, dB, added to free space; float64 or float32 by `precision`."""
    fresnel_clearance: NDArray[np.float32]
    """Clearance of the deciding obstacle in first Fresnel radii, -nu/sqrt 2: 0 where the ray grazes,
    negative beyond an obstacle, at most `HIGHEST_CLEARANCE` (also where nothing stands between)."""
    line_of_sight: NDArray[np.float32]
    """1 where the ray clears ground, clutter and the bulge of the earth, 0 where not."""
    radials: int
    """Paths that were swept; 0 where every cell had a path of its own."""


def sweep(
    height_m: ArrayLike,
    *,
    cell_size_m: float,
    tx_row: int,
    tx_column: int,
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    clutter_height_m: ArrayLike | None = None,
    effective_earth_radius_km: float = MEDIAN_EARTH_RADIUS_KM,
    precision: str = "double",
    progress: Callable[[float], None] | None = None,
) -> SweepResult:
    """Loss, line of sight and Fresnel clearance of every cell around a base, vertical polarization, land.

    `height_m` (rows, columns): ground, m, any datum, NaN where missing, on square cells of `cell_size_m`
    (0.01 to 10 000 m). The base stands in the middle of cell (`tx_row`, `tx_column`), its antenna
    `tx_height_m` above that cell's ground, rover antennas `rx_height_m` above theirs (0.01 to 3000 m).
    `clutter_height_m`, same shape, m above ground, raises the ground between the two ends of a path, never
    at them. `frequency_ghz` 0.03 to 6. `progress`, if given, is called with the share that is done.
    Raises RangeError, or PlaceError where the base lies outside the raster. [P.1812-8, section 4.3]
    """
    if precision not in ("double", "single"):
        raise RangeError(f'precision = {precision!r}; it must be "double" or "single"')
    ground, surface = _rasters(height_m, clutter_height_m)
    link = _link(tx_height_m, rx_height_m, frequency_ghz, effective_earth_radius_km)
    cell_km = require_range("cell_size_m", cell_size_m, 0.01, 10_000.0, unit="m") / 1000.0
    rows, columns = ground.shape
    if not (0 <= tx_row < rows and 0 <= tx_column < columns):
        raise PlaceError(
            f"the base at row {tx_row}, column {tx_column} lies outside the raster of "
            f"{rows} rows and {columns} columns"
        )
    loss = np.full(ground.shape, math.nan)
    nu = np.full(ground.shape, math.nan, dtype=np.float32)
    if math.isfinite(ground[tx_row, tx_column]):

        def block(first: int, stop: int) -> None:
            cell_rows(
                ground, surface, tx_row, tx_column, cell_km, link, first, stop,
                scratch_for(ground.shape), loss, nu,
            )  # fmt: skip

        run_blocks(block, rows, rows_of_block(ground.shape), progress)
    clearance = np.minimum(nu * np.float32(-1.0 / math.sqrt(2.0)), np.float32(HIGHEST_CLEARANCE))
    seen = np.where(np.isnan(clearance), clearance, (clearance > 0.0).astype(np.float32))
    kept = loss.astype(np.float32) if precision == "single" else loss
    return SweepResult(diffraction_db=kept, fresnel_clearance=clearance, line_of_sight=seen, radials=0)


def diffraction_loss(
    height_m: ArrayLike,
    *,
    cell_size_m: float,
    tx_row: int,
    tx_column: int,
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    clutter_height_m: ArrayLike | None = None,
    effective_earth_radius_km: float = MEDIAN_EARTH_RADIUS_KM,
) -> FloatArray:
    """Delta-Bullington loss of every cell, dB, (rows, columns), NaN where unknown. Arguments as `sweep`."""
    result = sweep(
        height_m,
        cell_size_m=cell_size_m,
        tx_row=tx_row,
        tx_column=tx_column,
        tx_height_m=tx_height_m,
        rx_height_m=rx_height_m,
        frequency_ghz=frequency_ghz,
        clutter_height_m=clutter_height_m,
        effective_earth_radius_km=effective_earth_radius_km,
    )
    return np.asarray(result.diffraction_db, dtype=np.float64)


def _rasters(height_m: ArrayLike, clutter_height_m: ArrayLike | None) -> tuple[FloatArray, FloatArray]:
    """Ground, and ground with clutter (the same array without), as the kernels want them."""
    ground = np.ascontiguousarray(height_m, dtype=np.float64)
    if ground.ndim != 2 or ground.size == 0:
        raise RangeError(f"height_m has shape {ground.shape}; it must be (rows, columns)")
    if clutter_height_m is None:
        return ground, ground
    clutter = np.asarray(clutter_height_m, dtype=np.float64)
    if clutter.shape != ground.shape:
        raise RangeError(f"clutter_height_m has shape {clutter.shape}, but height_m {ground.shape}")
    return ground, ground + clutter


def _link(
    tx_height_m: float, rx_height_m: float, frequency_ghz: float, effective_earth_radius_km: float
) -> Link:
    """Checked constants of the map."""
    require_range("tx_height_m", tx_height_m, 0.01, 3000.0, unit="m")
    require_range("rx_height_m", rx_height_m, 0.01, 3000.0, unit="m")
    require_range("frequency_ghz", frequency_ghz, 0.03, 6.0, unit="GHz", source="P.1812-8, section 1")
    require_range("effective_earth_radius_km", effective_earth_radius_km, 1000.0, 1e9, unit="km")
    return make_link(tx_height_m, rx_height_m, frequency_ghz, effective_earth_radius_km)


def rows_of_block(shape: tuple[int, int]) -> int:
    """Rows that one thread takes at a time: some 5 million samples, about a tenth of a second."""
    rows, columns = shape
    return max(1, int(5e6 / (columns * max(rows, columns))))
