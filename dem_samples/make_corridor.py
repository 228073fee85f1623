"""Cut the strip of real terrain of the corridor job, and lay an invented road and places for a base on it.

    python -m dem_samples.make_corridor [SOURCE.tif]

Without SOURCE.tif the strip that is there is kept, and everything else is made from it. The ground is real
(see README.md for its origin); road, control points and hills are invented: computed from the ground and from
the numbers below.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float64]

FOLDER = Path(__file__).parent / "corridor"
TERRAIN = "corridor_dem_30m.tif"
VECTORS = "corridor_job.gpkg"
CONTROL = "corridor_control.csv"

FIRST_ROW, FIRST_COLUMN, ROWS, COLUMNS = 150, 0, 910, 320
"""Of the source raster."""
CELL_M = 30.0
EPSG = 32611

START, END = (850, 255), (60, 105)
"""Row and column of the strip at the ends of the road."""
GRADE, SIDE_SLOPE = 0.07, 0.25
"""Slopes along and across the road that double the cost of a metre."""
MOVES = ((0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (1, -2), (2, -1), (1, 3), (3, 1), (1, -3), (3, -1))
"""Rows and columns from a cell to its neighbours on the road, each way."""
SMOOTHED_OVER_M = 120.0
WATER_CELLS = 100
"""A level patch of more cells than this is water."""

HALF_WIDTH_M = 150.0
CONTROL_SPACING_M, CONTROL_REACH_M, CONTROL_WINDOW_M = 2000.0, (30.0, 140.0), 350.0
HILL_REACH_M, HILL_WINDOW_M, HILL_APART_M, HILLS_A_STRETCH = (200.0, 1500.0), 1200.0, 350.0, 2
STEP_M = 10.0
OFFSETS_M = (0.2, -0.4, 0.1, 0.5, -0.1, -0.6, 0.3, 0.0)
"""Stated heights of the control points minus the terrain's, in turn."""
CODES = ("hub", "rebar", "nail", "brass disc")


def cut(source: Path) -> None:
    """Write the strip out of the source raster, cell by cell as it is there."""
    import rasterio
    from rasterio.windows import Window

    with rasterio.open(source) as raster:
        window = Window(FIRST_COLUMN, FIRST_ROW, COLUMNS, ROWS)
        profile = {
            "driver": "GTiff", "width": COLUMNS, "height": ROWS, "count": 1, "crs": raster.crs,
            "dtype": "int16", "nodata": raster.nodata, "transform": raster.window_transform(window),
            "tiled": True, "blockxsize": 256, "blockysize": 256, "compress": "deflate", "predictor": 2,
            "zlevel": 9,
        }  # fmt: skip
        height_m = raster.read(1, window=window)
    with rasterio.open(FOLDER / TERRAIN, "w", **profile) as target:
        target.write(height_m, 1)
        target.units = ("m",)
        target.set_band_description(1, "ground height")


def water(height_m: Field) -> NDArray[np.bool_]:
    """Large patches without any slope."""
    from scipy.ndimage import binary_dilation, label, maximum_filter, minimum_filter

    level = maximum_filter(height_m, 3) == minimum_filter(height_m, 3)
    patches, _ = label(level)
    large = np.bincount(patches.ravel()) > WATER_CELLS
    large[0] = False
    return np.asarray(binary_dilation(large[patches], iterations=2))


def road(height_m: Field) -> Field:
    """The road as rows and columns every STEP_M: the cheapest way by slope, not over water, smoothed."""
    from scipy.ndimage import gaussian_filter1d
    from scipy.sparse.csgraph import dijkstra

    _, before = dijkstra(
        costs(height_m), directed=False, indices=START[0] * COLUMNS + START[1], return_predecessors=True
    )
    cells, cell = [], END[0] * COLUMNS + END[1]
    while cell >= 0:
        cells.append(divmod(cell, COLUMNS))
        cell = int(before[cell])
    bends = np.array(cells[::-1], dtype=float)
    even = resampled(bends * CELL_M)
    return np.asarray(gaussian_filter1d(even, SMOOTHED_OVER_M / STEP_M, axis=0, mode="nearest")) / CELL_M


def costs(height_m: Field) -> Any:
    """What each move from cell to cell costs, as a sparse matrix."""
    from scipy.sparse import coo_matrix

    number = np.arange(height_m.size).reshape(height_m.shape)
    down, right = np.gradient(height_m, CELL_M)
    dry = ~water(height_m)
    parts = []
    for rows, columns in MOVES:
        left = max(0, -columns)
        here = (slice(0, ROWS - rows), slice(left, COLUMNS - max(0, columns)))
        there = (slice(rows, ROWS), slice(left + columns, COLUMNS - left if columns < 0 else COLUMNS))
        length = CELL_M * np.hypot(rows, columns)
        along = (height_m[there] - height_m[here]) / length
        across = (right[here] * rows - down[here] * columns) * CELL_M / length
        cost = length * (1.0 + (along / GRADE) ** 2 + (across / SIDE_SLOPE) ** 2)
        open_ = dry[here] & dry[there]
        parts.append((cost[open_], number[here][open_], number[there][open_]))
    cost, start, end = (np.concatenate(part) for part in zip(*parts, strict=True))
    return coo_matrix((cost, (start, end)), shape=(height_m.size, height_m.size)).tocsr()


def resampled(line_m: Field) -> Field:
    """A line's points (n, 2) every STEP_M along it."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line_m, axis=0).T))])
    even = np.arange(0.0, along[-1], STEP_M)
    return np.column_stack([np.interp(even, along, line_m[:, axis]) for axis in (0, 1)])


def near_road(line: Field) -> tuple[Field, Field]:
    """Of each cell, its distance from the road and how far along the road that is, in metres."""
    from scipy.spatial import cKDTree

    rows, columns = np.mgrid[0:ROWS, 0:COLUMNS]
    distance, nearest = cKDTree(line).query(np.column_stack([rows.ravel(), columns.ravel()]))
    return (distance * CELL_M).reshape(ROWS, COLUMNS), (nearest * STEP_M).reshape(ROWS, COLUMNS)


def control_cells(height_m: Field, line: Field) -> list[tuple[int, int]]:
    """Every CONTROL_SPACING_M the cell beside the road that stands highest above what is around it."""
    distance_m, along_m = near_road(line)
    stands_out = above_surroundings(height_m)
    beside = (distance_m >= CONTROL_REACH_M[0]) & (distance_m <= CONTROL_REACH_M[1])
    cells = []
    for station in np.arange(CONTROL_SPACING_M / 4.0, len(line) * STEP_M, CONTROL_SPACING_M):
        here = beside & (np.abs(along_m - station) <= CONTROL_WINDOW_M)
        cells.append(highest(stands_out, here))
    return cells


def hill_cells(height_m: Field, line: Field) -> list[tuple[int, int]]:
    """Tops on this side of the water, those that stand out most of each stretch, not close together."""
    from scipy.ndimage import maximum_filter

    distance_m, along_m = near_road(line)
    stands_out = above_surroundings(height_m)
    free = (distance_m >= HILL_REACH_M[0]) & (distance_m <= HILL_REACH_M[1])
    free &= (height_m == maximum_filter(height_m, 5)) & (stands_out > 0.0)
    edge = np.ones_like(free)
    edge[3:-3, 3:-3] = False
    free &= ~edge
    rows, columns = np.mgrid[0:ROWS, 0:COLUMNS]
    wet = water(height_m)
    cells = []
    for stretch in np.arange(0.0, len(line) * STEP_M, HILL_WINDOW_M):
        for _ in range(HILLS_A_STRETCH):
            here = free & (along_m >= stretch) & (along_m < stretch + HILL_WINDOW_M)
            if here.any():
                row, column = highest(stands_out, here)
                free &= np.hypot(rows - row, columns - column) * CELL_M >= HILL_APART_M
                nearest = line[np.argmin(np.hypot(line[:, 0] - row, line[:, 1] - column))]
                way = np.rint(np.linspace((row, column), nearest, 60)).astype(int)
                if not wet[way[:, 0], way[:, 1]].any():
                    cells.append((row, column))
    return cells


def above_surroundings(height_m: Field) -> Field:
    """Height above the mean of what lies within some 600 m."""
    from scipy.ndimage import gaussian_filter

    return np.asarray(height_m - gaussian_filter(height_m, 300.0 / CELL_M))


def highest(value: Field, where: NDArray[np.bool_]) -> tuple[int, int]:
    """Row and column of the greatest value."""
    row, column = np.unravel_index(int(np.argmax(np.where(where, value, -np.inf))), value.shape)
    return int(row), int(column)


def write_vectors(line: Field, hills: Field, offset_m: Field) -> None:
    """Boundary, middle line and hills as layers of a GeoPackage; coordinates (n, 2) of the job."""
    import geopandas
    import pyogrio
    import shapely

    middle = shapely.LineString(line).simplify(1.0)
    middle = shapely.set_precision(middle, 0.1)
    area = shapely.set_precision(middle.buffer(HALF_WIDTH_M, quad_segs=4).simplify(2.0), 0.1)
    layers = {
        "job": {"name": ["Road renewal, 30 km (invented)"], "geometry": [area]},
        "middle_line": {"name": ["Road (invented)"], "geometry": [middle]},
        "hills": {
            "name": [f"H{number:02d}" for number in range(1, len(hills) + 1)],
            "from_road_m": np.round(offset_m).astype(int).tolist(),
            "geometry": list(shapely.points(np.round(hills, 1))),
        },
    }
    target = FOLDER / VECTORS
    target.unlink(missing_ok=True)
    # the format keeps the time of writing; with this one the same data give the same file
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2025-01-01T00:00:00.000Z"})
    for name, columns in layers.items():
        frame = geopandas.GeoDataFrame(columns, crs=EPSG)
        frame.to_file(target, layer=name, driver="GPKG", SPATIAL_INDEX="NO")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def write_control(places: Field, ground_m: Field) -> None:
    """The control points as CSV."""
    with (FOLDER / CONTROL).open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("name", "easting", "northing", "height", "code"))
        for index, ((east, north), height_m) in enumerate(zip(places, ground_m, strict=True)):
            stated = height_m + OFFSETS_M[index % len(OFFSETS_M)]
            code = CODES[index % len(CODES)]
            writer.writerow((f"K{index + 1}", f"{east:.2f}", f"{north:.2f}", f"{stated:.2f}", code))


def main(source: Path | None) -> None:
    """Cut the strip where a source is given, and write what lies on it."""
    import rasterio
    from pyproj import Transformer

    FOLDER.mkdir(exist_ok=True)
    if source is not None:
        cut(source)
    with rasterio.open(FOLDER / TERRAIN) as raster:
        height_m, transform, crs = raster.read(1).astype(float), raster.transform, raster.crs
    to_job = Transformer.from_crs(crs.to_wkt(), f"EPSG:{EPSG}", always_xy=True)

    def place(cells: Field) -> Field:
        """Job coordinates (n, 2) of rows and columns, whole at a cell's centre."""
        x = transform.c + (cells[:, 1] + 0.5) * transform.a
        y = transform.f + (cells[:, 0] + 0.5) * transform.e
        return np.column_stack(to_job.transform(x, y))

    line = road(height_m)
    control = np.array(control_cells(height_m, line))
    hills = np.array(hill_cells(height_m, line))
    distance_m, _ = near_road(line)
    write_control(place(control), height_m[control[:, 0], control[:, 1]])
    write_vectors(place(line), place(hills), distance_m[hills[:, 0], hills[:, 1]])


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
