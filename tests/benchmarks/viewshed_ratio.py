"""The sweep's wall time beside GDAL's viewshed on the same rasters, in one run.

    python -m tests.benchmarks.viewshed_ratio 500 1000 2001 4000

prints one line for each terrain and size. The viewshed answers yes or no a cell; the sweep gives a loss,
a Fresnel clearance and its own error. The viewshed's time is that of its whole process, with reading and
writing a file; the sweep's starts from the array in memory, compiled.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

from linkplan.propagation.sweep import sweep
from tests.propagation.terrain_samples import FloatArray, flat, rolling, rough

VIEWSHED = shutil.which("gdal_viewshed")
TERRAIN = {"rolling": rolling, "rough": rough, "flat": flat}
CELL_M = 10.0
TX_M, RX_M = 5.0, 2.0
HEADINGS = ("terrain", "cells a side", "radials", "error dB", "sweep s", "ns a cell", "viewshed s", "ratio")


@dataclass(frozen=True)
class Measurement:
    """Best wall times on one raster."""

    terrain: str
    side: int
    radials: int
    error_db: float
    sweep_s: float
    viewshed_s: float

    @property
    def ratio(self) -> float:
        """Sweep over viewshed."""
        return self.sweep_s / self.viewshed_s

    @property
    def ns_per_cell(self) -> float:
        """The sweep's wall time a cell."""
        return self.sweep_s / self.side**2 * 1e9

    def line(self) -> str:
        """One row of the table."""
        return (
            f"{self.terrain:>8} {self.side:>12} {self.radials:>8} {self.error_db:>8.3f} {self.sweep_s:>8.3f} "
            f"{self.ns_per_cell:>9.0f} {self.viewshed_s:>10.3f} {self.ratio:>6.2f}"
        )


def header() -> str:
    """The table's first row."""
    widths = (8, 12, 8, 8, 8, 9, 10, 6)
    return " ".join(f"{name:>{width}}" for name, width in zip(HEADINGS, widths, strict=True))


def measure(terrain: str, side: int, repeats: int = 5) -> Measurement:
    """Both on one raster, taking turns so that a busy machine slows both; the best of each counts."""
    ground = TERRAIN[terrain](side, side)
    middle = side // 2
    best_sweep = best_viewshed = float("inf")
    with tempfile.TemporaryDirectory() as folder:
        run_viewshed = viewshed_of(ground, middle, Path(folder))
        warm_up()
        for _ in range(repeats):
            best_viewshed = min(best_viewshed, seconds(run_viewshed))
            began = time.perf_counter()
            swept = sweep(
                ground,
                cell_size_m=CELL_M,
                tx_row=middle,
                tx_column=middle,
                tx_height_m=TX_M,
                rx_height_m=RX_M,
                frequency_ghz=0.45,
            )
            best_sweep = min(best_sweep, time.perf_counter() - began)
    error = swept.radial_error.rms_db if swept.radial_error else float("nan")
    return Measurement(terrain, side, swept.radials, error, best_sweep, best_viewshed)


def viewshed_of(ground: FloatArray, middle: int, folder: Path) -> Callable[[], None]:
    """GDAL's viewshed from the middle cell of this raster, over the curved earth with refraction."""
    source, target = folder / "ground.tif", folder / "seen.tif"
    side = ground.shape[0]
    with rasterio.open(
        source, "w", driver="GTiff", width=side, height=side, count=1, dtype="float32", crs="EPSG:32633",
        transform=from_origin(500_000.0, 5_000_000.0, CELL_M, CELL_M),
    ) as file:  # fmt: skip
        file.write(ground.astype(np.float32), 1)
    x, y = 500_000.0 + (middle + 0.5) * CELL_M, 5_000_000.0 - (middle + 0.5) * CELL_M
    assert VIEWSHED is not None
    command = [VIEWSHED, "-q", "-ox", str(x), "-oy", str(y), "-oz", str(TX_M), "-tz", str(RX_M)]
    command += ["-cc", "0.75", "-md", "0", str(source), str(target)]

    def run() -> None:
        subprocess.run(command, check=True, capture_output=True)

    return run


def warm_up() -> None:
    """Compile, or load what was compiled."""
    for ground in (rolling(60, 60), rolling(400, 400)):
        sweep(ground, cell_size_m=CELL_M, tx_row=30, tx_column=30, tx_height_m=TX_M, rx_height_m=RX_M,
              frequency_ghz=0.45)  # fmt: skip


def seconds(work: Callable[[], None]) -> float:
    """Wall time of one call."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def main() -> None:
    """Print the table for the sizes given."""
    if VIEWSHED is None:
        sys.exit("gdal_viewshed is not installed (Debian: gdal-bin)")
    sizes = [int(size) for size in sys.argv[1:]] or [500, 1000, 2001, 4000]
    print(header())
    for terrain in TERRAIN:
        for side in sizes:
            print(measure(terrain, side).line(), flush=True)


if __name__ == "__main__":
    main()
