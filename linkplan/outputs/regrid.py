"""The local grid's cells on the pixels of another coordinate system, each pixel one computed cell.

Only the numbers of the cells are moved (nearest cell); values are then looked up, so that every value
in a raster or a picture is one that was computed, and missing stays missing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from linkplan.terrain.grid import TerrainGrid

if TYPE_CHECKING:
    from affine import Affine
    from pyproj import CRS, Transformer

Kind = TypeVar("Kind", bound=np.generic)


@dataclass(frozen=True)
class Regrid:
    """Which cell of the local grid lies under each pixel of a north-up raster in `crs`."""

    crs: CRS
    transform: Affine
    """From (column, row) of a pixel's corner to the coordinates of `crs`, x = easting."""
    cell: NDArray[np.int32]
    """(rows, columns), row-major number of the cell, -1 outside the grid."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.cell.shape
        return rows, columns

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Outer edges: west, south, east, north."""
        rows, columns = self.shape
        west, north = self.transform @ (0, 0)
        east, south = self.transform @ (columns, rows)
        return west, south, east, north

    def look_up(self, values: NDArray[Kind], outside: Any) -> NDArray[Kind]:
        """Values of a (rows, columns) array of the grid on the pixels, `outside` beyond the grid."""
        found = values.ravel()[np.maximum(self.cell, 0)]
        return np.where(self.cell >= 0, found, np.asarray(outside, dtype=values.dtype))


def local_transform(grid: TerrainGrid) -> Affine:
    """From (column, row) of a cell's corner to local metres."""
    from affine import Affine

    return Affine(*grid.affine)


def onto_local(grid: TerrainGrid) -> Regrid:
    """The grid as it stands, in its own local plane."""
    cells = np.arange(grid.height_m.size, dtype=np.int32).reshape(grid.shape)
    return Regrid(grid.frame.local_crs, local_transform(grid), cells)


def onto(grid: TerrainGrid, crs: CRS, *, most_pixels: int | None = None) -> Regrid:
    """Pixels in a projected `crs`, as large as the grid's cells are there.

    The size is the cell's own in units of `crs` where the scale of the projection is within 2 % of
    true, else what keeps the number of pixels. `most_pixels` bounds the longer side for pictures.
    """
    from affine import Affine
    from rasterio.warp import Resampling, reproject

    west, south, east, north, unit_m = _extent_in(grid, crs)
    size = grid.cell_size_m / crs.axis_info[0].unit_conversion_factor
    if abs(unit_m / grid.cell_size_m - 1.0) > 0.02:
        size *= unit_m / grid.cell_size_m
    if most_pixels is not None:
        size = max(size, (east - west) / most_pixels, (north - south) / most_pixels)
    width, height = math.ceil((east - west) / size), math.ceil((north - south) / size)
    transform = Affine(size, 0.0, west, 0.0, -size, north)
    cell = np.full((height, width), -1, dtype=np.int32)
    reproject(
        np.arange(grid.height_m.size, dtype=np.int32).reshape(grid.shape), cell,
        src_transform=local_transform(grid),
        src_crs=grid.frame.local_crs.to_wkt(), dst_transform=transform,
        dst_crs=crs.to_wkt(),
        src_nodata=-1, dst_nodata=-1, resampling=Resampling.nearest, tolerance=0.05,
    )  # fmt: skip
    return Regrid(crs, transform, cell)


@lru_cache(maxsize=16)
def transformer(source_wkt: str, target_wkt: str) -> Transformer:
    """From one coordinate system to another, easting first; looking one up costs a tenth of a second."""
    from pyproj import Transformer

    return Transformer.from_crs(source_wkt, target_wkt, always_xy=True)


def _extent_in(grid: TerrainGrid, crs: CRS) -> tuple[float, float, float, float, float]:
    """Edges of the grid in `crs` (west, south, east, north), and a cell's width there in metres of `crs`."""
    move = transformer(grid.frame.local_crs.to_wkt(), crs.to_wkt())
    west, south, east, north = move.transform_bounds(*grid.extent_m, densify_pts=41)
    half = grid.cell_size_m / 2.0
    x, y = move.transform([-half, half, 0.0, 0.0], [0.0, 0.0, -half, half])
    area = (x[1] - x[0]) * (y[3] - y[2]) - (x[3] - x[2]) * (y[1] - y[0])
    return west, south, east, north, math.sqrt(abs(area)) * crs.axis_info[0].unit_conversion_factor
