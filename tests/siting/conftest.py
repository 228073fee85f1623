"""A small invented job on disk with places to compare."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan

WEST, NORTH, CELL, SIDE = 500_000.0, 4_200_000.0, 40.0, 60

JOB = """\
[job]
name = "places to compare (invented)"
crs = "EPSG:32611"
[boundary]
coordinates = [[500500.0, 4198100.0], [501900.0, 4198100.0], [501900.0, 4199300.0], [500500.0, 4199300.0]]
[terrain]
files = ["dem.tif"]
height_datum = "invented"
[control]
file = "control.csv"
[base]
point = "C1"
antenna_height = 3.0
[radio]
frequency_mhz = 450.0
channel_spacing_khz = 12.5
power_w = 0.5
antenna_gain_dbi = 2.0
feeder_loss_db = 1.0
[rover]
antenna_height = 2.0
antenna_gain_dbi = 0.0
sensitivity_dbm = -98.0
[goal]
chance = 0.95
share = 0.9
"""

CONTROL = """\
name,easting,northing
C1,500700,4198500
C2,501230,4198755
C3,501800,4199200
C4,500320,4199500
"""


def ground() -> np.ndarray:
    """Ridges and hollows of some 40 m."""
    rows, columns = np.mgrid[0:SIDE, 0:SIDE]
    return (
        400.0 + 22.0 * np.sin(rows / 5.0) * np.cos(columns / 4.0) + 9.0 * np.sin(columns / 2.3 + rows / 7.0)
    )


def write_raster(path: Path, height_m: np.ndarray) -> None:
    with rasterio.open(
        path, "w", driver="GTiff", width=height_m.shape[1], height=height_m.shape[0], count=1,
        dtype="float32", crs="EPSG:32611", transform=Affine(CELL, 0.0, WEST, 0.0, -CELL, NORTH),
        nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(height_m.astype("float32"), 1)


@pytest.fixture
def make_job(tmp_path: Path) -> Callable[..., Plan]:
    """Write the job with a [siting] section, with changes of (old, new) text, and read it."""

    def make(siting: str = "", *changes: tuple[str, str], height_m: np.ndarray | None = None) -> Plan:
        text = JOB
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / "job.toml").write_text(text + "[siting]\n" + siting)
        (tmp_path / "control.csv").write_text(CONTROL)
        write_raster(tmp_path / "dem.tif", ground() if height_m is None else height_m)
        return read_plan(tmp_path / "job.toml")

    return make
