"""Baseline limits of a job and its zones, and when they count."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from pyproj import CRS
from shapely import box

from linkplan.plan.model import Base, Environment, Goal, Plan, Rover
from linkplan.plan.sky_model import Accuracy
from linkplan.radio.equipment import Antenna, Feeder, Receiver, Transmitter
from linkplan.terrain.source import TerrainSource
from linkplan.workable import asked, decides, tolerance_limits


@pytest.fixture
def plan() -> Plan:
    """A job that asks for corrections only."""
    return Plan(
        file=Path("job.toml"), name="job", notes="", crs=CRS.from_epsg(32611), length_unit="metre",
        height_unit="metre", boundary=box(500_000.0, 4_000_000.0, 501_000.0, 4_001_000.0),
        terrain=TerrainSource((Path("ground.tif"),)), clutter=None,
        base=Base("B", 500_000.0, 4_000_000.0, 400.0, 5.0),
        transmitter=Transmitter(43.0, 451.0, 25.0, Feeder(1.2), Antenna(5.0)),
        rover=Rover(2.0, Receiver(Antenna(2.15), Feeder(0.0), 16.0, 7.0, True, -97.0)),
        environment=Environment("rural", 6.0, True, 45.0, 325.0), goal=Goal(0.95, None),
    )  # fmt: skip


def test_a_job_of_corrections_only_asks_for_nothing_more(plan: Plan) -> None:
    assert tolerance_limits(plan) == ()
    assert not asked(plan)
    assert not decides(plan)


def test_a_stated_limit_is_shown_but_does_not_move_the_goal(plan: Plan) -> None:
    far = replace(plan, goal=Goal(0.95, 8000.0))
    (one,) = tolerance_limits(far)
    assert (one.zone, one.tolerance_m, one.limit_m) == (None, None, 8000.0)
    assert asked(far)
    assert not decides(far)


def test_tolerances_by_direction(plan: Plan) -> None:
    wanted = replace(plan, accuracy=Accuracy(tolerance_m=0.020, vertical_tolerance_m=0.020))
    flat, high = tolerance_limits(wanted)
    # (20 - 8) mm at 1 mm a kilometre; (20 - 15) mm
    assert (flat.direction, flat.limit_m) == ("horizontal", pytest.approx(12_000.0))
    assert (high.direction, high.limit_m) == ("vertical", pytest.approx(5_000.0))
    assert asked(wanted)
    assert decides(wanted)
