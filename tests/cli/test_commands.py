"""The commands on a small job: what they print, what they write, and what their exit codes say."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
import rasterio

from linkplan.cli.demo import further_commands
from linkplan.cli.options import file_slug
from tests.cli.conftest import JobFolder


def test_cover_writes_prints_and_answers(folder: JobFolder) -> None:
    outcome = folder.run("cover", "job.toml")
    assert outcome.code == 0, outcome.err
    assert outcome.err == ""
    written = {file.name for file in (folder.path / "job-coverage").iterdir()}
    assert {"map.html", "coverage.tif", "coverage.gpkg", "coverage.geojson", "coverage.kml"} <= written
    assert "small invented job" in outcome.out
    for name in written:
        assert name in outcome.out
    assert "safe" not in outcome.out.casefold()
    with rasterio.open(folder.path / "job-coverage" / "coverage.tif") as raster:
        assert "chance" in raster.descriptions
    assert folder.names() == {"dem.tif", "job.toml", "job-coverage"}


def test_json_is_one_object_with_the_numbers_of_the_text(folder: JobFolder) -> None:
    text = folder.run("cover", "job.toml", "--out", "first")
    same = folder.run("cover", "job.toml", "--out", "second", "--json")
    summary = json.loads(same.out)
    assert same.code == text.code == 0
    assert summary["all_covered"] is True
    assert summary["covered_share"] == 1.0
    assert summary["worst"]["margin_db"] > 10
    assert f"{summary['worst']['margin_db']:.1f}" in text.out.replace("\N{MINUS SIGN}", "-")
    assert set(summary["files"]) == {file.name for file in (folder.path / "second").iterdir()}


def test_not_covered_is_exit_code_1(folder: JobFolder) -> None:
    folder.change("sensitivity_dbm = -110.0", "sensitivity_dbm = -60.0")
    for command in ("cover", "plan"):
        outcome = folder.run(command, "job.toml", "--json")
        assert outcome.code == 1
        assert json.loads(outcome.out)["all_covered"] is False


def test_plan_writes_an_index_that_names_every_file(folder: JobFolder) -> None:
    outcome = folder.run("plan", "job.toml", "--out", "all")
    assert outcome.code == 0, outcome.err
    made = {file.name for file in (folder.path / "all").iterdir()}
    index = (folder.path / "all" / "index.html").read_text(encoding="utf-8")
    assert {"index.html", "map.html", "map.png"} <= made
    for name in made - {"index.html"}:
        assert name in index
    assert "all/index.html" in outcome.out


def test_results_are_the_same_bytes_twice(folder: JobFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772344800")  # the brief states the time of its making
    for name in ("one", "two"):
        folder.run("plan", "job.toml", "--out", name)
    for file in sorted((folder.path / "one").iterdir()):
        if file.suffix != ".gpkg":  # a GeoPackage carries the time of its making by its standard
            assert file.read_bytes() == (folder.path / "two" / file.name).read_bytes(), file.name


def test_other_files_in_the_folder_stay(folder: JobFolder) -> None:
    (folder.path / "mine").mkdir()
    (folder.path / "mine" / "notes.txt").write_text("keep")
    assert folder.run("cover", "job.toml", "--out", "mine").code == 0
    assert (folder.path / "mine" / "notes.txt").read_text() == "keep"
    assert (folder.path / "mine" / "map.html").exists()


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_path_draws_and_prints_a_budget(folder: JobFolder, suffix: str) -> None:
    outcome = folder.run("path", "job.toml", "--to", "501500,4199500", "--out", f"profile{suffix}")
    assert outcome.code == 0, outcome.err
    picture = (folder.path / f"profile{suffix}").read_bytes()
    assert picture.startswith(b"\x89PNG") if suffix == ".png" else b"<svg" in picture
    for line in ("transmitter power", "free space", "diffraction", "weakest usable level", "link margin"):
        assert line in outcome.out
    # hypot(500, 500) on the UTM grid, 0.04 % longer on the ground
    assert "707 m" in outcome.out


def test_path_from_another_place_is_the_same_backwards(folder: JobFolder) -> None:
    there = folder.run("path", "job.toml", "--to", "501500,4199500", "--json")
    back = folder.run("path", "job.toml", "--from", "501500,4199500", "--to", "base", "--json")
    one, other = json.loads(there.out), json.loads(back.out)
    assert one["distance_m"] == pytest.approx(other["distance_m"], rel=1e-6)
    assert (one["azimuth_deg"] - other["azimuth_deg"]) % 360 == pytest.approx(180.0, abs=0.02)
    assert other["from_name"] == "501500,4199500"


def test_new_file_is_a_job_file_that_only_lacks_its_terrain(folder: JobFolder) -> None:
    assert folder.run("new", "fresh.toml").code == 0
    outcome = folder.run("cover", "fresh.toml")
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert "terrain" in outcome.err


def test_demo_runs_both_jobs(folder: JobFolder) -> None:
    outcome = folder.run("demo", "shown")
    assert outcome.code == 0, outcome.err
    for job in ("basin", "quarry"):
        assert (folder.path / "shown" / job / "index.html").exists()
        assert (folder.path / "shown" / "inputs" / f"{job}.toml").exists()
    assert outcome.out.count("invented demo") >= 2
    assert not list((folder.path / "shown" / "inputs").glob("*.py"))
    # each further command that the demo names is printed as it is, and runs to an answer
    for command in further_commands(Path("shown/inputs")):
        assert f"linkplan {' '.join(command)}\n" in outcome.out
        asked = folder.run(*command)
        assert asked.code in (0, 1), asked.err
        assert len(asked.out.splitlines()) > 10
    again = folder.run("plan", "shown/inputs/quarry.toml", "--json")
    # the pond has no terrain data, and what is unknown is never covered
    assert json.loads(again.out)["no_data_share"] > 0.005


def test_version_and_help(folder: JobFolder, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (("--version",), ("--help",), ("cover", "--help")):
        with pytest.raises(SystemExit) as stopped:
            folder.run(*arguments)
        assert stopped.value.code == 0
    assert "--json" in capsys.readouterr().out


@pytest.mark.usefixtures("folder")
def test_a_closed_pipe_is_no_error() -> None:
    command = [sys.executable, "-m", "linkplan.cli.main", "cover", "job.toml"]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True, env=environment)
    os.close(writing)
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr


@pytest.mark.parametrize(("text", "slug"), [("CP 4", "cp-4"), ("../../etc", "etc"), ("??", "unnamed")])
def test_names_become_file_names(text: str, slug: str) -> None:
    assert file_slug(text) == slug
