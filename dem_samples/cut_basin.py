"""Cut the open-terrain sample out of its source, and place the invented job on it.

    python dem_samples/cut_basin.py SOURCE.tif [FOLDER]

The ground is real (see README.md for its origin); boundary and control points are invented.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

FIRST_ROW, FIRST_COLUMN, ROWS, COLUMNS = 380, 20, 430, 470
EPSG = 32611

BOUNDARY = [
    (92, 512), (150, 478), (215, 492), (256, 528), (284, 572), (280, 625), (215, 640),
    (165, 628), (110, 640), (80, 600), (88, 555),
]  # fmt: skip
"""Corners as column and row of the source raster."""

CONTROL = [
    ("B1", 244, 519, 0.3, "hub"),
    ("B2", 381, 554, -0.6, "brass disc"),
    ("B3", 123, 597, 0.2, "rebar"),
    ("B4", 160, 640, -0.4, "nail"),
    ("B5", 39, 602, 0.7, "hub"),
    ("B6", 174, 544, -0.1, "rebar"),
]
"""Name, column, row (cell centres), stated height minus the raster's in m, code."""


def main(source: Path, folder: Path) -> None:
    """Write raster, boundary and control points into a folder."""
    import geopandas
    import rasterio
    import shapely
    from pyproj import Transformer
    from rasterio.windows import Window

    with rasterio.open(source) as raster:
        window = Window(FIRST_COLUMN, FIRST_ROW, COLUMNS, ROWS)
        height_m, transform, crs = raster.read(1), raster.transform, raster.crs
        profile = {
            "driver": "GTiff", "width": COLUMNS, "height": ROWS, "count": 1, "crs": crs, "dtype": "int16",
            "nodata": raster.nodata, "transform": raster.window_transform(window), "tiled": True,
            "blockxsize": 256, "blockysize": 256, "compress": "deflate", "predictor": 2, "zlevel": 9,
        }  # fmt: skip
    with rasterio.open(folder / "basin_dem_30m.tif", "w", **profile) as target:
        target.write(height_m[FIRST_ROW : FIRST_ROW + ROWS, FIRST_COLUMN : FIRST_COLUMN + COLUMNS], 1)
        target.units = ("m",)
        target.set_band_description(1, "ground height")

    to_job = Transformer.from_crs(crs.to_wkt(), f"EPSG:{EPSG}", always_xy=True)

    def place(column: float, row: float) -> tuple[float, float]:
        """Job coordinates of a cell's centre."""
        x, y = transform.c + (column + 0.5) * transform.a, transform.f + (row + 0.5) * transform.e
        east, north = to_job.transform(x, y)
        return float(east), float(north)

    corners = np.round([place(*corner) for corner in BOUNDARY], 1)
    job = geopandas.GeoDataFrame(
        {"name": ["Basin track renewal (invented)"]}, geometry=[shapely.Polygon(corners)], crs=EPSG
    )
    boundary = folder / "basin_job.gpkg"
    boundary.unlink(missing_ok=True)
    job.to_file(boundary, layer="job", driver="GPKG")
    with (folder / "basin_control.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("name", "easting", "northing", "height", "code"))
        for name, column, row, offset, code in CONTROL:
            east, north = place(column, row)
            writer.writerow(
                (name, f"{east:.2f}", f"{north:.2f}", f"{height_m[row, column] + offset:.2f}", code)
            )


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else Path(__file__).parent)
