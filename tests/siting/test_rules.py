"""What rules a place out: distances worked by hand, limits from the tables' own sources."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import geopandas
import numpy as np
import pytest
from shapely import LineString, box

from linkplan.plan.model import Plan
from linkplan.siting.results import Finding, Judged, SitingResult
from linkplan.siting.rules import exposure_radius_m
from linkplan.siting.search import search

MakeJob = Callable[..., Plan]


def write(folder: Path, name: str, *shapes: object) -> None:
    geopandas.GeoDataFrame(geometry=list(shapes), crs="EPSG:32611").to_file(folder / name)


def finding(one: Judged, rule: str) -> Finding:
    return next(each for each in one.findings if each.rule == rule)


def by_place(result: SitingResult) -> dict[str, Judged]:
    return {one.candidate.place.name: one for one in result.judged}


def test_places_in_keep_out_ground_and_unknown_control_are_ruled_out(
    make_job: MakeJob, tmp_path: Path
) -> None:
    write(tmp_path, "out.gpkg", box(500_650.0, 4_198_400.0, 500_750.0, 4_198_600.0))
    (tmp_path / "more.csv").write_text("name,easting,northing\nhill,501500,4198900\n")
    siting = 'keep_out_file = "out.gpkg"\npoints_file = "more.csv"\nknown_control = true\ncases = 0\n'
    result = by_place(search(make_job(siting)).result)
    assert finding(result["C1"], "keep-out").held is False
    assert finding(result["C2"], "keep-out").held is True
    assert finding(result["hill"], "known control").held is False
    assert {name for name, one in result.items() if one.rank is None} == {"C1", "hill"}


def test_a_mast_keeps_from_overhead_lines_what_its_fall_and_the_clearance_take(
    make_job: MakeJob, tmp_path: Path
) -> None:
    # C2 at 501230: the line runs 20 m east of it
    write(tmp_path, "line.gpkg", LineString([(501_250.0, 4_198_000.0), (501_250.0, 4_199_900.0)]))
    siting = """\
antenna_heights = [4.0, 10.0]
cases = 0
[[siting.lines]]
name = "feeder to the pumps"
file = "line.gpkg"
voltage_kv = 132
"""
    result = search(make_job(siting)).result
    low, high = (one for one in result.judged if one.candidate.place.name == "C2")
    # 29 CFR 1926.1408, table A: over 50 to 200 kV 15 ft; beside it 1.5 times the mast
    asked = [1.5 * height + 15 * 0.3048 for height in (4.0, 10.0)]
    for one, limit_m, held in ((low, asked[0], True), (high, asked[1], True)):
        found = finding(one, "overhead line")
        assert found.about == "feeder to the pumps"
        assert found.limit == pytest.approx(limit_m)
        # ground metres are 0.04 % longer than the plane's of this zone near its middle
        assert found.value == pytest.approx(20.0, abs=0.02)
        assert found.held is held
    taller = search(make_job(siting.replace("10.0", "10.6"))).result
    tallest = [one for one in taller.judged if one.candidate.place.name == "C2"][1]
    assert finding(tallest, "overhead line").held is False  # 15.9 + 4.57 = 20.5 m
    unknown = search(make_job(siting.replace("voltage_kv = 132\n", ""))).result
    # nobody says which voltage: the table's last row, 45 ft, counts
    assert finding(unknown.judged[0], "overhead line").limit == pytest.approx(6.0 + 45 * 0.3048)
    own = search(make_job(siting.replace("voltage_kv = 132", "clearance = 30"))).result
    assert finding(own.judged[0], "overhead line").limit == pytest.approx(36.0)


def test_the_exposure_circle_has_to_lie_in_ground_that_can_be_fenced(
    make_job: MakeJob, tmp_path: Path
) -> None:
    # C1 stands 2 m from the fence's side, C2 far inside, C3 outside
    near = box(500_698.0, 4_198_450.0, 500_760.0, 4_198_550.0)
    wide = box(501_130.0, 4_198_655.0, 501_330.0, 4_198_855.0)
    write(tmp_path, "fence.gpkg", near, wide)
    siting = 'antenna_heights = [2.0]\npowers_w = [35]\nfence_file = "fence.gpkg"\ncases = 0\n'
    plan = make_job(siting, ("antenna_gain_dbi = 2.0", "antenna_gain_dbi = 6.0"))
    result = by_place(search(plan).result)
    # 35 W, 1 dB of feeder, 6 dBi: EIRP 110.7 W; OET Bulletin 65's allowance for the ground 2.56;
    # ICNIRP 2020 public at 450 MHz: f/200 = 2.25 W/m2
    eirp_w = 35.0 * 10 ** ((6.0 - 1.0) / 10.0)
    radius_m = math.sqrt(2.56 * eirp_w / (4.0 * math.pi * 2.25))
    assert radius_m == pytest.approx(3.17, abs=0.01)
    found = finding(result["C1"], "exposure")
    assert (found.value, found.held) == (pytest.approx(radius_m, rel=1e-6), False)
    assert found.limit == pytest.approx(2.0, abs=0.01)
    assert finding(result["C2"], "exposure").held is True
    assert finding(result["C3"], "exposure").limit == 0.0
    assert finding(result["C3"], "exposure").held is False
    # on a mast the circle at the height of heads is smaller
    candidate = replace(result["C1"].candidate, antenna_height_m=4.0)
    assert exposure_radius_m(plan, candidate) == pytest.approx(math.sqrt(radius_m**2 - 2.0**2), rel=1e-6)


def test_tracks_have_to_be_near(make_job: MakeJob, tmp_path: Path) -> None:
    write(tmp_path, "track.gpkg", LineString([(500_000.0, 4_198_550.0), (502_000.0, 4_198_550.0)]))
    result = by_place(search(make_job('track_file = "track.gpkg"\ntrack_distance = 100\ncases = 0\n')).result)
    assert finding(result["C1"], "track").value == pytest.approx(50.0, abs=0.05)
    assert [finding(result[name], "track").held for name in ("C1", "C2", "C3")] == [True, False, False]


def test_a_wall_takes_the_sky(make_job: MakeJob) -> None:
    # flat, 400 m; 200 m east of C1 a wall of 100 m runs north and south
    height_m = np.full((60, 60), 400.0)
    column = int((500_700.0 + 200.0 - 500_000.0) // 40.0)
    height_m[:, column] = 500.0
    siting = "sky_blocked_share = 0.2\nelevation_mask_deg = 10\ngnss_antenna_height = 2.0\ncases = 0\n"
    result = by_place(search(make_job(siting, height_m=height_m)).result)
    # the wall's crest, 98 m above the antenna, stands over 10 degrees to 98/tan 10 = 556 m: with its foot
    # 200 m off, within arccos(200/556) = 69 degrees to either side of east: 138 of 360 degrees
    found = finding(result["C1"], "sky")
    half_deg = math.degrees(math.acos(200.0 / (98.0 / math.tan(math.radians(10.0)))))
    assert found.value == pytest.approx(2.0 * half_deg / 360.0, abs=2.0 * 5.0 / 360.0)
    assert found.held is False
    # C3 stands 880 m off: its sky is not blocked, but the ground is not known far enough to say it is open
    assert finding(result["C3"], "sky").value == 0.0
    assert finding(result["C3"], "sky").held is None
    assert "ground known less than" in finding(result["C3"], "sky").about
    assert result["C3"].rank is not None
    assert result["C1"].rank is None
