"""Plain text and JSON say the numbers of the result, and nothing else."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from shapely import Point

from linkplan.coverage.results import LinkResult
from linkplan.outputs.encode import to_json, to_jsonable
from linkplan.outputs.formats import Formats
from linkplan.outputs.text import (
    answer_line,
    gap_table,
    gaps_title,
    link_text,
    obstacle_line,
    summary_text,
    table,
)


def test_summary_names_answer_classes_gaps_and_places(case: tuple) -> None:
    plan, coverage, summary = case
    text = summary_text(plan, coverage, summary)
    lines = text.splitlines()
    assert lines[0] == "Kieswerk Nord"
    assert "E 512345.0, N 5190820.0, radio antenna 5.0 m above ground" in lines[1]
    for one, share in zip(coverage.classes, summary.class_shares, strict=True):
        row = next(line for line in lines if f" {one.index}  {one.name}" in line)
        assert f"{100 * share:.1f} %" in row
    gap = summary.gaps[0]
    row = next(line for line in lines if line.strip().startswith("1  weak"))
    assert f"{gap.easting:.1f}" in row
    assert row.split()[-1] == f"{gap.worst_margin_db:+.1f}"
    assert f"Gaps: {summary.gap_count}, the {len(summary.gaps)} largest" in text
    assert "Farthest dependable point: 2.17 km at azimuth 068°" in text
    assert "note: The base height differs from the terrain by 3.4 m." in text
    assert lines[-1].startswith("A prediction, not a measurement")


def test_columns_have_one_unit_each(case: tuple) -> None:
    plan, _, summary = case
    areas = (31.9e6, 998e4, 8_000.0, 900.0)
    gaps = tuple(replace(summary.gaps[0], number=i, area_m2=area) for i, area in enumerate(areas, start=1))
    head, rows = gap_table(replace(summary, gaps=gaps), Formats.of(plan))
    assert head[2] == "area (km²)"
    # by hand: 31.9, 9.98 and 0.008 km2 to two places; what would round to nothing is not said to be nothing
    assert [row[2] for row in rows] == ["31.90", "9.98", "0.01", "under 0.01"]
    assert head[3] == "from base (km)" if summary.gaps[0].distance_m > 2000 else "from base (m)"
    assert gaps_title(replace(summary, gaps=gaps, gap_count=9)) == "Gaps: 9, the 4 largest"
    assert gaps_title(replace(summary, gaps=(), gap_count=0)) == "No gaps"


def test_summary_in_feet_and_acres(make: Callable[..., tuple]) -> None:
    text = summary_text(*make(epsg=2229, unit="us-survey-foot"))
    assert "acres" in text
    assert " ft at azimuth" in text
    assert " km" not in text


def test_answer_is_no_more_than_the_result(case: tuple) -> None:
    _, _, summary = case
    assert answer_line(summary).startswith("NOT covered as wanted: 81.4 % of the job")
    nearly = replace(summary, covered_share=0.99999)
    assert "over 99.9 %" in answer_line(nearly)
    wanted = replace(summary, all_covered=True, wanted_share=0.8)
    assert answer_line(wanted).startswith("Covered as wanted: 81.4 %")
    assert answer_line(wanted).endswith("(wanted: 80 % of it).")
    assert "baseline" not in answer_line(summary)
    far = replace(summary, beyond_baseline_share=0.1)
    assert "of the job is within the baseline limit and has corrections" in answer_line(far)


def test_unknown_is_said_to_be_unknown(case: tuple) -> None:
    plan, coverage, summary = case
    text = summary_text(plan, coverage, replace(summary, farthest_dependable=None, worst=None))
    assert "Farthest dependable point: none" in text
    row = next(line for line in text.splitlines() if line.strip().startswith("2  no data"))
    assert row.endswith("unknown")


def test_budget_adds_up_line_by_line_as_printed(case: tuple, link: LinkResult) -> None:
    text = link_text(case[0], link)
    shown = {}
    for line in link.budget:
        row = next(row for row in text.splitlines() if row.strip().startswith(line.label))
        value = float(row.strip().removeprefix(line.label).split()[0])
        assert value == pytest.approx(line.value, abs=0.05)
        shown[line.label] = value
    parts = [shown[line.label] for line in link.budget if line.kind in {"start", "gain", "loss"}]
    assert sum(parts) == pytest.approx(shown["received"], abs=0.05 * len(parts))
    assert shown["received"] - shown["weakest usable level"] == pytest.approx(shown["link margin"], abs=0.11)
    assert "-0.0" not in text


def test_link_names_its_obstacle(case: tuple, link: LinkResult) -> None:
    text = " ".join(link_text(case[0], link).split())
    assert link.obstacle is not None
    assert (
        f"Not in line of sight; the worst obstacle, {link.obstacle.distance_m / 1000:.2f} km from CP-1"
        in text
    )
    assert f"stands {-link.obstacle.clearance_m:.1f} m above the ray" in text
    assert "note: Line crosses a wood whose height is a guess." in text


def test_open_path_says_how_open(case: tuple, link: LinkResult) -> None:
    assert link.obstacle is not None
    clear = replace(link.obstacle, clearance_m=9.04, clearance_fraction=0.71, clutter_m=4.0)
    words = obstacle_line(replace(link, obstacle=clear, line_of_sight=True), Formats.of(case[0]))
    assert words.startswith("In line of sight")
    assert "with 4.0 m of clutter, leaves 9.0 m under the ray, 0.71 of the first Fresnel zone" in words
    nothing = obstacle_line(replace(link, obstacle=None, line_of_sight=True), Formats.of(case[0]))
    assert nothing == "In line of sight; nothing stands between the ends."


def test_table_columns_line_up() -> None:
    rows = [("a", "1.0"), ("long name", "100.0")]
    lines = table(("name", "value"), rows, ("<", ">")).splitlines()
    assert lines[2:] == ["  a            1.0", "  long name  100.0"]


def test_json_of_a_summary_reads_back_as_its_fields(case: tuple) -> None:
    _, _, summary = case
    data = json.loads(to_json(summary))
    assert set(data) == set(summary.__dataclass_fields__)
    assert data["covered_share"] == summary.covered_share
    assert data["gaps"][1]["worst_margin_db"] is None
    assert data["gaps"][0]["easting"] == summary.gaps[0].easting


def test_arrays_are_left_out_or_listed(link: LinkResult) -> None:
    bare = to_jsonable(link)
    assert "ray_m" not in bare
    assert bare["profile"] == {}
    whole = json.loads(to_json(link, arrays=True))
    assert whole["ray_m"] == pytest.approx(link.ray_m.tolist())
    assert whole["budget"][0]["label"] == "transmitter power"


def test_what_json_has_no_word_for_becomes_null_or_text(case: tuple) -> None:
    @dataclass(frozen=True)
    class Odd:
        nan: float
        infinite: np.float32
        whole: np.int16
        yes: np.bool_
        array: np.ndarray
        path: Path
        where: Point

    odd = Odd(
        float("nan"),
        np.float32("inf"),
        np.int16(3),
        np.bool_(True),
        np.array([1.0, np.nan]),
        Path("a") / "b",
        Point(1, 2),
    )
    assert to_jsonable(odd, arrays=True) == {
        "nan": None, "infinite": None, "whole": 3, "yes": True, "array": [1.0, None], "path": "a/b",
        "where": {"type": "Point", "coordinates": [1.0, 2.0]},
    }  # fmt: skip
    assert to_jsonable(case[0].crs) == "EPSG:25832"
    with pytest.raises(TypeError, match="no JSON form for object"):
        to_jsonable(object())


def test_whole_plan_has_a_json_form(case: tuple) -> None:
    data = json.loads(to_json(case[0]))
    assert data["transmitter"]["power_dbm"] == 43.0
    assert data["boundary"]["type"] == "Polygon"
