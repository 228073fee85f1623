"""linkplan fieldcheck: answers, exit codes, what --write changes and leaves alone, bad input in a line."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from dem_samples import make_field_logs
from linkplan.plan.reader import read_plan
from tests.cli.conftest import JobFolder

SAMPLES = Path(make_field_logs.__file__).parent
FIRST, SECOND = (drive.name for drive in make_field_logs.DRIVES)
LOGS = (FIRST, SECOND, make_field_logs.LEVELS)


@pytest.fixture
def basin(folder: JobFolder) -> JobFolder:
    for file in SAMPLES.glob("basin*"):
        shutil.copy(file, folder.path)
    return folder


def test_write_puts_what_holds_into_the_job_and_everything_counts_with_it(basin: JobFolder) -> None:
    job = basin.path / "basin.toml"
    before = job.read_text()
    covered = json.loads(basin.run("cover", "basin.toml", "--json").out)
    outcome = basin.run("fieldcheck", "basin.toml", *LOGS, "--write")
    assert outcome.code == 1, outcome.err
    assert "The prediction does NOT hold" in outcome.out
    assert "basin.toml has it now, under [calibration]" in outcome.out
    printed = outcome.out.split("\n\nbasin.toml has it")[0]
    assert printed == (basin.path / "basin-fieldcheck" / "summary.txt").read_text().rstrip("\n")
    for file in (basin.path / "basin-fieldcheck").iterdir():
        assert file.name in outcome.out
    assert job.read_text().startswith(before)
    learned = read_plan(job).calibration
    assert learned is not None
    assert abs(learned.offset_db - make_field_logs.HIDDEN_OFFSET_DB) < 1.5
    calibrated = basin.run("cover", "basin.toml")
    assert f"Calibrated from 3 logs, {learned.epochs} epochs" in calibrated.out
    assert calibrated.code == 1, "covered as wanted before, and no more"
    assert covered["all_covered"] is True
    path = basin.run("path", "basin.toml", "--to", "B4")
    assert "learned from field logs" in path.out
    # the same logs again find the same, and the job says so already
    again = basin.run("fieldcheck", "basin.toml", *LOGS, "--write", "--json")
    found = json.loads(again.out)
    assert found["job_file_changed"] is False
    assert found["verdict"]["everywhere"] == "as predicted"
    assert found["calibration_judged"]["epochs"] == learned.epochs


def test_too_little_says_so_and_changes_nothing(basin: JobFolder) -> None:
    lines = (basin.path / FIRST).read_bytes().splitlines(keepends=True)
    (basin.path / "short.nmea").write_bytes(b"".join(lines[:120]))
    before = (basin.path / "basin.toml").read_bytes()
    outcome = basin.run("fieldcheck", "basin.toml", "short.nmea", "--write", "--out", "there")
    said = " ".join(outcome.out.split())
    assert "Nothing is learned: " in said
    assert "basin.toml is left as it is: " in said
    assert "8 blocks are needed" in said
    assert (basin.path / "basin.toml").read_bytes() == before
    assert (basin.path / "there" / "summary.txt").exists()


def test_logs_that_bear_the_map_out_are_exit_code_0(basin: JobFolder) -> None:
    """The second drive against the map that its truth was made from: no other base was used on that day."""
    job = basin.path / "basin.toml"
    assert basin.run("fieldcheck", "basin.toml", *LOGS, "--write").code == 1
    assert read_plan(job).calibration is not None
    outcome = basin.run("fieldcheck", "basin.toml", SECOND)
    assert outcome.code == 0, outcome.out
    assert "The prediction holds" in outcome.out
    # more epochs were looked at before: that fewer would take their place is said
    assert "--write would put the fewer in the place of the more" in " ".join(outcome.out.split())


def test_a_capture_needs_its_place(basin: JobFolder) -> None:
    capture = "basin_capture.rtcm3"
    outcome = basin.run("fieldcheck", "basin.toml", capture, "--at", f"{capture}=B3", "--json")
    assert outcome.code in (0, 1), outcome.err
    found = json.loads(outcome.out)
    assert found["sources"][0]["kind"] == "capture"
    assert found["samples"] == 1
    # one place says nothing for or against a map
    assert found["holds"] is False
    assert found["answer"].startswith("These logs do not say whether the prediction holds")
    assert found["calibration_learned"] is None


def test_logs_of_another_base_alone_say_nothing_of_this_one(basin: JobFolder) -> None:
    there = basin.path / "there"
    assert (basin.run("fieldcheck", "basin.toml", SECOND, "--out", "there").code) == 1
    assert (there / "reliability.png").exists()
    basin_job = basin.path / "basin.toml"
    text = basin_job.read_text()
    assert "station_id = 12\n" in text
    basin_job.write_text(text.replace("station_id = 12\n", "station_id = 44\n", 1))
    outcome = basin.run("fieldcheck", "basin.toml", SECOND, "--out", "there")
    assert outcome.code == 1, outcome.err
    said = " ".join(outcome.out.split())
    assert "These logs do not say whether the prediction holds" in said
    assert "ANOTHER BASE was used for a while: station 12" in said
    assert "Nothing to compare the map with." in said
    # no figure of the earlier answer stays beside this one
    assert not (there / "reliability.png").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("none.nmea",), "none.nmea: the recording cannot be read: no such file or directory"),
        ((FIRST, FIRST), f"{FIRST}: given twice"),
        ((FIRST, "--at", "other=B1"), "--at other=B1: names none of the logs given"),
        ((FIRST, "--at", f"{FIRST}=B9"), "is neither a control point of the job nor"),
        ((FIRST, "--block", "1"), "block"),
        ((FIRST, "--age-limit", "1000"), "age limit"),
        (("basin_control.csv",), "basin_control.csv"),
        (("basin_dem_30m.tif",), "basin_dem_30m.tif"),
    ],
)
def test_bad_input_is_one_line_and_leaves_nothing(
    basin: JobFolder, arguments: tuple[str, ...], words: str
) -> None:
    before = basin.names()
    outcome = basin.run("fieldcheck", "basin.toml", *arguments)
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert words in outcome.err
    assert outcome.out == ""
    assert basin.names() == before


def test_a_job_file_that_changed_meanwhile_is_left_and_no_folder_is(
    basin: JobFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody edits the job while it is computed: "nothing was written" holds for the folder too."""
    from linkplan.outputs import fieldcheck_folder

    job, write = basin.path / "basin.toml", fieldcheck_folder.write_fieldcheck
    edited = job.read_text() + "# edited\n"

    def meanwhile(*given: object) -> object:
        job.write_text(edited)
        return write(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(fieldcheck_folder, "write_fieldcheck", meanwhile)
    there = sorted(basin.path.iterdir())
    outcome = basin.run("fieldcheck", "basin.toml", *LOGS, "--write")
    assert outcome.code == 2
    assert outcome.out == ""
    assert "has changed since it was read; nothing was written" in outcome.err
    assert sorted(basin.path.iterdir()) == there
    assert job.read_text() == edited
