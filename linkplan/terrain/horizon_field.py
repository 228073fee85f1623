"""A grid made ready to be looked at from all its cells, and one look at it in one direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.ranges import require_range
from linkplan.terrain.grid import BoolArray, FloatArray
from linkplan.terrain.horizon import checked_azimuths
from linkplan.terrain.horizon_kernels import (
    PATCH,
    TILE_ROWS,
    Field,
    Real,
    RealArray,
    look,
    look_for_holes,
)
from linkplan.terrain.horizon_rays import Ray, ray_of

StepArray = NDArray[np.int32]

SINGLE_UP_TO_CELLS = 64.0
"""Single precision while no height is farther from the middle of the ground's range than so many cells: the
rounding of two heights, 2^-24 of each, is under 0.0005 degrees then, one cell away. Double precision, at
1.5 times the time, where the relief is greater."""

BAND_CELLS = 32_768
"""Cells of one piece of work, in whole rows: some 3 ms an azimuth."""


@dataclass(frozen=True)
class View:
    """A grid, the eyes that look at it, and where to."""

    field: Field
    eye_m: RealArray
    """(rows looked from, columns looked from), over the middle of the heights; infinite where no eye is."""
    cell_size_m: float
    effective_earth_radius_m: float
    azimuths_deg: FloatArray

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns looked from."""
        rows, columns = self.eye_m.shape
        return rows, columns

    def real(self, value: float) -> Real:
        """A number of the kernels' precision."""
        return self.eye_m.dtype.type(value)

    def ray(self, azimuth_deg: float) -> Ray:
        """The steps of one azimuth."""
        return ray_of(
            float(azimuth_deg),
            shape=(self.field.rows, self.field.columns),
            stride=self.field.stride,
            cell_size_m=self.cell_size_m,
            effective_earth_radius_m=self.effective_earth_radius_m,
            real=self.eye_m.dtype,
        )

    def bands(self) -> list[tuple[int, int]]:
        """First and stop of rows looked from that make one piece of work."""
        rows, columns = self.shape
        height = max(1, BAND_CELLS // (columns * TILE_ROWS)) * TILE_ROWS
        return [(first, min(first + height, rows)) for first in range(0, rows, height)]

    def slopes(self, ray: Ray, least: Real, first: int, stop: int) -> RealArray:
        """Steepest slope, no less than `least`, of rows first..stop looked from, flat; NaN without an eye."""
        slope = np.empty((stop - first) * self.shape[1], dtype=self.eye_m.dtype)
        look(self.field, ray.steps, ray.blocks, self.eye_m.reshape(-1), least, first, stop, slope)
        return slope

    def first_unknown(self, ray: Ray, first: int, stop: int, needed: int) -> StepArray:
        """The first unknown step of rows first..stop looked from, flat; empty where no ground is unknown.

        It is looked for among the first `needed` steps, and the rest of their block.
        """
        if self.field.complete:
            return np.empty(0, dtype=np.int32)
        unknown = np.empty((stop - first) * self.shape[1], dtype=np.int32)
        look_for_holes(self.field, ray.steps, ray.first_blocks(needed), first, stop, unknown)
        return unknown

    def known_to_m(self, ray: Ray, first: int, stop: int) -> NDArray[np.float32]:
        """How far the ground is known from rows first..stop looked from; 0 where no eye is."""
        steps = np.minimum(ray.steps.in_rows[first:stop, None], ray.steps.in_columns)
        unknown = self.first_unknown(ray, first, stop, ray.far_m.size)
        if unknown.size:
            steps = np.minimum(steps, unknown.reshape(steps.shape))
        known_to = ray.far_m.astype(np.float32)[steps]
        known_to[~np.isfinite(self.eye_m[first:stop])] = 0.0
        return known_to


def view_of(
    height_m: ArrayLike,
    *,
    cell_size_m: float,
    eye_height_m: float,
    azimuths_deg: ArrayLike,
    effective_earth_radius_m: float,
    stride: int = 1,
    wanted: BoolArray | None = None,
) -> View:
    """The view, checked; RangeError for what makes no sense."""
    heights = np.asarray(height_m)
    if heights.ndim != 2 or heights.size == 0:
        raise RangeError(f"height_m has shape {heights.shape}; it must be (rows, columns)")
    require_range("cell_size_m", cell_size_m, 1e-3, 1e5, unit="m")
    require_range("eye_height_m", eye_height_m, 0.0, 1e4, unit="m")
    require_range("effective_earth_radius_m", effective_earth_radius_m, 1e6, 1e15, unit="m")
    require_range("stride", stride, 1, max(heights.shape))
    known = np.isfinite(heights)
    some = heights[known]
    low, high = (float(some.min()), float(some.max())) if some.size else (0.0, 0.0)
    ground = np.where(known, heights - float(round(0.5 * (low + high))), np.nan)
    from_ground = ground[::stride, ::stride]
    looked_from = known[::stride, ::stride]
    if wanted is not None:
        if np.shape(wanted) != from_ground.shape:
            raise RangeError(f"wanted has shape {np.shape(wanted)}, but {from_ground.shape} are looked from")
        looked_from = looked_from & wanted
    eye = np.where(looked_from, from_ground + eye_height_m, np.inf)
    single = 0.5 * (high - low) + eye_height_m < SINGLE_UP_TO_CELLS * cell_size_m
    real = np.dtype(np.float32 if single else np.float64)
    return View(
        _field(ground.astype(real), known, int(stride)),
        np.ascontiguousarray(eye, dtype=real),
        float(cell_size_m),
        float(effective_earth_radius_m),
        checked_azimuths(azimuths_deg),
    )


def _field(ground: RealArray, known: BoolArray, stride: int) -> Field:
    """The ground in the order in which it is looked at, and what its patches hold."""
    rows, columns = ground.shape
    width = -(-columns // stride)
    padded = np.full((rows, width * stride), np.nan, dtype=ground.dtype)
    padded[:, :columns] = ground
    highest = _in_patches(np.where(known, ground, -np.inf).astype(ground.dtype), -np.inf)
    return Field(
        ground=np.ascontiguousarray(padded.reshape(rows, width, stride).transpose(2, 0, 1)).reshape(-1),
        rows=rows,
        columns=columns,
        width=width,
        stride=stride,
        highest=highest,
        holes=_in_patches((~known).astype(ground.dtype), 0.0),
        summit=highest.max(),
        complete=bool(known.all()),
    )


def _in_patches(values: RealArray, outside: float) -> RealArray:
    """The greatest value of each patch of cells."""
    rows, columns = (-(-lines // PATCH) for lines in values.shape)
    padded = np.full((rows * PATCH, columns * PATCH), outside, dtype=values.dtype)
    padded[: values.shape[0], : values.shape[1]] = values
    greatest: RealArray = padded.reshape(rows, PATCH, columns, PATCH).max(axis=(1, 3))
    return greatest
