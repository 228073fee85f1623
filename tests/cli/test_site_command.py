"""`linkplan site` on a small job: what it prints and writes, its exit codes, how it goes on after a stop."""

from __future__ import annotations

import json
import tomllib

import geopandas
import pytest
import shapely

from linkplan.siting import workload
from tests.cli.conftest import JobFolder

CONTROL = """\
name,easting,northing,height
A1,500700,4198700,400
A2,501300,4199300,400
A3,500400,4199600,400
far,600000,4300000,400
"""

SITING = """
[control]
file = "control.csv"
[goal]
chance = 0.95
share = 0.9
[siting]
control_points = true
antenna_heights = [2.0, 5.0]  # to try
cases = 20
"""

HERE = ("--processes", "1")


@pytest.fixture
def site(folder: JobFolder) -> JobFolder:
    """The small job with three places on its ground and one far off it."""
    (folder.path / "control.csv").write_text(CONTROL)
    folder.job.write_text(folder.job.read_text() + SITING)
    return folder


def test_site_prints_writes_and_answers(site: JobFolder) -> None:
    outcome = site.run("site", "job.toml", *HERE)
    assert outcome.code == 0, outcome.err
    assert outcome.err == ""
    written = {file.name for file in (site.path / "job-site").iterdir()}
    assert written == {
        "map.html", "map.png", "curve.png", "ranking.csv", "candidates.gpkg", "summary.txt", "siting.json",
    }  # fmt: skip
    for name in written:
        assert name in outcome.out
    assert (site.path / "job-site" / "summary.txt").read_text().strip() in outcome.out
    assert "4 places compared in 8 ways, 3 serve" in " ".join(outcome.out.split())
    assert "Ruled out: 1 of 4 places" in outcome.out
    assert "Before a mast goes up" in outcome.out
    assert "verify on site" in outcome.out
    assert "safe" not in outcome.out.casefold()
    assert "job-site.kept" in site.names()


def test_winner_covers_what_cover_says(site: JobFolder) -> None:
    found = json.loads(site.run("site", "job.toml", "--json", *HERE).out)
    best = found["judged"][found["ranking"][0] - 1]
    candidate, outcome = best["candidate"], best["outcome"]
    place = candidate["place"]
    site.change("position = [501000.0, 4199000.0]", f"position = [{place['easting']}, {place['northing']}]")
    site.change("antenna_height = 5.0", f"antenna_height = {candidate['antenna_height_m']}")
    cover = json.loads(site.run("cover", "job.toml", "--json").out)
    assert cover["covered_share"] == outcome["covered_share"]
    assert cover["worst"]["margin_db"] == outcome["worst_margin_db"]
    assert cover["longest_baseline_m"] == outcome["longest_baseline_m"]
    assert found["reached"] is True
    assert set(found["files"]) == {file.name for file in (site.path / "job-site").iterdir()}


def test_not_reached_is_exit_code_1(site: JobFolder) -> None:
    site.change("sensitivity_dbm = -110.0", "sensitivity_dbm = -60.0")
    outcome = site.run("site", "job.toml", "--json", *HERE)
    assert outcome.code == 1
    found = json.loads(outcome.out)
    assert found["reached"] is False
    assert found["answer"].startswith("NOT ENOUGH from one place")


def test_no_place_serves_is_exit_code_1_without_a_map(site: JobFolder) -> None:
    site.job.write_text(site.job.read_text() + "fence_radius = 0.1\n")
    site.change("power_w = 5.0", "power_w = 50.0")
    site.change("antenna_heights = [2.0, 5.0]", "antenna_heights = [2.0]")
    outcome = site.run("site", "job.toml", "--write", *HERE)
    assert outcome.code == 1, outcome.err
    assert "NO PLACE SERVES" in outcome.out
    assert "can be fenced" in outcome.out
    assert {file.name for file in (site.path / "job-site").iterdir()} == {
        "ranking.csv", "candidates.gpkg", "summary.txt", "siting.json",
    }  # fmt: skip
    assert tomllib.loads(site.job.read_text())["base"]["position"] == [501000.0, 4199000.0]


def test_no_picture_of_an_earlier_answer_stays_beside_a_no(site: JobFolder) -> None:
    assert site.run("site", "job.toml", *HERE).code == 0
    mine = site.path / "job-site" / "notes.png"
    mine.write_text("mine")
    site.job.write_text(site.job.read_text() + "fence_radius = 0.1\n")
    site.change("power_w = 5.0", "power_w = 50.0")
    site.change("antenna_heights = [2.0, 5.0]", "antenna_heights = [2.0]")
    outcome = site.run("site", "job.toml", "--write", *HERE)
    assert outcome.code == 1, outcome.err
    assert {file.name for file in (site.path / "job-site").iterdir()} == {
        "ranking.csv", "candidates.gpkg", "summary.txt", "siting.json", "notes.png",
    }  # fmt: skip
    assert "earlier answer: curve.png, map.html, map.png" in outcome.out
    assert "job.toml is left as it is" in outcome.out


def test_second_run_computes_nothing_and_says_the_same(site: JobFolder) -> None:
    first = json.loads(site.run("site", "job.toml", "--json", *HERE).out)
    second = json.loads(site.run("site", "job.toml", "--json", *HERE).out)
    assert first["kept"] == 0
    assert second["computed"] == 0
    assert second["kept"] == first["computed"]
    for one in (first, second):
        del one["computed"], one["kept"]
    assert first == second
    fresh = json.loads(site.run("site", "job.toml", "--json", "--fresh", *HERE).out)
    assert fresh["kept"] == 0


def test_interrupt_keeps_what_is_done(site: JobFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    real, calls = workload.compute, []

    def stopped(*arguments: object) -> object:
        if len(calls) == 2:
            raise KeyboardInterrupt
        calls.append(arguments)
        return real(*arguments)

    monkeypatch.setattr(workload, "compute", stopped)
    outcome = site.run("site", "job.toml", *HERE)
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.splitlines() == [
        "linkplan: interrupted; 2 of 4 places are kept in job-site.kept: the same command goes on from there"
    ]
    assert site.names() == {"dem.tif", "control.csv", "job.toml", "job-site.kept"}
    monkeypatch.setattr(workload, "compute", real)
    found = json.loads(site.run("site", "job.toml", "--json", *HERE).out)
    assert found["kept"] == 2


def test_write_fills_the_winner_in_and_leaves_the_rest(site: JobFolder) -> None:
    before = site.job.read_text()
    outcome = site.run("site", "job.toml", "--write", *HERE)
    assert outcome.code == 0, outcome.err
    found = json.loads((site.path / "job-site" / "siting.json").read_text())
    winner = found["judged"][found["ranking"][0] - 1]["candidate"]
    after = site.job.read_text()
    base = tomllib.loads(after)["base"]
    assert base["point"] == winner["place"]["name"]
    assert base["antenna_height"] == winner["antenna_height_m"]
    assert "changed in job.toml:" in outcome.out
    assert f'now: point = "{base["point"]}"' in outcome.out
    assert "antenna_heights = [2.0, 5.0]  # to try" in after
    same = set(before.splitlines()) - set(after.splitlines())
    assert len(same) <= 2  # position, and the mast where it is another
    again = site.run("site", "job.toml", "--write", *HERE)
    assert "says so already" in again.out


def test_write_asks_which_of_several(site: JobFolder) -> None:
    site.change("cases = 20", 'cases = 20\nset_ups = "several"')
    outcome = site.run("site", "job.toml", "--write", *HERE)
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert "--set-up K" in outcome.err
    assert site.names() == {"dem.tif", "control.csv", "job.toml"}
    outcome = site.run("site", "job.toml", "--write", "--set-up", "1", *HERE)
    assert outcome.code == 0, outcome.err
    assert "changed in job.toml:" in outcome.out
    outcome = site.run("site", "job.toml", "--write", "--set-up", "9", *HERE)
    assert outcome.code == 2
    assert "there are set-ups 1 to 1; job.toml is left as it is" in outcome.err
    assert "checked afterwards on every cell" in " ".join(outcome.out.split()), "the answer is not lost"


def test_a_repeater_is_not_written_as_the_base(site: JobFolder) -> None:
    site.change("sensitivity_dbm = -110.0", "sensitivity_dbm = -72.0")
    site.change("cases = 20", 'cases = 0\nset_ups = "repeaters"\nlink_margin_db = 0')
    before = site.job.read_text()
    outcome = site.run("site", "job.toml", "--write", "--set-up", "2", *HERE)
    assert outcome.code == 2
    assert "is a repeater, the base is set-up 1; job.toml is left as it is" in outcome.err
    # the place 142 km away stops nobody: it is ruled out as it is for one base
    assert "Ruled out: 1 of 4 places" in outcome.out
    assert site.job.read_text() == before


def test_several_set_ups_are_printed_and_drawn(site: JobFolder) -> None:
    site.change("sensitivity_dbm = -110.0", "sensitivity_dbm = -80.0")
    site.change("cases = 20", 'cases = 20\nset_ups = "several"\noverlap = false')
    outcome = site.run("site", "job.toml", *HERE)
    assert outcome.code in {0, 1}, outcome.err
    assert "checked afterwards on every cell" in " ".join(outcome.out.split())
    page = (site.path / "job-site" / "map.html").read_text()
    assert "Which set-up serves" in page


@pytest.mark.parametrize("number", ["0", "x", "-1", "2.5"])
def test_number_of_processes_is_a_whole_one(
    site: JobFolder, number: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stop:
        site.run("site", "job.toml", "--processes", number)
    assert stop.value.code == 2
    assert f"'{number}' is no whole number from 1" in capsys.readouterr().err


def test_set_up_without_several_is_one_line(site: JobFolder) -> None:
    outcome = site.run("site", "job.toml", "--set-up", "1", *HERE)
    assert outcome.code == 2
    assert outcome.err.startswith("linkplan: --set-up")
    assert len(outcome.err.splitlines()) == 1


def test_nowhere_to_keep_is_said_and_stops_nothing(site: JobFolder) -> None:
    outcome = site.run("site", "job.toml", "--kept", ".", *HERE)
    assert outcome.code == 0, outcome.err
    assert "finished results are not kept" in " ".join(outcome.out.split())


def test_fresh_deletes_no_file_that_is_not_its_own(site: JobFolder) -> None:
    notes = site.path / "notes.txt"
    notes.write_text("mine")
    outcome = site.run("site", "job.toml", "--kept", "notes.txt", "--fresh", *HERE)
    assert outcome.code == 2
    assert "notes.txt: holds something else than finished places; name another file" in outcome.err
    assert notes.read_text() == "mine"


@pytest.mark.parametrize("file", ["job.toml", "dem.tif"])
def test_finished_places_go_into_no_file_that_the_job_is_read_from(site: JobFolder, file: str) -> None:
    before = (site.path / file).read_bytes()
    outcome = site.run("site", "job.toml", "--kept", file, "--fresh", *HERE)
    assert outcome.code == 2
    assert "the job is read from this file" in outcome.err
    assert (site.path / file).read_bytes() == before
    assert site.names() == {"dem.tif", "control.csv", "job.toml"}


def test_a_file_that_cannot_be_changed_is_said_before_the_work(
    site: JobFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("linkplan.cli.site.os.access", lambda *_: False)
    outcome = site.run("site", "job.toml", "--write", *HERE)
    assert outcome.code == 2
    assert outcome.err.startswith("linkplan: job.toml: is write-protected")
    assert site.names() == {"dem.tif", "control.csv", "job.toml"}


def test_a_grid_without_a_place_is_one_line(site: JobFolder) -> None:
    ground = geopandas.GeoSeries([shapely.box(500700.0, 4198700.0, 500703.0, 4198703.0)], crs="EPSG:32611")
    ground.to_file(site.path / "ground.gpkg")
    grid = 'control_points = false\ngrid_file = "ground.gpkg"\ngrid_spacing = 500'
    site.change("control_points = true", grid)
    outcome = site.run("site", "job.toml", *HERE)
    assert outcome.code == 2
    assert "siting.grid_spacing = 500 lays no place on the ground of siting.grid_file" in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_job_without_siting_is_one_line(folder: JobFolder) -> None:
    outcome = folder.run("site", "job.toml", *HERE)
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert "[siting]" in outcome.err
    assert folder.names() == {"dem.tif", "job.toml"}
