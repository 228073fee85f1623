"""A job of 5 km in a raster of 40 000 x 40 000 cells takes the memory of its window."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from affine import Affine

PROGRAM = """
import sys
from pathlib import Path
import shapely
from pyproj import CRS
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.source import TerrainSource

frame = LocalFrame.around(CRS.from_epsg(32633), 500000.0, 5300000.0)
half = float(sys.argv[2])
grid = load_terrain(
    TerrainSource((Path(sys.argv[1]),)), None, frame=frame,
    area=shapely.box(-half, -half, half, half), max_cells=int(sys.argv[3]),
)
peak = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
print(int(peak.split()[1]) / 1024.0, grid.cell_size_m, float(grid.height_m.mean()))
"""

pytestmark = pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs the peak of a process")


def sparse(path: Path, cells: int, cell: float, **layout: Any) -> Path:
    """A raster around the base whose cells are written only in the middle 1200 x 1200, as 300 m."""
    import rasterio
    from rasterio.windows import Window

    half = cells * cell / 2.0
    with rasterio.open(
        path, "w", driver="GTiff", count=1, width=cells, height=cells, dtype="int16", crs="EPSG:32633",
        transform=Affine(cell, 0.0, 500_000.0 - half, 0.0, -cell, 5_300_000.0 + half),
        SPARSE_OK=True, **layout,
    ) as dataset:  # fmt: skip
        dataset.units = ("m",)
        middle = min(1200, cells)
        start = (cells - middle) // 2
        dataset.write(
            np.full((middle, middle), 300, dtype="int16"), 1, window=Window(start, start, middle, middle)
        )
    return path


def peak_mb(path: Path, half_m: float, max_cells: int = 4_000_000) -> tuple[float, float, float]:
    """Peak memory of a process that loads it, the grid's cell and its mean height."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(path), str(half_m), str(max_cells)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    peak, cell, mean = (float(word) for word in done.stdout.split())
    return peak, cell, mean


TILED = {"tiled": True, "blockxsize": 512, "blockysize": 512}


def test_large_rasters_are_read_by_window(tmp_path: Path) -> None:
    """Cells of 5 m: the large raster holds 3.2 GB, the window of 5 km 1100 x 1100 cells, 2.4 MB."""
    small, _, _ = peak_mb(sparse(tmp_path / "small.tif", 1200, 5.0, **TILED), 2500.0)
    tiled, cell, mean = peak_mb(sparse(tmp_path / "tiled.tif", 40_000, 5.0, **TILED), 2500.0)
    assert (cell, mean) == (5.0, pytest.approx(300.0))
    assert tiled < small + 15.0
    # Whole rows must be unpacked here, 80 kB each; the library's cache is held to 64 MB.
    striped, _, _ = peak_mb(sparse(tmp_path / "striped.tif", 40_000, 5.0), 2500.0)
    assert striped < small + 70.0


def test_rasters_much_finer_than_the_grid_are_read_in_strips(tmp_path: Path) -> None:
    """Cells of 0.5 m over 5 km are 121 million (242 MB as read, 484 MB as worked on)."""
    small, _, _ = peak_mb(sparse(tmp_path / "small.tif", 1200, 0.5, **TILED), 100.0, 250_000)
    fine, cell, _ = peak_mb(sparse(tmp_path / "fine.tif", 11_000, 0.5, **TILED), 2500.0, 250_000)
    assert cell >= 11.0
    assert fine < small + 60.0
