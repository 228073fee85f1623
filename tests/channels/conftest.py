"""Invented cases of interference, drawn at random, and a plain invented job."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import CRS
from shapely import box

from linkplan.channels.ratios import Case, Mix
from linkplan.plan.model import Base, Environment, Goal, Plan, Rover
from linkplan.radio.equipment import Antenna, Feeder, Receiver, Transmitter
from linkplan.radio.interference import Emission, Protection
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.source import TerrainSource
from linkplan.units import HALF_WAVE_DIPOLE_DBI, dbm_from_watt


def random_case(
    seed: int, *, bases: int, others: int = 0, rows_each: int = 3, mixes: int = 0, spread_db: float = 40.0
) -> Case:
    """Levels at random; others sit on a 12.5 kHz raster from 461 MHz."""
    chance = np.random.default_rng(seed)
    rows = bases * rows_each
    owner = np.repeat(np.arange(bases), rows_each)
    transmitters = bases + others
    found = []
    for _ in range(mixes if transmitters >= 3 else 0):
        count = int(chance.integers(2, 4)) if transmitters >= 4 else 2
        picked = [int(one) for one in chance.permutation(transmitters)]
        victim = next(one for one in picked if one < bases)
        sources = [one for one in picked if one != victim][:count]
        plus = (sources[0], sources[0]) if count == 2 else (sources[0], sources[1])
        found.append(Mix(plus, sources[-1], victim, float(chance.uniform(0.0, 50.0))))
    return Case(
        owner=owner,
        wanted_dbm=chance.uniform(-100.0, -70.0, rows),
        own_dbm=chance.uniform(-90.0 - spread_db, -50.0, (rows, bases)),
        other_dbm=chance.uniform(-90.0 - spread_db, -50.0, (rows, others)),
        other_mhz=461.0 + 0.0125 * chance.integers(0, 6, others),
        other_emissions=(Emission.of_spacing(12.5),) * others,
        emission=Emission.of_spacing(12.5),
        limits=Protection.for_spacing(12.5),
        bases=bases,
        mixes=tuple(found),
    )


@pytest.fixture
def make_case():
    return random_case


EAST, NORTH = 500_000.0, 4_500_000.0


def plain_plan(**changes: Any) -> Plan:
    """2 W into 2.15 dBi on a 6 m mast without a feeder: 2 W ERP exactly; rover 2 m up, -110 dBm."""
    receiver = Receiver(
        antenna=Antenna(0.0),
        feeder=Feeder(0.0),
        noise_bandwidth_khz=12.5,
        noise_figure_db=8.0,
        noise_figure_assumed=False,
        sensitivity_dbm=-110.0,
    )
    values: dict[str, Any] = {
        "file": Path("invented.toml"),
        "name": "invented",
        "notes": "",
        "crs": CRS("EPSG:32633"),
        "length_unit": "metre",
        "height_unit": "metre",
        "boundary": box(EAST - 900, NORTH - 900, EAST + 900, NORTH + 900),
        "terrain": TerrainSource((Path("invented.tif"),)),
        "clutter": None,
        "base": Base("A", EAST, NORTH, None, 6.0),
        "transmitter": Transmitter(
            float(dbm_from_watt(2.0)), 461.05, 12.5, Feeder(0.0), Antenna(HALF_WAVE_DIPOLE_DBI)
        ),
        "rover": Rover(2.0, receiver),
        "environment": Environment("rural", 6.0, False, 45.0, 325.0),
        "goal": Goal(0.95, None),
    }
    return Plan(**{**values, **changes})


def grid_of(height_m: np.ndarray, cell_size_m: float = 50.0) -> TerrainGrid:
    """A local grid around the plain job's base, which stands in the middle."""
    rows, columns = height_m.shape
    return TerrainGrid(
        frame=LocalFrame.around(CRS("EPSG:32633"), EAST, NORTH),
        cell_size_m=cell_size_m,
        base_row=rows // 2,
        base_column=columns // 2,
        height_m=np.asarray(height_m, dtype=float),
        clutter_height_m=None,
        height_datum="invented",
        source_cell_m=cell_size_m,
    )


def write_dem(path: Path, height_m: np.ndarray, cell_m: float) -> None:
    """A raster around the plain job's base."""
    rows, columns = height_m.shape
    corner = Affine(cell_m, 0.0, EAST - cell_m * columns / 2, 0.0, -cell_m, NORTH + cell_m * rows / 2)
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=1, dtype="float32",
        crs="EPSG:32633", transform=corner, nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(height_m.astype("float32"), 1)


@pytest.fixture
def make_plan():
    return plain_plan


@pytest.fixture
def make_grid():
    return grid_of


@pytest.fixture
def rolling_plan(tmp_path):
    """The plain job on rolling ground of 12 km x 12 km."""
    rows, columns = np.mgrid[0:240, 0:240]
    write_dem(tmp_path / "dem.tif", 400.0 + 25.0 * np.sin(rows / 9.0) * np.cos(columns / 7.0), 50.0)
    return plain_plan(terrain=TerrainSource((tmp_path / "dem.tif",)))
