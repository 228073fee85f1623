"""How much do terrain and clutter take away at every cell around a base? The map's computation.

`sweep` gives loss, line of sight and Fresnel clearance of all cells, `diffraction_loss` the loss alone.
A cell holds the median delta-Bullington loss of the straight path from the base's cell to its centre.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import PlaceError, RangeError
from linkplan.propagation.sweep_fill import fill_by_radials, fill_exactly
from linkplan.propagation.sweep_final import NU_FLOOR, make_link
from linkplan.propagation.sweep_numba import FloatArray, SingleArray
from linkplan.propagation.sweep_plan import (
    EXACT_SAMPLES,
    Field,
    Progress,
    RadialError,
    choose_density,
    density_of,
    losses_at,
    radial_count,
    radial_error_at,
    sampled_cells,
)
from linkplan.propagation.sweep_wanted import mask_of
from linkplan.ranges import require_range
from linkplan.tables import p1812_8

__all__ = [
    "HIGHEST_CLEARANCE",
    "MEDIAN_EARTH_RADIUS_KM",
    "RadialError",
    "SweepResult",
    "diffraction_loss",
    "radial_error",
    "sweep",
]

MEDIAN_EARTH_RADIUS_KM = 6371.0 * 157.0 / (157.0 - 45.0)
"""Effective earth radius for a refractivity gradient of 45 N-units/km [P.1812-8, section 3.5]."""

HIGHEST_CLEARANCE = -NU_FLOOR / math.sqrt(2.0)
"""Clearances of more first Fresnel radii than this are not told apart: 1."""


@dataclass(frozen=True)
class SweepResult:
    """Every cell of a raster as seen from one base; arrays are (rows, columns), NaN where unknown.

    A cell is unknown where it is missing itself, where the path to it crosses missing ground or clutter, or
    where nobody wanted it.
    """

    diffraction_db: FloatArray
    """Delta-Bullington loss, dB, added to free space."""
    fresnel_clearance: SingleArray
    """Clearance of the deciding obstacle in first Fresnel radii, -nu/sqrt 2: 0 where the ray grazes,
    negative beyond an obstacle, at most `HIGHEST_CLEARANCE` (also where nothing stands between)."""
    radials: int
    """Radials that were swept; 0 where every cell had a path of its own."""
    radial_error: RadialError | None
    """What lying between radials costs, measured when the number of radials was chosen; all 0 where every
    cell had a path of its own, None where the caller gave the number."""

    @property
    def line_of_sight(self) -> SingleArray:
        """1 where the ray clears ground, clutter and the bulge of the earth, 0 where not, NaN unknown."""
        seen = (self.fresnel_clearance > 0.0).astype(np.float32)
        seen[np.isnan(self.fresnel_clearance)] = np.nan
        return seen


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
    precision: str = "single",
    radials: int | None = None,
    wanted: NDArray[np.bool_] | None = None,
    progress: Progress = None,
) -> SweepResult:
    """Loss, line of sight and Fresnel clearance of every cell around a base, vertical polarization, land.

    `height_m` (rows, columns): ground, m, any datum, NaN where missing, on square cells of `cell_size_m`
    (0.01 to 10 000 m). The base stands in the middle of cell (`tx_row`, `tx_column`), its antenna
    `tx_height_m` above that cell's ground, rover antennas `rx_height_m` above theirs (above 0 to 3000 m).
    `clutter_height_m`, same shape, m above ground, raises the ground between the two ends of a path, never
    at them. `frequency_ghz` 0.03 to 6.

    A small map gets an exact path to each cell. A larger one is swept along `radials` lines, a cell taking
    the linear mean of the two beside it; by default as many as keep the error's RMS, measured on a sample
    of cells, below 0.25 dB, and no fewer than one for each border cell unless the ground is even and fewer
    lose less than 0.05 dB. `precision` is that of the arithmetic along radials: "double", or "single"
    (faster, within 0.001 dB). Cells that `wanted`, same shape, does not name stay NaN and mostly cost no
    work; the others have the numbers of the whole map, to the last bit. `progress`, if given, is called with
    the share that is done; an interrupt is answered within a second.
    Raises RangeError, or PlaceError where the base lies outside the raster. [P.1812-8, section 4.3]
    """
    if precision not in ("double", "single"):
        raise RangeError(f'precision = {precision!r}; it must be "double" or "single"')
    field = _field(
        height_m, clutter_height_m, cell_size_m, (tx_row, tx_column), tx_height_m, rx_height_m,
        frequency_ghz, effective_earth_radius_km, wanted,
    )  # fmt: skip
    loss = np.empty(field.ground.size)
    clearance = np.empty(field.ground.size, dtype=np.float32)
    used = 0
    measured: RadialError | None = RadialError(0.0, 0.0, 0)
    standing = math.isfinite(field.ground[tx_row * field.shape[1] + tx_column])
    if not standing or field.wanted.size:
        loss.fill(np.nan)
        clearance.fill(np.nan)
    if not standing:
        pass
    elif radials is None and field.exact_samples() <= EXACT_SAMPLES:
        fill_exactly(field, loss, clearance, progress)
    else:
        density, measured = _density(field, radials)
        used = radial_count(field, density)
        fill_by_radials(field, density, precision == "single", loss, clearance, progress)
    return SweepResult(
        diffraction_db=loss.reshape(field.shape),
        fresnel_clearance=clearance.reshape(field.shape),
        radials=used,
        radial_error=measured,
    )


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
    """Delta-Bullington loss of every cell, dB, (rows, columns), NaN where unknown.

    Arguments and accuracy are those of `sweep` with its defaults. [P.1812-8, section 4.3]
    """
    return sweep(
        height_m,
        cell_size_m=cell_size_m,
        tx_row=tx_row,
        tx_column=tx_column,
        tx_height_m=tx_height_m,
        rx_height_m=rx_height_m,
        frequency_ghz=frequency_ghz,
        clutter_height_m=clutter_height_m,
        effective_earth_radius_km=effective_earth_radius_km,
    ).diffraction_db


def radial_error(
    height_m: ArrayLike,
    *,
    cell_size_m: float,
    tx_row: int,
    tx_column: int,
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    radials: int,
    clutter_height_m: ArrayLike | None = None,
    effective_earth_radius_km: float = MEDIAN_EARTH_RADIUS_KM,
    cells: int = 2000,
    seed: int = 0,
) -> RadialError:
    """What a map swept along `radials` lines loses against the exact path to each cell's centre.

    Measured on `cells` cells drawn at random; the other arguments as `sweep`.
    """
    field = _field(
        height_m, clutter_height_m, cell_size_m, (tx_row, tx_column), tx_height_m, rx_height_m,
        frequency_ghz, effective_earth_radius_km,
    )  # fmt: skip
    sample = sampled_cells(field, cells, seed)
    return radial_error_at(field, density_of(field, radials), sample, losses_at(field, sample, sample[:, 1]))


def _density(field: Field, radials: int | None) -> tuple[float, RadialError | None]:
    """Radials for each border cell: the caller's number, or chosen and measured."""
    if radials is None:
        return choose_density(field)
    require_range("radials", radials, 8, 1e7)
    return density_of(field, radials), None


def _field(
    height_m: ArrayLike,
    clutter_height_m: ArrayLike | None,
    cell_size_m: float,
    base: tuple[int, int],
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    effective_earth_radius_km: float,
    wanted: NDArray[np.bool_] | None = None,
) -> Field:
    """The checked input of a map."""
    ground = np.ascontiguousarray(height_m, dtype=np.float64)
    if ground.ndim != 2 or ground.size == 0:
        raise RangeError(f"height_m has shape {ground.shape}; it must be (rows, columns)")
    rows, columns = ground.shape
    row, column = base
    if not (0 <= row < rows and 0 <= column < columns):
        raise PlaceError(
            f"the base at row {row}, column {column} lies outside the raster of {rows} rows and "
            f"{columns} columns"
        )
    surface = np.empty(0)
    if clutter_height_m is not None:
        clutter = np.asarray(clutter_height_m, dtype=np.float64)
        if clutter.shape != ground.shape:
            raise RangeError(f"clutter_height_m has shape {clutter.shape}, but height_m {ground.shape}")
        surface = (ground + clutter).reshape(-1)
    for name, height in (("tx_height_m", tx_height_m), ("rx_height_m", rx_height_m)):
        require_range(name, height, 0.01, p1812_8.ANTENNA_HEIGHT_MAX_M, unit="m", source=p1812_8.SOURCE)
    require_range("frequency_ghz", frequency_ghz, *p1812_8.FREQUENCY_GHZ, unit="GHz", source=p1812_8.SOURCE)
    require_range("effective_earth_radius_km", effective_earth_radius_km, 1000.0, 1e9, unit="km")
    require_range("cell_size_m", cell_size_m, 0.01, 10_000.0, unit="m")
    with np.errstate(invalid="ignore", over="ignore"):
        complete = math.isfinite(float(ground.sum() + surface.sum()))
    return Field(
        ground=ground.reshape(-1),
        surface=surface,
        complete=complete,
        shape=(rows, columns),
        row=int(row),
        column=int(column),
        cell_km=float(cell_size_m) / 1000.0,
        link=make_link(tx_height_m, rx_height_m, frequency_ghz, effective_earth_radius_km),
        wanted=mask_of(wanted, (rows, columns)),
    )
