"""Evidence reduced to few rows: what the fit needs of a million samples, by tile of ground and class."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.blocks import (
    TILES_A_BLOCK,
    FloatArray,
    IntArray,
    Tiles,
    gather,
    square_blocks,
    tiles_of,
    weighted_count,
)

GROUND_CELL_M = 50.0
"""Samples within a cell of this side share one weight: standing still is no new evidence."""

ALIKE_IN_BLOCK = 0.5
"""Correlation within a block that the weights assume; the intervals do not rest on it."""

MARGIN_STEP_DB = 0.25
"""Margins are grouped by this step, far below any spread that is fitted."""

MARGIN_LIMIT_DB = 200.0


@dataclass(frozen=True)
class Evidence:
    """What was observed, against what was predicted; all arrays (n,)."""

    margin_db: FloatArray
    """Predicted level less the receiver's need; NaN where the prediction says nothing."""
    level_residual_db: FloatArray
    """Measured less predicted level; NaN where no level was measured."""
    outcome: NDArray[np.int8]
    """1 corrections in time, 0 not, -1 not observed."""
    class_code: NDArray[np.int64]
    """Clutter class at the rover; -1 where none is known."""
    x_m: FloatArray
    y_m: FloatArray

    def __len__(self) -> int:
        return int(np.asarray(self.x_m).size)


@dataclass(frozen=True)
class Rows:
    """Levels and outcomes, grouped. Weights are shares of a sample."""

    tiles: Tiles
    level_tile: IntArray
    level_class: IntArray
    level_weight: FloatArray
    level_sum_db: FloatArray
    """Weighted sum of the residuals."""
    level_square_db2: FloatArray
    outcome_tile: IntArray
    outcome_class: IntArray
    outcome_margin_db: FloatArray
    in_time: FloatArray
    """Weight of the outcomes 1."""
    not_in_time: FloatArray
    levels: int
    """Samples with a level."""
    outcomes: int
    """Samples with an outcome and without a level."""
    unknown_ground: int
    """Samples left out because nothing is predicted there."""
    not_observed: int
    """Samples left out because nothing was observed there, or at no finite place."""

    @property
    def samples(self) -> int:
        return self.levels + self.outcomes


def rows_of(evidence: Evidence) -> Rows:
    """Group the samples; a sample with a level counts by its level, any other by its outcome.

    Levels measured only where the signal is strong, with outcomes 0 where nothing was heard, are so no biased
    choice: together they are the likelihood of levels that are cut off below.
    """
    x = np.asarray(evidence.x_m, dtype=np.float64)
    y = np.asarray(evidence.y_m, dtype=np.float64)
    margin = np.asarray(evidence.margin_db, dtype=np.float64)
    residual = np.asarray(evidence.level_residual_db, dtype=np.float64)
    outcome = np.asarray(evidence.outcome)
    placed = np.isfinite(x) & np.isfinite(y)
    has_level = placed & np.isfinite(residual)
    observed = placed & ~has_level & ((outcome == 0) | (outcome == 1))
    has_outcome = observed & np.isfinite(margin)
    used = has_level | has_outcome
    unknown = int(np.count_nonzero(observed & ~np.isfinite(margin)))
    tiles = tiles_of(x[used], y[used])
    weight = _weights(x[used], y[used], tiles)
    classes = np.asarray(evidence.class_code, dtype=np.int64)[used]
    is_level = has_level[used]

    tile, w, code, r = tiles.of_sample[is_level], weight[is_level], classes[is_level], residual[has_level]
    group, (level_tile, level_class) = _groups(tile, code)
    size = level_tile.size
    sums = [weighted_count(group, v, size) for v in (w, w * r, w * r * r)]

    rest = ~is_level
    tile, w, code = tiles.of_sample[rest], weight[rest], classes[rest]
    steps = np.rint(np.clip(margin[has_outcome], -MARGIN_LIMIT_DB, MARGIN_LIMIT_DB) / MARGIN_STEP_DB)
    good = outcome[has_outcome] == 1
    group, (outcome_tile, outcome_class, step) = _groups(tile, code, steps.astype(np.int64))
    size = outcome_tile.size
    return Rows(
        tiles=tiles,
        level_tile=level_tile,
        level_class=level_class,
        level_weight=sums[0],
        level_sum_db=sums[1],
        level_square_db2=sums[2],
        outcome_tile=outcome_tile,
        outcome_class=outcome_class,
        outcome_margin_db=np.asarray(step * MARGIN_STEP_DB, dtype=np.float64),
        in_time=weighted_count(group, w * good, size),
        not_in_time=weighted_count(group, w * ~good, size),
        levels=int(np.count_nonzero(has_level)),
        outcomes=int(np.count_nonzero(has_outcome)),
        unknown_ground=unknown,
        not_observed=len(evidence) - int(np.count_nonzero(used)) - unknown,
    )


def chosen(rows: Rows, tiles: NDArray[np.bool_]) -> Rows:
    """The rows whose tile is chosen; `tiles` (tiles,). Counts of samples stay those of the whole."""
    a, b = tiles[rows.level_tile], tiles[rows.outcome_tile]
    return replace(
        rows,
        level_tile=rows.level_tile[a],
        level_class=rows.level_class[a],
        level_weight=rows.level_weight[a],
        level_sum_db=rows.level_sum_db[a],
        level_square_db2=rows.level_square_db2[a],
        outcome_tile=rows.outcome_tile[b],
        outcome_class=rows.outcome_class[b],
        outcome_margin_db=rows.outcome_margin_db[b],
        in_time=rows.in_time[b],
        not_in_time=rows.not_in_time[b],
    )


def scaled(rows: Rows, by: float) -> Rows:
    """The same rows with all weights multiplied."""
    return replace(
        rows,
        level_weight=rows.level_weight * by,
        level_sum_db=rows.level_sum_db * by,
        level_square_db2=rows.level_square_db2 * by,
        in_time=rows.in_time * by,
        not_in_time=rows.not_in_time * by,
    )


def _weights(x_m: FloatArray, y_m: FloatArray, tiles: Tiles) -> FloatArray:
    """One for a cell of ground, less where a block has many: n alike count as n / (1 + (n - 1) rho)."""
    if x_m.size == 0:
        return np.zeros(0)
    cell = square_blocks(x_m, y_m, GROUND_CELL_M)
    in_cell = np.bincount(cell)
    blocks = gather(tiles, TILES_A_BLOCK)
    block = blocks.of_tile[tiles.of_sample]
    _, first = np.unique(cell, return_index=True)
    cells_in_block = np.bincount(block[first], minlength=blocks.count)
    alike = 1.0 / (1.0 + (np.maximum(cells_in_block, 1) - 1.0) * ALIKE_IN_BLOCK)
    return np.asarray(alike[block] / in_cell[cell])


def _groups(*keys: IntArray) -> tuple[IntArray, list[IntArray]]:
    """Number of the group of each entry, and the keys of the groups."""
    if keys[0].size == 0:
        return np.zeros(0, dtype=np.int64), [np.zeros(0, dtype=np.int64) for _ in keys]
    whole = np.zeros(keys[0].size, dtype=np.int64)
    for key in keys:
        low = int(key.min())
        whole = whole * (int(key.max()) - low + 1) + (key - low)
    _, first, group = np.unique(whole, return_index=True, return_inverse=True)
    return group.astype(np.int64), [key[first] for key in keys]
