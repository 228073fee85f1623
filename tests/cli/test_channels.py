"""`linkplan channels` from job file to exit code: the licence's clauses, two bases, bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from linkplan.cli.main import main

LICENCE = """\
[licence]
call_sign = "DEMO-1"
expires = 2027-12-31
identification_interval_min = 15
erp_limit_w = 5.0
antenna_height_limit = 8.0
authorised_bandwidth_khz = 11.25
area_centre = [500000.0, 4199000.0]
area_radius = 3000.0
[[licence.channels]]
name = "D1"
frequency_mhz = 450.0
spacing_khz = 12.5
[[licence.channels]]
name = "D2"
frequency_mhz = 450.1
spacing_khz = 12.5
"""
SECOND = """\
[[bases]]
position = [500500.0, 4198500.0]
frequency_mhz = 450.0
"""
LEARNED = """\
[calibration]
offset_db = -1.5
sigma_db = 5.0
made = 2026-05-13
logs = 2
epochs = 900
samples = 80
blocks = 12
"""
DEMO = Path(__file__).parents[2] / "dem_samples" / "basin.toml"


def with_licence(folder, *changes):
    text = LICENCE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    folder.job.write_text(folder.job.read_text() + text)


def asked(folder, *options, day="2026-11-25"):
    done = folder.run("channels", "job.toml", "--date", day, *options)
    assert done.err == ""
    return done


def test_a_calibrated_job_says_so(folder):
    with_licence(folder)
    assert "Calibrated from" not in asked(folder).out
    folder.job.write_text(folder.job.read_text() + LEARNED)
    assert "Calibrated from 2 logs, 900 epochs, 2026-05-13: -1.5 dB on every level" in asked(folder).out


def test_a_job_within_its_licence(folder):
    with_licence(folder)
    done = asked(folder)
    assert done.code == 0
    assert "Accepted: no clause of the licence data is broken" in done.out
    assert "Send the call sign DEMO-1 every 15 minutes" in done.out
    assert "D2" in done.out
    assert "spare: base there would leave 60.0 dB at worst" in done.out
    assert folder.names() == {"job.toml", "dem.tif"}


CLAUSES = [
    # 5 W less 1 dB of feeder into 2 dBi: 36.99 + 1 - 2.15 = 35.84 dBm ERP = 3.84 W
    (("erp_limit_w = 5.0", "erp_limit_w = 3.8"), "licence.erp_limit_w = 3.8", "radiates 3.84 W ERP"),
    (("limit = 8.0", "limit = 4.5"), "licence.antenna_height_limit = 4.5", "stands 5 above ground"),
    (("= 11.25", "= 6.0"), "licence.authorised_bandwidth_khz = 6", "fills 11.25 kHz"),
    (("radius = 3000.0", "radius = 900.0"), "licence.area_radius = 900", "from licence.area_centre"),
    (("mhz = 450.0", "mhz = 450.05"), "licence.channels = 450.05, 450.1", "sends on 450 MHz"),
    (("2027-12-31", "2026-11-24"), "licence.expires = 2026-11-24", "had ended by 2026-11-25"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "clause", "how"), CLAUSES, ids=[one[1] for one in CLAUSES])
def test_what_breaks_the_licence_is_named_and_answers_no(folder, change, clause, how):
    with_licence(folder, change)
    done = asked(folder)
    assert done.code == 1
    line = next(line for line in done.out.splitlines() if clause in line)
    assert how in line
    assert "NOT accepted: 1 clause of the licence data broken" in done.out


def test_the_day_decides_whether_the_licence_holds(folder):
    with_licence(folder)
    assert asked(folder, day="2027-12-31").code == 0
    late = asked(folder, day="2028-01-01")
    assert late.code == 1
    assert "licence.expires = 2027-12-31" in late.out


def test_without_a_licence_nothing_is_permitted(folder):
    done = asked(folder)
    assert done.code == 1
    assert "the job has no [licence]" in done.out
    assert "nothing shows that these transmissions" in done.out


def test_a_second_base_on_the_same_frequency_is_moved(folder):
    with_licence(folder)
    folder.job.write_text(folder.job.read_text() + SECOND)
    done = asked(folder, "--json")
    assert done.code == 1
    answer = json.loads(done.out)
    assert answer["stated_ratio_db"] < answer["protection_ratio_db"] <= answer["assigned_ratio_db"]
    assert sorted(one["channel"] for one in answer["bases"]) == ["D1", "D2"]
    assert len({one["station_id"] for one in answer["bases"]}) == 2
    assert answer["breaches"] == []
    # set as advised, the job is accepted
    moved = next(one for one in answer["bases"] if one["frequency_mhz"] != 450.0)
    old, new = ("frequency_mhz = 450.0\nchannel", "frequency_mhz = 450.1\nchannel")
    if moved["key"] == "bases[1]":
        old, new = SECOND, SECOND.replace("450.0", "450.1")
    folder.change(old, new)
    assert asked(folder).code == 0


def test_time_slots_let_bases_share_a_channel(folder):
    with_licence(folder)
    folder.change('[[licence.channels]]\nname = "D2"\nfrequency_mhz = 450.1\nspacing_khz = 12.5\n', "")
    folder.job.write_text(
        folder.job.read_text()
        + SECOND
        + "[corrections]\n[[corrections.messages]]\nnumber = 1006\ninterval_s = 10\n"
        + '[framing]\npreset = "generic-9600"\nslots = 2\nslot_s = 0.5\n'
    )
    answer = json.loads(asked(folder, "--json").out)
    assert [one["channel"] for one in answer["bases"]] == ["D1", "D1"]
    assert sorted(one["slot"] for one in answer["bases"]) == [1, 2]
    assert answer["assigned_ratio_db"] == 60.0


def test_a_channel_heard_busy_and_one_of_others_are_left(folder):
    with_licence(folder)
    folder.job.write_text(
        folder.job.read_text()
        + '[[heard]]\nfrequency_mhz = 450.1\nwhat = "voice"\nstation_id = 1\n'
        + '[[others]]\nname = "far away"\nposition = [520000.0, 4199000.0]\nfrequency_mhz = 450.0\n'
    )
    done = asked(folder)
    assert done.code == 1
    assert "heard busy (heard[1], 450.1 MHz: voice)" in done.out
    assert "far away on the same channel" in done.out
    assert "far away (others[1]) is taken to have 100 W ERP" in done.out.replace("\n      ", " ")
    assert "No terrain reaches from far away" in done.out.replace("\n      ", " ")
    answer = json.loads(asked(folder, "--json").out)
    assert [one["station_id"] for one in answer["bases"]] == [2]  # 1 was heard


FAULTS = [
    ("expires = 2027-12-31", 'expires = "2027-12-31"', "licence.expires"),
    ("area_radius = 3000.0", "", "licence.area_radius: missing"),
    ("spacing_khz = 12.5", "", "licence.channels[1].spacing_khz: missing"),
    ('name = "D2"', 'name = "D1"', "licence.channels[2].name"),
    ("erp_limit_w = 5.0", "erp_limit_w = 5.0\neirp_limit_w = 8.2", "licence.eirp_limit_w"),
]


@pytest.mark.parametrize(("old", "new", "key"), FAULTS, ids=[one[2] for one in FAULTS])
def test_faults_of_the_licence_are_one_line(folder, old, new, key):
    with_licence(folder)
    text = folder.job.read_text()
    at = text.index("[licence]")
    folder.job.write_text(text[:at] + text[at:].replace(old, new, 1))
    done = folder.run("channels", "job.toml")
    assert done.code == 2
    assert done.out == ""
    assert len(done.err.splitlines()) == 1
    assert key in done.err


def test_no_date_is_said_in_one_line(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["channels", "job.toml", "--date", "31.12.2027"])
    assert ended.value.code == 2
    assert "write year-month-day" in capsys.readouterr().err


def test_base_off_the_terrain_cannot_be_computed(folder):
    with_licence(folder)
    folder.job.write_text(folder.job.read_text() + SECOND.replace("500500.0", "540000.0"))
    done = folder.run("channels", "job.toml")
    assert done.code == 2
    assert "bases[1]" in done.err
    assert len(done.err.splitlines()) == 1


def test_the_demo_moves_its_second_base(capsys):
    assert main(["channels", str(DEMO), "--date", "2026-11-25", "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert answer["breaches"] == []
    assert answer["stated_ratio_db"] < 12.0 < answer["assigned_ratio_db"]
    assert {one["channel"] for one in answer["bases"]} == {"D1", "D2"}
    refused = {one["name"]: one["reason"] for one in answer["channels"]}
    assert "the neighbour's base on the same channel" in refused["D3"]
    assert "licence.channels[4].erp_limit_w" in refused["D4"]
    assert "heard busy" in refused["D5"]
