"""The local grid: the ground around a base in true metres, north up, with the base on a cell's centre."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.terrain.geodesy import LocalFrame

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class TerrainGrid:
    """Heights of ground and clutter on square cells of `frame`; row 0 is the northernmost.

    The centre of cell (row, column) lies at x = (column - base_column) cell_size_m east and
    y = (base_row - row) cell_size_m north of the base. Unknown ground is NaN and stays so.
    """

    frame: LocalFrame
    cell_size_m: float
    base_row: int
    base_column: int
    height_m: FloatArray
    """(rows, columns), m above the rasters' own height datum; NaN where missing."""
    clutter_height_m: FloatArray | None
    """(rows, columns), m above ground, 0 where open; NaN where missing; None without a clutter raster."""
    height_datum: str
    """What the heights are counted from, in words; "not stated" if nobody says."""
    source_cell_m: float
    """Size of a cell of the finest raster used, m on the ground."""
    notes: tuple[str, ...] = ()
    """What the user should know about how the grid came about, one sentence each."""
    clutter_class: NDArray[np.uint32] | None = None
    """(rows, columns), which of `clutter_codes` stands there, from 1; 0 where unknown; None without them."""
    clutter_codes: tuple[int, ...] = ()
    """Codes of the clutter raster, ascending."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.height_m.shape
        return rows, columns

    def cell_of(self, x_m: float, y_m: float) -> tuple[int, int] | None:
        """Row and column of the cell that holds a local point, or None outside the grid."""
        if not (math.isfinite(x_m) and math.isfinite(y_m)):
            return None
        row = round(self.base_row - y_m / self.cell_size_m)
        column = round(self.base_column + x_m / self.cell_size_m)
        rows, columns = self.shape
        return (row, column) if 0 <= row < rows and 0 <= column < columns else None

    def centre_of(self, row: int, column: int) -> tuple[float, float]:
        """Local x, y of a cell's centre, m."""
        return (column - self.base_column) * self.cell_size_m, (self.base_row - row) * self.cell_size_m

    def distance_from_base_m(self, rows: slice = slice(None)) -> FloatArray:
        """Horizontal distance of cell centres from the base, m, (rows, columns) for a block of rows."""
        count, columns = self.shape
        north = (self.base_row - np.arange(count, dtype=np.float64)[rows]) * self.cell_size_m
        east = (np.arange(columns, dtype=np.float64) - self.base_column) * self.cell_size_m
        distance: FloatArray = np.hypot(north[:, None], east[None, :])
        return distance

    @property
    def extent_m(self) -> tuple[float, float, float, float]:
        """Outer edges west, south, east, north in local metres."""
        rows, columns = self.shape
        half = 0.5
        return (
            (-half - self.base_column) * self.cell_size_m,
            (self.base_row - rows + half) * self.cell_size_m,
            (columns - half - self.base_column) * self.cell_size_m,
            (self.base_row + half) * self.cell_size_m,
        )

    @property
    def affine(self) -> tuple[float, float, float, float, float, float]:
        """From (column, row) of a cell's upper left corner to local x, y: a, b, c, d, e, f of
        x = a column + b row + c, y = d column + e row + f."""
        west, _, _, north = self.extent_m
        return self.cell_size_m, 0.0, west, 0.0, -self.cell_size_m, north


@dataclass(frozen=True)
class Profile:
    """Ground and clutter along a straight path, end points included, evenly spaced."""

    distance_m: FloatArray
    """(n,), from 0 to the length of the path."""
    height_m: FloatArray
    """(n,), ground; NaN where missing."""
    clutter_height_m: FloatArray
    """(n,), above ground; 0 without clutter data and at both end points."""
    x_m: FloatArray
    """(n,), local east."""
    y_m: FloatArray
    """(n,), local north."""

    @property
    def complete(self) -> bool:
        """Whether every sample is known; a profile that touches missing data has no answer."""
        return bool(np.isfinite(self.height_m).all() and np.isfinite(self.clutter_height_m).all())
