"""Ground along a straight line of the local grid, sampled as the map's radials are."""

from __future__ import annotations

import math

import numpy as np

from linkplan.errors import PlaceError
from linkplan.tables.p1812_8 import PATH_LENGTH_KM
from linkplan.terrain.grid import FloatArray, Profile, TerrainGrid

MIN_STEPS = 4
MIN_STEPS_FROM_M = 1000.0 * PATH_LENGTH_KM[0]
"""Paths that P.1812 takes need more than four points, ends included [P.1812-8]."""

ON_A_LINE = 1e-9
"""Cells: a sample nearer than this to a row or column of centres lies on it (rounding)."""


def profile_between(
    grid: TerrainGrid, from_xy_m: tuple[float, float], to_xy_m: tuple[float, float]
) -> Profile:
    """Ground and clutter along the straight line between two points in local metres.

    Equal steps, as many as the line crosses rows or columns of cells (the larger of both), at least
    four from 250 m on. Heights are bilinear between the centres of cells: for two centres that is
    linear between the two neighbours at each crossing. Clutter likewise, and 0 at both ends. A sample is
    NaN outside the grid and where any cell that counts in it is missing. PlaceError for a line of no
    length.
    """
    (x_from, y_from), (x_to, y_to) = from_xy_m, to_xy_m
    length = math.hypot(x_to - x_from, y_to - y_from)
    if not (math.isfinite(length) and length > 0.0):
        raise PlaceError("a path needs two different points")
    cells = max(abs(x_to - x_from), abs(y_to - y_from)) / grid.cell_size_m
    steps = max(1, math.ceil(cells - ON_A_LINE))
    if length >= MIN_STEPS_FROM_M:
        steps = max(steps, MIN_STEPS)
    share = np.arange(steps + 1) / steps
    x_m = x_from + share * (x_to - x_from)
    y_m = y_from + share * (y_to - y_from)
    row = grid.base_row - y_m / grid.cell_size_m
    column = grid.base_column + x_m / grid.cell_size_m
    if grid.clutter_height_m is None:
        clutter_m = np.zeros(steps + 1)
    else:
        clutter_m = bilinear(grid.clutter_height_m, row, column)
        clutter_m[[0, -1]] = 0.0
    return Profile(share * length, bilinear(grid.height_m, row, column), clutter_m, x_m, y_m)


def bilinear(values: FloatArray, row: FloatArray, column: FloatArray) -> FloatArray:
    """Values between the centres of cells at fractional rows and columns (0 = centre of the first).

    NaN outside the outermost centres, and where a cell of nonzero weight is NaN.
    """
    row, column = _snapped(row), _snapped(column)
    rows, columns = values.shape
    outside = ~((row >= 0.0) & (row <= rows - 1) & (column >= 0.0) & (column <= columns - 1))
    row, column = np.where(outside, 0.0, row), np.where(outside, 0.0, column)
    top, left = np.floor(row).astype(np.intp), np.floor(column).astype(np.intp)
    down, right = row - top, column - left
    result = np.zeros(row.shape)
    for next_row, row_weight in ((0, 1.0 - down), (1, down)):
        for next_column, column_weight in ((0, 1.0 - right), (1, right)):
            weight = row_weight * column_weight
            cell = values[np.minimum(top + next_row, rows - 1), np.minimum(left + next_column, columns - 1)]
            result += np.where(weight > 0.0, weight * cell, 0.0)
    result[outside] = np.nan
    return result


def _snapped(position: FloatArray) -> FloatArray:
    nearest = np.round(position)
    return np.where(np.abs(position - nearest) < ON_A_LINE, nearest, position)
