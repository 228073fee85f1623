"""Files that change while the page is open, saving over nobody's work, writing only beside the job."""

from __future__ import annotations

import os
import tomllib
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.coverage.ground import job_grid
from linkplan.page import edits
from linkplan.page.ground import Ground
from linkplan.plan.reader import read_plan
from linkplan.study import run
from tests.page.small_site import JOB, Browser, frames, ground, write_dem, write_job


def folder(site: Browser) -> Path:
    return site.page.folder.folder


def test_a_changed_terrain_gives_the_changed_map(site: Browser) -> None:
    before, _ = site.cover()
    write_dem(folder(site) / "dem.tif", ground(ridge_m=0.0))
    after, _ = site.cover()
    study = run(read_plan(folder(site) / "site.toml"))
    assert after["terrain_stamp"] != before["terrain_stamp"]
    assert after["answer"]["class_shares"] == list(study.summary.class_shares)
    assert after["answer"]["covered_share"] != before["answer"]["covered_share"]
    coarse, _ = site.cover(scale="coarse")
    assert coarse["terrain_stamp"] == after["terrain_stamp"]
    assert coarse["answer"]["covered_share"] == pytest.approx(after["answer"]["covered_share"], abs=0.1)


def test_terrain_that_changes_with_its_old_size_and_time_is_seen(site: Browser) -> None:
    path = folder(site) / "dem.tif"
    before, _ = site.cover()
    was = path.stat()
    write_dem(path, ground(ridge_m=0.0))
    os.utime(path, ns=(was.st_atime_ns, was.st_mtime_ns))
    assert path.stat().st_mtime_ns == was.st_mtime_ns
    after, _ = site.cover()
    assert after["answer"]["covered_share"] != before["answer"]["covered_share"]


def test_terrain_that_goes_or_is_cut_short_is_a_clear_error_and_comes_back(site: Browser) -> None:
    path = folder(site) / "dem.tif"
    before, _ = site.cover()
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    head, pictures = site.cover()
    assert head["error"]["kind"] == "terrain"
    assert not pictures
    path.unlink()
    for scale in ("coarse", "full"):
        head, pictures = site.cover(scale=scale)
        assert "error" in head
        assert "dem.tif" in head["error"]["line"]
        assert not pictures
    path.write_bytes(whole)
    after, _ = site.cover()
    assert after["answer"] == before["answer"]


def test_terrain_that_changes_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first reading sees the old ground, and somebody writes the new one in that moment."""
    from linkplan.page import ground as module

    plan = read_plan(write_job(tmp_path))
    real, times = module.load_terrain, []

    def disturbed(*given: Any, **more: Any) -> Any:
        found = real(*given, **more)
        if not times:
            write_dem(tmp_path / "dem.tif", ground(ridge_m=0.0))
        times.append(1)
        return found

    monkeypatch.setattr(module, "load_terrain", disturbed)
    grid, _ = Ground().full(plan)
    assert len(times) == 2
    assert np.array_equal(grid.height_m, job_grid(plan).height_m)


def test_a_new_file_beside_the_terrain_is_seen(site: Browser) -> None:
    before, _ = site.cover()
    (folder(site) / "dem.tif.aux.xml").write_text(
        '<PAMDataset><PAMRasterBand band="1"><UnitType>ft</UnitType></PAMRasterBand></PAMDataset>'
    )
    after, _ = site.cover()
    study = run(read_plan(folder(site) / "site.toml"))
    assert after["terrain_stamp"] != before["terrain_stamp"]
    assert after["answer"]["covered_share"] == study.summary.covered_share


def test_a_changed_job_or_control_file_is_read_again(site: Browser) -> None:
    first = site.get("api/job/site.toml").json()
    path = folder(site) / "site.toml"
    path.write_text(path.read_text().replace("antenna_height = 3.0", "antenna_height = 9.0", 1))
    head, _ = site.cover()
    assert head["job_hash"] != first["job_hash"]
    assert site.get("api/job/site.toml").json()["set_up"]["antenna_height_m"] == 9.0
    control = folder(site) / "control.csv"
    control.write_text(control.read_text().replace("P1,500500.0", "P1,500600.0"))
    head, _ = site.cover()
    assert head["base"]["easting"] == 500_600.0


def test_a_job_with_faults_is_told_with_all_of_them(site: Browser) -> None:
    path = folder(site) / "site.toml"
    path.write_text(
        path.read_text().replace("power_w = 0.5", "power_w = -3").replace('point = "P1"', 'point = "PX"')
    )
    error = site.get("api/job/site.toml").json()["error"]
    assert error["kind"] == "job"
    assert {one["key"] for one in error["faults"]} == {"radio.power_w", "base.point"}
    assert all(one["file"] == "site.toml" and one["line"] for one in error["faults"])
    listed = site.get("api/jobs").json()["jobs"]
    assert listed == [{"job": "site.toml", "name": "small invented job", "readable": True, "line": ""}]


def test_jobs_are_listed_and_made(site: Browser) -> None:
    (folder(site) / "broken.toml").write_text("= nonsense")
    (folder(site) / "sheet.toml").write_text('role = "rover"\n')
    (folder(site) / "notes.txt").write_text("no job")
    listed = {one["job"]: one for one in site.get("api/jobs").json()["jobs"]}
    assert set(listed) == {"site.toml", "broken.toml"}
    assert not listed["broken.toml"]["readable"]
    assert "not valid TOML" in listed["broken.toml"]["line"]
    assert site.post("api/jobs", {"name": "east pit"}).json() == {"job": "east pit.toml"}
    assert (folder(site) / "east pit.toml").is_file()
    again = site.post("api/jobs", {"name": " east pit.toml "}).json()["error"]
    assert again["kind"] == "output"
    assert again["line"].startswith("east pit.toml: exists already")
    assert site.get("api/job/east%20pit.toml").json()["error"]["faults"]
    for name in ("../out", "a/b", "", "..", "x" * 300, "a\nb", 7):
        assert site.post("api/jobs", {"name": name}).status_code in {400, 404}
    assert not (folder(site).parent / "out.toml").exists()


SET_UP = {
    "base": {"easting": 500_733.0, "northing": 4_199_211.0}, "antenna_height_m": 6.5, "power_w": 2.0,
    "rover_height_m": 2.4, "frequency_mhz": 451.5, "chance": 0.9, "antenna_gain_dbi": 5.0,
    "feeder_loss_db": 1.5,
}  # fmt: skip


def save(site: Browser, **body: Any) -> Any:
    return site.post("api/job/site.toml/save", body)


def test_saving_asks_first_then_writes_and_keeps_comments(site: Browser) -> None:
    path = folder(site) / "site.toml"
    before = path.read_text()
    job_hash = site.get("api/job/site.toml").json()["job_hash"]
    asked = save(site, set_up=SET_UP, job_hash=job_hash).json()
    assert not asked["written"]
    assert path.read_text() == before
    assert {"was": "power_w = 0.5", "now": "power_w = 2.0"}.items() <= {
        key: next(one[key] for one in asked["changes"] if "power_w" in one["now"]).split("\n")[0]
        for key in ("was", "now")
    }.items()
    done = save(site, set_up=SET_UP, job_hash=job_hash, confirmed=True).json()
    assert done["written"]
    assert done["not_written"] == []
    plan = read_plan(path)
    assert plan.job_hash == done["job_hash"]
    after = path.read_text()
    for comment in ("# all of it is invented", "# a name"):
        assert comment in after
    facts = site.get("api/job/site.toml").json()
    for key, value in SET_UP.items():
        if key != "base":
            assert facts["set_up"][key] == pytest.approx(value), key
    assert facts["set_up"]["base"]["easting"] == 500_733.0
    assert facts["job_hash"] == done["job_hash"]
    # what is shown after saving is what was shown before it
    one, _ = site.cover(set_up=SET_UP)
    other, _ = site.cover(set_up={})
    assert one["answer"] == other["answer"]


def test_saving_what_the_file_says_writes_nothing(site: Browser) -> None:
    path = folder(site) / "site.toml"
    was = path.stat().st_mtime_ns
    facts = site.get("api/job/site.toml").json()
    found = save(site, set_up=facts["set_up"], job_hash=facts["job_hash"], confirmed=True).json()
    assert found["changes"] == []
    assert not found["written"]
    assert path.stat().st_mtime_ns == was


def test_saving_over_anothers_change_is_refused_and_says_what_changed(site: Browser) -> None:
    path = folder(site) / "site.toml"
    job_hash = site.get("api/job/site.toml").json()["job_hash"]
    path.write_text(path.read_text().replace("antenna_height = 3.0", "antenna_height = 4.0", 1))
    theirs = path.read_text()
    answer = save(site, set_up={"power_w": 2.0}, job_hash=job_hash, confirmed=True)
    assert answer.status_code == 409
    error = answer.json()["error"]
    assert error["kind"] == "changed"
    assert error["changes"] == [{"was": "antenna_height = 3.0", "now": "antenna_height = 4.0"}]
    assert path.read_text() == theirs


def test_a_write_protected_job_is_left_alone(site: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    job_hash = site.get("api/job/site.toml").json()["job_hash"]
    monkeypatch.setattr(os, "access", lambda *_: False)
    before = (folder(site) / "site.toml").read_text()
    error = save(site, set_up={"power_w": 2.0}, job_hash=job_hash, confirmed=True).json()["error"]
    assert "write-protected" in error["line"]
    assert (folder(site) / "site.toml").read_text() == before


def test_values_of_a_form_are_saved_or_named(site: Browser) -> None:
    job_hash = site.get("api/job/site.toml").json()["job_hash"]
    values = {
        "framing.preset": "generic-9600-corrected", "framing.key_up_ms": 35, "corrections.station_id": 12,
        "corrections.messages": [{"number": 1006, "interval_s": 5}],
        "supply.capacity_ah": 40, "supply.transmit_a": 2.5, "supply.receive_a": 0.3,
    }  # fmt: skip
    found = save(site, values=values, job_hash=job_hash, confirmed=True).json()
    assert [(one["key"], one["value"]) for one in found["not_written"]] == [("corrections.messages", "")]
    assert found["not_written"][0]["line"].endswith("set corrections.messages yourself, as it is on the form")
    assert found["written"]
    data = tomllib.loads((folder(site) / "site.toml").read_text())
    assert data["framing"] == {"preset": "generic-9600-corrected", "key_up_ms": 35}
    assert data["supply"] == {"capacity_ah": 40, "transmit_a": 2.5, "receive_a": 0.3}
    assert data["corrections"]["station_id"] == 12
    taken_out = {key: None for key in values if key.startswith("supply")}
    found = save(site, values=taken_out, job_hash=found["job_hash"]).json()
    assert [one["now"] for one in found["changes"]] == [""]


def test_only_the_fields_of_forms_are_saved(site: Browser) -> None:
    job_hash = site.get("api/job/site.toml").json()["job_hash"]
    for key, value in (("job.name", "x"), ("radio.antenna_pattern", "/etc/passwd"), ("terrain.files", [])):
        assert save(site, values={key: value}, job_hash=job_hash).status_code == 400


def test_a_change_that_would_break_the_job_is_refused(site: Browser) -> None:
    path = folder(site) / "site.toml"
    before, facts = path.read_text(), site.get("api/job/site.toml").json()
    found = save(site, values={"radio.power_w": -5}, job_hash=facts["job_hash"], confirmed=True).json()
    assert "radio.power_w" in found["error"]["line"]
    assert path.read_text() == before


@settings(max_examples=40, deadline=None)
@given(
    key=st.sampled_from(["radio.power_w", "rover.antenna_height", "goal.chance", "radio.new", "job.notes"]),
    value=st.one_of(
        st.none(), st.booleans(), st.integers(-10**9, 10**9),
        st.floats(allow_nan=False, allow_infinity=False), st.text(max_size=30),
    ),
)  # fmt: skip
def test_a_text_says_the_value_and_nothing_else_changes_or_it_is_left_as_it_is(key: str, value: Any) -> None:
    after, refused = edits.written(JOB, {key: value})
    table, _, name = key.partition(".")
    was, now = tomllib.loads(JOB), tomllib.loads(after)
    if refused:
        assert after == JOB
        return
    assert now[table].get(name) == value
    was[table].pop(name, None)
    now[table].pop(name, None)
    assert now == was
    assert [line for line in JOB.split("\n") if "#" in line and name not in line] == [
        line for line in after.split("\n") if "#" in line and name not in line
    ]


def test_export_makes_what_plan_makes(site: Browser, tmp_path: Path) -> None:
    found = site.task(kind="export", to="zip", set_up={"power_w": 2.0})
    assert found["state"] == "done", found["error"]
    answer = site.get(found["result"]["file"])
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(BytesIO(answer.content)) as packed:
        names = {name.rpartition("/")[2] for name in packed.namelist()}
    assert names == {one["name"] for one in found["result"]["files"]}
    assert {"index.html", "map.html", "coverage.tif", "summary.json"} <= names
    written = site.task(kind="export", to="folder", folder="out")
    assert written["state"] == "done", written["error"]
    assert {one.name for one in (tmp_path / "out").iterdir()} == names
    body = {"tab": "t", "kind": "export", "to": "folder", "folder": "out"}
    again = site.post("api/job/site.toml/tasks", body)
    assert again.status_code == 200
    assert again.json()["error"]["kind"] == "exists"
    for name in ("../out", "/srv/out", ".hidden", "a/b", "", "a\\b"):
        body = {"tab": "t", "kind": "export", "to": "folder", "folder": name}
        assert site.post("api/job/site.toml/tasks", body).status_code == 400
    (tmp_path / "link").symlink_to("/tmp")
    body = {"tab": "t", "kind": "export", "to": "folder", "folder": "link", "overwrite": True}
    assert site.post("api/job/site.toml/tasks", body).status_code == 400


def test_terrain_that_changes_between_two_maps_is_not_compared_with_itself(
    site: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both are of the new ground, or there is no answer."""
    from linkplan.page import cover as module

    real, times = module.compute_coverage, []

    def disturbed(*given: Any, **more: Any) -> Any:
        found = real(*given, **more)
        if not times:
            write_dem(folder(site) / "dem.tif", ground(ridge_m=0.0))
        times.append(1)
        return found

    monkeypatch.setattr(module, "compute_coverage", disturbed)
    body = site.numbered(a={}, b={"base": {"point": "P2"}})
    head, _ = frames(site.post("api/job/site.toml/compare", body).content)
    study = run(read_plan(folder(site) / "site.toml"))
    assert head["a"]["class_shares"] == list(study.summary.class_shares)


def test_a_zone_file_that_changes_is_not_forgotten(site: Browser) -> None:
    """The job file stays as it is; only what it names changes."""
    import geopandas
    import shapely

    def write_zone(west: float) -> None:
        zone = shapely.box(west, 4_198_400.0, 501_600.0, 4_199_600.0)
        frame = geopandas.GeoDataFrame({"name": ["pit"]}, geometry=[zone], crs="EPSG:32611")
        frame.to_file(folder(site) / "zones.gpkg", layer="zones")

    path = folder(site) / "site.toml"
    write_zone(501_500.0)
    zone = '[[siting.zones]]\nname = "pit"\nfile = "zones.gpkg"\nweight = 2.0\ntolerance_mm = 8.2\n'
    path.write_text(path.read_text() + zone)
    before, _ = site.cover(layers=["workable"])
    (folder(site) / "zones.gpkg").unlink()
    write_zone(500_600.0)
    after, _ = site.cover(layers=["workable"])
    study = run(read_plan(path))
    assert after["answer"]["work"]["workable_share"] == study.workable.workable_share
    assert after["answer"]["work"]["too_far_share"] > before["answer"]["work"]["too_far_share"]
