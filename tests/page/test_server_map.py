"""The map's answers: as `linkplan cover` and `linkplan path` have them, and clear where there is none."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pyproj import CRS, Transformer

from linkplan.coverage.ground import job_grid
from linkplan.coverage.link import Terminal, compute_link
from linkplan.coverage.reliability import margin_for_chance_db
from linkplan.outputs import style
from linkplan.outputs.regrid import onto
from linkplan.page.cover import Maps
from linkplan.page.ground import Ground
from linkplan.page.placing import mercator, placed
from linkplan.page.set_up import At, SetUp, with_set_up
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan
from linkplan.study import run, run_link
from linkplan.units import dbm_from_watt
from tests.page.small_site import JOB, Browser, frames, write_job

MOVED = {"base": {"easting": 500_733.0, "northing": 4_199_211.0}, "antenna_height_m": 6.5, "power_w": 0.1}


def job_of(site: Browser) -> Plan:
    return read_plan(site.page.folder.folder / "site.toml")


def moved_plan(plan: Plan) -> Plan:
    """The set-up of MOVED, put together without the page's own code."""
    return replace(
        plan,
        base=replace(
            plan.base,
            name="base",
            easting=500_733.0,
            northing=4_199_211.0,
            height_m=None,
            antenna_height_m=6.5,
        ),
        transmitter=replace(plan.transmitter, power_dbm=float(dbm_from_watt(0.1))),
    )


def pixels(png: bytes) -> tuple[np.ndarray, list[int]]:
    image = Image.open(io.BytesIO(png))
    assert image.mode == "P"
    return np.asarray(image), image.getpalette() or []


def test_facts_say_where_the_job_lies(read_only: Browser) -> None:
    facts = read_only.get("api/job/site.toml").json()
    plan = job_of(read_only)
    assert facts["name"] == "small invented job"
    assert facts["job_hash"] == plan.job_hash
    to_wgs84 = Transformer.from_crs("EPSG:32611", "EPSG:4326", always_xy=True)
    for point in facts["control_points"]:
        assert (point["longitude"], point["latitude"]) == pytest.approx(
            to_wgs84.transform(point["easting"], point["northing"])
        )
    (south, west), (north, east) = facts["ground"]["bounds"]
    for longitude, latitude in facts["boundary"]["coordinates"][0]:
        assert west < longitude < east
        assert south < latitude < north
    assert facts["set_up"]["base"]["point"] == "P1"
    assert facts["set_up"]["power_w"] == 0.5
    keys = {one["key"]: one for one in facts["set_up_keys"]}
    assert keys["antenna_height_m"]["low"] == 0.1
    assert keys["antenna_height_m"]["slider_low"] <= 3.0 <= keys["antenna_height_m"]["slider_high"]
    assert facts["tasks"]["siting"] == {"available": True, "why_not": "", "places": 3, "mode": "one"}
    picture = read_only.get(facts["ground"]["hillshade"])
    assert picture.headers["content-type"] == "image/png"
    assert pixels(picture.content)[0].max() > 0


def test_the_readout_formulas_give_the_jobs_coordinates(read_only: Browser) -> None:
    ground = read_only.get("api/job/site.toml").json()["ground"]
    west, south, east, north = ground["mercator"]
    to_mercator = Transformer.from_crs("EPSG:32611", "EPSG:3857", always_xy=True)
    easting, northing = 500_812.0, 4_199_345.0
    x, y = to_mercator.transform(easting, northing)
    u, v = 2 * (x - west) / (east - west) - 1, 2 * (y - south) / (north - south) - 1
    powers = [1, u, v, u * u, u * v, v * v, u**3, u * u * v, u * v * v, v**3]
    found = [sum(c * p for c, p in zip(row, powers, strict=True)) for row in ground["fits"]]
    assert found[:2] == pytest.approx([easting, northing], abs=0.01)
    # from P1 at 500500, 4199500; grid and true metres differ by the scale of UTM, 0.9996
    assert np.hypot(*found[2:]) == pytest.approx(np.hypot(312.0, 155.0) / 0.9996, abs=0.1)


@pytest.mark.parametrize("moved", [False, True])
def test_the_full_map_is_that_of_cover(read_only: Browser, moved: bool) -> None:
    plan = job_of(read_only)
    study = run(moved_plan(plan) if moved else plan)
    head, pictures = read_only.cover(set_up=MOVED if moved else {}, layers=["chance"], scale="full")
    answer = head["answer"]
    assert answer["covered_share"] == study.summary.covered_share
    assert answer["class_shares"] == list(study.summary.class_shares)
    assert answer["no_data_share"] == study.summary.no_data_share
    assert answer["worst"]["margin_db"] == study.summary.worst.margin_db
    assert answer["warnings"] == list(study.summary.warnings)
    assert 0.05 < answer["covered_share"] < 0.95, "a job that asks something"
    # every pixel has the colour of the cell that lies under its middle
    index, palette = pixels(pictures["chance"])
    grid = study.coverage.grid
    where = placed(grid)
    assert index.shape == where.cell.shape
    expected = np.append(study.coverage.class_index.ravel(), 0)[where.cell]
    assert np.array_equal(index, expected)
    for one in study.coverage.classes:
        rgb = style.class_rgb(one, study.coverage.classes)
        assert tuple(palette[3 * one.index : 3 * one.index + 3]) == rgb
        assert head["pictures"][0]["values"][",".join(map(str, rgb))] == f"{one.index} {one.name}"


def test_pixels_lie_over_the_cells_that_the_projection_library_finds(read_only: Browser) -> None:
    grid = job_grid(job_of(read_only))
    where = placed(grid)
    rows, columns = where.cell.shape
    west, _, east, north = where.mercator_m
    step = (east - west) / columns
    x, y = np.meshgrid(west + (np.arange(columns) + 0.5) * step, north - (np.arange(rows) + 0.5) * step)
    back = Transformer.from_crs("EPSG:3857", grid.frame.local_crs, always_xy=True)
    local_x, local_y = back.transform(x, y)
    column = grid.base_column + local_x / grid.cell_size_m
    row = grid.base_row - local_y / grid.cell_size_m
    outside = where.cell == grid.height_m.size
    found_row, found_column = np.divmod(where.cell, grid.shape[1])
    assert np.abs(found_row - row)[~outside].max() < 0.5 + 0.01
    assert np.abs(found_column - column)[~outside].max() < 0.5 + 0.01
    inner = (row > 0) & (row < grid.shape[0] - 1) & (column > 0) & (column < grid.shape[1] - 1)
    assert not (inner & outside).any()
    other = onto(grid, CRS.from_epsg(3857)).bounds
    assert where.mercator_m == pytest.approx(other, abs=2 * step)


def test_mercator_is_that_of_the_projection_library() -> None:
    to = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    for place in ((0.0, 0.0), (-117.25, 36.5), (12.5, -71.0), (179.0, 60.0)):
        assert mercator(*place) == pytest.approx(to.transform(*place), abs=1e-6)


def test_coarse_is_near_the_full_map(read_only: Browser) -> None:
    coarse, pictures = read_only.cover(set_up=MOVED, scale="coarse")
    full, _ = read_only.cover(set_up=MOVED, scale="full")
    assert coarse["answer"]["cell_size_m"] >= 2 * full["answer"]["cell_size_m"]
    assert coarse["answer"]["covered_share"] == pytest.approx(full["answer"]["covered_share"], abs=0.1)
    assert coarse["base"]["ground_m"] == pytest.approx(full["base"]["ground_m"], abs=5.0)
    assert coarse["scale"] == "coarse"
    assert pixels(pictures["chance"])[0].max() > 0


def test_coarse_ground_lies_where_the_full_one_does(read_only: Browser) -> None:
    plan = moved_plan(job_of(read_only))
    ground = Ground()
    coarse, _ = ground.coarse(job_of(read_only), plan)
    full = job_grid(plan)
    x, y = full.centre_of(70, 20)
    row, column = coarse.cell_of(x, y) or (0, 0)
    at = full.cell_of(*coarse.centre_of(row, column)) or (0, 0)
    around = full.height_m[at[0] - 1 : at[0] + 2, at[1] - 1 : at[1] + 2]
    assert around.min() - 1.0 <= coarse.height_m[row, column] <= around.max() + 1.0


def test_every_layer_is_drawn_with_its_legend(read_only: Browser) -> None:
    layers = ["chance", "margin", "sight", "fresnel", "workable", "openness"]
    head, pictures = read_only.cover(layers=layers)
    assert list(pictures) == layers
    study = run(job_of(read_only))
    for one in head["pictures"]:
        index, palette = pixels(pictures[one["layer"]])
        assert index.shape == (one["height"], one["width"])
        assert one["legend"]
        shown = {tuple(palette[3 * i : 3 * i + 3]) for i in np.unique(index) if i}
        assert shown
        assert {",".join(map(str, rgb)) for rgb in shown} <= set(one["values"])
    assert head["answer"]["work"]["workable_share"] == study.workable.workable_share
    # whole decibels: index 41 stands for a margin of 0 dB
    margins, _ = pixels(pictures["margin"])
    cells = np.append(study.coverage.margin_db.ravel(), np.nan)[placed(study.coverage.grid).cell]
    known = margins > 0
    assert np.array_equal(known, np.isfinite(cells))
    assert np.abs(margins[known] - 41.0 - np.clip(cells[known], -40, 40)).max() <= 0.5


def test_where_the_base_cannot_stand_is_said_in_one_line(read_only: Browser) -> None:
    for place, said in (
        ({"easting": 530_000.0, "northing": 4_199_000.0}, "outside the terrain"),
        ({"easting": 9e6, "northing": 4_199_000.0}, "base"),
        ({"longitude": 90.0, "latitude": 0.0}, "base"),
        ({"point": "no such"}, "no control point"),
        ({"place": "no such"}, "no place"),
    ):
        for scale in ("coarse", "full"):
            head, pictures = read_only.cover(set_up={"base": place}, scale=scale)
            assert said in head["error"]["line"], head
            assert head["error"]["kind"] == "place"
            assert not pictures


def test_a_number_of_a_request_that_came_later_is_not_computed(read_only: Browser) -> None:
    read_only.serial += 10
    late = read_only.numbered()
    head, _ = read_only.cover()
    assert not head["stale"]
    head, pictures = frames(read_only.post("api/job/site.toml/cover", late).content)
    assert head == {"serial": late["serial"], "stale": True, "pictures": []}
    assert not pictures


def test_two_set_ups_compared(read_only: Browser) -> None:
    body = read_only.numbered(a={}, b={"base": {"point": "P2"}}, layers=["served", "gain"])
    head, pictures = frames(read_only.post("api/job/site.toml/compare", body).content)
    plan = job_of(read_only)
    one, other = (run(with_set_up(plan, SetUp(base=At(point=name)))) for name in ("P1", "P2"))
    found = head["difference"]
    assert head["a"]["covered_share"] == one.summary.covered_share
    assert head["b"]["covered_share"] == other.summary.covered_share
    # pixels stand for cells, so shares agree to a cell's width along the edges
    assert found["both_share"] + found["only_a_share"] == pytest.approx(one.summary.covered_share, abs=0.02)
    assert found["both_share"] + found["only_b_share"] == pytest.approx(other.summary.covered_share, abs=0.02)
    assert found["only_b_share"] > 0.1, "the ridge hides one from the other's side"
    total = sum(found[key] for key in found if key.endswith("share"))
    assert total == pytest.approx(1.0)
    assert set(pictures) == {"served", "gain"}


def test_a_set_up_compared_with_itself_gains_nothing(read_only: Browser) -> None:
    body = read_only.numbered(a=MOVED, b=MOVED, layers=["gain"])
    head, pictures = frames(read_only.post("api/job/site.toml/compare", body).content)
    index, _ = pixels(pictures["gain"])
    assert set(np.unique(index)) <= {0, 21}, "21 stands for 0 dB"
    assert head["difference"]["only_a_share"] == head["difference"]["only_b_share"] == 0.0


def test_one_place_is_the_path_of_the_command(read_only: Browser) -> None:
    plan = job_of(read_only)
    end = Terminal("P2", 501_500.0, 4_198_500.0)
    found = read_only.point(set_up={}, to={"point": "P2"})
    link = run_link(plan, end)
    assert found["margin_db"] == pytest.approx(link.margin_db, abs=0.2)
    assert found["distance_m"] == pytest.approx(link.distance_m, abs=0.01)
    assert sum(one["value"] for one in found["budget"] if one["kind"] in {"start", "gain", "loss"}) == (
        pytest.approx(found["budget"][-3]["value"])
    )
    profile = found["profile"]
    assert (
        len({len(profile[key]) for key in ("distance_m", "ground_m", "bulge_m", "ray_m", "fresnel_radius_m")})
        == 1
    )
    assert not found["works"]
    assert any("above the ray" in line for line in found["why"])


def test_cures_cure(read_only: Browser) -> None:
    """Each is put into a plan of its own and the link computed anew."""
    to = {"easting": 501_100.0, "northing": 4_198_800.0}
    found = read_only.point(set_up={}, to=to)
    assert not found["works"]
    possible = {one["kind"]: one for one in found["cures"] if one["possible"]}
    assert {"mast", "power", "place"} <= set(possible)
    plan = job_of(read_only)
    end = Terminal("there", to["easting"], to["northing"])
    for cure in possible.values():
        again = read_only.point(set_up=cure["set_up"], to=to)
        assert again["works"], cure
    mast = possible["mast"]["antenna_height_m"]
    grid = job_grid(plan)
    for height_m, works in ((mast, True), (mast - 0.5, False)):
        higher = replace(plan, base=replace(plan.base, antenna_height_m=height_m))
        link = compute_link(higher, grid, Terminal("P1", 500_500.0, 4_199_500.0), end)
        assert (link.chance >= 0.95) == works
    missing = possible["power"]["missing_db"]
    assert missing == pytest.approx(margin_for_chance_db(0.95, 6.1) - found["margin_db"], abs=0.3)
    assert possible["power"]["power_w"] == pytest.approx(0.5 * 10 ** (missing / 10), rel=0.1)


def test_a_place_where_it_works_needs_no_cure(read_only: Browser) -> None:
    found = read_only.point(set_up={}, to={"easting": 500_600.0, "northing": 4_199_600.0})
    assert found["works"]
    assert found["cures"] == found["why"] == []


def test_no_path_to_the_base_itself_or_off_the_ground(read_only: Browser) -> None:
    assert "same place" in read_only.point(set_up={}, to={"point": "P1"})["error"]["line"]
    off = read_only.point(set_up={}, to={"easting": 530_000.0, "northing": 4_199_000.0})
    assert off["error"]["kind"] == "place"


def test_a_set_up_that_says_what_the_job_says_changes_nothing(read_only: Browser) -> None:
    facts = read_only.get("api/job/site.toml").json()
    head, _ = read_only.cover(set_up=facts["set_up"])
    plain, _ = read_only.cover(set_up={})
    assert head["answer"] == plain["answer"]


def test_a_map_already_computed_is_taken_from_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = read_plan(write_job(tmp_path))
    maps = Maps(Ground())
    first = maps.cover(plan, plan, "full", lambda _stage, _share: None)

    def never(*_: object, **__: object) -> None:
        raise AssertionError("computed again")

    monkeypatch.setattr("linkplan.page.cover.compute_coverage", never)
    assert maps.cover(plan, plan, "full", lambda _stage, _share: None) is first


def test_kept_maps_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("linkplan.page.cover.MOST_KEPT_CELLS", 30_000)
    monkeypatch.setattr("linkplan.page.ground.MOST_KEPT_CELLS", 30_000)
    plan = read_plan(write_job(tmp_path))
    ground = Ground()
    maps = Maps(ground)
    for number in range(12):
        moved = with_set_up(plan, SetUp(base=At(job=(500_500.0 + 20 * number, 4_199_500.0))))
        maps.cover(plan, moved, "full", lambda _stage, _share: None)
    kept = list(maps._kept.values())
    assert 0 < sum(one.coverage.loss_db.size for one in kept) <= 30_000
    assert 0 < sum(one.height_m.size for one in ground._grids.values()) <= 30_000


def test_a_job_in_feet_speaks_feet(tmp_path: Path) -> None:
    from linkplan.page.facts import facts_body
    from linkplan.page.jobs import JobFolder

    write_job(tmp_path, JOB + '[units]\nlength = "foot"\nheight = "foot"\n')
    facts = facts_body(JobFolder(tmp_path).get("site.toml"))
    key = next(one for one in facts["set_up_keys"] if one["key"] == "antenna_height_m")
    assert (key["unit"], key["per_unit"]) == ("ft", 0.3048)
    # 3.0 in the file are feet now
    assert facts["set_up"]["antenna_height_m"] == pytest.approx(3.0 * 0.3048)


def test_of_very_many_control_points_the_nearest_are_sent(tmp_path: Path) -> None:
    from linkplan.page.facts import MOST_POINTS, facts_body
    from linkplan.page.jobs import JobFolder

    write_job(tmp_path)
    rows = [f"N{n},{500_000 + 37 * n % 90_000},{4_100_000 + 53 * n % 90_000},," for n in range(5000)]
    control = tmp_path / "control.csv"
    control.write_text(control.read_text() + "\n".join(rows) + "\n")
    facts = facts_body(JobFolder(tmp_path).get("site.toml"))
    assert facts["control_points_total"] == 5003
    assert len(facts["control_points"]) == MOST_POINTS
    assert {"P1", "P2", "P3"} <= {one["name"] for one in facts["control_points"]}
    (south, west), (north, east) = facts["ground"]["bounds"]
    assert north - south < 0.1, "far points do not stretch the ground that is shown"
    assert east - west < 0.1
