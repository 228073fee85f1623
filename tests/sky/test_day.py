"""The day's sky of a small job: base and rovers on real horizons, orbits from files or as planned."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from linkplan import study
from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.sky.day import ROVER_AZIMUTHS_DEG, base_sky, lattice, rover_horizons, rover_sky
from linkplan.terrain.horizon import horizon_deg
from linkplan.terrain.masks import inside_mask
from linkplan.workable import NO_CORRECTIONS, NO_SKY, TOO_FAR, UNKNOWN, WORKABLE, workable_map
from tests.siting.conftest import make_job  # noqa: F401  (the fixture)

MakeJob = Callable[..., Plan]
DATA = Path(__file__).parents[1] / "data" / "gnss"

SKY = """\
control_points = true
[sky]
date = 2026-06-02
from = "08:00"
to = "12:00"
time_zone = "America/Denver"
step_min = 30
"""


def trench() -> np.ndarray:
    """Flat ground with a trench of 150 m, 200 m wide, through the job."""
    height_m = np.full((60, 60), 400.0)
    height_m[:, 34:39] -= 150.0
    return height_m


def test_hours_are_local_outside_and_utc_inside(make_job: MakeJob) -> None:  # noqa: F811
    plan = make_job(SKY)
    sky, positions = base_sky(plan, study.job_grid(plan))
    # Denver keeps 6 hours behind UTC in June
    assert sky.day.utc[0] == datetime.datetime(2026, 6, 2, 14, 0, tzinfo=datetime.UTC)
    assert sky.day.local[0].strftime("%H:%M") == "08:00"
    assert sky.day.utc[-1] - sky.day.utc[0] == datetime.timedelta(hours=4)
    assert sky.day.hours == 4.0
    assert len(sky.day.utc) == 9 == positions.gps_s.size
    # 1980-01-06 to the moment in days of 86 400 s, and 18 leap seconds [IERS Bulletin C 72]
    counted = (sky.day.utc[0] - datetime.datetime(1980, 1, 6, tzinfo=datetime.UTC)).total_seconds()
    assert positions.gps_s[0] == counted + 18.0
    assert sky.orbits.typical
    assert any("typical, not for a date" in note for note in sky.orbits.notes)


def test_the_base_looks_over_its_own_ground_and_what_the_job_says_stands_there(make_job: MakeJob) -> None:  # noqa: F811
    plan = make_job(SKY + "obstructions = [[80, 0], [90, 35], [100, 0]]\n", height_m=trench())
    grid = study.job_grid(plan)
    sky, _ = base_sky(plan, grid)
    assert plan.sky is not None
    plain = horizon_deg(
        grid.height_m, cell_size_m=grid.cell_size_m, row=grid.base_row, column=grid.base_column,
        eye_height_m=plan.sky.base_gnss_height_m, azimuths_deg=np.array([0.0, 45.0, 270.0]),
    )  # fmt: skip
    # the stated outline is level all around elsewhere
    assert sky.horizon.horizon_deg[[0, 45, 270]] == pytest.approx(
        np.maximum(plain.horizon_deg, 0.0), abs=0.02
    )
    assert sky.horizon.horizon_deg[90] == pytest.approx(35.0)
    assert sky.horizon.horizon_deg[85] == pytest.approx(17.5)
    hidden = (np.abs(sky.azimuth_deg - 90.0) < 5.0) & (sky.elevation_deg < 17.0)
    assert not sky.visible[hidden].any()
    # ground is known to some 2 km here, not everywhere
    assert 0.0 < sky.unknown_share <= 1.0


def test_real_orbits_count_their_age_and_only_the_wanted_systems(make_job: MakeJob) -> None:  # noqa: F811
    file = next(iter(sorted(DATA.glob("*.rnx*")) or sorted(DATA.glob("*nav*"))), None)
    assert file is not None
    plan = make_job(SKY + f'orbits = ["{file}"]\nsystems = ["GPS", "Galileo"]\n')
    sky, positions = base_sky(plan, study.job_grid(plan))
    assert not sky.orbits.typical
    assert sky.orbits.oldest_days > 30.0
    assert any("days from the working day" in note for note in sky.orbits.notes)
    assert set(positions.systems) <= {"G", "E"}
    assert {one.name for one in sky.systems} <= {"GPS", "Galileo"}


def test_rovers_in_the_trench_see_less(make_job: MakeJob) -> None:  # noqa: F811
    plan = make_job(SKY, height_m=trench())
    grid = study.job_grid(plan)
    inside = inside_mask(grid, grid.frame.geometry_to_local(plan.boundary))
    base, positions = base_sky(plan, grid)
    rover = rover_sky(plan, grid, inside, base, positions)
    assert inside[rover.rows, rover.columns].all()
    deep = grid.height_m[rover.rows, rover.columns] < 300.0
    assert deep.any()
    assert rover.open_share[deep].max() < rover.open_share[~deep].min()
    assert rover.common[deep].mean() < 0.8 * rover.common[~deep].mean()
    assert (rover.common <= base.together.satellites[None, :]).all(), "common ones are the base's too"
    horizons, known_to_m = rover_horizons(plan, grid, rover.rows, rover.columns)
    # the raster is 2.4 km wide: nowhere is the ground known 2 km far all around
    assert (known_to_m.min(axis=1) < 2000.0).all()
    open_or_unknown = ~(horizons > 10.0)
    assert rover.unknown_share == pytest.approx((open_or_unknown & (known_to_m < 2000.0)).mean())
    assert rover.unknown_share > 0.3
    for one in range(0, rover.rows.size, 97):
        plain = horizon_deg(
            grid.height_m, cell_size_m=grid.cell_size_m, row=int(rover.rows[one]),
            column=int(rover.columns[one]), eye_height_m=2.0, azimuths_deg=ROVER_AZIMUTHS_DEG,
        )  # fmt: skip
        assert (horizons[one] >= plain.horizon_deg - 0.02).all(), "ground beyond only adds"


def test_a_silent_base_leaves_no_rover_enough(make_job: MakeJob) -> None:  # noqa: F811
    plan = make_job(SKY + "least_satellites = 60\n")
    whole = study.run(plan)
    assert whole.base_sky is not None
    assert whole.rover_sky is not None
    assert whole.base_sky.together.held_share == 1.0
    assert not whole.rover_sky.enough.any()
    assert whole.workable.workable_share == 0.0


def test_reasons_add_up_cell_by_cell(make_job: MakeJob) -> None:  # noqa: F811
    changes = ("sensitivity_dbm = -98.0", "sensitivity_dbm = -90.0"), ("share = 0.9", "baseline_limit = 900")
    plan = make_job(SKY + "least_common = 12\n", *changes, height_m=trench())
    whole = study.run(plan)
    coverage, work, rover = whole.coverage, whole.workable, whole.rover_sky
    assert rover is not None
    inside = coverage.inside
    reason = work.reason[inside]
    radio = coverage.class_index[inside] != 1
    far = coverage.grid.distance_from_base_m()[inside] > 900.0
    assert np.array_equal((reason & NO_CORRECTIONS) > 0, radio)
    assert np.array_equal((reason & TOO_FAR) > 0, far)
    assert ((reason & NO_SKY) > 0).any()
    assert np.array_equal(reason == WORKABLE, ~radio & ~far & ((reason & NO_SKY) == 0))
    assert (work.reason[~inside] == UNKNOWN).all()
    unknown = replace(coverage, class_index=np.zeros_like(coverage.class_index))
    assert (workable_map(plan, unknown, rover).reason == UNKNOWN).all(), "no data, no claim"
    # 8 mm + 1 ppm at 700 m: 8.7 mm
    at = np.unravel_index(np.abs(coverage.grid.distance_from_base_m() - 700.0).argmin(), inside.shape)
    assert work.horizontal_m[at] == pytest.approx(0.0087, abs=3e-5)


def test_a_lattice_spreads_over_any_shape() -> None:
    wide = np.ones((300, 300), dtype=bool)
    rows, columns, stride = lattice(wide, most=400)
    assert 200 < rows.size <= 400
    assert np.diff(np.unique(rows)).tolist() == [stride] * (np.unique(rows).size - 1)
    thin = np.zeros((300, 300), dtype=bool)
    thin[149, :] = True
    rows, columns, _ = lattice(thin, most=20)
    assert 0 < rows.size <= 20
    assert thin[rows, columns].all()


def test_a_job_without_sky_is_told_what_to_add(make_job: MakeJob) -> None:  # noqa: F811
    plan = make_job("control_points = true\n")
    with pytest.raises(PlaceError, match=r"there is no \[sky\]"):
        base_sky(plan, study.job_grid(plan))
    assert study.run(plan).workable.sky_counted is False
