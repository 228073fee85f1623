# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""How the base point is occupied, from the job to the set-up sheet: what the tape reads, what a position is worth."""

from __future__ import annotations

import json
import re
import tomllib

import pytest

from linkplan.agreement.base_point import base_point, longest_baseline_m
from linkplan.agreement.setup import set_up
from linkplan.outputs.encode import to_jsonable
from linkplan.outputs.sheet import setup_text, setup_toml
from linkplan.outputs.sheet_page import setup_html
from linkplan.plan.reader import read_plan
from tests.plan.conftest import JobFolder

# 8-15-17: slant 1.7 m to a mark 0.8 m beside the axis, which is then 1.5 m high; the reference point 60 mm lower.
SLANT = 'measured = "slant"\nheight = 1.7\nantenna_radius_mm = 800\nmark_above_arp_mm = 60\nradio_above_arp = 3.56\n'
AVERAGED = 'method = "averaged"\naveraging_s = 600\n'


@pytest.fixture
def job(tmp_path):
    return JobFolder(tmp_path)


def read(job, occupation, extra="", **changes):
    return read_plan(job.write(job.text(**changes) + "[occupation]\n" + occupation + extra))


def words(text):
    """The text with its line breaks as blanks."""
    return " ".join(text.split())


def test_the_longest_baseline_is_to_the_farthest_corner(job):
    # base 500200, 4200300, corners of a kilometre from 500000, 4200000: 800 m and 700 m off, a root of 1 130 000;
    # near the central meridian a metre of the grid is 1 / 0.9996 of a true one
    assert longest_baseline_m(job.plan()) == pytest.approx(1130e3**0.5 / 0.9996, rel=1e-5)


def test_a_sheet_says_what_the_tape_reads_and_what_a_mistake_makes(job):
    sheet = set_up(read(job, SLANT))
    text = words(setup_text(sheet))
    assert (
        "Base antenna height: measure slant to the measuring mark; the tape reads 1.700 m. That is 1.500 m vertical "
        "to the measuring mark, 1.440 m vertical to the antenna reference point."
    ) in text
    assert (
        "1.700 m entered as one of these makes every height of the day 200 mm too high or 260 mm too high."
    ) in text
    assert "Radio antenna: 5.000 m above ground. As measured: ____" in text
    assert max(len(line) for line in setup_text(sheet).splitlines()) <= 96
    # what the job's [settings] do not say comes from the measurement, with the check code over it
    base = tomllib.loads(setup_toml(sheet, "base"))
    assert base["base_antenna_height"] == "1.440 m"
    assert base["base_antenna_height_method"] == "vertical to the antenna reference point"
    assert sheet.code != set_up(job.plan()).code


def test_feet_come_with_the_metres_that_receivers_ask_for(job):
    # 6 ft is 1.8288 m; 0.06 m is 0.19685 ft
    text = words(
        setup_text(
            set_up(
                read(
                    job,
                    'measured = "vertical"\nheight = 6\nmark_above_arp_mm = 60\n',
                    units__height='"foot"',
                    base__antenna_height="15",
                )
            )
        )
    )
    assert (
        "the tape reads 6.000 ft (1.829 m). That is 5.803 ft (1.769 m) vertical to the antenna reference"
        in text
    )
    assert (
        "6.000 ft (1.829 m) entered as that makes every height of the day 0.197 ft (60 mm) too high." in text
    )


def test_an_averaged_base_gets_plain_figures_and_the_advice(job):
    plan = read(job, AVERAGED)
    # 600 s: 3 m and 5 m, in space 5.83 m; over 20 200 km 0.289 ppm, of 1.063 km 0.31 mm
    position = base_point(plan).position
    assert (position.effect.shift_horizontal_m, position.effect.shift_vertical_m) == (3.0, 5.0)
    text = words(setup_text(set_up(plan)))
    assert (
        "Base position: averaged for 600 s without corrections. Expect it within 3.0 m horizontally and 5.0 m"
        in text
    )
    assert "Every coordinate of the job is shifted by the whole error." in text
    assert "Baselines change by some 0.29 ppm: 0.3 mm over the longest, 1.06 km." in text
    assert "Use known control" in text
    known = words(setup_text(set_up(read(job, 'method = "known"\n'))))
    assert "Base position: a known point." in known
    assert "Use known control" not in known


CHECK = '[[occupation.checks]]\nname = "second day"\nposition = [{}, {}]\nheight = {}\nmethod = "known"\n'


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ((500200.01, 4200300.0, 400.01), "0.010 m apart (0.028 m allowed) and 0.010 m higher (0.042 m allowed); within what both allow."),
        ((500200.00, 4200300.1, 400.00), "0.100 m apart (0.028 m allowed) and 0.000 m lower (0.042 m allowed); MORE than both allow"),
        ((500200.01, 4200300.0, 399.80), "0.010 m apart (0.028 m allowed) and 0.200 m lower (0.042 m allowed); MORE than both allow: find out why before work starts. In height that is about the 200 mm of an antenna height measured slant to the measuring mark but entered as vertical to the measuring mark: look for that first."),
        ((500200.01, 4200300.0, 398.56), "1.440 m lower (0.042 m allowed); MORE than both allow: find out why before work starts. In height that is about the 1440 mm of an antenna height measured slant to the measuring mark but never entered"),
    ],
)  # fmt: skip
def test_two_occupations_are_compared(job, place, said):
    occupation = 'method = "known"\n' + SLANT + CHECK.format(*place)
    text = words(setup_text(set_up(read(job, occupation, base__height="400"))))
    assert "Compared with second day (a known point): " in text
    assert said in text


def test_without_heights_only_the_plan_is_compared(job):
    occupation = (
        AVERAGED
        + '[[occupation.checks]]\nposition = [500202, 4200300]\nmethod = "averaged"\naveraging_s = 60\n'
    )
    plan = read(job, occupation)
    # 3 m and 4 m allow 5 m
    assert "2.0 m apart (5.0 m allowed); within what both allow." in words(setup_text(set_up(plan)))
    assert base_point(plan).compared[0].found.vertical_m is None


def test_a_sheets_height_that_does_not_agree_is_told_on_the_sheet_and_its_page(job):
    wrong = '[settings]\nbase_antenna_height = 1.7\nbase_antenna_height_method = "vertical"\n'
    sheet = set_up(read(job, SLANT, wrong))
    told = "does not agree with [occupation]"
    assert f'note: settings.base_antenna_height: 1.700 m, "vertical", {told}' in words(setup_text(sheet))
    page = setup_html(sheet)
    assert page.count(told) == 1  # the base's page, not the rover's
    assert page.count("Base antenna height: measure slant") == 1
    assert not re.search(r"<script|(src|href)\s*=|url\(|https?:", page)


def test_another_base_of_the_job_has_no_occupation(job):
    further = '[[bases]]\nname = "North"\nposition = [500900, 4200900]\n'
    plan = read(job, SLANT, further)
    assert set_up(plan).base_point is not None
    assert set_up(plan, "base").base_point is not None
    north = set_up(plan, "North")
    assert north.base_point is None
    assert "tape" not in setup_text(north)
    assert "base_antenna_height" not in tomllib.loads(setup_toml(north, "base"))


def test_the_result_is_plain_json(job):
    found = to_jsonable(set_up(read(job, AVERAGED + SLANT)))
    assert json.loads(json.dumps(found)) == found
    assert [one["way"] for one in found["base_point"]["antenna"]["readings"]] == ["slant", "vertical", "arp"]
    assert found["base_point"]["position"]["effect"]["ppm"] == pytest.approx(0.2887, abs=1e-4)
