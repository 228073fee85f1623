# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""Lists of tables, whole numbers, yes or no, dates and lists: each fault in one line with its key path."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.plan.checking import Section, check_document, check_keys, in_file_order
from linkplan.plan.schema import AtLeastOne, Key, OneWay, Table
from linkplan.plan.values import Scope
from linkplan.plan.words import Report, WrittenFloat

PLANETS = Table(
    "plan",
    "things",
    (
        Key("count", "integer", "3", low=0, high=4095, unit="pieces"),
        Key("sharp", "boolean", "true", default=False),
        Key("until", "date", "2031-05-01"),
        Key("levels", "numbers", "[1.5, 2.5]", low=0.0, high=10.0, unit="dB"),
        Key("systems", "words", '["gps", "galileo"]', choices=lambda: ("gps", "galileo", "beidou")),
        Key("marks", "words", '["a", "b"]'),
        Key("names", "texts", '["one", ""]'),
        Key(
            "entries", "tables", "[{ number = 1 }]",
            inner=(
                Key("number", "integer", "1", required=True, low=1, high=9),
                Key("place", "place", "[1, 2]"),
                Key("size", "number", "2.0", low=0.0, high=5.0),
                Key("weight", "number", "2.0", low=0.0, high=5.0),
            ),
            rules=(OneWay((("size",), ("weight",))),),
        ),
    ),
    absent="nothing",
    rules=(AtLeastOne(("count", "entries", "sharp", "until", "levels", "systems", "marks", "names")),),
)  # fmt: skip


def read(text: str) -> tuple[Section, list[str]]:
    report = Report()
    raw = tomllib.loads(text, parse_float=WrittenFloat)
    factors = {"length": 1.0, "height": 1.0}
    section = check_keys(raw, PLANETS, Scope(Path(), factors, report, "plan"))
    lines = [fault.line("").removeprefix(": ") for fault in report.faults]
    assert all(line.isprintable() for line in lines)
    return section, lines


def test_sound_values_become_what_they_mean():
    section, lines = read(
        "count = 12\nsharp = true\nuntil = 2031-05-01\nlevels = [0, 10.0]\n"
        'systems = ["beidou", "gps"]\nmarks = ["x y"]\nnames = ["", "b", "b"]\n'
        "[[entries]]\nnumber = 4\nsize = 0.5\n[[entries]]\nnumber = 5\nplace = [7, 8]\nweight = 5\n"
    )
    assert lines == []
    assert section["count"] == 12
    assert type(section["count"]) is int
    assert section["sharp"] is True
    assert section["until"] == datetime.date(2031, 5, 1)
    assert section["levels"] == (0.0, 10.0)
    assert section["systems"] == ("beidou", "gps")
    assert section["marks"] == ("x y",)
    assert section["names"] == ("", "b", "b")
    first, second = section["entries"]
    assert (first["number"], first["size"], first["weight"]) == (4, 0.5, None)
    assert (second["place"], second.present) == ((7.0, 8.0), {"number", "place", "weight"})


def test_defaults_stand_where_nothing_is_written():
    section, lines = read("count = 0")
    assert lines == []
    assert section["count"] == 0
    assert section["sharp"] is False
    assert section["entries"] is None


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("count = 4096", "plan.count = 4096: too large; give 0 to 4095 pieces"),
        ("count = -12", "plan.count = -12: too small; give 0 to 4095 pieces; did you mean 12?"),
        ("count = 12.0", "plan.count = 12.0: a whole number is wanted; write count = 12"),
        ("count = 12.5", "plan.count = 12.5: a whole number is wanted; write count = 3"),
        ("count = true", "plan.count = true: a whole number is wanted, not true or false; write a bare number in pieces, such as count = 3"),
        ('count = "12"', 'plan.count = "12": a whole number is wanted, not text; write a bare number in pieces, such as count = 12'),
        ("count = nan", "plan.count = nan: a whole number is wanted; write count = 3"),
        ("count = 1" + "0" * 400, "plan.count = a whole number of very many digits: too large; give 0 to 4095 pieces"),
        ("sharp = 1", "plan.sharp = 1: true or false is wanted, not a number; write sharp = true or sharp = false"),
        ('sharp = "true"', 'plan.sharp = "true": true or false is wanted, not text; write sharp = true or sharp = false'),
        ('until = "2030-01-02"', 'plan.until = "2030-01-02": a date is wanted, not text; write year-month-day: until = 2030-01-02 without quotes'),
        ('until = "May"', 'plan.until = "May": a date is wanted, not text; write year-month-day: until = 2031-05-01'),
        ("until = 2030-01-02T10:00:00", "plan.until = 2030-01-02T10:00:00: a date without a time is wanted; write year-month-day: until = 2030-01-02"),
        ("until = 10:00:00", "plan.until = 10:00:00: a date is wanted, not a date or time; write year-month-day: until = 2031-05-01"),
        ("levels = []", "plan.levels = []: the list is empty; write levels = [1.5, 2.5]"),
        ("levels = 3", "plan.levels = 3: a list of numbers is wanted, not a number; write levels = [1.5, 2.5]"),
        ("levels = [1, 30.5]", "plan.levels[2] = 30.5: too large; give 0 to 10 dB"),
        ("levels = [1, 2, 1.0]", "plan.levels[3] = 1.0: stands in the list already, in place 1; leave it out"),
        ('systems = ["gps", "galilo"]', 'plan.systems[2] = "galilo": not a word that goes here; did you mean "galileo"? (there is "gps", "galileo" or "beidou")'),
        ('systems = ["gps", "gps"]', 'plan.systems[2] = "gps": stands in the list already, in place 1; leave it out'),
        ('systems = "gps"', 'plan.systems = "gps": a list of words is wanted, not text; write systems = ["gps", "galileo"]'),
        ("systems = [1]", 'plan.systems[1] = 1: text is wanted, not a number; write systems = ["gps", "galileo"]'),
        ('marks = [""]', 'plan.marks[1] = "": empty; write, for example, marks = ["a", "b"]'),
        ("names = [3]", 'plan.names[1] = 3: text is wanted, not a number; write names = ["one", ""]'),
        ("names = {}", 'plan.names = {}: a list of texts is wanted, not a table; write names = ["one", ""]'),
        ("entries = []", "plan.entries = []: the list is empty; write [[plan.entries]] on a line of its own, and below it the keys of one entry"),
        ("[entries]\nnumber = 1", "plan.entries = {number = 1}: a list of tables is wanted, not a table; write [[plan.entries]] on a line of its own, and below it the keys of one entry"),
        ("entries = [{ number = 1, size = 1 }, 5]", "plan.entries[2] = 5: a table is wanted in the list, not a number; write [[plan.entries]] on a line of its own, and below it the keys of one entry"),
        ("[[entries]]\nsize = 1", "plan.entries[1].number: missing; add, for example, number = 1"),
        ("[[entries]]\nnumber = 1", "plan.entries[1].size: missing; add either size or weight, for example size = 2.0"),
    ],
)  # fmt: skip
def test_one_fault(text, line):
    assert read(text)[1] == [line]


def test_all_faults_at_once_in_the_order_of_the_file():
    text = (
        "[other]\nsharp = 3\n[plan]\n[[plan.entries]]\nnumber = 1\nsize = 1\n[[plan.entries]]\nnumber = 10\n"
        "size = 9\nwieght = 1\n[[plan.entries]]\nsize = 1\nweight = 1\n"
    )
    data = tomllib.loads(text)
    other = Table("other", "sharp", (Key("sharp", "boolean", "true"),))
    report = Report()
    check_document(data, (PLANETS, other), Path(), report)
    assert [fault.line("job") for fault in in_file_order(report.faults, data, (PLANETS, other))] == [
        "job: other.sharp = 3: true or false is wanted, not a number; write sharp = true or sharp = false",
        "job: plan.entries[2].wieght = 1: unknown key; did you mean weight?",
        "job: plan.entries[2].number = 10: too large; give 1 to 9",
        "job: plan.entries[2].size = 9: too large; give 0 to 5",
        "job: plan.entries[2].weight: cannot stand beside size; keep either size or weight",
        "job: plan.entries[3].number: missing; add, for example, number = 1",
        "job: plan.entries[3].weight = 1: cannot stand beside size; keep either size or weight",
    ]


ANYTHING = st.recursive(
    st.one_of(
        st.none().map(lambda _: datetime.date(2030, 1, 1)), st.booleans(), st.integers(), st.floats(), st.text(max_size=8),
        st.just(datetime.datetime(2030, 1, 1)), st.just(datetime.time(1)),
    ),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(["number", "size", "x"]), inner, max_size=3),
    max_leaves=8,
)  # fmt: skip


@given(st.dictionaries(st.sampled_from([key.name for key in PLANETS.keys]), ANYTHING, min_size=1))
def test_anything_gives_values_or_faults_and_no_crash(raw):
    report = Report()
    section = check_keys(raw, PLANETS, Scope(Path(), {"length": 1.0, "height": 1.0}, report, "plan"))
    for name in raw:
        has_fault = any(fault.key.startswith(f"plan.{name}") for fault in report.faults)
        assert has_fault or section[name] is not None
    assert all(fault.line("job").isprintable() for fault in report.faults)
