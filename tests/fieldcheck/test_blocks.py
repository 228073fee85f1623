"""Blocks of ground by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from linkplan.fieldcheck.blocks import (
    effective_number,
    folds_of,
    gather,
    kept_out_blocks,
    shifted,
    square_blocks,
    t_quantile,
    tiles_of,
)


def test_blocks_are_squares_on_both_sides_of_the_origin() -> None:
    x = np.array([-1.0, 1.0, 299.0, 301.0, 1.0, -299.0])
    y = np.array([1.0, 1.0, 299.0, 1.0, -1.0, 299.0])
    block = square_blocks(x, y, 300.0)
    assert block[1] == block[2]
    assert block[0] == block[5]
    assert len(set(block.tolist())) == 4
    assert sorted(set(block.tolist())) == [0, 1, 2, 3]


def test_tiles_gather_into_the_same_blocks() -> None:
    x, y = np.random.default_rng(1).uniform(-3000.0, 3000.0, (2, 2000))
    tiles = tiles_of(x, y)
    blocks = gather(tiles, 4)
    assert blocks.side_m == 300.0
    pairs = set(
        zip(blocks.of_tile[tiles.of_sample].tolist(), square_blocks(x, y, 300.0).tolist(), strict=True)
    )
    # A one-to-one relation: as many pairs as blocks of either kind.
    assert len(pairs) == blocks.count == len(set(square_blocks(x, y, 300.0).tolist()))


def test_shifted_grids_part_neighbours_differently() -> None:
    tiles = tiles_of(np.array([290.0, 310.0]), np.array([10.0, 10.0]))
    assert sorted(blocks.count for blocks in shifted(tiles, 4)) == [1, 1, 2, 2]


@pytest.mark.parametrize(("across_m", "side_m"), [(1200.0, 300.0), (3000.0, 600.0), (12000.0, 2400.0)])
def test_kept_out_blocks_grow_with_the_ground(across_m: float, side_m: float) -> None:
    axis = np.arange(37.0, across_m, 75.0)
    x, y = (a.ravel() for a in np.meshgrid(axis, axis))
    assert kept_out_blocks(tiles_of(x, y)).side_m == side_m


def test_folds_are_even_and_the_same_for_the_same_seed() -> None:
    fold = folds_of(23, 10, 4)
    assert sorted(np.bincount(fold).tolist()) == [2] * 7 + [3] * 3
    assert (fold == folds_of(23, 10, 4)).all()
    assert folds_of(3, 10, 4).max() == 2


def test_effective_number_and_quantile() -> None:
    assert effective_number([2.0, 2.0, 2.0]) == pytest.approx(3.0)
    assert effective_number([3.0, 1.0]) == pytest.approx(16.0 / 10.0)
    assert effective_number([]) == 0.0
    assert t_quantile(0.95, 7.0) == pytest.approx(stats.t.ppf(0.95, 7.0))
    assert t_quantile(0.95, float("inf")) == pytest.approx(1.6448536)
