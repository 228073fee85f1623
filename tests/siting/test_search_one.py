"""One base: the search against plain coverage runs of every candidate, and its store."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely

from linkplan import study
from linkplan.errors import JobFileError, PlaceError
from linkplan.plan.model import Plan
from linkplan.siting.places import all_candidates, all_places
from linkplan.siting.results import Outcome, SitingResult
from linkplan.siting.search import search
from linkplan.siting.together import with_candidate
from linkplan.siting.workload import Effort
from linkplan.terrain.masks import inside_mask

MakeJob = Callable[..., Plan]

SITING = """\
antenna_heights = [2.0, 6.0]
powers_w = [0.2, 0.5]
cases = 20
[[siting.antennas]]
name = "whip"
antenna_gain_dbi = 0.0
[[siting.antennas]]
name = "collinear"
antenna_gain_dbi = 5.0
"""


def plain_order(result: SitingResult, summaries: list[study.CoverageSummary]) -> list[int]:
    """Numbers of the best candidate of each place, best place first, from whole coverage runs."""

    def key(number: int) -> tuple[int, ...]:
        one, summary = result.judged[number - 1], summaries[number - 1]
        assert summary.worst is not None
        return (
            -round(summary.covered_share / 0.001),
            -round(summary.worst.margin_db / 0.1),
            round(summary.longest_baseline_m),
            round(one.candidate.antenna_height_m / 0.01),
            round(one.candidate.power_dbm / 0.05),
            number,
        )

    best: dict[str, int] = {}
    for one in result.judged:
        name = one.candidate.place.name
        if name not in best or key(one.number) < key(best[name]):
            best[name] = one.number
    return sorted(best.values(), key=key)


def test_equals_whole_coverage_runs_of_every_candidate(make_job: MakeJob) -> None:
    plan = make_job(SITING)
    result = search(plan).result
    assert len(result.judged) == 4 * 2 * 2 * 2
    summaries = []
    for one in result.judged:
        summary = study.run(with_candidate(plan, one)).summary
        summaries.append(summary)
        assert one.outcome is not None
        assert summary.worst is not None
        assert one.outcome.covered_share == summary.covered_share
        assert one.outcome.worst_margin_db == summary.worst.margin_db
        assert one.outcome.longest_baseline_m == summary.longest_baseline_m
        assert one.outcome.no_data_share == summary.no_data_share
    assert len({one.outcome.covered_share for one in result.judged if one.outcome}) > 8
    assert list(result.ranking) == plain_order(result, summaries)
    assert [result.judged[number - 1].rank for number in result.ranking] == [1, 2, 3, 4]


def test_the_store_gives_the_same_and_spares_the_work(make_job: MakeJob, tmp_path: Path) -> None:
    effort = Effort(kept=tmp_path / "kept")
    plan = make_job("antenna_heights = [3.0]\ncases = 10\n")
    first = search(plan, effort).result
    again = search(make_job("antenna_heights = [3.0]\ncases = 10\n"), effort).result
    assert (first.kept, again.computed) == (0, 0)
    assert replace(again, computed=first.computed, kept=first.kept) == first
    # neither the name nor what is asked of the numbers changes them
    renamed = make_job(
        'antenna_heights = [3.0]\ncases = 10\norder = ["worst", "share"]\n', ("to compare", "compared")
    )
    assert search(renamed, effort).result.computed == 0
    # the wanted chance, a cell of the ground, a rover's antenna do
    assert (
        search(make_job("antenna_heights = [3.0]\n", ("chance = 0.95", "chance = 0.9")), effort).result.kept
        == 0
    )
    rover = make_job("antenna_heights = [3.0]\n", ("antenna_height = 2.0", "antenna_height = 2.1"))
    assert search(rover, effort).result.kept == 0
    from tests.siting.conftest import ground

    height_m = ground()
    height_m[0, 0] += 1.0
    assert search(make_job("antenna_heights = [3.0]\n", height_m=height_m), effort).result.kept == 0


def test_an_interrupt_leaves_what_is_done(make_job: MakeJob, tmp_path: Path) -> None:
    effort = Effort(kept=tmp_path / "kept")
    plan = make_job("antenna_heights = [3.0]\ncases = 0\n")

    def stop(stage: str, share: float) -> None:
        if stage == "computing places" and share >= 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        search(plan, effort, stop)
    result = search(plan, effort).result
    # four places and two more for the curves
    assert (result.kept, result.computed) == (2, 4)


def test_zones_weigh_and_bind(make_job: MakeJob) -> None:
    road = "[[500500.0, 4198600.0], [501900.0, 4198600.0], [501900.0, 4198720.0], [500500.0, 4198720.0]]"
    siting = f"""\
antenna_heights = [4.0]
cases = 0
[[siting.zones]]
name = "haul road"
coordinates = {road}
weight = 3
must = true
share = 0.8
"""
    plan = make_job(siting)
    result = search(plan).result
    for one in result.judged:
        coverage = study.run(with_candidate(plan, one)).coverage
        assert plan.siting is not None
        zone = inside_mask(coverage.grid, coverage.grid.frame.geometry_to_local(plan.siting.zones[0].area))
        weight = np.where(zone, 3.0, 1.0)[coverage.inside]
        covered = (coverage.class_index == 1)[coverage.inside]
        assert one.outcome is not None
        assert one.outcome.weighted_share == pytest.approx(np.average(covered, weights=weight), abs=1e-12)
        share = (coverage.class_index == 1)[zone & coverage.inside].mean()
        assert one.outcome.zone_shares == (pytest.approx(share, abs=1e-12),)
        finding = next(finding for finding in one.findings if finding.rule == "zone")
        assert finding.held is bool(share >= 0.8)
        assert (one.rank is not None) is bool(share >= 0.8)
    assert len({one.rank is None for one in result.judged}) == 2, "the demo ground tells them apart"


def test_a_zone_smaller_than_a_cell_is_judged_by_the_nearest_one(make_job: MakeJob) -> None:
    # all but 3 m x 3 m around a corner of four cells has no weight
    small = "[[501338.5, 4198758.5], [501341.5, 4198758.5], [501341.5, 4198761.5], [501338.5, 4198761.5]]"
    whole = "[[500500.0, 4198100.0], [501900.0, 4198100.0], [501900.0, 4199300.0], [500500.0, 4199300.0]]"
    siting = f"""\
antenna_heights = [4.0]
cases = 5
[[siting.zones]]
name = "spot"
coordinates = {small}
weight = 2
must = true
[[siting.zones]]
name = "rest"
coordinates = {whole}
weight = 0
"""
    result = search(make_job(siting)).result
    seen = set()
    for one in result.judged:
        coverage = study.run(with_candidate(make_job(siting), one)).coverage
        x_m, y_m = coverage.grid.frame.to_local(501340.0, 4198760.0)
        row = round(coverage.grid.base_row - y_m / coverage.grid.cell_size_m)
        column = round(coverage.grid.base_column + x_m / coverage.grid.cell_size_m)
        around = coverage.class_index[row - 1 : row + 2, column - 1 : column + 2] == 1
        assert one.outcome is not None
        assert one.outcome.zone_shares[0] == one.outcome.weighted_share
        if around.all() or not around.any():
            seen.add(bool(around.all()))
            assert one.outcome.zone_shares[0] == float(around.all())
            assert one.accepted is bool(around.all())
    assert seen == {True, False}, "the demo ground tells them apart"
    assert sum(one.best_cases for one in result.judged) == 5


def test_ground_that_holds_no_cell_from_one_place_leaves_the_others(make_job: MakeJob) -> None:
    # cells of 40 m are counted from the base, so the job holds the centre of one from some places only
    tiny = "[[501499, 4198755], [501511, 4198755], [501511, 4198775], [501499, 4198775]]"
    job = "[[500500.0, 4198100.0], [501900.0, 4198100.0], [501900.0, 4199300.0], [500500.0, 4199300.0]]"
    result = search(make_job("antenna_heights = [4.0]\ncases = 5\n", (job, tiny))).result
    known = {one.candidate.place.name: one.outcome is not None for one in result.judged}
    assert True in known.values()
    assert False in known.values()
    for one in result.judged:
        if one.outcome is None:
            assert "holds no centre of a 40 m cell" in one.findings[-1].about


def test_two_names_of_one_spot_err_alike(make_job: MakeJob, tmp_path: Path) -> None:
    (tmp_path / "again.csv").write_text("name,easting,northing\nagain,501230,4198755\n")
    siting = 'control_names = ["C2"]\npoints_file = "again.csv"\nantenna_heights = [4.0]\ncases = 40\n'
    result = search(make_job(siting)).result
    assert [one.best_cases for one in result.judged] == [40, 0], "level in every draw: the first named"


def test_no_place_of_a_grid_takes_the_name_of_another(make_job: MakeJob, tmp_path: Path) -> None:
    (tmp_path / "named.csv").write_text("name,easting,northing\nG1,500700,4198500\ngrid G1,500800,4198600\n")
    ground = geopandas.GeoSeries([shapely.box(500500, 4198100, 501900, 4199300)], crs="EPSG:32611")
    ground.to_file(tmp_path / "stand.gpkg")
    siting = (
        'control_points = false\npoints_file = "named.csv"\ngrid_file = "stand.gpkg"\ngrid_spacing = 600\n'
    )
    names = [place.name for place in all_places(make_job(siting))]
    assert names[:3] == ["G1", "grid G1", "grid grid G1"]
    assert len(set(names)) == len(names)


def test_the_baseline_limit_follows_from_the_wanted_accuracy(make_job: MakeJob) -> None:
    # 8 mm + 1 ppm: 8.8 mm at 800 m
    result = search(make_job("antenna_heights = [4.0]\ncases = 0\ntolerance_mm = 8.8\n")).result
    assert result.baseline_limit_m == pytest.approx(800.0)
    free = search(make_job("antenna_heights = [4.0]\ncases = 0\n")).result
    limited = make_job("antenna_heights = [4.0]\ncases = 0\n", ("[goal]", "[goal]\nbaseline_limit = 800"))
    assert [one.outcome for one in search(limited).result.judged] == [one.outcome for one in result.judged]
    assert free.baseline_limit_m is None
    assert free.judged[0].outcome != result.judged[0].outcome


def test_the_curve_over_mast_height_is_that_of_whole_runs(make_job: MakeJob) -> None:
    plan = make_job("antenna_heights = [3.0, 7.0]\ncases = 0\n")
    result = search(plan).result
    assert [curve.place_name for curve in result.curves] == [
        result.judged[number - 1].candidate.place.name for number in result.ranking[:2]
    ]
    winner = result.winner
    assert winner is not None
    steps = result.curves[0].steps
    assert [step.antenna_height_m for step in steps] == [2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0]
    for step in (steps[0], steps[-1]):
        raised = replace(winner.candidate, antenna_height_m=step.antenna_height_m)
        summary = study.run(with_candidate(plan, replace(winner, candidate=raised))).summary
        assert step.outcome.covered_share == summary.covered_share
    last, below = steps[-1], steps[-2]
    gained = (last.outcome.weighted_share - below.outcome.weighted_share) / 2.0
    assert last.gained_per_m == pytest.approx(gained)


def test_grid_places_fill_their_area_and_spare_named_ones(make_job: MakeJob, tmp_path: Path) -> None:
    import geopandas
    from shapely import Point, box

    area = box(500600.0, 4198200.0, 501000.0, 4198600.0)
    geopandas.GeoDataFrame(geometry=[area], crs="EPSG:32611").to_file(tmp_path / "stand.gpkg")
    plan = make_job('grid_file = "stand.gpkg"\ngrid_spacing = 100\n')
    places = all_places(plan)
    grid = [place for place in places if not place.known]
    # an area of 400 m x 400 m holds 16 squares of 100 m: as many points, a row more or less
    assert 9 <= len(grid) <= 25
    assert all(area.buffer(0.01).contains(Point(place.easting, place.northing)) for place in grid)
    at = np.array([(place.easting, place.northing) for place in grid])
    nearest = np.sort(np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)), axis=1)[:, 1]
    # metres on the ground are a little longer than those of the job's plane, by 0.04 % here
    assert nearest == pytest.approx(100.0, abs=0.1)
    named = np.array([(place.easting, place.northing) for place in places if place.known])
    assert np.hypot(*(at[:, None] - named[None]).transpose(2, 0, 1)).min() > 1.0
    assert len(all_candidates(plan, places)) == len(places)


def test_places_without_ground_are_said_so(make_job: MakeJob) -> None:
    from tests.siting.conftest import ground

    height_m = ground()
    height_m[12, 8] = -9999.0  # under C4
    height_m[11:14, 7:10] = -9999.0
    result = search(make_job("cases = 5\n", height_m=height_m)).result
    lost = result.judged[3]
    assert lost.candidate.place.name == "C4"
    assert lost.outcome is None
    assert lost.rank is None
    assert [finding.rule for finding in lost.findings if finding.held is False] == ["terrain"]
    assert len(result.ranking) == 3
    with pytest.raises(PlaceError, match="no place can be computed"):
        search(make_job("cases = 5\n", height_m=np.full_like(height_m, -9999.0)))


def test_a_job_without_siting_is_told_what_to_add(make_job: MakeJob) -> None:
    plan = replace(make_job(""), siting=None)
    with pytest.raises(PlaceError, match=r"there is no \[siting\]"):
        search(plan)
    with pytest.raises(JobFileError, match="names no place"):
        make_job("control_points = false\n")


def test_outcomes_are_numbers_that_json_holds(make_job: MakeJob) -> None:
    import json
    from dataclasses import asdict

    outcome = search(make_job("cases = 0\n")).result.judged[0].outcome
    assert isinstance(outcome, Outcome)
    assert Outcome(**{**json.loads(json.dumps(asdict(outcome))), "zone_shares": ()}) == outcome
