"""What logs have taught, written into a job file: nothing else changes, for the reader or for the eye."""

from __future__ import annotations

import datetime
import shutil
import tomllib
from dataclasses import replace

import pytest

from linkplan.errors import OutputError
from linkplan.plan.calibration import Calibration
from linkplan.plan.demo import demo_inputs
from linkplan.plan.reader import read_plan
from linkplan.plan.write_calibration import section_of, with_calibration, write_calibration

LEARNED = Calibration(-4.2512, 5.126, datetime.date(2026, 5, 13), 2, 3412, 480, 24)
CLASSED = replace(LEARNED, class_offsets_db={4: 1.0, 3: -2.504})
WRITTEN = Calibration(-4.25, 5.13, datetime.date(2026, 5, 13), 2, 3412, 480, 24, {3: -2.5, 4: 1.0})

OLD = """# job
[goal]
chance = 0.95  # as ever
[calibration]   # of spring
sigma_db = 6   # wide
offset_db = -1.0 # weak
made = 2025-01-02
logs = 1
samples = 40
blocks = 8
epochs = 900

[calibration.classes] # by eye
3 = -1.0  # trees
2 = 0.5

# notes on what follows
[settings]
protocol = "type A"
"""


@pytest.mark.parametrize("name", ["quarry", "basin"])
def test_at_the_end_of_a_file_that_had_none(tmp_path, name):
    folder = tmp_path / "job"
    shutil.copytree(demo_inputs(), folder)
    path = folder / f"{name}.toml"
    before, plan = path.read_text(), read_plan(path)
    learned, written = (
        (CLASSED, WRITTEN) if name == "quarry" else (LEARNED, replace(WRITTEN, class_offsets_db={}))
    )
    assert write_calibration(path, learned, plan.job_hash)
    assert path.read_text().startswith(before)
    again = read_plan(path)
    assert again == replace(plan, calibration=written, job_hash=again.job_hash)
    assert not write_calibration(path, learned, again.job_hash)


def test_in_place_of_an_earlier_one():
    text = with_calibration(OLD, CLASSED)
    expected = (
        OLD.replace("sigma_db = 6 ", "sigma_db = 5.13 ")
        .replace("-1.0 # weak", "-4.25 # weak")
        .replace("2025-01-02", "2026-05-13")
        .replace("logs = 1", "logs = 2")
        .replace("samples = 40", "samples = 480")
        .replace("blocks = 8", "blocks = 24")
        .replace("epochs = 900", "epochs = 3412")
        .replace("3 = -1.0  # trees", "3 = -2.5  # trees\n4 = 1.0")
        .replace("2 = 0.5\n", "")
    )
    assert text == expected
    assert with_calibration(text, CLASSED) == text


@pytest.mark.parametrize("learned", [LEARNED, CLASSED], ids=["plain", "classes"])
@pytest.mark.parametrize(
    "old",
    [
        OLD,
        OLD.replace("[calibration.classes] # by eye\n3 = -1.0  # trees\n2 = 0.5\n", ""),
        OLD.replace("3 = -1.0  # trees\n", ""),
        OLD.replace("\n", "\r\n"),
        "[goal]\nchance = 0.9",
        "calibration = { offset_db = 1, sigma_db = 2, made = 2020-01-01, logs = 1 }\n[goal]\nchance = 0.9\n",
        "calibration.offset_db = 1\ncalibration.sigma_db = 2\n# note\n[goal]\n",
        "[calibration]\n[goal]\nchance = 0.9\n",
        "",
    ],
)
def test_however_the_file_is_written(old, learned):
    after = with_calibration(old, learned)
    assert tomllib.loads(after) == {**tomllib.loads(old), "calibration": section_of(learned)}
    notes = [line.partition("#")[2] for line in old.splitlines() if line.startswith("#")]
    assert all(note in after for note in notes)
    assert ("\r\n" in old) == ("\r\n" in after)
    assert after.count("\n") == after.count("\r\n") or "\r\n" not in after


def test_what_makes_no_sound_job_is_refused(job):
    plan = job.plan()
    before = plan.file.read_bytes()
    with pytest.raises(OutputError) as caught:
        write_calibration(plan.file, replace(LEARNED, sigma_db=31.0), plan.job_hash)
    assert str(caught.value) == (
        f"{plan.file}: calibration.sigma_db = 31.0: too large; give 0.5 to 20 dB (with this calibration; "
        "nothing was changed)"
    )
    with pytest.raises(OutputError, match="has changed since it was read"):
        write_calibration(plan.file, LEARNED, "0" * 64)
    assert plan.file.read_bytes() == before


def test_the_same_logs_on_a_later_day_change_nothing():
    text = with_calibration(OLD, CLASSED)
    assert with_calibration(text, replace(CLASSED, made=datetime.date(2026, 6, 1))) == text
    other = replace(CLASSED, made=datetime.date(2026, 6, 1), epochs=3413)
    assert "2026-06-01" in with_calibration(text, other)
