"""`linkplan airtime` on the demo and on small jobs: exit codes, text, JSON."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from linkplan.plan.demo import demo_inputs

SOUND = """
[corrections]
station_id = 12
[[corrections.messages]]
number = 1074
interval_s = 1
satellites = 10
signals = 2
[[corrections.messages]]
number = 1033
interval_s = 10
"""
FRAMING = '[framing]\npreset = "generic-9600"\n'
SUPPLY = "[supply]\ncapacity_ah = 10\ntransmit_a = 2\nreceive_a = 0.2\n"


@pytest.fixture
def job(folder):
    """The small job with more text at its end."""

    def write(more: str):
        folder.job.write_text(folder.job.read_text() + more)
        return folder

    return write


def test_what_fits_ends_with_0_and_says_so_first(job):
    folder = job(SOUND + FRAMING + SUPPLY)
    done = folder.run("airtime", "job.toml")
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert lines[0] == "small invented job: air time of the corrections"
    # 173 + 170 bytes (texts at their longest): 2 packets, 0.02 + (320 + 2744)/9600 = 0.339 s of 1 s.
    assert "Fits: the worst epoch takes 0.34 s of the 1 s between epochs, 0.66 s (66 %) to spare." in lines
    assert "texts of 1033 are not stated: the longest, 31 characters, are counted" in done.out
    assert "generic" in done.out
    assert "Battery" in done.out
    assert "plan a spare" in done.out
    assert folder.names() == {"job.toml", "dem.tif"}
    assert max(map(len, lines)) <= 110


def test_json_has_the_numbers_of_the_text(job):
    done = job(SOUND + FRAMING + SUPPLY).run("airtime", "job.toml", "--json")
    answer = json.loads(done.out)
    assert done.code == 0
    assert answer["fits"] is True
    assert answer["station_id"] == 12
    assert answer["advice"] is None
    # Nine epochs of 173 bytes, 0.02 + (160 + 1384)/9600 = 0.180 833 s, and one of 0.339 167 s, in 10 s.
    duty = (9 * (0.02 + 1544 / 9600) + 0.02 + 3064 / 9600) / 10
    assert answer["air_time"]["duty_cycle"] == pytest.approx(duty)
    assert answer["air_time"]["worst_latency_s"] == pytest.approx(0.02 + 3064 / 9600)
    assert [one["bytes"] for one in answer["air_time"]["messages"]] == [173, 170]
    assert answer["battery"]["hours"] == pytest.approx(8.0 / (2.0 * duty + 0.2 * (1 - duty)))


def test_what_does_not_fit_ends_with_1_and_advice(job):
    folder = job(SOUND + FRAMING.replace("9600", "4800") + "rate_bps = 1200\n")
    done = folder.run("airtime", "job.toml")
    assert done.code == 1
    assert "DOES NOT FIT" in done.out
    assert "cheapest for the rover first" in done.out
    assert "Battery" not in done.out
    answer = json.loads(folder.run("airtime", "job.toml", "--json").out)
    assert answer["fits"] is False
    assert all(option["after"]["fits"] for option in answer["advice"]["options"])


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ("", "linkplan: job.toml: corrections: this table is missing; add [corrections] with its messages\n"),
        (
            SOUND,
            "linkplan: job.toml: framing: this table is missing; add [framing] with the radio's numbers, ",
        ),
        (SOUND.replace("signals = 2", ""), "linkplan: job.toml: corrections.messages[1].signals: missing; "),
    ],
)
def test_what_cannot_be_computed_ends_with_2_and_a_line(job, more, line):
    done = job(more).run("airtime", "job.toml")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(line)
    assert done.err.count("\n") == 1


def test_turns_with_intervals_that_never_meet_are_refused_in_one_line(job):
    messages = "".join(
        f"[[corrections.messages]]\nnumber = {number}\ninterval_s = {every}\npayload_bytes = 20\n"
        for number, every in ((4001, 7.001), (4002, 11.003), (4003, 13.007))
    )
    done = job(SOUND + messages + FRAMING + "slots = 2\nslot_s = 0.5\n").run("airtime", "job.toml")
    assert done.code == 2
    assert "choose intervals that are multiples of one another" in done.err
    assert done.err.count("\n") == 1


@pytest.mark.parametrize(("name", "code"), [("basin", 0), ("quarry", 1)])
def test_the_demo_shows_both_answers(folder, name, code):
    copy = Path("demo")
    shutil.copytree(demo_inputs(), copy, ignore=shutil.ignore_patterns("__pycache__"))
    done = folder.run("airtime", str(copy / f"{name}.toml"))
    assert (done.code, done.err) == (code, "")
    assert done.out.startswith(f"{name.capitalize()}")
    assert ("The smallest ways that are enough" in done.out) == (code == 1)
