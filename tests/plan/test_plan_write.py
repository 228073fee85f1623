# ruff: noqa: E501  -- expected lines and job files are shown whole
"""A job file written back with another base: nothing else changes, neither for the reader nor for the eye."""

from __future__ import annotations

import difflib
import os
import re
import shutil
import stat
import tomllib
from dataclasses import replace

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkplan.errors import OutputError
from linkplan.plan.demo import demo_inputs
from linkplan.plan.reader import read_plan
from linkplan.plan.siting_model import Place
from linkplan.plan.starter import starter_text
from linkplan.plan.write import BaseChoice, base_choice, with_base, write_base

SITING = """
[siting] # where else
antenna_heights = [3, 8]
powers_w = [0.5, 2]
[[siting.antennas]]
name = "stack"
antenna_gain_dbd = 6.0  # data sheet
antenna_pattern = "whip.csv"
"""


@pytest.fixture(params=["basin", "quarry", "starter"])
def job_file(request, tmp_path):
    """Each job of the demo, and the starter with control points, with a section about siting where none is."""
    folder = tmp_path / "job"
    if request.param == "starter":
        folder.mkdir()
        (folder / "terrain").mkdir()
        (folder / "terrain" / "dem.tif").touch()
        (folder / "control.csv").write_text(
            "name,easting,northing,height\nB1,500100,4200100,410\nB3,500500,4200500,\n"
        )
        text = starter_text() + '[control]\nfile = "control.csv"\n'
    else:
        shutil.copytree(demo_inputs(), folder)
        text = (folder / f"{request.param}.toml").read_text()
    (folder / "whip.csv").write_text("elevation_deg,relative_gain_db\n0,0\n30,-6\n")
    # Whatever the demo's own section about siting says (it may stand anywhere), this one is put in its place.
    parts = re.split(r"(?m)^(?=\[)", text)
    path = folder / f"{request.param}.toml"
    path.write_text("".join(part for part in parts if not re.match(r"\[\[?siting\b", part)) + SITING)
    return path


def changed_lines(before, after):
    """Lines that are gone, and those that are new."""
    lines = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return [line[2:] for line in lines if line[0] == "-"], [line[2:] for line in lines if line[0] == "+"]


def test_another_control_point_mast_power_and_antenna(job_file):
    plan, before = read_plan(job_file), job_file.read_text()
    point = next(
        p for p in plan.control_points if p.name not in {plan.base.name, *(b.base.name for b in plan.bases)}
    )
    place = Place(point.name, point.easting, point.northing, point.height_m, known=True)
    power_dbm = max(plan.siting.powers_dbm)
    changes = base_choice(plan, place, 8.0, power_dbm, "stack")
    assert changes == BaseChoice(point=point.name, antenna_height=8.0, power_w=2.0, antenna="stack")
    assert write_base(job_file, changes, plan.job_hash)
    again = read_plan(job_file)
    stack = plan.siting.antennas[0].antenna
    expected = replace(
        plan,
        base=replace(
            plan.base, name=point.name, easting=point.easting, northing=point.northing, height_m=point.height_m,
            antenna_height_m=8.0,
        ),
        transmitter=replace(plan.transmitter, power_dbm=power_dbm, antenna=stack),
        job_hash=again.job_hash,
    )  # fmt: skip
    assert again == expected
    gone, new = changed_lines(before, job_file.read_text())
    keys = {line.split("=")[0].strip() for line in gone}
    assert keys == {
        "position" if "position = [" in "".join(gone) else "point",
        "antenna_height",
        "power_w",
        "antenna_gain_dbi",
    }
    # The base's keys, and for a further base the mast or power that it took from the first.
    assert {line.split("=")[0].strip() for line in new} - {"antenna_height", "power_w"} == {
        "point", "antenna_gain_dbd", "antenna_pattern",
    }  # fmt: skip
    notes = [line.partition("#")[2] for line in gone if "#" in line]
    assert all(any(line.endswith(f"#{note}") for line in new) for note in notes)


def test_a_place_off_the_control_points(job_file):
    plan, before = read_plan(job_file), job_file.read_text()
    place = Place("grid 7", plan.base.easting + 10.25, plan.base.northing - 0.1, 401.5, known=False)
    changes = base_choice(plan, place, plan.base.antenna_height_m, plan.transmitter.power_dbm)
    assert write_base(job_file, changes, plan.job_hash)
    again = read_plan(job_file)
    assert again == replace(
        plan,
        base=replace(plan.base, name="base", easting=place.easting, northing=place.northing, height_m=401.5),
        job_hash=again.job_hash,
    )
    gone, new = changed_lines(before, job_file.read_text())
    assert len(gone) == 1
    assert [line.split(" = ")[0] for line in new] == ["position", "height"]


def test_the_same_base_leaves_the_file_untouched(job_file):
    plan, before = read_plan(job_file), job_file.stat()
    base = plan.base
    known = any(point.name == base.name for point in plan.control_points)
    place = Place(base.name, base.easting, base.northing, base.height_m, known)
    assert not write_base(
        job_file, base_choice(plan, place, base.antenna_height_m, plan.transmitter.power_dbm), plan.job_hash
    )
    assert (job_file.stat().st_ino, job_file.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


def test_feet_and_watts_come_back_as_the_user_wrote_them(job):
    (job.folder / "control.csv").write_text("name,easting,northing\nB1,500100,4200100\n")
    text = job.text(units__height='"us-survey-foot"', control__file='"control.csv"')
    text += "[siting]\nantenna_heights = [9.8, 16.4, 26.3]\npowers_w = [0.3, 2, 35]\n"
    plan = read_plan(job.write(text))
    place = plan.siting.places[0]
    for height_m, height in zip(plan.siting.antenna_heights_m, (9.8, 16.4, 26.3), strict=True):
        for power_dbm, power_w in zip(plan.siting.powers_dbm, (0.3, 2.0, 35.0), strict=True):
            changes = base_choice(plan, place, height_m, power_dbm)
            assert (changes.antenna_height, changes.power_w) == (height, power_w)


JOB = """base_note = 0
[base]  # the hill
position = [ 1.0 , 2.0 ]   # old peg
height = 12.5              # by level
antenna_height = 5         # mast A

# the radio of the crew
[radio]
power_dbm = 40.0           # full
antenna_gain_dbd = 0.0

# the other one
[[bases]]
point = "B9"  # north

# stays
[[bases]]
point = "B8"
antenna_height = 4.0
power_w = 1.0
"""


def test_each_change_stands_where_its_forerunner_stood():
    changes = BaseChoice(point='B"1', antenna_height=8.0, power_w=2.0)
    assert with_base(JOB, changes) == (
        JOB.replace("position = [ 1.0 , 2.0 ]", r'point = "B\"1"')
        .replace("height = 12.5              # by level\n", "", 1)
        .replace("antenna_height = 5 ", "antenna_height = 8.0 ")
        .replace("power_dbm = 40.0 ", "power_w = 2.0 ")
        .replace('"B9"  # north\n', '"B9"  # north\nantenna_height = 5\npower_dbm = 40.0\n')
    )


def test_a_further_base_keeps_the_mast_and_power_that_it_took_from_the_first():
    before, after = (
        tomllib.loads(text) for text in (JOB, with_base(JOB, BaseChoice(antenna_height=8.0, power_w=2.0)))
    )
    assert after["bases"][0] == {"point": "B9", "antenna_height": 5, "power_dbm": 40.0}
    assert after["bases"][1] == before["bases"][1]


def test_the_height_of_the_ground_goes_with_the_place():
    text = with_base(JOB, BaseChoice(position=(3.0, 2.0), height=14.0))
    assert text == JOB.replace("[ 1.0 , 2.0 ]", "[ 3.0 , 2.0 ]").replace(
        "height = 12.5 ", "height = 14.0 ", 1
    )
    assert "height" not in tomllib.loads(with_base(JOB, BaseChoice(position=(3.0, 2.0))))["base"]
    assert with_base(JOB, BaseChoice(position=(1.0, 2.0), height=99.0)) == JOB
    # 40 dBm are 10 W.
    assert with_base(JOB, BaseChoice(antenna_height=5.0, power_w=10.0)) == JOB


@pytest.mark.parametrize(
    "text",
    [
        'base = {position=[1, 2], height = 5, antenna_height = 5.0}\nradio = { power_w = 1, antenna_gain_dbi = 2 } # x\nbases = [ {point = "A"} ]\n',
        'base.position = [1, 2] # c\nradio.power_w = 1\nbase.antenna_height = 5\nradio.antenna_gain_dbi = 2\n[[bases]]\npoint = "A"',
        '["base"]\n"position"=[\n  1, # east\n  2, # north\n]\n\'antenna_height\' = 5e0\n[radio]\n  power_w = 1_0\n\tantenna_gain_dbi = +2.0\n[[bases]]\n  point = \'A\'',
        'bases = [{ point = "A", antenna_height = 1, power_w = 1 }]\n[radio]\nantenna_gain_dbi = 2\npower_w = 1.0 # "power_w = 3"\n[base]\nantenna_height = 5.0\nposition = [1, 2]',
    ],
    ids=["braces", "dotted", "quoted", "last line"],
)  # fmt: skip
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_whatever_way_the_toml_is_written(text, line_end):
    text += '\n[siting]\n[[siting.antennas]]\nname = "a"\nantenna_gain_dbd = 3.0\nantenna_pattern = "w.csv"'
    text = text.replace("\n", line_end)
    for changes, base in (
        (BaseChoice(point="B1", antenna_height=8.0, power_w=2.5, antenna="a"), {"point": "B1"}),
        (BaseChoice(position=(3.5, 2.0), height=6.0, antenna_height=8.0, power_w=2.5, antenna="a"),
         {"position": [3.5, 2.0], "height": 6.0}),
    ):  # fmt: skip
        result = with_base(text, changes)
        before, after = tomllib.loads(text), tomllib.loads(result)
        assert after["base"] == {**base, "antenna_height": 8.0}
        assert after["radio"] == {"power_w": 2.5, "antenna_gain_dbd": 3.0, "antenna_pattern": "w.csv"}
        old = before["radio"]["power_w"]
        assert after["bases"] == [{"antenna_height": 5.0, "power_w": old, **before["bases"][0]}]
        assert after["siting"] == before["siting"]
        notes = [
            note
            for note in re.findall(r"# .*", text)
            if base.keys() == {"position"} or note[2:6] not in ("east", "nort")
        ]
        assert all(note in result for note in notes)
        assert tomllib.loads(with_base(result, changes)) == after
        assert with_base(result, changes) == result


NOTES = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=12)
SPACE = st.sampled_from(["", " ", "  ", "\t", " \t "])


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_notes_and_spacing_of_any_kind_stay(data):
    """Lines with notes, blank lines, indents and spaces thrown in: only lines with changed values differ."""
    lines = []
    for line in JOB.splitlines():
        bare = line.partition("#")[0].rstrip()
        for _ in range(data.draw(st.integers(0, 2))):
            lines.append(data.draw(st.one_of(SPACE, NOTES.map(lambda note: f"#{note}"))))
        if " = " in bare:
            bare = bare.replace(" = ", f"{data.draw(SPACE)}={data.draw(SPACE)}", 1)
        bare = data.draw(SPACE) + bare
        lines.append(bare + data.draw(st.one_of(st.just(""), NOTES.map(lambda note: f" #{note}"))))
    text = data.draw(st.sampled_from(["\n", "\r\n"])).join(lines)
    changes = data.draw(
        st.builds(
            BaseChoice,
            point=st.one_of(st.none(), NOTES.map(lambda name: f"x{name}x")),
            antenna_height=st.sampled_from([None, 5.0, 8.0]),
            power_w=st.sampled_from([None, 10.0, 2.0]),
        )
    )
    result = with_base(text, changes)
    gone, new = changed_lines(text, result)
    keys = re.compile(r"\s*(position|point|height|antenna_height|power_w|power_dbm)\s*=")
    assert all(keys.match(line) for line in (*gone, *new))
    again = tomllib.loads(result)
    assert again["base"].get("point") == changes.point
    assert again["base"]["antenna_height"] == (changes.antenna_height or 5)
    assert [one["point"] for one in again["bases"]] == ["B9", "B8"]


def test_an_antenna_that_is_not_there():
    with pytest.raises(OutputError, match=r'^siting\.antennas: has no entry of the name "x"$'):
        with_base(JOB, BaseChoice(antenna="x"))


def test_a_text_that_cannot_be_changed_is_told_with_what_to_set(monkeypatch):
    monkeypatch.setattr(tomlkit, "dumps", lambda _: JOB)
    with pytest.raises(OutputError) as caught:
        with_base(JOB, BaseChoice(point="B1", antenna_height=8.0))
    assert str(caught.value) == (
        "is written in a way that cannot be changed safely; "
        'set base.antenna_height = 8.0, base.point = "B1" yourself'
    )


@pytest.fixture
def plain(job):
    (job.folder / "control.csv").write_text("name,easting,northing\nB1,500100,4200100\nB2,500900,4200900\n")
    text = job.text(control__file='"control.csv"') + '[[bases]]\npoint = "B2"\n'
    return read_plan(job.write("\ufeff" + text.replace("\n", "\r\n")))


def folder_of(plan):
    return sorted(entry.name for entry in plan.file.parent.iterdir())


def test_bytes_permissions_and_links_stay(plain, tmp_path):
    os.chmod(plain.file, 0o640)
    before = plain.file.read_bytes()
    link = tmp_path / "link.toml"
    link.symlink_to(plain.file)
    files = folder_of(plain)
    assert write_base(link, BaseChoice(point="B1"), plain.job_hash)
    assert plain.file.read_bytes() == before.replace(b"position = [500200, 4200300]", b'point = "B1"')
    assert stat.S_IMODE(plain.file.stat().st_mode) == 0o640
    assert link.is_symlink()
    assert folder_of(plain) == files


def refused(plan, changes, job_hash=None):
    before, files = plan.file.read_bytes(), folder_of(plan)
    with pytest.raises(OutputError) as caught:
        write_base(plan.file, changes, job_hash or plan.job_hash)
    assert (plan.file.read_bytes(), folder_of(plan)) == (before, files)
    assert str(caught.value).startswith(f"{plan.file}: ")
    return str(caught.value).removeprefix(f"{plan.file}: ")


def test_a_file_that_has_changed_since_is_left_alone(plain):
    with plain.file.open("a") as file:
        file.write("# a note\n")
    assert refused(plain, BaseChoice(point="B1")) == (
        "has changed since it was read; nothing was written; run the command again"
    )
    plain.file.unlink()
    with pytest.raises(OutputError, match="cannot be read again"):
        write_base(plain.file, BaseChoice(point="B1"), plain.job_hash)


def test_a_base_that_makes_no_sound_job_is_refused(plain):
    assert refused(plain, BaseChoice(point="B2")) == (
        "bases[1].name: the name B2 is taken by [base]; give this base a name of its own, and a place of its own "
        "(with this base; nothing was changed)"
    )
    assert refused(plain, BaseChoice(antenna_height=900.0)).startswith(
        "base.antenna_height = 900.0: too large"
    )


def test_a_file_or_disk_that_takes_nothing(plain, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "access", lambda *_: False)
        assert refused(plain, BaseChoice(point="B1")) == "is write-protected; nothing was changed"

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert refused(plain, BaseChoice(point="B1")) == "cannot be written (No space left on device)"
