"""`linkplan agree` and `linkplan sheet` as a crew uses them."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from linkplan.plan.demo import demo_inputs
from linkplan.plan.sheet_fields import FIELDS
from tests.agreement.conftest import SOUND
from tests.agreement.sheet_styles import KEYS, as_fleet
from tests.cli.conftest import JobFolder

SETTINGS = """\
[settings]
return_frequency = "none"
protocol = "type A"
modulation = "4-level FSK"
error_correction = "on"
scrambling_key_id = "K2"
repeater = "Ridge"
repeater_frequency = "453.1 MHz"
time_slot = "1 of 2"
format = "RTCM 3"
id_filter = "own"
elevation_mask_deg = 10.0
base_antenna = "choke ring"
base_antenna_height = 1.802
base_antenna_height_method = "vertical"
base_coordinates_source = "control list"
geoid = "EGM2008"
site_transformation = "none"
[corrections]
station_id = 12
[[corrections.messages]]
number = 1006
interval_s = 10.0
[[corrections.messages]]
number = 1074
interval_s = 1.0
satellites = 9
signals = 2
[[corrections.messages]]
number = 1124
interval_s = 1.0
satellites = 9
signals = 2
[framing]
preset = "generic-9600"
"""


@pytest.fixture
def whole(folder: JobFolder) -> JobFolder:
    """A job that says everything."""
    text = folder.job.read_text().replace("antenna_height = 5.0", "height = 401.25\nantenna_height = 5.0")
    folder.job.write_text(text + SETTINGS)
    return folder


def test_sheets_of_a_job_agree_when_read_back(whole: JobFolder) -> None:
    made = whole.run("sheet", "job.toml", "--out", "s", "--json")
    assert made.code == 0
    sheet = json.loads(made.out)
    assert sheet["missing"] == []
    assert {entry.name for entry in (whole.path / "s").iterdir()} == {
        "base.toml", "rover.toml", "sheet.txt", "sheet.html"
    }  # fmt: skip
    checked = whole.run("agree", "s/base.toml", "s", "--job", "job.toml", "--json")
    assert checked.code == 0
    result = json.loads(checked.out)
    assert result["agrees"] is True
    assert result["findings"] == []
    assert result["warnings"] == []
    assert len(result["rovers"]) == 1
    for one in (result["base"], *result["rovers"]):
        assert one["agreed"] == len(FIELDS)
        assert one["code"] == sheet["code"] == result["job_code"]


def test_each_base_of_a_job_has_a_sheet_of_its_own(whole: JobFolder) -> None:
    text = whole.job.read_text().replace('time_slot = "1 of 2"\n', "")
    text = text.replace("height = 401.25", "slot = 1\nheight = 401.25")
    further = """\
slots = 2
slot_s = 0.5
[[bases]]
name = "North"
position = [500900.5, 4199200.0]
antenna_height = 4.0
frequency_mhz = 451.0
station_id = 13
slot = 2
"""
    whole.job.write_text(text + further)
    assert whole.run("sheet", "job.toml", "--out", "first").code == 0
    assert whole.run("sheet", "job.toml", "--base", "North", "--out", "north").code == 0
    first, north = (
        tomllib.loads((whole.path / name / "base.toml").read_text()) for name in ("first", "north")
    )
    assert (first["station_id"], north["station_id"], north["id_filter"]) == (12, 13, 13)
    assert (first["time_slot"], north["time_slot"]) == ("1 of 2", "2 of 2")
    assert (first["transmit_frequency"], north["transmit_frequency"]) == ("450 MHz", "451 MHz")
    assert (north["base_easting"], north["set"]) == ("500900.500 m", "base North")
    assert "base_antenna" not in north  # what stands on another base is not said by the job
    assert whole.run("agree", "north/base.toml", "north/rover.toml", "--job", "job.toml").code == 1
    named = whole.run("agree", "north/base.toml", "--job", "job.toml", "--job-base", "North", "--json")
    assert not [one for one in json.loads(named.out)["findings"] if one["kind"] == "differs"]
    unknown = whole.run("sheet", "job.toml", "--base", "South")
    assert (unknown.code, "its bases are base, North" in unknown.err) == (2, True)


def test_sheets_are_the_same_bytes_every_time(whole: JobFolder) -> None:
    whole.run("sheet", "job.toml", "--out", "a")
    whole.run("sheet", "job.toml", "--out", "b")
    for entry in (whole.path / "a").iterdir():
        assert entry.read_bytes() == (whole.path / "b" / entry.name).read_bytes()


def test_both_sheets_hold_the_same_fields_in_the_same_order(whole: JobFolder) -> None:
    whole.run("sheet", "job.toml", "--out", "s")
    keys = {
        role: list(tomllib.loads((whole.path / "s" / f"{role}.toml").read_text()))
        for role in ("base", "rover")
    }
    assert keys["base"][3:] == [field.key("base") for field in FIELDS]
    assert keys["rover"][3:] == [field.key("rover") for field in FIELDS]
    base = tomllib.loads((whole.path / "s" / "base.toml").read_text())
    rover = tomllib.loads((whole.path / "s" / "rover.toml").read_text())
    assert base["transmit_frequency"] == rover["receive_frequency"] == "450 MHz"
    assert base["base_easting"] == "501000.000 m"
    assert base["base_height"] == "401.250 m"
    assert base["satellite_systems"] == ["GPS", "BeiDou"]  # of 1074 and 1124
    assert base["over_air_rate"] == "9600 bit/s"
    assert base["id_filter"] == base["station_id"] == 12


def test_text_shows_what_to_set_and_how_the_code_is_said(whole: JobFolder) -> None:
    outcome = whole.run("sheet", "job.toml", "--out", "s")
    assert "base: transmit frequency; rover: receive frequency  450 MHz" in outcome.out
    code = re.search(r"Check code (\w{3} \w{4}): ([\w -]+)\n", outcome.out)
    assert code is not None
    assert len(code[2].split()) == 7
    assert "Local codes, the licence" in outcome.out
    assert max(len(line) for line in outcome.out.splitlines()) <= 96
    assert (whole.path / "s" / "sheet.txt").read_text() in outcome.out


def test_a_job_without_settings_leaves_blanks_and_says_so(folder: JobFolder) -> None:
    outcome = folder.run("sheet", "job.toml")
    assert outcome.code == 0
    assert "________ (not stated in the job)" in outcome.out
    assert "note: the job does not say: radio protocol" in outcome.out
    base = (folder.path / "job-sheets" / "base.toml").read_text()
    assert '# protocol = ""  # not stated in the job' in base
    checked = folder.run("agree", "job-sheets/base.toml", "job-sheets/rover.toml")
    assert checked.out.startswith("NOT CONFIRMED: 2 of 2 sets")
    assert checked.code == 1  # silence on both sides is no agreement
    assert "radio protocol, not stated" in checked.out


def test_page_to_print_needs_nothing_from_elsewhere(whole: JobFolder) -> None:
    whole.change('name = "small invented job"', 'name = "<b>Pit & quarry</b>"')
    code = json.loads(whole.run("sheet", "job.toml", "--out", "s", "--json").out)["code"]
    page = (whole.path / "s" / "sheet.html").read_text()
    assert page.count(f"<strong>{code}</strong>") == 2  # the base's page and the rover's
    assert "&lt;b&gt;Pit &amp; quarry&lt;/b&gt;" in page
    assert "<script" not in page
    assert not re.search(r"(src|href)\s*=|url\(|https?:", page)
    assert page.count('class="box"') == 2 * len(FIELDS)


class TestDemo:
    """The invented demo sheets: six rovers, two of them wrong on purpose."""

    @pytest.fixture
    def demo(self, folder: JobFolder) -> JobFolder:
        for entry in demo_inputs().glob("quarry*"):
            shutil.copy(entry, folder.path / entry.name)
        shutil.copytree(demo_inputs() / "sheets", folder.path / "sheets")
        return folder

    def test_exactly_the_wrong_ones_are_found(self, demo: JobFolder) -> None:
        outcome = demo.run("agree", "sheets/base.toml", "sheets", "--job", "quarry.toml", "--json")
        assert outcome.code == 1
        result = json.loads(outcome.out)
        assert [(one["set_name"], one["verdict"]) for one in result["rovers"][:2]] == [
            ("Rover 4", "no link"), ("Rover 6", "wrong coordinates"),
        ]  # fmt: skip
        assert {one["verdict"] for one in result["rovers"][2:]} == {"agrees"}
        assert result["base"]["verdict"] == "agrees"
        found = [
            (one["set_name"], one["field"], one["severity"]) for one in result["findings"] if one["matters"]
        ]
        assert found == [
            ("Rover 4", "corrections_frequency", "no link"),
            ("Rover 4", "channel_spacing", "no link"),
            ("Rover 6", "site_transformation", "wrong coordinates"),
            ("Rover 6", "coordinate_unit", "wrong coordinates"),
            ("Rover 6", "id_filter", "weaker"),
            ("Rover 6", "satellite_systems", "weaker"),
        ]

    def test_without_the_job_it_is_the_same(self, demo: JobFolder) -> None:
        outcome = demo.run("agree", "sheets/base.toml", "sheets/machines.csv", "sheets/rover-1.toml")
        assert outcome.code == 1
        assert outcome.out.startswith("DOES NOT AGREE: 2 of 6 sets: Rover 4 (no link), Rover 6")

    def test_the_rovers_that_are_right_agree(self, demo: JobFolder) -> None:
        outcome = demo.run("agree", "sheets/base.toml", "sheets/rover-1.toml", "sheets/rover-2.csv")
        assert outcome.code == 0
        assert outcome.out.startswith("AGREES: 2 rovers and the base.")

    def test_base_and_job_have_one_code(self, demo: JobFolder) -> None:
        result = json.loads(demo.run("agree", "sheets/base.toml", "--job", "quarry.toml", "--json").out)
        assert result["agrees"] is True
        assert result["base"]["code"] == result["job_code"]


def test_two_hundred_rovers_make_one_table_worst_first(folder: JobFolder) -> None:
    rover = {KEYS["rover"].get(name, name): text for name, text in SOUND.items()}
    sets = [(f"Rover {number}", dict(rover)) for number in range(1, 201)]
    sets[149][1]["receive_frequency"] = "451.825 MHz"
    sets[17][1]["geoid"] = "none"
    for number in range(60, 90):
        sets[number][1]["elevation_mask"] = "15"
    (folder.path / "fleet.csv").write_text(as_fleet(sets))
    base = {KEYS["base"].get(name, name): text for name, text in SOUND.items()}
    (folder.path / "base.csv").write_text("field,value\n" + "".join(f"{k},{v}\n" for k, v in base.items()))
    start = time.perf_counter()
    outcome = folder.run("agree", "base.csv", "fleet.csv")
    assert time.perf_counter() - start < 5.0
    assert outcome.code == 1
    rows = [line for line in outcome.out.splitlines() if re.match(r"  (base|Rover \d+) ", line)]
    assert len(rows) == 201
    assert [row[2:].split("  ")[0] for row in rows[:4]] == ["base", "Rover 150", "Rover 18", "Rover 61"]
    # thirty rovers with one mistake are told once
    assert len(re.findall(r"^ +\d+\. WEAKER\. Rover 61, Rover 62", outcome.out, re.MULTILINE)) == 1
    assert "Rover 66 and 24 more" in " ".join(outcome.out.split())
    assert outcome.out.startswith("DOES NOT AGREE: 32 of 201 sets: Rover 150 (no link), Rover 18 (wrong")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("agree", "none.toml", "none.toml"), ("none.toml: no such file",)),
        (("agree", "bad.toml"), ("bad.toml: there is nothing to compare it with", "--job")),
        (("agree", "bad.toml", "bad.csv"), ("bad.toml: station_id = 99999", "bad.csv: row 2, mask")),
        (("agree", "bad.toml", "--job", "none.toml"), ("none.toml: no such file",)),
        (("sheet", "none.toml"), ("none.toml: no such file",)),
    ],
)  # fmt: skip
def test_bad_input_is_told_and_nothing_written(
    folder: JobFolder, arguments: tuple[str, ...], words: tuple[str, ...]
) -> None:
    (folder.path / "bad.toml").write_text("station_id = 99999\n")
    (folder.path / "bad.csv").write_text("field,value\nmask,steep\n")
    before = folder.names()
    outcome = folder.run(*arguments)
    assert outcome.code == 2
    assert outcome.out == ""
    for word in words:
        assert word in outcome.err
    assert folder.names() == before


def test_faulty_settings_of_a_job_are_listed_with_the_rest(folder: JobFolder) -> None:
    text = folder.job.read_text().replace("power_w = 5.0", "power_w = 0")
    folder.job.write_text(text + '[settings]\ntime_slot = "9 of 2"\nprotocl = "A"\nelevation_mask_deg = 95\n')
    outcome = folder.run("sheet", "job.toml")
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 4
    assert "settings.time_slot: is not a time slot" in outcome.err
    assert "settings.protocl" in outcome.err
    assert "settings.elevation_mask_deg = 95" in outcome.err


def test_agreement_loads_no_map_library(tmp_path: Path) -> None:
    """Two hundred sheets are compared without rasters, kernels or figures."""
    sheets = demo_inputs() / "sheets"
    code = (
        "import sys; from linkplan.cli.main import main; "
        f"main(['agree', {str(sheets / 'base.toml')!r}, {str(sheets)!r}]); "
        "heavy = {'rasterio', 'numba', 'matplotlib', 'folium', 'geopandas', 'scipy'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert done.stdout.splitlines()[-1] == "[]"
