"""A small invented job on disk, and a way to run the command line on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from linkplan.cli.main import main

WEST, NORTH, CELL, SIDE = 500_000.0, 4_200_000.0, 20.0, 100

JOB = """\
[job]
name = "small invented job"
crs = "EPSG:32611"
[boundary]
coordinates = [[500300.0, 4198300.0], [501700.0, 4198300.0], [501700.0, 4199700.0], [500300.0, 4199700.0]]
[terrain]
files = ["dem.tif"]
height_datum = "invented"
[base]
position = [501000.0, 4199000.0]
antenna_height = 5.0
[radio]
frequency_mhz = 450.0
channel_spacing_khz = 12.5
power_w = 5.0
antenna_gain_dbi = 2.0
feeder_loss_db = 1.0
[rover]
antenna_height = 2.0
antenna_gain_dbi = 0.0
sensitivity_dbm = -110.0
"""


def write_dem(path: Path, *, crs: str | None = "EPSG:32611", height: np.ndarray | None = None) -> None:
    """Gently rolling ground of 2 km x 2 km around the job."""
    if height is None:
        rows, columns = np.mgrid[0:SIDE, 0:SIDE]
        height = 400.0 + 6.0 * np.sin(rows / 9.0) * np.cos(columns / 11.0)
    with rasterio.open(
        path, "w", driver="GTiff", width=height.shape[1], height=height.shape[0], count=1, dtype="float32",
        crs=crs, transform=Affine(CELL, 0.0, WEST, 0.0, -CELL, NORTH), nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(height.astype("float32"), 1)


@dataclass(frozen=True)
class Outcome:
    """What a run of the command line left behind."""

    code: int
    out: str
    err: str


@dataclass(frozen=True)
class JobFolder:
    """A folder with a job file and its terrain."""

    path: Path
    run: Callable[..., Outcome]

    @property
    def job(self) -> Path:
        return self.path / "job.toml"

    def change(self, old: str, new: str) -> None:
        """Replace a piece of the job file that must be there."""
        text = self.job.read_text()
        assert old in text
        self.job.write_text(text.replace(old, new))

    def names(self) -> set[str]:
        """Everything in the folder, hidden files included."""
        return {entry.name for entry in self.path.iterdir()}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> JobFolder:
    monkeypatch.chdir(tmp_path)
    write_dem(tmp_path / "dem.tif")
    (tmp_path / "job.toml").write_text(JOB)

    def run(*arguments: str) -> Outcome:
        capsys.readouterr()
        code = main(list(arguments))
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err)

    return JobFolder(tmp_path, run)
