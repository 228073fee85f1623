"""Where observed positions lie on the job's grid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkplan.terrain.geodesy import WGS84, transformer_between
from linkplan.terrain.grid import TerrainGrid

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]


class Ground:
    """The grid, asked for many positions at once."""

    def __init__(self, grid: TerrainGrid) -> None:
        self.grid = grid
        # receivers state no datum: what they give is taken as WGS 84, within metres of any other in use
        self._from_wgs84 = transformer_between(WGS84, grid.frame.local_crs)

    def from_geographic(
        self, longitude_deg: FloatArray, latitude_deg: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Local x, y, m, of positions as receivers state them; infinite where there is no answer."""
        x_m, y_m = self._from_wgs84.transform(longitude_deg, latitude_deg)
        return np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)

    def from_job(self, easting: FloatArray, northing: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Local x, y, m, of job coordinates; infinite where there is no answer."""
        x_m, y_m = self.grid.frame.to_local(easting, northing)
        return np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)

    def cells(self, x_m: FloatArray, y_m: FloatArray) -> tuple[IntArray, IntArray, NDArray[np.bool_]]:
        """Rows, columns, and whether they are on the grid; as `TerrainGrid.cell_of`, for arrays (n,)."""
        grid = self.grid
        rows, columns = grid.shape
        finite = np.isfinite(x_m) & np.isfinite(y_m)
        row = np.rint(grid.base_row - np.where(finite, y_m, 0.0) / grid.cell_size_m)
        column = np.rint(grid.base_column + np.where(finite, x_m, 0.0) / grid.cell_size_m)
        inside = finite & (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        return (
            np.where(inside, row, -1).astype(np.int32),
            np.where(inside, column, -1).astype(np.int32),
            inside,
        )
