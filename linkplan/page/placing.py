"""Which cell of a local grid lies under each pixel of a picture in Web Mercator, fast enough for a drag.

A cubic in both directions of the picture, fitted to the exact transformation and checked against it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import PlaceError
from linkplan.outputs.readout import terms
from linkplan.terrain.geodesy import WGS84, LocalFrame, transformer_between
from linkplan.terrain.grid import FloatArray, TerrainGrid

EARTH_M = 6_378_137.0
"""Radius of the sphere of EPSG:3857 [EPSG guidance note 7-2, popular visualisation pseudo-Mercator]."""
MOST_PIXELS = 2000
"""Of a picture's longer side."""
LARGEST_ERROR = 0.05
"""Of the fit, in cells."""
_SIDE = 15
_POWERS = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3))
"""Of u and v in the order of `readout.terms`."""


@dataclass(frozen=True)
class Placed:
    """A picture's pixels and what lies under them."""

    bounds: tuple[tuple[float, float], tuple[float, float]]
    """South and west, north and east, WGS 84 degrees."""
    mercator_m: tuple[float, float, float, float]
    """West, south, east, north in EPSG:3857."""
    cell: NDArray[np.int32]
    """(rows, columns), row-major number of the cell; the number of cells outside of the grid."""

    def look_up(self, values: NDArray[Any], outside: Any = 0) -> NDArray[Any]:
        """Values of a (rows, columns) array of the grid on the pixels."""
        padded = np.append(values.ravel(), np.asarray(outside, dtype=values.dtype))
        return padded.take(self.cell)


def mercator(longitude_deg: Any, latitude_deg: Any) -> tuple[Any, Any]:
    """EPSG:3857 of WGS 84 degrees."""
    return (
        EARTH_M * np.radians(longitude_deg),
        EARTH_M * np.arctanh(np.sin(np.radians(latitude_deg))),
    )


def degrees(x_m: Any, y_m: Any) -> tuple[Any, Any]:
    """WGS 84 longitude and latitude of EPSG:3857."""
    return np.degrees(np.asarray(x_m) / EARTH_M), np.degrees(np.arctan(np.sinh(np.asarray(y_m) / EARTH_M)))


def placed(
    grid: TerrainGrid,
    window: tuple[float, float, float, float] | None = None,
    shape: tuple[int, ...] | None = None,
) -> Placed:
    """Pixels as large as the grid's cells over the grid, or over a window of EPSG:3857; or so many of them.

    Raises PlaceError where the grid cannot be drawn in Web Mercator (at a pole).
    """
    west, south, east, north = extent(grid) if window is None else window
    if shape is not None:
        rows, columns = shape
    else:
        size = _pixel_m(grid, west, south, east, north)
        columns, rows = max(1, math.ceil((east - west) / size)), max(1, math.ceil((north - south) / size))
        east, south = west + columns * size, north - rows * size
    box = (west, south, east, north)
    u = (2.0 * np.arange(columns) + 1.0) / columns - 1.0
    v = (2.0 * np.arange(rows) + 1.0) / rows - 1.0
    column, row = (_evaluated(one, u, v) for one in _fit(grid, box))
    cell = _numbers(row, column, grid.shape)
    (bottom, left), (top, right) = _corner(west, south), _corner(east, north)
    return Placed(((bottom, left), (top, right)), box, cell)


def extent(grid: TerrainGrid) -> tuple[float, float, float, float]:
    """West, south, east, north of a grid in EPSG:3857."""
    west, south, east, north = grid.extent_m
    along = np.linspace(0.0, 1.0, 21)
    x = np.concatenate([west + along * (east - west)] * 2 + [np.full(21, west), np.full(21, east)])
    side = south + along * (north - south)
    y = np.concatenate([np.full(21, south), np.full(21, north), side, side])
    mx, my = mercator(*grid.frame.to_geographic(x, y))
    if not np.isfinite(mx + my).all() or float(np.ptp(mx)) > math.pi * EARTH_M:
        raise PlaceError("this ground cannot be drawn on a map of this kind: it lies at a pole or a far edge")
    return float(mx.min()), float(my.min()), float(mx.max()), float(my.max())


def _corner(x_m: float, y_m: float) -> tuple[float, float]:
    longitude, latitude = degrees(x_m, y_m)
    return float(latitude), float(longitude)


def _pixel_m(grid: TerrainGrid, west: float, south: float, east: float, north: float) -> float:
    """A cell's width in EPSG:3857 at the base, or more where the picture would grow too large."""
    half = grid.cell_size_m / 2.0
    x, y = mercator(
        *grid.frame.to_geographic(np.array([-half, half, 0.0, 0.0]), np.array([0.0, 0.0, -half, half]))
    )
    area = abs((x[1] - x[0]) * (y[3] - y[2]) - (x[3] - x[2]) * (y[1] - y[0]))
    return float(max(math.sqrt(area), (east - west) / MOST_PIXELS, (north - south) / MOST_PIXELS))


def _fit(grid: TerrainGrid, box: tuple[float, float, float, float]) -> tuple[FloatArray, FloatArray]:
    """Ten coefficients each for column and row (of cells, fractional) over the picture."""
    west, south, east, north = box

    def exact(u: FloatArray, v: FloatArray) -> FloatArray:
        """(n, 2): column and row; v runs southward."""
        place = degrees(west + (u + 1.0) * (east - west) / 2.0, north - (v + 1.0) * (north - south) / 2.0)
        x_m, y_m = _local(grid.frame, *place)
        cell = grid.cell_size_m
        return np.stack([grid.base_column + x_m / cell, grid.base_row - y_m / cell], axis=-1)

    line = np.cos(np.linspace(0.0, np.pi, _SIDE))  # denser at the rim, where a polynomial strays
    u, v = (side.ravel() for side in np.meshgrid(line, line))
    solved, *_ = np.linalg.lstsq(terms(u, v), exact(u, v), rcond=None)
    between = np.linspace(-1.0, 1.0, _SIDE)
    u, v = (side.ravel() for side in np.meshgrid(between, between))
    error = np.abs(terms(u, v) @ solved - exact(u, v)).max()
    if not error <= max(LARGEST_ERROR, 1e-5 * max(grid.shape)):
        raise PlaceError("this ground is too large to be drawn as one picture; make the job smaller")
    return np.asarray(solved[:, 0]), np.asarray(solved[:, 1])


def _local(frame: LocalFrame, longitude: FloatArray, latitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    x_m, y_m = frame.to_local(*transformer_between(WGS84, frame.job_crs).transform(longitude, latitude))
    return np.asarray(x_m), np.asarray(y_m)


def _evaluated(coefficients: FloatArray, u: FloatArray, v: FloatArray) -> NDArray[np.float32]:
    """(rows, columns) of a cubic: a matrix of the rows times one of the columns."""
    by_row = np.zeros((v.size, 4))
    for factor, (in_u, in_v) in zip(coefficients, _POWERS, strict=True):
        by_row[:, in_u] += factor * v**in_v
    by_column = np.stack([u**power for power in range(4)])
    found: NDArray[np.float32] = by_row.astype(np.float32) @ by_column.astype(np.float32)
    return found


def _numbers(
    row: NDArray[np.float32], column: NDArray[np.float32], shape: tuple[int, int]
) -> NDArray[np.int32]:
    rows, columns = shape
    outside = (row < -0.5) | (row >= rows - 0.5) | (column < -0.5) | (column >= columns - 0.5)
    cell = np.rint(row, out=row).astype(np.int32)
    cell *= columns
    cell += np.rint(column, out=column).astype(np.int32)
    cell[outside] = rows * columns
    np.clip(cell, 0, rows * columns, out=cell)
    return cell
