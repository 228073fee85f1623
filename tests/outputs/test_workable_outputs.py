"""Where work can go on, in every output: shares, reasons and cells are the result's own."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import rasterio
from PIL import Image
from pyproj import CRS

from linkplan.outputs import formats
from linkplan.outputs.folder import write_all, write_coverage
from linkplan.outputs.raster import BANDS
from linkplan.outputs.regrid import onto
from linkplan.outputs.shapes import class_areas
from linkplan.outputs.text import summary_text
from linkplan.outputs.webmap import write_webmap
from linkplan.outputs.workable_figure import write_work_figure
from linkplan.outputs.workable_looks import LOOKS, look_index, look_shares, work_overlays
from linkplan.outputs.workable_words import work_line, work_object, work_of, work_remarks
from linkplan.workable import NO_CORRECTIONS, NO_SKY, TOO_FAR, UNKNOWN
from tests.outputs.sky_example import sky_plan, work_example
from tests.outputs.test_output_webmap import browser_page, decode


def test_sentence_and_object_are_the_map_s_shares(case: tuple) -> None:
    work = work_example(case)
    reason = work.found.reason[work.found.inside]
    shares = {
        bit: float(((reason != UNKNOWN) & ((reason & bit) > 0)).mean())
        for bit in (NO_CORRECTIONS, NO_SKY, TOO_FAR)
    }
    unknown = float((reason == UNKNOWN).mean())
    line = work_line(work)
    assert line == (
        f"Work can go on in {formats.percent(float((reason == 0).mean()))} of the job (wanted: 40 % of it); "
        f"{formats.percent(shares[NO_CORRECTIONS])} lack corrections, {formats.percent(shares[NO_SKY])} sky, "
        f"{formats.percent(shares[TOO_FAR])} are too far from the base; {formats.percent(unknown)} unknown."
    )
    found = work_object(work)
    assert found["no_corrections_share"] == pytest.approx(shares[NO_CORRECTIONS])
    assert found["unknown_share"] == pytest.approx(unknown)
    assert sum(look_shares(work.found)) == pytest.approx(1.0)


def test_without_a_sky_nothing_is_said_of_it(case: tuple) -> None:
    work = work_example(case, sky=False)
    assert " sky" not in work_line(work)
    assert "The sky is not counted: the job file has no [sky]." in work_remarks(case[0], work)
    assert work_object(work)["no_sky_share"] is None
    placed = onto(case[1].grid, CRS.from_epsg(3857), most_pixels=300)
    (only,) = work_overlays(work, case[1].grid, placed)
    assert only.key == "workable"
    assert "not counted" in only.name
    assert "too little sky" not in [entry["name"] for entry in only.legend]


def test_nothing_asked_for_leaves_outputs_as_they_are(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    bare = replace(plan, goal=replace(plan.goal, baseline_limit_m=None))
    assert work_of(bare, work_example(case).found, None, typical=False) is None
    write_coverage(bare, coverage, summary, tmp_path)
    with rasterio.open(tmp_path / "coverage.tif") as raster:
        assert raster.descriptions == tuple(name for name, _, _ in BANDS)
    assert "workable" not in json.loads((tmp_path / "summary.json").read_text())
    assert "Work can go on" not in (tmp_path / "summary.txt").read_text()
    assert "workable" not in [name for name, _ in pyogrio.list_layers(tmp_path / "coverage.gpkg")]


def test_layers_mean_what_the_cells_hold(case: tuple) -> None:
    coverage = case[1]
    work = work_example(case)
    placed = onto(coverage.grid, CRS.from_epsg(3857), most_pixels=400)
    layer, openness = work_overlays(work, coverage.grid, placed)
    assert layer.key.isidentifier()
    assert openness.key.isidentifier()
    pixels = decode(layer.picture)
    index = placed.look_up(look_index(work.found), -1)
    for number, look in enumerate(LOOKS):
        colours = {tuple(rgb) for rgb in pixels[index == number][:, :3].tolist()}
        assert len(colours) == (1 if look.stripes is None else 2), look.name
        words = {layer.values[",".join(map(str, colour))] for colour in colours}
        assert words == {"workable" if number == 0 else f"not workable: {look.name}"}
    outside = (index < 0) | (index == len(LOOKS))
    assert (pixels[outside][:, 3] == 0).all()
    # no claim of open sky on unknown ground
    clear = decode(openness.picture)[..., 3] == 0
    holes = np.isnan(coverage.grid.height_m) & coverage.inside
    assert holes.any()
    assert clear[placed.look_up(holes, False)].mean() > 0.5


def test_hatches_tell_the_reasons_apart_in_grey() -> None:
    for field in ("hatch", "css", "key"):
        assert len({getattr(look, field) for look in LOOKS}) == len(LOOKS)


def test_bands_and_polygons_hold_reasons_and_accuracy(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    work = work_example(case)
    write_coverage(sky_plan(plan), coverage, summary, tmp_path, work)
    inside = work.found.inside
    with rasterio.open(tmp_path / "coverage.tif") as raster:
        assert raster.descriptions[-2:] == ("workable", "horizontal_accuracy_m")
        band = raster.read(raster.count - 1)
        assert set(np.unique(band[np.isfinite(band)]).tolist()) == {0.0, 1.0, 2.0, 4.0, 5.0}
        assert "2 too few satellites" in raster.tags()["WORKABLE"]
        base = next(raster.sample([(plan.base.easting, plan.base.northing)]))
        assert base[-1] == pytest.approx(0.008)
    areas = pyogrio.read_dataframe(tmp_path / "coverage.gpkg", layer="workable")
    cell = coverage.grid.cell_size_m**2
    for _, row in areas.iterrows():
        cells = ((work.found.reason == row["reason"]) & inside).sum()
        assert row["area_m2"] == pytest.approx(float(cells) * cell)
    assert set(areas["reason"]) == {0, 1, 2, 4, 5, UNKNOWN}
    said = json.loads((tmp_path / "summary.json").read_text())["workable"]
    assert said["answer"] == work_line(work)


def test_printed_map_is_full_and_the_same_each_time(case: tuple, tmp_path: Path) -> None:
    plan, coverage, _ = case
    work = work_example(case)
    one = write_work_figure(plan, coverage, work, tmp_path / "one.png").read_bytes()
    assert write_work_figure(plan, coverage, work, tmp_path / "two.png").read_bytes() == one
    with Image.open(tmp_path / "one.png") as image:
        grey = np.asarray(image.convert("L"))
    assert 0.1 < float((grey < 250).mean()) < 0.95


def test_text_index_and_map_say_it(hostile_case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = hostile_case
    work = work_example(hostile_case)
    assert work_line(work) in " ".join(summary_text(plan, coverage, summary, work).split())
    written = write_all(plan, coverage, summary, [], tmp_path, work)
    assert "workable.png" in [one.path.name for one in written]
    with browser_page(tmp_path / "index.html") as (page, asked, complaints):
        assert page.locator("p.verdict").count() == 2
        said = page.locator("p.verdict").nth(1).inner_text().replace("\N{NO-BREAK SPACE}", " ")
        assert said == work_line(work)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert asked == [(tmp_path / "index.html").as_uri()]
        assert complaints == []
    path = write_webmap(plan, coverage, summary, class_areas(coverage), tmp_path / "map.html", work)
    with browser_page(path) as (page, asked, complaints):
        for name in ("Where work can go on", "Open sky"):
            page.get_by_label(name).check()
            assert page.locator("img.cells").count() == 1
        rows, columns = np.nonzero(work.found.reason == NO_SKY)
        middle = len(rows) // 2
        x, y = coverage.grid.centre_of(int(rows[middle]), int(columns[middle]))
        longitude, latitude = coverage.grid.frame.to_geographic(x, y)
        assert "not workable: too little sky" in page.evaluate(
            "([a, b]) => describePlace(a, b)", [latitude, longitude]
        )
        assert asked == [path.as_uri()]
        assert complaints == []
