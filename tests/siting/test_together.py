"""Several set-ups: what they reach together against single coverage runs, links of repeaters, air time."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import geopandas
import numpy as np
import pytest
from shapely import LineString, Point

from linkplan import study
from linkplan.coverage.link import Terminal, compute_link
from linkplan.plan.model import Plan
from linkplan.radio.air_time import air_time
from linkplan.siting.evaluate import hearing_plan, plan_at
from linkplan.siting.places import check_points
from linkplan.siting.search import Search, search
from linkplan.siting.together import most_repeaters_on_air, with_candidate

MakeJob = Callable[..., Plan]

WEAK = ("sensitivity_dbm = -98.0", "sensitivity_dbm = -90.0")
LIMIT = ("share = 0.9", "share = 0.7\nbaseline_limit = 900.0")

STREAM = """\
[corrections]
station_id = 4
[[corrections.messages]]
number = 1074
interval_s = 1
satellites = 10
signals = 2
[[corrections.messages]]
number = 1006
interval_s = 10
[framing]
preset = "generic-9600"
[goal]"""


def covered_by(found: Search, easting: float, northing: float) -> list[bool]:
    """Which of the set-ups serve a place, each by its own whole coverage run."""
    answers = []
    assert found.result.together is not None
    for one in found.result.together.set_ups:
        coverage = study.run(with_candidate(found.plan, found.result.judged[one.number - 1])).coverage
        grid = coverage.grid
        x_m, y_m = grid.frame.to_local(easting, northing)
        row = round(grid.base_row - y_m / grid.cell_size_m)
        column = round(grid.base_column + x_m / grid.cell_size_m)
        limit = found.plan.goal.baseline_limit_m
        near = limit is None or bool(np.hypot(x_m, y_m) <= limit)
        answers.append(bool(coverage.class_index[row, column] == 1) and near)
    return answers


def test_set_ups_together_cover_what_any_of_them_does(make_job: MakeJob) -> None:
    plan = make_job('set_ups = "several"\nantenna_heights = [3.0, 6.0]\ncases = 10\n', WEAK, LIMIT)
    found = search(plan)
    together, combined = found.result.together, found.combined
    assert together is not None
    assert combined is not None
    assert together.proven
    assert together.gap == 0.0
    assert together.goal == "fewest"
    assert together.covered_share >= 0.7
    assert 2 <= len(together.set_ups) <= 4
    assert len({one.candidate.place.name for one in together.set_ups}) == len(together.set_ups)
    grid = combined.coverage.grid
    rows, columns = np.nonzero(combined.coverage.inside)
    picked = np.random.default_rng(1).choice(rows.size, 40, replace=False)
    for row, column in zip(rows[picked], columns[picked], strict=True):
        easting, northing = grid.frame.to_job(*grid.centre_of(int(row), int(column)))
        assert combined.covered[row, column] == any(covered_by(found, float(easting), float(northing)))
    share = combined.covered[combined.coverage.inside].mean()
    assert together.all_cells_share == pytest.approx(share)
    # points and cells are two samplings of one area
    assert together.covered_share == pytest.approx(share, abs=0.02)
    assert sum(one.only_share for one in together.set_ups) <= together.all_cells_share + 1e-12


def test_fewest_means_that_no_fewer_would_do(make_job: MakeJob) -> None:
    plan = make_job('set_ups = "several"\nantenna_heights = [4.0]\ncases = 0\n', WEAK, LIMIT)
    found = search(plan)
    assert found.result.together is not None
    count = len(found.result.together.set_ups)
    assert count > 1
    runs = []
    for one in found.result.judged:
        coverage = study.run(with_candidate(plan, one)).coverage
        limit = plan.goal.baseline_limit_m or np.inf
        at = np.column_stack(
            [
                part.ravel()
                for part in np.meshgrid(np.arange(500520, 501900, 40.0), np.arange(4198120, 4199300, 40.0))
            ]
        )
        x_m, y_m = coverage.grid.frame.to_local(at[:, 0], at[:, 1])
        row = np.rint(coverage.grid.base_row - y_m / coverage.grid.cell_size_m).astype(int)
        column = np.rint(coverage.grid.base_column + x_m / coverage.grid.cell_size_m).astype(int)
        runs.append((coverage.class_index[row, column] == 1) & (np.hypot(x_m, y_m) <= limit))
    for fewer in itertools.combinations(runs, count - 1):
        # another lattice than the search's: a per cent of difference is sampling
        assert np.any(fewer, axis=0).mean() < 0.7 + 0.01


def test_a_given_number_covers_the_most(make_job: MakeJob) -> None:
    siting = 'set_ups = "several"\nmost_set_ups = 1\nantenna_heights = [4.0]\ncases = 0\n'
    found = search(make_job(siting, WEAK, LIMIT))
    together = found.result.together
    assert together is not None
    assert together.goal == "greatest"
    (only,) = together.set_ups
    best = max(one.outcome.covered_share for one in found.result.judged if one.outcome is not None)
    outcome = found.result.judged[only.number - 1].outcome
    assert outcome is not None
    assert outcome.covered_share >= best - 0.02
    assert only.only_share == only.covered_share == together.all_cells_share


def test_a_corridor_goes_from_set_up_to_set_up_by_common_check_points(
    make_job: MakeJob, tmp_path: Path
) -> None:
    line = LineString([(500_500.0, 4_198_700.0), (501_900.0, 4_198_700.0)])
    geopandas.GeoDataFrame(geometry=[line], crs="EPSG:32611").to_file(tmp_path / "line.gpkg")
    spots = [(500_600 + 150 * k, 4_198_640 + 60 * (k % 3)) for k in range(9)]
    rows = "".join(f"S{k},{e},{n}\n" for k, (e, n) in enumerate(spots))
    (tmp_path / "spots.csv").write_text("name,easting,northing\n" + rows)
    siting = """\
control_points = false
points_file = "spots.csv"
set_ups = "corridor"
corridor_file = "line.gpkg"
check_spacing = 100
antenna_heights = [4.0]
cases = 0
"""
    ring = "[[500500.0, 4198100.0], [501900.0, 4198100.0], [501900.0, 4199300.0], [500500.0, 4199300.0]]"
    strip = "[[500500.0, 4198600.0], [501900.0, 4198600.0], [501900.0, 4198800.0], [500500.0, 4198800.0]]"
    plan = make_job(siting, (ring, strip), ("share = 0.9", "share = 0.9\nbaseline_limit = 500.0"))
    found = search(plan)
    together = found.result.together
    assert together is not None
    assert together.proven
    assert together.covered_share >= 0.9
    # 1400 m of corridor within 500 m of a base each: two reach at most 2000 m, one at most 1000 m
    assert len(together.set_ups) >= 2
    along = [
        line.project(Point(one.candidate.place.easting, one.candidate.place.northing))
        for one in together.set_ups
    ]
    assert along == sorted(along)
    checks = check_points(plan)
    for one, other in itertools.pairwise(together.set_ups):
        at = checks.positions[checks.names.index(one.check_point)]
        for end in (one, other):
            assert (
                np.hypot(at[0] - end.candidate.place.easting, at[1] - end.candidate.place.northing) <= 500.5
            )
            here = with_candidate(plan, found.result.judged[end.number - 1])
            coverage = study.run(here).coverage
            cell = coverage.grid.cell_of(*(float(v) for v in coverage.grid.frame.to_local(*at)))
            assert coverage.class_index[cell] == 1
    assert together.set_ups[-1].check_point == ""


def test_a_repeater_hears_its_base_and_costs_air_time(make_job: MakeJob) -> None:
    siting = 'set_ups = "repeaters"\nantenna_heights = [3.0]\ncases = 0\nlink_margin_db = 3\n'
    plan = make_job(siting, ("sensitivity_dbm = -98.0", "sensitivity_dbm = -94.0"), ("[goal]", STREAM))
    found = search(plan)
    together = found.result.together
    assert together is not None
    base, *repeaters = together.set_ups
    assert base.role == "base"
    assert repeaters, "one base does not do on this ground"
    for one in repeaters:
        assert one.role == "repeater"
        hearing = hearing_plan(plan_at(plan, base.candidate.place, 3.0), 3.0)
        ends = [
            Terminal(each.candidate.place.name, each.candidate.place.easting, each.candidate.place.northing)
            for each in (base, one)
        ]
        link = compute_link(hearing, study.job_grid(hearing, ends[1], origin=ends[0]), *ends)
        assert link.margin_db >= 3.0
        assert one.link_margin_db == pytest.approx(link.margin_db, abs=0.3)
    stream = plan.corrections
    assert stream is not None
    assert stream.framing is not None
    most = together.most_repeaters
    assert most is not None
    assert air_time(stream.messages, replace(stream.framing, repeaters=most)).fits
    assert most == 8 or not air_time(stream.messages, replace(stream.framing, repeaters=most + 1)).fits
    assert len(repeaters) <= most
    assert together.air_time_fits is True
    assert most_repeaters_on_air(replace(plan, corrections=None)) is None


def test_a_repeater_that_hears_nobody_is_not_chosen(make_job: MakeJob) -> None:
    siting = 'set_ups = "repeaters"\nantenna_heights = [3.0]\ncases = 0\nlink_margin_db = 60\n'
    together = search(
        make_job(siting, ("sensitivity_dbm = -98.0", "sensitivity_dbm = -88.0"))
    ).result.together
    assert together is not None
    assert [one.role for one in together.set_ups] == ["base"]
    assert together.air_time_fits is None
    assert together.notes


def test_zones_that_are_a_must_bind_the_set_ups_together(make_job: MakeJob) -> None:
    # no place covers both ends of the job by itself
    def zone(name: str, west: float, east: float) -> str:
        ring = f"[[{west}, 4198100.0], [{east}, 4198100.0], [{east}, 4199300.0], [{west}, 4199300.0]]"
        return f'[[siting.zones]]\nname = "{name}"\ncoordinates = {ring}\nmust = true\nshare = 0.5\n'

    siting = 'control_names = ["C1", "C3"]\nset_ups = "several"\nantenna_heights = [6.0]\ncases = 0\n'
    siting += zone("west", 500500.0, 500900.0) + zone("east", 501500.0, 501900.0)
    low = ("share = 0.9", "share = 0.3\nbaseline_limit = 900.0")
    found = search(make_job(siting, WEAK, low))
    alone = [one.outcome.zone_shares for one in found.result.judged if one.outcome is not None]
    assert not any(min(shares) >= 0.5 for shares in alone)
    assert found.combined is not None
    grid, inside = found.combined.coverage.grid, found.combined.coverage.inside
    east_m = np.array([grid.frame.to_job(*grid.centre_of(*at))[0] for at in np.argwhere(inside).tolist()])
    covered = found.combined.covered[inside]
    # the choice is made on points, so the cells may differ a little
    assert covered[east_m < 500900.0].mean() > 0.48
    assert covered[east_m > 501500.0].mean() > 0.48


def test_weights_decide_for_several_set_ups_as_for_one(make_job: MakeJob) -> None:
    zone = """\
[[siting.zones]]
name = "spoil heap, of no account"
coordinates = [[500500.0, 4198100.0], [501900.0, 4198100.0], [501900.0, 4199000.0], [500500.0, 4199000.0]]
weight = 0
"""
    siting = 'set_ups = "several"\nantenna_heights = [4.0]\ncases = 0\n' + zone
    found = search(make_job(siting, WEAK, LIMIT))
    together, combined = found.result.together, found.combined
    assert together is not None
    assert combined is not None
    grid, inside = combined.coverage.grid, combined.coverage.inside
    northing = np.array(
        [grid.frame.to_job(*grid.centre_of(int(row), int(column)))[1] for row, column in np.argwhere(inside)]
    )
    counts = northing > 4_199_000.0
    assert together.all_cells_share == pytest.approx(combined.covered[inside][counts].mean(), abs=0.01)
    assert together.all_cells_share == pytest.approx(together.covered_share, abs=0.03)
    assert combined.covered_share < together.all_cells_share - 0.05, "the heap is left aside"
