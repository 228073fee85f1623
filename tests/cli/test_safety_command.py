"""`linkplan safety` on small jobs and on the demo: exit codes, text, JSON."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import geopandas
import pytest
import shapely

from linkplan.plan.demo import demo_inputs

SITING = """
[siting]
points_file = "places.csv"
"""
ROAD = """
[[siting.zones]]
name = "road"
coordinates = [[500400, 4198900], [501600, 4198900], [501600, 4199100], [500400, 4199100]]
relies = "machines"
speed_km_h = 10
"""


@pytest.fixture
def job(folder):
    """The small job with more text at its end, 5 W into 2 dBi on 5 m."""
    (folder.path / "places.csv").write_text("name,easting,northing\nP1,501000,4199000\n")
    line = shapely.LineString([(501020.0, 4198500.0), (501020.0, 4199500.0)])
    geopandas.GeoDataFrame({"name": ["a"]}, geometry=[line], crs="EPSG:32611").to_file(
        folder.path / "line.gpkg"
    )

    def write(more: str):
        folder.job.write_text(folder.job.read_text() + more)
        return folder

    return write


def test_a_job_without_rules_gets_distances_and_cautions_and_no_promise(job):
    done = job("").run("safety", "job.toml")
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert lines[0] == "small invented job: safety around the base"
    assert "Nothing is asked: " in done.out
    # 5 W less 1 dB into 2 dBi: 6.295 W; sqrt(2.56 x 6.295 / (4 pi 2.25)) = 0.755 m, shown as 0.8 m
    assert re.search(
        r"ICNIRP 2020, whole body \*  anybody  2\.25 +0\.8 +0\.0 +4\.2 to 5\.8 +unknown", done.out
    )
    plain = " ".join(done.out.split())
    assert "No line is given in the job file, which says nothing about the site: look for them." in plain
    assert "No fence is stated" in done.out
    assert "falls within 7.5 m of its foot" in done.out
    assert "Lightning:" in done.out
    assert lines[-1].startswith("Local codes, the licence and a qualified person decide")
    assert not re.search(r"\bsafe\b", done.out)
    assert max(map(len, lines)) <= 110


def test_gaps_of_a_calibrated_job_say_so(job):
    learned = (
        "\n[calibration]\noffset_db = -1.5\nsigma_db = 5.0\nmade = 2026-05-13\nlogs = 2\nepochs = 900\n"
        "samples = 80\nblocks = 12\n"
    )
    assert (
        "note: Calibrated from 2 logs, 900 epochs"
        in job(SITING + ROAD + learned).run("safety", "job.toml").out
    )
    assert "Calibrated from" not in job(SITING + learned).run("safety", "job.toml").out


def test_a_zone_that_is_covered_is_held_and_json_says_the_same(job):
    folder = job(SITING + ROAD)
    done = folder.run("safety", "job.toml")
    assert done.code == 0
    assert "zone road: no gap predicted" in done.out
    assert "No gap is predicted in its" in done.out
    assert "Machines without corrections:" in done.out
    assert folder.names() == {"job.toml", "dem.tif", "places.csv", "line.gpkg"}
    answer = json.loads(folder.run("safety", "job.toml", "--json").out)
    assert answer["held"] is True
    assert answer["findings"] == [
        {"rule": "lost corrections", "name": "road", "held": True, "found": 0.0, "asked": 10.0, "unit": "s"}
    ]
    assert answer["exposure"]["figures"][0]["keyed"]["distance_m"] == pytest.approx(0.755, abs=1e-3)
    assert answer["zones"][0]["what_to_do"]["hazard"] == "machines"
    assert answer["mast"]["fall_radius_m"] == 7.5


def test_a_gap_longer_than_the_age_limit_ends_with_1(job):
    folder = job(SITING + ROAD.replace("4198900", "4199400").replace("4199100", "4199600"))
    folder.change("sensitivity_dbm = -110.0", "sensitivity_dbm = -30.0")
    done = folder.run("safety", "job.toml")
    assert done.code == 1
    assert done.out.splitlines()[3] == "NOT AS ASKED:"
    # 1200 m x 200 m without any: 1217 m straight across, 1000 + 200 sqrt(2) = 1283 m from cell to cell, at
    # 2.778 m/s; the edges lie up to half a cell, 10 m, off
    assert (seconds := re.search(r"zone road: longest gap (\d+) s without corrections, 10.0 s", done.out))
    assert 1217.0 / 2.778 - 10.0 < float(seconds[1]) < 1283.0 / 2.778 + 10.0
    assert "TOO LONG" in done.out


def test_a_line_too_near_and_a_fence_too_small_end_with_1(job):
    near = '[[siting.lines]]\nname = "lane"\nfile = "line.gpkg"\n'
    folder = job(SITING + near)
    done = folder.run("safety", "job.toml")
    # 20 m away, asked 1.5 x 5 + 45 ft = 21.22 m, as nobody says its voltage
    assert done.code == 1
    assert "- line lane: 20.0" in done.out
    assert "21.22 m asked for" in done.out
    assert "ask the line's owner" in done.out
    folder.change('file = "line.gpkg"', 'file = "line.gpkg"\nvoltage_kv = 20')
    assert folder.run("safety", "job.toml").code == 0
    folder.change("[[siting.lines]]", "fence_radius = 0.5\n[[siting.lines]]")
    assert folder.run("safety", "job.toml").code == 0  # nobody on the ground comes near 5 m
    folder.change("antenna_height = 5.0", "antenna_height = 2.0")
    done = folder.run("safety", "job.toml")
    assert done.code == 1
    assert "the circle to keep anybody out of, 0.8 m, does NOT fit the fence, 0.5 m" in done.out


def test_bad_input_ends_with_2_and_a_line(job):
    done = job(SITING + ROAD.replace("speed_km_h = 10", "")).run("safety", "job.toml")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("linkplan: job.toml: siting.zones[1].speed_km_h: missing: ")
    assert done.err.count("\n") == 1


def test_the_demo_runs(folder):
    copy = Path("demo")
    shutil.copytree(demo_inputs(), copy, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("basin", "quarry"):
        done = folder.run("safety", str(copy / f"{name}.toml"))
        assert (done.code, done.err) == (0, "")
    assert "Zone strip of the guided dozer: machines rely on corrections at 5 km/h" in done.out
