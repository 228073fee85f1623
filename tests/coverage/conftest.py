"""A plain invented job over ground that a test gives."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyproj import CRS
from shapely import box

from linkplan.plan.model import Base, Environment, Goal, Plan, Rover
from linkplan.radio.equipment import Antenna, Feeder, Receiver, Transmitter
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.source import TerrainSource

EAST, NORTH = 500_000.0, 4_500_000.0
JOB_CRS = CRS("EPSG:32633")


def plain_plan(**changes: Any) -> Plan:
    """10 W into 5 dBi at 450 MHz on a 10 m mast; rover 2 m up, -110 dBm; no site noise to speak of."""
    receiver = Receiver(
        antenna=Antenna(0.0),
        feeder=Feeder(0.5),
        noise_bandwidth_khz=12.5,
        noise_figure_db=8.0,
        noise_figure_assumed=False,
        sensitivity_dbm=-110.0,
        body_loss_db=2.0,
    )
    values: dict[str, Any] = {
        "file": Path("invented.toml"),
        "name": "invented",
        "notes": "",
        "crs": JOB_CRS,
        "length_unit": "metre",
        "height_unit": "metre",
        "boundary": box(EAST - 900, NORTH - 900, EAST + 900, NORTH + 900),
        "terrain": TerrainSource((Path("invented.tif"),)),
        "clutter": None,
        "base": Base("base", EAST, NORTH, None, 10.0),
        "transmitter": Transmitter(40.0, 450.0, 12.5, Feeder(1.5), Antenna(5.0)),
        "rover": Rover(2.0, receiver),
        "environment": Environment("rural", 6.0, False, 45.0, 325.0),
        "goal": Goal(0.95, None),
    }
    return Plan(**{**values, **changes})


def grid_of(
    height_m: np.ndarray, base: tuple[int, int], cell_size_m: float = 50.0, clutter: np.ndarray | None = None
) -> TerrainGrid:
    """A local grid around the plain job's base with the given ground."""
    return TerrainGrid(
        frame=LocalFrame.around(JOB_CRS, EAST, NORTH),
        cell_size_m=cell_size_m,
        base_row=base[0],
        base_column=base[1],
        height_m=np.asarray(height_m, dtype=float),
        clutter_height_m=clutter,
        height_datum="invented",
        source_cell_m=cell_size_m,
    )


@pytest.fixture
def make_plan() -> Callable[..., Plan]:
    return plain_plan


@pytest.fixture
def make_grid() -> Callable[..., TerrainGrid]:
    return grid_of
