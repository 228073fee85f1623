"""Ground cut into square blocks: neighbours err alike, so blocks, not samples, count as separate evidence."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BLOCK_M = 300.0
"""Side of the smallest block, the distance over which errors are taken as alike (common practice)."""

TILES_A_BLOCK = 4
"""Tiles along the side of the smallest block: grids of blocks are shifted by tiles."""

TILE_M = BLOCK_M / TILES_A_BLOCK

SIDES = tuple(TILES_A_BLOCK * times for times in (1, 2, 4, 8))
"""Sides of blocks that are tried, in tiles."""

ENOUGH_BLOCKS = 20
"""Blocks that a larger block must leave to be chosen for keeping ground out."""


@dataclass(frozen=True)
class Tiles:
    """Samples by the tile of ground that they lie in."""

    of_sample: IntArray
    """(n,) index into the tiles."""
    column: IntArray
    """(tiles,) east."""
    row: IntArray
    """(tiles,) north."""

    def __len__(self) -> int:
        return int(self.column.size)


@dataclass(frozen=True)
class Blocks:
    """Tiles gathered in square blocks, numbered without gaps."""

    of_tile: IntArray
    """(tiles,) index into the blocks."""
    count: int
    side_m: float


def square_blocks(x_m: ArrayLike, y_m: ArrayLike, side_m: float) -> IntArray:
    """Block of each place, (n,), numbered without gaps from 0; all places finite, `side_m` > 0."""
    column = np.floor(np.asarray(x_m, dtype=np.float64) / side_m).astype(np.int64)
    row = np.floor(np.asarray(y_m, dtype=np.float64) / side_m).astype(np.int64)
    return _numbered(column, row)[2]


def tiles_of(x_m: FloatArray, y_m: FloatArray) -> Tiles:
    """Tiles of `TILE_M` that hold the places, (n,) each."""
    column = np.floor(x_m / TILE_M).astype(np.int64)
    row = np.floor(y_m / TILE_M).astype(np.int64)
    columns, rows, of_sample = _numbered(column, row)
    return Tiles(of_sample, columns, rows)


def gather(tiles: Tiles, side: int, shift_column: int = 0, shift_row: int = 0) -> Blocks:
    """Blocks of `side` tiles a side, the grid shifted by whole tiles."""
    column = np.floor_divide(tiles.column + shift_column, side)
    row = np.floor_divide(tiles.row + shift_row, side)
    columns, _, of_tile = _numbered(column, row)
    return Blocks(of_tile, int(columns.size), side * TILE_M)


def shifted(tiles: Tiles, side: int) -> list[Blocks]:
    """The same blocks on four grids half a block apart, so that no result hangs on one grid's edges."""
    half = side // 2
    return [gather(tiles, side, a, b) for a in (0, half) for b in (0, half)]


def kept_out_blocks(tiles: Tiles) -> Blocks:
    """The largest blocks of which enough are left to keep some out in turn."""
    best = gather(tiles, SIDES[0])
    for side in SIDES[1:]:
        larger = gather(tiles, side)
        if larger.count < ENOUGH_BLOCKS:
            break
        best = larger
    return best


def folds_of(blocks: int, folds: int, seed: int) -> IntArray:
    """Fold of each block, (blocks,): as even as can be, drawn by the seed."""
    fold = np.arange(blocks, dtype=np.int64) % max(min(folds, blocks), 1)
    return np.random.default_rng(seed).permutation(fold)


def weighted_count(number: IntArray, weight: FloatArray, count: int) -> FloatArray:
    """Sum of the weights of each number below `count`, (count,)."""
    return np.asarray(np.bincount(number, weight, count), dtype=np.float64)


def effective_number(weight: ArrayLike) -> float:
    """How many equal parts would be as uneven as these weights, (n,): (sum w)^2 / sum w^2; 0 for none.

    [Kish 1965]
    """
    w = np.asarray(weight, dtype=np.float64)
    total, squares = float(w.sum()), float((w * w).sum())
    return total * total / squares if squares > 0.0 else 0.0


def t_quantile(share: float, degrees: float) -> float:
    """Value below which a share of Student's t distribution lies; `degrees` of freedom above 0."""
    from scipy.special import stdtrit

    return float(stdtrit(max(degrees, 0.5), share)) if math.isfinite(degrees) else _normal_quantile(share)


def _normal_quantile(share: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf(share)


def _numbered(column: IntArray, row: IntArray) -> tuple[IntArray, IntArray, IntArray]:
    """Distinct pairs, and the number of each pair's place in them."""
    if column.size == 0:
        return column, row, column
    low = int(row.min())
    height = int(row.max()) - low + 1
    key = column * height + (row - low)
    keys, inverse = np.unique(key, return_inverse=True)
    return np.floor_divide(keys, height), keys % height + low, inverse.astype(np.int64)
