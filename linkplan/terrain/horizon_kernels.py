"""The horizons of many cells along one azimuth: compiled loops, exact, that pass over ground too low.

A cell's horizon is the steepest of the slopes to its ray's steps (`horizon_rays`). All cells have the same
steps, so the cells of a row look at a step together. Steps go in blocks: how high any ground of a block can
stand bounds its slopes, and a block is left out where the bound is no steeper than what the cells have. The
blocks of the greatest bounds come first.

Unknown ground is NaN, which is steeper than nothing. All reals of a call have one precision.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numba import njit
from numpy.typing import NDArray

Real = np.floating[Any]
RealArray = NDArray[np.floating[Any]]
IntArray = NDArray[np.int64]
Function = TypeVar("Function", bound=Callable[..., Any])

PATCH = 16
"""Cells a side of the patches whose greatest heights are kept."""

BLOCK_STEPS = 32
"""Steps that are looked at or passed over together; the first block is always looked at."""

TILE_ROWS, TILE_COLUMNS = 8, 64
"""Cells for which the blocks' bounds are found at once; those of a row look at a block together."""

NEVER = np.int32(np.iinfo(np.int32).max)
"""The first unknown step where there is none."""

n = np.uint64
"""Positions without a sign: loops over them take half the time."""


class Field(NamedTuple):
    """The ground, and which cells are looked from: every `stride`-th one of the grid's rows and columns.

    `ground` holds the columns 0, stride, 2 stride ... of all rows, then 1, 1 + stride ... and so on, padded
    with NaN to (stride, rows, width): neighbours looked from are neighbours there.
    """

    ground: RealArray
    """Flat; m."""
    rows: int
    columns: int
    width: int
    """Columns looked from."""
    stride: int
    highest: RealArray
    """(patches down, patches across): greatest height; minus infinity where none is known."""
    holes: RealArray
    """Likewise: 1 where ground is unknown."""
    summit: Real
    """Greatest height of all, minus infinity where none is known."""
    complete: bool
    """Whether no ground is unknown."""


class Steps(NamedTuple):
    """The places where a ray crosses lines of cells, nearest first, as seen from a cell; arrays (steps,)."""

    first: IntArray
    """Where one neighbour stands in `ground`, counted from the cell."""
    second: IntArray
    """The other neighbour; the same one where the ray meets a cell's centre."""
    share: RealArray
    """Weight of the second."""
    per_m: RealArray
    """1 / distance."""
    drop: RealArray
    """The earth's curve as a slope: distance / 2R."""
    from_column: IntArray
    """First column looked from whose neighbours lie in the grid."""
    to_column: IntArray
    """Last such column."""
    in_rows: IntArray
    """(rows looked from,): steps that stay in the grid's rows."""
    in_columns: IntArray
    """(columns looked from,): steps that stay in the grid's columns."""


class Blocks(NamedTuple):
    """Steps taken together, and the cells they touch, counted from the cell looked from; arrays (blocks,)."""

    start: IntArray
    stop: IntArray
    top: IntArray
    bottom: IntArray
    left: IntArray
    right: IntArray
    near: RealArray
    """1 / distance of the first step."""
    far: RealArray
    """1 / distance of the last step."""
    drop: RealArray
    """The earth's curve at the first step."""


def kernel(function: Function, **more: Any) -> Function:
    """Compile at the first call, without the interpreter's lock; kept on disk where that may be written."""
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy", **more}
    compiled: Function
    try:
        compiled = njit(cache=True, **options)(function)
    except RuntimeError:  # neither beside the source nor in a home: each run compiles anew
        compiled = njit(**options)(function)
    return compiled


def inner(function: Function) -> Function:
    """As `kernel`, for functions that only kernels call."""
    return kernel(function, forceinline=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)


@inner
def greatest_within(field: Field, patches: RealArray, top: int, bottom: int, left: int, right: int) -> Real:
    """The greatest of the patches that hold these rows and columns, ends included, or minus infinity."""
    greatest = patches.dtype.type(-np.inf)
    if bottom >= 0 and top < field.rows and right >= 0 and left < field.columns:
        for i in range(max(top, 0) // PATCH, min(bottom, field.rows - 1) // PATCH + 1):
            for j in range(max(left, 0) // PATCH, min(right, field.columns - 1) // PATCH + 1):
                greatest = max(greatest, patches[i, j])
    return greatest


@inner
def bound_of(blocks: Blocks, k: int, above_m: Real) -> Real:
    """No ground of block k that stands up to `above_m` over the eye is seen under a steeper slope."""
    bound: Real = max(above_m * blocks.near[k], above_m * blocks.far[k]) - blocks.drop[k]
    return bound


@inner
def none_beyond(field: Field, blocks: Blocks, k: int, eye: Real, slope: Real) -> bool:
    """Whether the highest ground of all would be no steeper in block k, and so in none farther out."""
    above_m = field.summit - eye
    return bool(above_m >= 0.0 and above_m * blocks.near[k] - blocks.drop[k] <= slope)


@inner
def any_may_rise(
    blocks: Blocks, k: int, highest: Real, eye: RealArray, here: int, slope: RealArray, out: int, count: int
) -> bool:
    """Whether one of `count` cells might see something steeper in block k than its slope."""
    near, far, drop = blocks.near[k], blocks.far[k], blocks.drop[k]
    found = False
    for c in range(n(count)):
        above_m = highest - eye[n(here) + c]
        found |= max(above_m * near, above_m * far) - drop > slope[n(out) + c]
    return found


@inner
def raise_slopes(
    field: Field, steps: Steps, start: int, stop: int,
    row: int, column: int, eye: RealArray, slope: RealArray, out: int, count: int,
) -> None:  # fmt: skip
    """Look at steps start..stop from `count` cells of a row, from `column` on; slopes begin at `out`."""
    ground = field.ground
    for s in range(start, stop):
        skipped = max(0, steps.from_column[s] - column)
        inside = min(count, steps.to_column[s] - column + 1) - skipped
        if inside > 0:
            at = field.stride * row * field.width + column + skipped
            first, second = n(at + steps.first[s]), n(at + steps.second[s])
            e, i = n(row * field.width + column + skipped), n(out + skipped)
            share, per_m, drop = steps.share[s], steps.per_m[s], steps.drop[s]
            for c in range(n(inside)):
                a = ground[first + c]
                seen = ((a - eye[e + c]) + share * (ground[second + c] - a)) * per_m - drop
                before = slope[i + c]
                slope[i + c] = seen if seen > before else before


@inner
def order_blocks(
    field: Field, blocks: Blocks, top: int, bottom: int, left: int, right: int,
    low_eye: Real, low_slope: Real, highest: RealArray, bound: RealArray, order: IntArray,
) -> int:  # fmt: skip
    """Which blocks from the second on may rise above a slope, seen from a tile's lowest eye.

    Greatest bound first, into `order`; returns their number. `highest`: of each block's ground, for the
    cells looked from in rows top..bottom and columns left..right, ends included.
    """
    count = 0
    for k in range(1, blocks.start.size):
        if none_beyond(field, blocks, k, low_eye, low_slope):
            break
        highest[k] = greatest_within(
            field,
            field.highest,
            field.stride * top + blocks.top[k],
            field.stride * bottom + blocks.bottom[k],
            field.stride * left + blocks.left[k],
            field.stride * right + blocks.right[k],
        )
        bound[k] = bound_of(blocks, k, highest[k] - low_eye)
        if bound[k] > low_slope:
            place = count
            while place > 0 and bound[order[place - 1]] < bound[k]:
                order[place] = order[place - 1]
                place -= 1
            order[place] = k
            count += 1
    return count


@kernel
def look(
    field: Field, steps: Steps, blocks: Blocks, eye: RealArray, least: Real, first_row: int, stop_row: int,
    slope: RealArray,
) -> None:  # fmt: skip
    """Steepest slope, no less than `least`, from the cells of rows first_row..stop_row looked from.

    `eye` (rows looked from x columns looked from), flat: height of the eye, infinite where none is wanted.
    `slope` ((stop_row - first_row) x columns looked from), flat, is filled; NaN where no eye is, or where
    neither ground nor `least` gives a slope.
    """
    number, width = blocks.start.size, field.width
    highest, bound = np.empty(number, eye.dtype), np.empty(number, eye.dtype)
    order = np.empty(number, np.int64)
    low_eye, low_slope = np.empty(TILE_ROWS, eye.dtype), np.empty(TILE_ROWS, eye.dtype)
    for top in range(first_row, stop_row, TILE_ROWS):
        rows = min(TILE_ROWS, stop_row - top)
        for left in range(0, width, TILE_COLUMNS):
            count = min(TILE_COLUMNS, width - left)
            for r in range(rows):
                row = top + r
                here, out = row * width + left, (row - first_row) * width + left
                for c in range(count):
                    slope[out + c] = least if eye[here + c] < np.inf else np.inf
                low_eye[r] = eye[here : here + count].min()
                if number > 0 and low_eye[r] < np.inf:
                    stop = min(blocks.stop[0], steps.in_rows[row])
                    raise_slopes(field, steps, 0, stop, row, left, eye, slope, out, count)
                low_slope[r] = slope[out : out + count].min()
            chosen = 0
            if low_eye[:rows].min() < np.inf:
                chosen = order_blocks(
                    field, blocks, top, top + rows - 1, left, left + count - 1,
                    low_eye[:rows].min(), low_slope[:rows].min(), highest, bound, order,
                )  # fmt: skip
            for k in order[:chosen]:
                for r in range(rows):
                    row = top + r
                    stop = min(blocks.stop[k], steps.in_rows[row])
                    if stop > blocks.start[k] and bound_of(blocks, k, highest[k] - low_eye[r]) > low_slope[r]:
                        here, out = row * width + left, (row - first_row) * width + left
                        if any_may_rise(blocks, k, highest[k], eye, here, slope, out, count):
                            raise_slopes(
                                field, steps, blocks.start[k], stop, row, left, eye, slope, out, count
                            )
    for c in range((stop_row - first_row) * width):
        if not abs(slope[c]) < np.inf:
            slope[c] = np.nan


@inner
def mark_holes(
    field: Field, steps: Steps, start: int, stop: int,
    row: int, column: int, unknown: NDArray[np.int32], out: int, count: int,
) -> bool:  # fmt: skip
    """As `raise_slopes`: the first of steps start..stop that is unknown; whether a cell has none yet."""
    ground = field.ground
    for s in range(start, stop):
        skipped = max(0, steps.from_column[s] - column)
        inside = min(count, steps.to_column[s] - column + 1) - skipped
        if inside > 0:
            at = field.stride * row * field.width + column + skipped
            first, second = n(at + steps.first[s]), n(at + steps.second[s])
            i, step = n(out + skipped), np.int32(s)
            for c in range(n(inside)):
                between = ground[first + c] + ground[second + c]
                before = unknown[i + c]
                unknown[i + c] = min(before, step) if between != between else before
    return bool(unknown[out : out + count].max() == NEVER)


@kernel
def look_for_holes(
    field: Field, steps: Steps, blocks: Blocks, first_row: int, stop_row: int, unknown: NDArray[np.int32]
) -> None:
    """The first step whose ground is unknown, or NEVER, from the cells of rows first_row..stop_row.

    `unknown` ((stop_row - first_row) x columns looked from), flat, is filled.
    """
    unknown[:] = NEVER
    for top in range(first_row, stop_row, TILE_ROWS):
        bottom = min(top + TILE_ROWS, stop_row)
        for left in range(0, field.width, TILE_COLUMNS):
            count = min(TILE_COLUMNS, field.width - left)
            for k in range(blocks.start.size):
                holes = greatest_within(
                    field,
                    field.holes,
                    field.stride * top + blocks.top[k],
                    field.stride * (bottom - 1) + blocks.bottom[k],
                    field.stride * left + blocks.left[k],
                    field.stride * (left + count - 1) + blocks.right[k],
                )
                if holes > 0.0:
                    seeking = False
                    for row in range(top, bottom):
                        stop = min(blocks.stop[k], steps.in_rows[row])
                        out = (row - first_row) * field.width + left
                        seeking |= mark_holes(
                            field, steps, blocks.start[k], stop, row, left, unknown, out, count
                        )
                    if not seeking:
                        break


@inner
def first_hole(field: Field, steps: Steps, blocks: Blocks, row: int, column: int, last: int) -> int:
    """The first of the steps before `last` whose ground is unknown, or NEVER, from one cell (stride 1)."""
    at = row * field.width + column
    for k in range(blocks.start.size):
        top, bottom = row + blocks.top[k], row + blocks.bottom[k]
        left, right = column + blocks.left[k], column + blocks.right[k]
        if greatest_within(field, field.holes, top, bottom, left, right) > 0.0:
            for s in range(blocks.start[k], min(blocks.stop[k], last)):
                between = field.ground[at + steps.first[s]] + field.ground[at + steps.second[s]]
                if between != between:
                    return s
    return int(NEVER)


@inner
def steepest_in(field: Field, steps: Steps, start: int, stop: int, at: int, here: Real, slope: Real) -> Real:
    """The steepest of `slope` and those to steps start..stop, from one cell (stride 1)."""
    for s in range(start, stop):
        a, b = field.ground[at + steps.first[s]], field.ground[at + steps.second[s]]
        seen = ((a - here) + steps.share[s] * (b - a)) * steps.per_m[s] - steps.drop[s]
        slope = seen if seen > slope else slope
    return slope


@kernel
def look_from(
    field: Field, steps: Steps, blocks: Blocks, rows: IntArray, columns: IntArray, eye: RealArray,
    slope: RealArray, unknown: NDArray[np.int32],
) -> None:  # fmt: skip
    """As `look` and `look_for_holes`, from single cells of a field of stride 1; all arrays (cells,)."""
    bound = np.empty(blocks.start.size, eye.dtype)
    for cell in range(rows.size):
        row, column, here = rows[cell], columns[cell], eye[cell]
        at = row * field.width + column
        last = min(steps.in_rows[row], steps.in_columns[column]) if here < np.inf else 0
        steepest = steepest_in(field, steps, 0, min(BLOCK_STEPS, last), at, here, -eye.dtype.type(np.inf))
        blocks_in = (last + BLOCK_STEPS - 1) // BLOCK_STEPS
        count, first = 1, 0
        while count < blocks_in and not none_beyond(field, blocks, count, here, steepest):
            top, bottom = row + blocks.top[count], row + blocks.bottom[count]
            left, right = column + blocks.left[count], column + blocks.right[count]
            highest = greatest_within(field, field.highest, top, bottom, left, right)
            bound[count] = bound_of(blocks, count, highest - here)
            first = count if first == 0 or bound[count] > bound[first] else first
            count += 1
        for turn in range(count):
            k = first if turn == 0 else turn  # the most promising one before the others
            if k > 0 and bound[k] > steepest:
                stop = min(blocks.stop[k], last)
                steepest = steepest_in(field, steps, blocks.start[k], stop, at, here, steepest)
        slope[cell] = steepest if abs(steepest) < np.inf else np.nan
        unknown[cell] = NEVER if field.complete else first_hole(field, steps, blocks, row, column, last)


@kernel
def add_sky(
    slope: RealArray, known_rows: NDArray[np.bool_], known_columns: NDArray[np.bool_],
    unknown: NDArray[np.int32], needed: int, weight: Real, mask_slope: Real, open_above: Real,
    shares: RealArray,
) -> None:  # fmt: skip
    """Add one direction to the shares of open sky, blocked and unknown directions: rows of (3, cells).

    `slope` (cells,) no less than `mask_slope`; `open_above` is 1 - sin of the mask. The ground is known where
    row and column say so and no step before `needed` is unknown (`unknown` may be empty: none is).
    """
    columns = known_columns.size
    one = slope.dtype.type(1.0)
    for r in range(known_rows.size):
        for c in range(columns):
            i = r * columns + c
            known = known_rows[r] and known_columns[c] and (unknown.size == 0 or unknown[i] >= needed)
            if known:
                sine = slope[i] / np.sqrt(one + slope[i] * slope[i])
                shares[0, i] += weight * (one - sine) / open_above
            if slope[i] > mask_slope:
                shares[1, i] += weight
            elif not known:
                shares[2, i] += weight
