"""Shares, gaps and named spots on a grid small enough to count by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from pyproj import CRS, Geod
from shapely import box

from linkplan.coverage.classes import classes_for, classify
from linkplan.coverage.results import CoverageMap
from linkplan.coverage.summary import azimuth_deg, summarize
from linkplan.plan.model import Goal
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid

CELL = 100.0
EAST, NORTH = 500_000.0, 4_500_000.0


def coverage_of(chance: list[list[float]], margin: list[list[float]] | None = None) -> CoverageMap:
    """A map with the base on the lower left cell and every cell inside the job."""
    values = np.asarray(chance, dtype=np.float32)
    margins = np.asarray(margin if margin is not None else chance, dtype=np.float32)
    grid = TerrainGrid(
        frame=LocalFrame.around(CRS("EPSG:32633"), EAST, NORTH),
        cell_size_m=CELL,
        base_row=values.shape[0] - 1,
        base_column=0,
        height_m=np.zeros(values.shape),
        clutter_height_m=None,
        height_datum="invented",
        source_cell_m=CELL,
    )
    classes = classes_for(0.9)
    return CoverageMap(
        grid=grid,
        classes=classes,
        loss_db=values,
        received_dbm=values,
        margin_db=np.where(np.isnan(values), np.float32(np.nan), margins),
        chance=values,
        line_of_sight=values,
        fresnel_clearance=values,
        class_index=classify(values, classes),
        inside=np.ones(values.shape, dtype=bool),
        weakest_usable_dbm=-110.0,
        sigma_db=6.0,
    )


def plan_with(**goal: Any) -> Any:
    values: dict[str, Any] = {"chance": 0.9, "baseline_limit_m": None, **goal}
    rows, columns = 3, 4
    area = box(EAST - 50, NORTH - 50, EAST + CELL * columns - 50, NORTH + CELL * rows - 50)
    return SimpleNamespace(
        name="invented", goal=Goal(**values), boundary=area, file=Path("job.toml"), calibration=None
    )


N = float("nan")
FIELD = [
    [0.95, 0.40, 0.20, N],
    [0.95, 0.95, 0.60, N],
    [0.99, 0.95, 0.95, 0.92],
]
MARGINS = [
    [9.0, -2.0, -7.5, N],
    [9.0, 9.0, 1.0, N],
    [30.0, 9.0, 9.0, 8.0],
]


def test_shares_are_counted() -> None:
    summary = summarize(plan_with(), coverage_of(FIELD, MARGINS))
    # 12 cells: 7 at 0.9 or better, 0 likely (0.8-0.9), 1 uncertain (0.5-0.8), 2 unlikely (0.1-0.5), 2 unknown
    assert summary.class_shares == pytest.approx((7 / 12, 0.0, 1 / 12, 2 / 12, 0.0))
    assert summary.no_data_share == pytest.approx(2 / 12)
    assert sum(summary.class_shares) + summary.no_data_share == pytest.approx(1.0)
    assert summary.covered_share == pytest.approx(7 / 12)
    assert not summary.all_covered
    # the boundary is 400 m x 300 m on the UTM grid, whose scale at the central meridian is 0.9996
    assert summary.job_area_m2 == pytest.approx(120_000 / 0.9996**2, rel=1e-5)


def test_gaps_keep_weak_and_unknown_apart() -> None:
    summary = summarize(plan_with(), coverage_of(FIELD, MARGINS))
    assert summary.gap_count == 2
    assert [(gap.number, gap.kind, gap.area_m2) for gap in summary.gaps] == [
        (1, "weak", 3 * CELL**2),
        (2, "no data", 2 * CELL**2),
    ]
    assert summary.gaps[0].worst_margin_db == -7.5
    assert summary.gaps[1].worst_margin_db is None
    # the unknown strip is the easternmost column, rows 0 and 1; its point is the centre of one of them
    assert summary.gaps[1].distance_m in (
        pytest.approx(np.hypot(300, 100)),
        pytest.approx(np.hypot(300, 200)),
    )


def test_corners_join_and_specks_are_only_counted() -> None:
    good = 0.95
    field = [[good] * 9 for _ in range(7)]
    for row, column in ((0, 0), (1, 1), (2, 2), (3, 3)):
        field[row][column] = 0.4
    field[6][8] = 0.3
    coverage = coverage_of(field)
    summary = summarize(plan_with(), coverage)
    # four cells that touch by their corners are one gap; the single cell far off is counted, not described
    assert [gap.area_m2 for gap in summary.gaps] == [4 * CELL**2]
    assert summary.gap_count == 2
    # the same speck alone is described, since there is no other
    for row in range(4):
        field[row][row] = good
    assert [gap.area_m2 for gap in summarize(plan_with(), coverage_of(field)).gaps] == [CELL**2]


def test_a_gap_is_pointed_at_where_it_is_deepest() -> None:
    field = [[0.95] * 12 for _ in range(7)]
    for column in range(1, 11):
        field[3][column] = 0.4  # a thin tail, with its own centroid in it
    for row in range(1, 6):
        for column in range(7, 12):
            field[row][column] = 0.4  # and a block of 5 x 5, whose middle is row 3, column 9
    gap = summarize(plan_with(), coverage_of(field)).gaps[0]
    assert gap.distance_m == pytest.approx(np.hypot(9 * CELL, 3 * CELL))


def test_spots_lie_where_they_are_said_to_lie() -> None:
    summary = summarize(plan_with(), coverage_of(FIELD, MARGINS))
    far, worst = summary.farthest_dependable, summary.worst
    assert far is not None
    assert worst is not None
    # dependable cells: the farthest is the lower right one, 300 m due east
    assert far.distance_m == pytest.approx(300.0)
    assert far.azimuth_deg == pytest.approx(90.0)
    # worst margin: row 0, column 2: 200 m east and 200 m north
    assert worst.margin_db == -7.5
    assert worst.azimuth_deg == pytest.approx(45.0)
    base = Geod(ellps="WGS84").inv(15.0, worst.latitude_deg, worst.longitude_deg, worst.latitude_deg)
    assert base[2] == pytest.approx(200.0, abs=0.5)


def test_baseline_limit_takes_cells_out_of_the_covered_share() -> None:
    summary = summarize(plan_with(baseline_limit_m=250.0), coverage_of(FIELD, MARGINS))
    # of the covered cells only the one 300 m away is beyond 250 m; in all, 4 cells are
    # (row 0: hypot(200, 200) = 283, hypot(300, 200); row 1: hypot(300, 100); row 2: 300)
    assert summary.beyond_baseline_share == pytest.approx(4 / 12)
    # of the covered cells the farthest is now that in row 0, column 0: 200 m; or row 1, column 1: 141 m,
    # or row 2, column 2: 200 m
    assert summary.farthest_dependable is not None
    assert summary.farthest_dependable.distance_m == pytest.approx(200.0)
    assert summary.covered_share == pytest.approx(6 / 12)


def test_wanted_share_decides_the_answer() -> None:
    assert summarize(plan_with(share=0.5), coverage_of(FIELD, MARGINS)).all_covered
    assert not summarize(plan_with(share=0.6), coverage_of(FIELD, MARGINS)).all_covered
    assert summarize(plan_with(), coverage_of([[0.95] * 4] * 3)).all_covered
    # one unknown cell, and the job is not covered: no data, no claim
    assert not summarize(plan_with(), coverage_of([[0.95] * 4] * 2 + [[0.95] * 3 + [N]])).all_covered


def test_nothing_dependable_and_nothing_known() -> None:
    summary = summarize(plan_with(), coverage_of([[N] * 4] * 3))
    assert summary.farthest_dependable is None
    assert summary.worst is None
    assert summary.no_data_share == 1.0
    assert summary.covered_share == 0.0


def test_cells_outside_the_job_do_not_count() -> None:
    coverage = coverage_of(FIELD, MARGINS)
    inside = np.zeros((3, 4), dtype=bool)
    inside[2, :2] = True
    summary = summarize(plan_with(), replace(coverage, inside=inside))
    assert summary.covered_share == 1.0
    assert summary.gap_count == 0


@pytest.mark.parametrize(("x", "y", "azimuth"), [(0, 1, 0), (1, 0, 90), (0, -1, 180), (-1, 0, 270)])
def test_azimuth_is_counted_clockwise_from_north(x: float, y: float, azimuth: float) -> None:
    assert azimuth_deg(x, y) == pytest.approx(azimuth)
