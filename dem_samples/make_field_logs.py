"""Make the basin demo's invented field logs: two rover logs and a list of measured levels.

    python -m dem_samples.make_field_logs [FOLDER]

Nothing is measured. The truth behind them is the job's own prediction, less a hidden offset, with an error
that is alike over some 200 m and a scatter from cell to cell; a message arrives where that level suffices.
The same files each time, up to what the platform's arithmetic rounds. Each begins with a line that says it is
invented, or has a column that does.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer

from dem_samples.make_recordings import GEOID_M, SAYS_INVENTED, degrees_minutes, sentence
from linkplan.coverage.area import compute_coverage
from linkplan.coverage.ground import job_grid
from linkplan.coverage.results import CoverageMap
from linkplan.coverage.site import site_constants
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan

HERE = Path(__file__).resolve().parent
JOB = "basin.toml"
LEVELS = "basin_field_levels.csv"
SEED = 20260512

HIDDEN_OFFSET_DB, HIDDEN_SIGMA_DB = -7.0, 4.5
ALIKE_CELLS = 4.0
"""Width of the filter that makes neighbours err alike: errors correlate by 1/e some 230 m apart."""

SPEED_M_S, EPOCH_S = 6.0, 2
STOP_S = 240
"""How long the rover stands at its stop."""
LATE_S = 600.0
"""After so long without a message the rover gives up: no age is told any more."""
OTHER_STATION = 77
OTHER_BASE_S = 50
LEVEL_ROWS = 320
LOWEST_DBM = -119.0
"""The survey receiver tells nothing below."""


@dataclass(frozen=True)
class Drive:
    """One day's drive, by (row, column) on a lattice of 180 m whose north-west corner is that of the map."""

    name: str
    date: str
    begin_s: int
    """Time of day, UTC."""
    lattice: tuple[tuple[float, float], ...]
    stop: float
    """Where it stands for a while, as a share of the way."""
    other_base: float | None
    """Where it takes the neighbour's corrections for a moment."""


DRIVES = (
    Drive(
        "basin_field_1.nmea", "120526", 16 * 3600,
        (
            (5.2, 26.8), (8, 24), (9.5, 18), (11, 11.3), (14, 12), (16, 13.5), (18, 16), (19, 20),
            (18, 21.3), (19, 23.5), (21, 25), (23, 26.5), (23.3, 21.5), (24, 22), (24.2, 25.5),
            (24.8, 22.5), (25.1, 19.6), (24.6, 19), (25, 23), (24, 24), (23.2, 28), (21, 29), (19, 32),
            (16, 33.5), (12, 34),
        ),
        0.52, 0.93,
    ),
    Drive(
        "basin_field_2.nmea", "130526", 17 * 3600,
        (
            (21.9, 9.8), (23, 7), (24, 5), (25, 5.2), (24.2, 8), (25.2, 9.3), (26, 6.6), (25.3, 6.2),
            (26.4, 9), (27, 7.3), (28.2, 8.4), (29, 9.6), (28, 10.4), (27, 9.2), (26.5, 8),
            (24.7, 7.4), (24.3, 9.6), (22, 14), (21, 17), (23, 17.2), (23.2, 20), (22, 15), (19, 14),
            (17, 12), (15, 9), (19, 5), (14, 5.2), (10, 5), (9.8, 11.6), (6, 10), (4.6, 11.2),
            (5.6, 18.5), (3.3, 19), (4.5, 20.5),
        ),
        0.34, None,
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """What the ground really does, as the logs see it."""

    coverage: CoverageMap
    margin_db: NDArray[np.float64]
    """(rows, columns)"""

    def at(self, x_m: float, y_m: float) -> float:
        """Margin at a local place."""
        cell = self.coverage.grid.cell_of(x_m, y_m)
        assert cell is not None
        return float(self.margin_db[cell])


def truth(plan: Plan, rng: np.random.Generator) -> Truth:
    """The prediction without anything learned, less the hidden offset, with errors of both kinds."""
    from scipy.ndimage import gaussian_filter

    plan = replace(plan, calibration=None)
    grid = job_grid(plan)
    coverage = compute_coverage(plan, grid)
    alike = gaussian_filter(rng.standard_normal(grid.shape), ALIKE_CELLS, mode="wrap")
    alike *= HIDDEN_SIGMA_DB / alike.std()
    scatter_db = site_constants(plan, grid.cell_size_m).location_sigma_db
    margin = coverage.margin_db + HIDDEN_OFFSET_DB + alike + rng.normal(0.0, scatter_db, grid.shape)
    return Truth(coverage, margin)


def rover_log(plan: Plan, drive: Drive, ground: Truth, rng: np.random.Generator) -> bytes:
    """A drive's GGA every two seconds, RMC every minute or so, with what loggers do."""
    assert plan.corrections is not None
    move = Transformer.from_crs(plan.crs, "EPSG:4326", always_xy=True)
    grid = ground.coverage.grid
    lines = [sentence(f"GNTXT,01,01,02,{SAYS_INVENTED}")]
    x_m, y_m = _track(drive, grid.cell_size_m, grid.base_row, grid.base_column)
    other = range(0)
    if drive.other_base is not None:
        first = round(drive.other_base * x_m.size)
        other = range(first, first + OTHER_BASE_S // EPOCH_S)
    age = LATE_S
    for number, (x, y) in enumerate(zip(x_m.tolist(), y_m.tolist(), strict=True)):
        for _ in range(EPOCH_S):  # a message a second; one in two hundred is lost on the way
            arrives = ground.at(x, y) > 0.0 and rng.random() > 0.005
            age = 1.0 if arrives else age + 1.0
        longitude, latitude = move.transform(*(float(one) for one in grid.frame.to_job(x, y)))
        cell = grid.cell_of(x, y)
        assert cell is not None
        station = OTHER_STATION if number in other else int(plan.corrections.station_id or 0)
        shown = 1.0 if number in other else age
        place = (longitude, latitude, float(grid.height_m[cell]) + 2.0)
        lines += _epoch(drive, number, place, shown, station)
    lines[400] = lines[400][:40]
    lines[801] = lines[801][:-4] + b"00\r\n"
    lines.insert(1000, b"\xd3\x00\x13>\xd0 not a sentence\r\n")
    return b"".join(lines)


def _track(
    drive: Drive, cell_m: float, base_row: int, base_column: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Local x, y of every epoch."""
    lattice = np.array(drive.lattice) * 180.0
    x = lattice[:, 1] - base_column * cell_m
    y = base_row * cell_m - lattice[:, 0]
    along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    gone = np.arange(0.0, along[-1], SPEED_M_S * EPOCH_S)
    at = round(drive.stop * gone.size)
    gone = np.concatenate((gone[:at], np.full(STOP_S // EPOCH_S, gone[at]), gone[at:]))
    # a driver keeps no straight line
    bend = 12.0 * np.sin(gone / 90.0)
    return np.interp(gone, along, x) + bend, np.interp(gone, along, y) + 12.0 * np.cos(gone / 70.0)


def _epoch(
    drive: Drive, number: int, place: tuple[float, float, float], age: float, station: int
) -> list[bytes]:
    time = drive.begin_s + number * EPOCH_S
    clock = f"{time // 3600:02d}{time // 60 % 60:02d}{time % 60:02d}.00"
    longitude, latitude, height = place
    where = f"{degrees_minutes(latitude, 2, 'N', 'S')},{degrees_minutes(longitude, 3, 'E', 'W')}"
    quality = 4 if age <= 12.0 else 5 if age <= 60.0 else 1
    told = f"{age:.1f},{station:04d}" if quality != 1 else ","
    lines = [sentence(f"GNGGA,{clock},{where},{quality},24,0.6,{height:.1f},M,{GEOID_M:.1f},M,{told}")]
    if number % 30 == 0:
        mode = {1: "A", 4: "R", 5: "F"}[quality]
        lines.append(sentence(f"GNRMC,{clock},A,{where},9.7,209.1,{drive.date},,,{mode},V"))
    return lines


def levels(ground: Truth, rng: np.random.Generator) -> str:
    """Levels at random places of the job, to a whole decibel as receivers tell them."""
    coverage = ground.coverage
    rows, columns = np.nonzero(coverage.inside & np.isfinite(ground.margin_db))
    picked = np.sort(rng.choice(rows.size, LEVEL_ROWS, replace=False))
    lines = ["easting,northing,level_dbm,time,name"]
    for number, at in enumerate(picked.tolist(), start=1):
        row, column = int(rows[at]), int(columns[at])
        x_m, y_m = coverage.grid.centre_of(row, column)
        easting, northing = coverage.grid.frame.to_job(
            x_m + float(rng.uniform(-10.0, 10.0)), y_m + float(rng.uniform(-10.0, 10.0))
        )
        level = float(ground.margin_db[row, column]) + coverage.weakest_usable_dbm + rng.normal(0.0, 0.5)
        told = f"{level:.0f}" if level > LOWEST_DBM else f"<{LOWEST_DBM:.0f}"
        lines.append(f"{easting:.1f},{northing:.1f},{told},2026-05-13,invented {number}")
    return "\n".join(lines) + "\n"


def make() -> dict[str, bytes]:
    """The files by name."""
    plan = read_plan(HERE / JOB)
    rng = np.random.default_rng(SEED)
    ground = truth(plan, rng)
    found = {drive.name: rover_log(plan, drive, ground, rng) for drive in DRIVES}
    return {**found, LEVELS: levels(ground, rng).encode()}


def main(folder: Path) -> None:
    """Write all of them."""
    for name, content in make().items():
        (folder / name).write_bytes(content)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
