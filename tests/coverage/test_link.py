"""One link: its sums against a pencil, its geometry against plain triangles, and what has no answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from linkplan.coverage.link import Terminal, compute_link
from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.radio.equipment import Antenna, VerticalPattern
from linkplan.terrain.grid import TerrainGrid

MakePlan = Callable[..., Plan]
MakeGrid = Callable[..., TerrainGrid]


def at(grid: TerrainGrid, row: int, column: int, name: str = "rover") -> Terminal:
    easting, northing = grid.frame.to_job(*grid.centre_of(row, column))
    return Terminal(name, float(easting), float(northing))


def test_budget_adds_up_line_by_line(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    ground = np.zeros((3, 101))
    ground[1, 0] = 60.0  # the base on a hill: a clear path of 5 km
    ground[1, 100] = 40.0
    plan, grid = make_plan(), make_grid(ground, (1, 0))
    link = compute_link(plan, grid, at(grid, 1, 0, "base"), at(grid, 1, 100))
    # free space at 450 MHz and 5 km with the Recommendation's 92.4: 92.4 - 6.936 + 13.979 = 99.444 dB
    assert link.free_space_db == pytest.approx(99.444, abs=0.002)
    # the ray clears the ground between by more than a Fresnel radius (28.9 m in the middle): no diffraction
    assert link.line_of_sight
    assert link.diffraction_db == pytest.approx(0.0, abs=0.01)
    # 40 dBm - 1.5 + 5 - 99.444 - 0.5 - 2 = -58.444 dBm; 51.556 dB over -110 dBm
    assert link.received_dbm == pytest.approx(-58.444, abs=0.01)
    assert link.margin_db == pytest.approx(51.556, abs=0.01)
    running = 0.0
    for line in link.budget:
        if line.kind in ("start", "gain", "loss"):
            running += line.value
        elif line.kind == "level":
            assert line.value == pytest.approx(running, abs=0.01), line.label
    assert link.budget[-1].value == pytest.approx(link.margin_db)
    assert link.chance > 0.9999
    assert link.class_name == "dependable"


def test_worst_obstacle_is_named_with_its_place(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    ground = np.zeros((3, 101))
    ground[1, 40] = 80.0
    plan, grid = make_plan(), make_grid(ground, (1, 0))
    link = compute_link(plan, grid, at(grid, 1, 0, "base"), at(grid, 1, 100))
    assert link.obstacle is not None
    assert link.obstacle.distance_m == pytest.approx(2000.0)
    assert link.obstacle.ground_m == 80.0
    # ray: 10 - 8 * 0.4 = 6.8 m; bulge: 2000 * 3000 / (2 * 8930.78e3) = 0.336 m (radius for 45 N-units/km)
    assert link.obstacle.clearance_m == pytest.approx(6.8 - 80.0 - 0.336, abs=0.001)
    # sqrt(0.6662 * 2000 * 3000 / 5000) with lambda = c / 450 MHz
    assert link.obstacle.fresnel_radius_m == pytest.approx(28.27, abs=0.01)
    assert not link.line_of_sight
    # one edge: nu = 73.536 sqrt(2 * 5000 / (0.6662 * 2000 * 3000)) = 3.678: J = 24.22 dB, and the
    # Bullington term (1 - exp(-J/6)) (10 + 0.02 * 5) = 9.92 dB on top [P.526-16, section 4.5.1]
    assert link.diffraction_db == pytest.approx(24.22 + 9.92, abs=0.15)


def test_trees_count_between_the_ends_only(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    ground = np.zeros((3, 41))
    trees = np.full((3, 41), 12.0)
    plan = make_plan()
    open_grid, wooded = make_grid(ground, (1, 0)), make_grid(ground, (1, 0), clutter=trees)
    ends = at(wooded, 1, 0, "base"), at(wooded, 1, 40)
    link = compute_link(plan, wooded, *ends)
    assert link.profile.clutter_height_m[[0, -1]].tolist() == [0.0, 0.0]
    assert (link.profile.clutter_height_m[1:-1] == 12.0).all()
    assert link.diffraction_db > compute_link(plan, open_grid, *ends).diffraction_db + 10.0


def test_short_paths_say_which_computation_they_use(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    grid = make_grid(np.zeros((3, 41)), (1, 0), cell_size_m=10.0)
    link = compute_link(make_plan(), grid, at(grid, 1, 0, "base"), at(grid, 1, 20))
    assert "0.25 km" in link.model
    assert link.details == {}
    assert link.loss_db == pytest.approx(link.free_space_db + link.diffraction_db)
    longer = compute_link(make_plan(), grid, at(grid, 1, 0, "base"), at(grid, 1, 30))
    assert longer.model.startswith("P.1812-8")
    assert longer.details["basic_transmission_loss_db"] == longer.loss_db


def test_pattern_counts_at_the_angle_of_the_ray(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    ground = np.zeros((3, 41))
    ground[1, 0] = 190.0
    plan = make_plan()
    steep = Antenna(5.0, VerticalPattern((-90.0, -45.0, 0.0, 90.0), (-20.0, -10.0, 0.0, -20.0)))
    plan = replace(plan, transmitter=replace(plan.transmitter, antenna=steep))
    grid = make_grid(ground, (1, 0), cell_size_m=10.0)
    link = compute_link(plan, grid, at(grid, 1, 0, "base"), at(grid, 1, 20))
    # 198 m down over 200 m: 44.71 degrees below the horizon, of which each takes off 10/45 dB
    gain = next(line for line in link.budget if "antenna towards" in line.label)
    assert gain.value == pytest.approx(5.0 - 44.71 * 10.0 / 45.0, abs=0.01)
    assert "off the best direction" in gain.note


def test_site_noise_is_said_in_the_budget(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    plan = make_plan()
    plan = replace(plan, environment=replace(plan.environment, noise="city"))
    grid = make_grid(np.zeros((3, 41)), (1, 0))
    link = compute_link(plan, grid, at(grid, 1, 0, "base"), at(grid, 1, 40))
    need = next(line for line in link.budget if line.kind == "need")
    # Fa 11.67 dB: fa = 14.69, NF 8 dB: fr = 6.31; 10 log10((14.69 + 6.31 - 1) / 6.31) = 5.01 dB
    assert need.value == pytest.approx(-110.0 + 5.01, abs=0.01)
    assert "5.0 dB worse than -110 dBm" in need.note


def test_no_answer_across_missing_ground(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    ground = np.zeros((3, 41))
    ground[1, 20] = np.nan
    grid = make_grid(ground, (1, 0))
    with pytest.raises(PlaceError, match="missing terrain data 1000 m from base"):
        compute_link(make_plan(), grid, at(grid, 1, 0, "base"), at(grid, 1, 40))


def test_no_path_to_itself_or_off_the_ground(make_plan: MakePlan, make_grid: MakeGrid) -> None:
    grid = make_grid(np.zeros((3, 41)), (1, 0))
    base = at(grid, 1, 0, "base")
    with pytest.raises(PlaceError, match="same place"):
        compute_link(make_plan(), grid, base, at(grid, 1, 0))
    with pytest.raises(PlaceError, match="outside the terrain"):
        compute_link(make_plan(), grid, base, Terminal("far", base.easting + 1e5, base.northing))
