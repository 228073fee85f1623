"""The ranking as CSV and GeoPackage, the whole result as JSON, the folder of them all."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import geopandas
import pyogrio
import pytest

from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_files import cell, fields_of, write_candidates, write_ranking
from linkplan.outputs.siting_folder import siting_object, write_siting
from linkplan.siting.results import Finding
from tests.outputs.siting_example import Case, one_base, several, siting_plan


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_csv_has_every_candidate_best_first(case: Case, tmp_path: Path) -> None:
    plan = siting_plan(case)
    result = one_base(plan)
    rows = rows_of(write_ranking(plan, result, tmp_path / "ranking.csv"))
    assert len(rows) == len(result.judged) == 96
    assert [row["rank"] for row in rows[:22]] == [*(str(rank) for rank in range(1, 22)), ""]
    assert sorted(int(row["number"]) for row in rows) == list(range(1, 97))
    for row in rows:
        one = result.judged[int(row["number"]) - 1]
        if one.outcome is None:
            assert row["covered_share"] == ""
        else:
            assert float(row["covered_share"]) == pytest.approx(one.outcome.covered_share, abs=1e-9)
            assert float(row["zone_2_share (guided strip)"]) == pytest.approx(
                one.outcome.zone_shares[1], abs=1e-9
            )
        assert round(float(row["power_w"]), 2) in {0.5, 2.0}
    near = [row for row in rows if row["place"] == "R0"]
    assert [row["ruled_out_by"] for row in near] == [
        f"7.2 m from overhead line valley line, {wanted} m asked for"
        for wanted in ("7.6", "7.6", "10.6", "10.6")
    ]  # 1.5 x 3 and 1.5 x 5, and 3.05 m more: 7.55 and 10.55, rounded up


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", " @", "\r+"])
def test_text_in_a_table_is_no_formula(start: str) -> None:
    shown = cell(f'{start}HYPERLINK("x")')
    assert shown.startswith("'")
    assert shown.isprintable()


def test_numbers_in_a_table_stay_numbers() -> None:
    assert cell(-3.25) == -3.25
    assert cell(None) == ""
    assert cell("CP-1") == "CP-1"


def test_hostile_names_in_the_csv(case: Case, tmp_path: Path) -> None:
    names = {"CP-1": '=cmd|"/c calc"!A1', "line": "@sum(1)", "haul road": "-2\n3", "CP-2": 'a,"b"'}
    plan = siting_plan(case, names=names)
    result = one_base(plan)
    path = write_ranking(plan, result, tmp_path / "ranking.csv")
    with path.open(newline="", encoding="utf-8") as file:
        table = list(csv.reader(file))
    assert len({len(row) for row in table}) == 1
    for row in table:
        for text in row:
            try:
                float(text)
            except ValueError:
                assert not text.lstrip().startswith(("=", "+", "-", "@")), text
    assert {row["place"] for row in rows_of(path)} >= {"'" + names["CP-1"], names["CP-2"]}


def test_geopackage_has_points_ground_and_lines(case: Case, tmp_path: Path) -> None:
    plan = siting_plan(case, mode="repeaters")
    result, _ = several(plan, case[1])
    path = write_candidates(plan, result, tmp_path / "candidates.gpkg")
    layers = {str(name) for name, _ in pyogrio.list_layers(path)}
    assert layers == {
        "candidates", "set_ups", "boundary", "zones", "keep_out", "overhead_lines", "tracks", "links",
    }  # fmt: skip
    points = geopandas.read_file(path, layer="candidates")
    assert points.crs == plan.crs
    assert len(points) == 96
    first = points.iloc[0]
    place = result.judged[0].candidate.place
    assert (first.geometry.x, first.geometry.y) == pytest.approx((place.easting, place.northing))
    assert points["ruled_out_by"].isna().sum() == 96 - 4 - 4 - 4 - 2
    assert first["covered_share"] == result.judged[0].outcome.covered_share
    links = geopandas.read_file(path, layer="links")
    assert len(links) == 2
    base = result.together.set_ups[0].candidate.place
    assert all(
        tuple(line.coords[0]) == pytest.approx((base.easting, base.northing)) for line in links.geometry
    )
    again = write_candidates(plan, result, tmp_path / "again.gpkg")
    assert again.read_bytes() == path.read_bytes()


def test_json_holds_the_whole_result(case: Case) -> None:
    plan = siting_plan(case)
    result = one_base(plan)
    found = json.loads(json.dumps(siting_object(plan, result), allow_nan=False))
    assert found["reached"] is True
    assert found["answer"].startswith("CP-1 with a mast of 5.0 m")
    assert len(found["judged"]) == 96
    assert found["judged"][result.ranking[0] - 1]["best_cases"] == 87
    assert found["curves"][0]["steps"][1]["gained_per_m"] == 0.19


def test_folder_has_every_file_and_none_of_the_maps_without_a_place(case: Case, tmp_path: Path) -> None:
    plan, coverage, summary = siting_plan(case), case[1], case[2]
    result = one_base(plan)
    written = write_siting(plan, result, (coverage, summary), tmp_path)
    names = {one.path.name for one in written}
    assert names == {
        "map.html", "map.png", "curve.png", "ranking.csv", "candidates.gpkg", "summary.txt", "siting.json",
    }  # fmt: skip
    assert names == {file.name for file in tmp_path.iterdir()}
    assert (tmp_path / "summary.txt").read_text().splitlines()[2].startswith("CP-1 with a mast")
    out = tuple(
        replace(one, rank=None, findings=(Finding("keep-out", False, None, None, ""),))
        for one in result.judged
    )
    none = tmp_path / "none"
    none.mkdir()
    nothing = replace(result, judged=out, ranking=(), curves=())
    written = write_siting(plan, nothing, None, none)
    assert {one.path.name for one in written} == {
        "ranking.csv",
        "candidates.gpkg",
        "summary.txt",
        "siting.json",
    }


def test_fields_name_their_units(case: Case) -> None:
    plan = siting_plan(case)
    result = one_base(plan)
    fields = fields_of(result, result.judged[0], Formats.of(plan))
    assert fields["antenna_height_m"] == 3.0
    assert fields["longest_baseline_m"] == 2345.0
    assert fields["worst_margin_db"] == -3.0
    assert fields["known_control"] == 1
