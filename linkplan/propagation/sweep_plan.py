"""How many radials does a map need? Chosen by measuring what is lost between them on a sample of cells."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.propagation.sweep_final import Link
from linkplan.propagation.sweep_geometry import Quadrant, quadrant_towards
from linkplan.propagation.sweep_numba import FloatArray, IntArray
from linkplan.propagation.sweep_profile import losses_between, stand_out
from linkplan.propagation.sweep_profile import scratch_for as profile_scratch
from linkplan.propagation.sweep_threads import run_blocks, worker_count
from linkplan.propagation.sweep_wanted import BoolArray, Bounds, bounds_of

Progress = Callable[[float], None] | None

SPARSE_RMS_DB, SPARSE_LARGEST_DB = 0.05, 0.5
"""Fewer radials than border cells only where the sampled cells lose no more than this."""

EVEN_LAG, EVEN_FACTOR, EVEN_M = 4, 8.0, 0.25
"""Fewer radials than border cells only on even ground: no cell stands out of the line between those four
cells to either side by more than 8 times the map's RMS, or by more than 0.25 m. A bank or a heap that a
sample of cells may miss stands out farther than the hills do."""

DENSE = (1.0, 2.0, 4.0)
"""Radials for each cell of the map's border otherwise, from the cheapest."""

WANTED_RMS_DB = 0.25
"""The next in DENSE where the sampled cells would lose more than this."""

SAMPLED_CELLS = 512

EXACT_SAMPLES = 8e6
"""Maps whose exact paths have fewer samples in all are not swept: some 0.05 s."""


@dataclass(frozen=True)
class RadialError:
    """What a map loses by lying between radials: map less exact path, over sampled cells."""

    rms_db: float
    largest_db: float
    cells: int
    """Cells that were sampled and are known."""


@dataclass(frozen=True)
class Field:
    """One map's input as the kernels take it: flat rasters, the base's cell, the link's constants."""

    ground: FloatArray
    surface: FloatArray
    """Ground with clutter; empty where there is no clutter."""
    complete: bool
    """Whether no cell is missing."""
    shape: tuple[int, int]
    row: int
    column: int
    cell_km: float
    link: Link
    wanted: BoolArray
    """Whether a cell is asked for; empty where all are."""

    @property
    def bounds(self) -> Bounds:
        """Rows and columns between which the wanted cells lie."""
        return bounds_of(self.wanted, self.shape)

    def quadrants(self) -> list[tuple[int, Quadrant]]:
        """The sides of the base that have cells, and their wedges."""
        sides = [(side, quadrant_towards(*self.shape, self.row, self.column, side)) for side in range(4)]
        return [(side, q) for side, q in sides if q.last > 0]

    def exact_samples(self) -> float:
        """Samples in the exact paths to all cells."""
        down = np.abs(np.arange(self.shape[0], dtype=np.float64) - self.row)
        right = np.abs(np.arange(self.shape[1], dtype=np.float64) - self.column)
        if self.ground.size > EXACT_SAMPLES:
            return math.inf
        return float(np.maximum(down[:, None], right[None, :]).sum())


def reach_of(q: Quadrant, density: float) -> int:
    """Steps of a quadrant's outermost radials, for this many radials for each cell of its border."""
    return max(1, math.ceil(q.last * density))


def radial_count(field: Field, density: float) -> int:
    """Radials of a map."""
    return sum(2 * reach_of(q, density) for _, q in field.quadrants())


def density_of(field: Field, radials: int) -> float:
    """Radials for each border cell that come to about `radials` in all."""
    density = radials / max(1, sum(2 * q.last for _, q in field.quadrants()))
    # A hole narrower than the radials' spacing would not be seen: at least one for each border cell.
    return density if field.complete else max(density, 1.0)


def radials_beside(
    shape: tuple[int, int], base: tuple[int, int], cell: tuple[int, int], radials: int, complete: bool = True
) -> list[tuple[float, FloatArray, FloatArray]]:
    """The one or two radials that a cell's loss is taken from: weight, rows and columns of the samples.

    The positions run from the base to beside the cell; one coordinate is whole, the other lies between
    two cells (beyond the raster's border the border counts). For tests and explanations.
    """
    quadrants = [quadrant_towards(*shape, *base, side) for side in range(4)]
    density = radials / sum(2 * q.last for q in quadrants)
    density = density if complete else max(density, 1.0)
    down, right = cell[0] - base[0], cell[1] - base[1]
    upright = abs(down) >= abs(right)
    along, across = (down, right) if upright else (right, down)
    reach = reach_of(quadrants[(0 if upright else 2) + (along < 0)], density)
    k, rest = divmod(across * reach, abs(along))
    share = rest / abs(along)
    steps = np.arange(abs(along) + 1, dtype=np.float64)
    sign = 1.0 if along > 0 else -1.0
    beside = []
    for radial, weight in ((k, 1.0 - share), (k + 1, share)):
        lengthwise: FloatArray = steps * sign
        sideways: FloatArray = steps * radial / reach
        rows, columns = (lengthwise, sideways) if upright else (sideways, lengthwise)
        if weight > 0.0:
            beside.append((weight, base[0] + rows, base[1] + columns))
    return beside


def choose_density(field: Field) -> tuple[float, RadialError]:
    """The cheapest number of radials for each border cell that loses little enough, and what it loses."""
    cells = sampled_cells(field, SAMPLED_CELLS, seed=1)
    exact = losses_at(field, cells, cells[:, 1])

    def error_at(density: float) -> RadialError:
        return radial_error_at(field, density, cells, exact)

    if field.complete and field.surface.size == 0 and is_even(field):
        quarter = error_at(0.25)
        for density, needs_rms_db in ((0.125, SPARSE_RMS_DB / 3), (0.25, SPARSE_RMS_DB), (0.5, 0.4)):
            # What a quarter loses tells what is worth trying.
            if quarter.rms_db <= needs_rms_db:
                error = quarter if density == 0.25 else error_at(density)
                if error.rms_db <= SPARSE_RMS_DB and error.largest_db <= SPARSE_LARGEST_DB:
                    return density, error
    for density in DENSE:
        error = error_at(density)
        if error.rms_db <= WANTED_RMS_DB:
            break
    return density, error


def is_even(field: Field) -> bool:
    """Whether nothing stands out of the ground that radials some cells apart could pass by."""
    rows = field.shape[0]
    size = max(1, -(-rows // (4 * worker_count())))
    found = np.zeros((-(-rows // size), 3))

    def block(first: int, stop: int) -> None:
        stand_out(field.ground, field.shape, EVEN_LAG, first, stop, found[first // size])

    block(0, 0)  # compiles in this thread, where an interrupt is heard
    run_blocks(block, rows, size)
    largest, mean = found[:, 0].max(), found[:, 1].sum() / max(found[:, 2].sum(), 1.0)
    return bool(largest <= max(EVEN_M**2, EVEN_FACTOR**2 * mean))


def radial_error_at(field: Field, density: float, cells: IntArray, exact: FloatArray) -> RadialError:
    """Error of the sampled cells for this density."""
    reaches = np.zeros(4, dtype=np.int64)
    for side, q in field.quadrants():
        reaches[side] = reach_of(q, density)
    error = losses_at(field, cells, reaches[cells[:, 0]]) - exact
    error = error[np.isfinite(error)]
    if error.size == 0:
        return RadialError(0.0, 0.0, 0)
    return RadialError(float(np.sqrt(np.mean(error**2))), float(np.abs(error).max()), int(error.size))


def sampled_cells(field: Field, count: int, seed: int) -> IntArray:
    """Cells of the raster drawn at random, the base's left out: side, steps along and across (n, 3)."""
    random = np.random.default_rng(seed)
    down = random.integers(0, field.shape[0], count) - field.row
    right = random.integers(0, field.shape[1], count) - field.column
    apart = (down != 0) | (right != 0)
    down, right = down[apart], right[apart]
    upright = np.abs(down) >= np.abs(right)
    side = np.where(upright, np.where(down > 0, 0, 1), np.where(right > 0, 2, 3))
    along = np.maximum(np.abs(down), np.abs(right))
    return np.stack([side, along, np.where(upright, right, down)], axis=1).astype(np.int64)


def losses_at(field: Field, cells: IntArray, reach: NDArray[np.int64]) -> FloatArray:
    """Loss at these cells from the two radials beside each, dB."""
    target = np.ascontiguousarray(np.column_stack([cells, reach]))
    out = np.empty(len(target))

    def block(first: int, stop: int) -> None:
        losses_between(
            field.ground, field.surface, field.shape, field.row, field.column,
            target[first:stop], field.cell_km, field.link, profile_scratch(field.shape), out[first:stop],
        )  # fmt: skip

    block(0, 0)  # compiles in this thread, where an interrupt is heard
    run_blocks(block, len(target), max(1, -(-len(target) // (2 * worker_count()))))
    return out
