"""Where the ray of an azimuth crosses lines of cells, counted from the cell it begins in.

From a cell's centre a ray meets the same neighbours in the same order wherever the cell lies: one table an
azimuth serves all cells of a grid. The samples are those of `horizon_deg`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.terrain.grid import FloatArray
from linkplan.terrain.horizon_kernels import BLOCK_STEPS, Blocks, IntArray, Steps
from linkplan.terrain.profile import ON_A_LINE


@dataclass(frozen=True)
class Ray:
    """The steps of one azimuth, for every cell of a grid."""

    azimuth_deg: float
    steps: Steps
    blocks: Blocks
    far_m: FloatArray
    """(steps + 1,): 0, then the distance of each step."""

    def steps_to(self, reach_m: float) -> int:
        """Steps that must be known for the ground to be known to `reach_m`; at least one."""
        return max(1, int(np.searchsorted(self.far_m, reach_m)))

    def first_blocks(self, steps: int) -> Blocks:
        """The blocks that hold the first so many steps."""
        count = -(-steps // BLOCK_STEPS)
        return Blocks._make(part[:count] for part in self.blocks)


@dataclass(frozen=True)
class _Crossings:
    """Places on a ray, (n,), nearest first, in cells from where it begins."""

    far: FloatArray
    row: FloatArray
    column: FloatArray

    def chosen(self, which: NDArray[Any]) -> _Crossings:
        return _Crossings(self.far[which], self.row[which], self.column[which])


def ray_of(
    azimuth_deg: float,
    *,
    shape: tuple[int, int],
    stride: int,
    cell_size_m: float,
    effective_earth_radius_m: float,
    real: np.dtype[Any],
) -> Ray:
    """The ray's steps for a grid of so many rows and columns looked from every `stride`-th cell."""
    rows, columns = shape
    down, right = _direction(azimuth_deg)
    met = _crossings(down, right, rows, columns)
    top, bottom = _whole(np.floor(met.row)), _whole(np.ceil(met.row))
    left, end = _whole(np.floor(met.column)), _whole(np.ceil(met.column))
    width = -(-columns // stride)

    def place(row: IntArray, column: IntArray) -> IntArray:
        return ((column % stride) * rows + row) * width + column // stride

    over_rows, over_columns = np.maximum(-top, bottom), np.maximum(-left, end)
    far_m = met.far * cell_size_m
    last = np.full(met.far.shape, width - 1, dtype=np.int64)
    steps = Steps(
        first=place(top, left),
        second=place(bottom, end),
        share=((met.row - top) + (met.column - left)).astype(real),
        per_m=(1.0 / far_m).astype(real),
        drop=(far_m / (2.0 * effective_earth_radius_m)).astype(real),
        from_column=-(-over_columns // stride) if right < 0.0 else np.zeros_like(last),
        to_column=(columns - 1 - over_columns) // stride if right > 0.0 else last,
        in_rows=_steps_inside(over_rows, down, rows, stride),
        in_columns=_steps_inside(over_columns, right, columns, stride),
    )
    return Ray(azimuth_deg, steps, _blocks(steps, top, bottom, left, end), np.concatenate([[0.0], far_m]))


def _direction(azimuth_deg: float) -> tuple[float, float]:
    """Rows down and columns right for each cell of way, without the rounding of sine and cosine."""
    angle = math.radians(azimuth_deg)
    down, right = -math.cos(angle), math.sin(angle)
    return (0.0 if abs(down) < 1e-12 else down), (0.0 if abs(right) < 1e-12 else right)


def _crossings(down: float, right: float, rows: int, columns: int) -> _Crossings:
    """Where the ray crosses rows and columns of cell centres, as far as a grid of this size reaches."""
    parts = []
    if down:
        number = np.arange(1.0, rows)
        column = _snapped(number * (right / abs(down)))
        parts.append(_Crossings(number / abs(down), math.copysign(1.0, down) * number, column))
    if right:
        number = math.copysign(1.0, right) * np.arange(1.0, columns)
        row = _snapped(np.abs(number) * (down / abs(right)))
        by_column = _Crossings(np.abs(number) / abs(right), row, number)
        # a cell's centre lies on its row too: once is enough
        parts.append(by_column.chosen(~np.isin(number, parts[0].column)) if parts else by_column)
    joined = _Crossings(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in ("far", "row", "column"))
    )
    within = (np.ceil(np.abs(joined.row)) < rows) & (np.ceil(np.abs(joined.column)) < columns)
    joined = joined.chosen(within)
    return joined.chosen(np.argsort(joined.far, kind="stable"))


def _steps_inside(over: IntArray, component: float, lines: int, stride: int) -> IntArray:
    """For each line looked from: how many steps stay among the grid's lines, if step i goes over[i] on."""
    here = np.arange(0, lines, stride)
    over = np.maximum.accumulate(over)
    if component == 0.0:
        return np.full(here.size, over.size, dtype=np.int64)
    room = lines - 1 - here if component > 0.0 else here
    return _whole(np.searchsorted(over, room, side="right"))


def _blocks(steps: Steps, top: IntArray, bottom: IntArray, left: IntArray, end: IntArray) -> Blocks:
    """The steps in blocks."""
    count = steps.first.size
    begin = np.arange(0, count, BLOCK_STEPS)
    stop = np.minimum(begin + BLOCK_STEPS, count)
    if count == 0:
        return Blocks(begin, stop, begin, begin, begin, begin, steps.per_m, steps.per_m, steps.drop)
    return Blocks(
        begin, stop,
        np.minimum.reduceat(top, begin), np.maximum.reduceat(bottom, begin),
        np.minimum.reduceat(left, begin), np.maximum.reduceat(end, begin),
        steps.per_m[begin], steps.per_m[stop - 1], steps.drop[begin],
    )  # fmt: skip


def _whole(values: NDArray[Any]) -> IntArray:
    return np.asarray(values, dtype=np.int64)


def _snapped(position: FloatArray) -> FloatArray:
    nearest = np.rint(position)
    return np.where(np.abs(position - nearest) < ON_A_LINE, nearest, position)
