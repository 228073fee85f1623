"""`linkplan capture` and `linkplan rover` on the demo's recordings and on bad ones."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import linkplan
from dem_samples import make_recordings
from linkplan.cli.main import main
from linkplan.plan.reader import read_plan

SAMPLES = Path(make_recordings.__file__).parent
JOB = SAMPLES / "basin.toml"
CAPTURE, LOG = SAMPLES / make_recordings.CAPTURE, SAMPLES / make_recordings.LOG
REPO = Path(linkplan.__file__).parent.parent


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main([str(one) for one in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def without_mistakes(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in {
        "OWN_POSITION_ERROR_M": (0.0, 0.0, 0.0), "LEFT_OUT": 0, "SENT_AS_MSM7": 0, "PAUSE": range(0),
        "DAMAGED": -1,
        "NO_CORRECTIONS_UNTIL": 0, "BEHIND_THE_RIDGE": range(0), "OTHER_BASE": range(0),
    }.items():  # fmt: skip
        monkeypatch.setattr(make_recordings, name, value)


def test_the_committed_recordings_are_those_that_the_script_makes() -> None:
    plan = read_plan(JOB)
    assert CAPTURE.read_bytes() == make_recordings.capture(plan)
    assert LOG.read_bytes() == make_recordings.rover_log(plan)
    for file in (CAPTURE, LOG):
        assert b"invented" in file.read_bytes()[:100]


def test_capture_finds_the_demos_mistakes(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "capture", CAPTURE, JOB)
    assert (code, err) == (1, "")
    assert "NOT as the job says: 3 differences, the worst: wrong coordinates" in out
    for piece in (
        "1.340 m from B1",
        "E +1.020 m, N -0.870 m",
        "1077 (GPS MSM7)",
        "1230 (GLONASS",
        "pause of 6 s",
    ):
        assert piece in " ".join(out.split())
    assert "safe" not in out.casefold()
    assert max(len(line) for line in out.splitlines()) <= 100


def test_rover_finds_the_demos_troubles(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "rover", LOG, JOB)
    assert (code, err) == (1, "")
    for piece in (
        "station 77",
        "older than 10 s in 38 epochs",
        "2026-05-13 00:03:20",
        "1 RTCM 3 frame among them",
    ):
        assert piece in " ".join(out.split())
    assert run(capsys, "rover", LOG, JOB, "--age-limit", "60")[1].count("WEAKER") == 0


def test_json_has_the_numbers_of_the_text(capsys: pytest.CaptureFixture[str]) -> None:
    seen = json.loads(run(capsys, "capture", CAPTURE, JOB, "--json")[1])
    assert seen["agrees"] is False
    assert seen["base_points"][0]["distance_m"] == pytest.approx(1.340, abs=0.001)
    assert seen["capture"]["damaged_frames"] == 1
    assert {one["severity"] for one in seen["findings"]} == {"wrong coordinates", "weaker", "note"}
    log = json.loads(run(capsys, "rover", LOG, JOB, "--json")[1])
    assert log["agrees"] is False
    assert {use["station"]: use["epochs"] for use in log["log"]["stations"]}["77"] == 61
    assert log["log"]["largest_age_s"] == 48.0


def test_recordings_that_agree_are_exit_code_0(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    without_mistakes(monkeypatch)
    plan = read_plan(JOB)
    (tmp_path / "good.rtcm3").write_bytes(make_recordings.capture(plan))
    (tmp_path / "good.nmea").write_bytes(make_recordings.rover_log(plan))
    code, out, _ = run(capsys, "capture", tmp_path / "good.rtcm3", JOB)
    assert code == 0, out
    assert (
        out.splitlines()[2] == "As the job says, in what could be compared: station ID, base point, messages."
    )
    assert "0.000 m from B1" in " ".join(out.split())
    code, out, _ = run(capsys, "rover", tmp_path / "good.nmea", JOB)
    assert code == 0, out
    assert "As it should be: corrections in time in 100 % of the epochs" in out


def test_the_tolerance_can_be_set(capsys: pytest.CaptureFixture[str]) -> None:
    assert "WRONG" in run(capsys, "capture", CAPTURE, JOB, "--tolerance", "1.3")[1]
    assert "WRONG" not in run(capsys, "capture", CAPTURE, JOB, "--tolerance", "1.4")[1]


@pytest.mark.parametrize("command", ["capture", "rover"])
def test_bad_input_is_one_line_and_exit_code_2(
    command: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "empty").write_bytes(b"")
    (tmp_path / "text").write_bytes(b"no recording\n" * 100)
    swapped = LOG if command == "capture" else CAPTURE
    for file in (tmp_path / "empty", tmp_path / "text", tmp_path / "none", tmp_path, swapped):
        code, out, err = run(capsys, command, file, JOB)
        assert (code, out) == (2, "")
        assert len(err.splitlines()) == 1
        assert str(file) in err
    assert ("linkplan rover" if command == "capture" else "linkplan capture") in err
    code, _, err = run(capsys, command, swapped, tmp_path / "none.toml")
    assert code == 2
    assert "none.toml" in err


@pytest.mark.parametrize("value", ["0", "-1", "nan", "inf", "x"])
def test_limits_must_be_numbers_above_0(value: str, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (
        ["capture", "f", "j", f"--tolerance={value}"],
        ["rover", "f", "j", f"--age-limit={value}"],
    ):
        with pytest.raises(SystemExit) as caught:
            main(arguments)
        assert caught.value.code == 2
    capsys.readouterr()


@pytest.mark.parametrize(("command", "file"), [("capture", CAPTURE), ("rover", LOG)])
def test_standard_input_is_read(command: str, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    expected = run(capsys, command, file, JOB)[1]
    done = subprocess.run(
        [sys.executable, "-m", "linkplan.cli.main", command, "-", str(JOB)],
        input=file.read_bytes(), capture_output=True, check=False, cwd=REPO,
    )  # fmt: skip
    assert done.returncode == 1
    assert (
        done.stdout.decode().replace(" - against", f" {file} against").splitlines()[2:]
        == expected.splitlines()[2:]
    )


PROGRAM = """
import os, sys
from linkplan.cli.main import main
sys.stdout = open(os.devnull, "w")
main(sys.argv[1:])
peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
sys.stderr.write(peak)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs the peak of a process")
@pytest.mark.parametrize(("command", "file"), [("capture", CAPTURE), ("rover", LOG)])
def test_memory_stays_flat(command: str, file: Path) -> None:
    data = file.read_bytes()

    def peak_mb(copies: int) -> float:
        with subprocess.Popen(
            [sys.executable, "-c", PROGRAM, command, "-", str(JOB)],
            stdin=subprocess.PIPE, stderr=subprocess.PIPE, cwd=REPO,
            env={**os.environ, "PYTHONPATH": str(REPO)},
        ) as process:  # fmt: skip
            assert process.stdin is not None
            assert process.stderr is not None
            for _ in range(copies):
                process.stdin.write(data)
            process.stdin.close()
            found = re.search(rb"VmHWM:\s+(\d+) kB", process.stderr.read())
        assert found is not None
        return int(found[1]) / 1024.0

    # 20 MB more of input, some 1 MB more of memory (allocator's habits)
    assert peak_mb(1 + 20_000_000 // len(data)) - peak_mb(3) < 6.0
