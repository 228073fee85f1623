"""linkplan sky, and what a sky or a tolerance changes in cover and plan."""

from __future__ import annotations

import json

import pytest

from tests.cli.conftest import JobFolder

SKY = """
[sky]
date = 2026-12-01
from = "07:00"
to = "09:00"
time_zone = "America/Denver"
step_min = 30
"""


@pytest.fixture
def sky(folder: JobFolder) -> JobFolder:
    folder.job.write_text(folder.job.read_text() + SKY)
    return folder


def test_sky_writes_prints_and_answers(sky: JobFolder) -> None:
    outcome = sky.run("sky", "job.toml")
    assert outcome.code == 0, outcome.err
    assert outcome.err == ""
    assert "Typical, not for a date" in outcome.out
    said = " ".join(outcome.out.split())
    assert "from 07:00 to 09:00 America/Denver (14:00 to 16:00 UTC)" in said
    made = {file.name for file in (sky.path / "job-sky").iterdir()}
    assert made == {
        "sky.html", "skyplot.png", "skyplot.svg", "timeline.png", "map.png", "sky.csv", "sky.json",
        "summary.txt",
    }  # fmt: skip
    for name in made:
        assert name in outcome.out
    printed = outcome.out.split("\nwrote ")[0].rstrip("\n")
    assert printed == (sky.path / "job-sky" / "summary.txt").read_text().rstrip("\n")


def test_a_gate_that_never_opens_is_exit_code_1(sky: JobFolder) -> None:
    sky.change("step_min = 30", "step_min = 30\nleast_satellites = 60")
    outcome = sky.run("sky", "job.toml", "--json", "--out", "there")
    assert outcome.code == 1
    found = json.loads(outcome.out)
    assert found["reached"] is False
    assert found["together"]["held_share"] == 1.0
    assert found["together"]["held_hours"] == found["working_hours"]["hours"] == 2.0
    assert set(found["files"]) == {file.name for file in (sky.path / "there").iterdir()}


def test_job_without_a_sky_is_one_line(folder: JobFolder) -> None:
    outcome = folder.run("sky", "job.toml")
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert "[sky]" in outcome.err
    assert folder.names() == {"dem.tif", "job.toml"}


def test_orbit_file_that_is_none_is_one_line(sky: JobFolder) -> None:
    (sky.path / "almanac.alm").write_text("no almanac\n")
    sky.change("step_min = 30", 'step_min = 30\norbits = ["almanac.alm"]')
    outcome = sky.run("sky", "job.toml")
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert "almanac.alm" in outcome.err
    assert "job-sky" not in sky.names()


@pytest.mark.parametrize("command", ["cover", "plan"])
def test_with_a_sky_the_goal_is_asked_of_workable_ground(sky: JobFolder, command: str) -> None:
    outcome = sky.run(command, "job.toml", "--json")
    assert outcome.code == 0, outcome.err
    found = json.loads(outcome.out)
    assert found["workable"]["sky_counted"] is True
    assert found["workable"]["workable_share"] == 1.0
    sky.change("step_min = 30", "step_min = 30\nleast_common = 60")
    outcome = sky.run(command, "job.toml", "--json")
    assert outcome.code == 1
    found = json.loads(outcome.out)
    assert found["all_covered"] is True
    assert found["workable"]["no_sky_share"] == 1.0


def test_a_tolerance_alone_counts_distance_and_says_that_the_sky_is_not_counted(folder: JobFolder) -> None:
    # (8.5 - 8) mm at 1 mm a kilometre: 500 m, where the job reaches 990 m from the base
    folder.job.write_text(folder.job.read_text() + "[accuracy]\ntolerance_mm = 8.5\n")
    outcome = folder.run("cover", "job.toml")
    assert outcome.code == 1
    assert "The sky is not counted" in outcome.out
    found = json.loads(folder.run("cover", "job.toml", "--json").out)
    assert found["all_covered"] is True
    # cells of 20 m: 1961 points of a lattice lie within 25 steps of one of them (Gauss's circle problem, OEIS
    # A000328, from memory; pi 25^2 = 1963), and 71 x 71 within the job
    assert found["workable"]["workable_share"] == pytest.approx(1961 / 71**2)
