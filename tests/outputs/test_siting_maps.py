"""Maps of a search: every place and line where it is, numbers that keep off each other, names as text."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from pyproj import CRS, Transformer

from linkplan.outputs import canvas, style
from linkplan.outputs.map_figure import map_figure
from linkplan.outputs.regrid import onto
from linkplan.outputs.shapes import class_areas
from linkplan.outputs.siting_curve import curve_figure
from linkplan.outputs.siting_drawing import place_marks
from linkplan.outputs.siting_files import LAYER
from linkplan.outputs.siting_marks import OUTLINES, extra_of
from linkplan.outputs.siting_webmap import GROUP_OF_OUTLINES, STROKES, _serving, write_siting_webmap
from linkplan.siting.results import SitingResult
from tests.outputs.conftest import HOSTILE
from tests.outputs.siting_example import Case, one_base, several, siting_plan
from tests.outputs.test_output_webmap import boxes_of, browser_page, without_leaflet


def page(case: Case, path: Path, *, mode: str = "one", names: dict[str, str] | None = None) -> SitingResult:
    plan, (_, coverage, summary) = siting_plan(case, mode=mode, names=names), case
    result, combined = (one_base(plan), None) if mode == "one" else several(plan, coverage)
    extra = extra_of(plan, result, coverage.grid.frame)
    write_siting_webmap(
        plan, coverage, summary, class_areas(coverage), extra, path,
        set_ups=result.together.set_ups if result.together else (),
        serving=combined.serving if combined else None,
    )  # fmt: skip
    return result


def data_of(path: Path) -> dict[str, Any]:
    text = path.read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(re.search(r'id="job">(.*?)</script>', text, re.S)[1])
    return found


def apart(one: dict[str, float], other: dict[str, float]) -> bool:
    return (
        one["x"] + one["width"] <= other["x"] + 0.5
        or other["x"] + other["width"] <= one["x"] + 0.5
        or one["y"] + one["height"] <= other["y"] + 0.5
        or other["y"] + other["height"] <= one["y"] + 0.5
    )


def test_page_has_every_place_where_it_is(case: Case, tmp_path: Path) -> None:
    path = tmp_path / "map.html"
    result = page(case, path)
    data = data_of(path)
    move = Transformer.from_crs(case[0].crs, 4326, always_xy=True)
    marks = {place["label"]: place for place in data["places"] if "sign" in place}
    assert len(marks) == 24
    for one in result.judged:
        place = one.candidate.place
        # 1e-6 of a degree: 0.11 m, and 0.05 m of the local frame's own
        np.testing.assert_allclose(
            marks[place.name]["at"], move.transform(place.easting, place.northing), atol=2e-6
        )
    assert {marks[name]["sign"] for name in ("R0", "R1", "R2")} == {"out"}
    assert "7.2 m from overhead line valley line, 7.6 m asked for" in " ".join(marks["R0"]["lines"]).replace(
        "\N{NO-BREAK SPACE}", " "
    )
    assert marks["CP-1"]["sign"] == "first"
    assert [marks[f"R{i}"]["number"] for i in (3, 4, 5)] == ["3", "4", "5"]
    # a control point that is no candidate keeps its own sign
    assert [place["label"] for place in data["places"] if "sign" not in place] == ["CP & <3>"]
    names = [one["name"] for one in data["outlines"]]
    assert names == ["Ground where no mast may stand", "Zones", "Overhead lines", "Tracks"]


def test_outlines_have_looks_and_names() -> None:
    assert STROKES.keys() == GROUP_OF_OUTLINES.keys() == LAYER.keys() == OUTLINES.keys()
    shapes = {
        tuple(
            (stroke.get("dashArray", ""), stroke["weight"], stroke.get("fill", False)) for stroke in strokes
        )
        for strokes in STROKES.values()
    }
    assert len(shapes) == len(STROKES)  # told apart without colour


def test_page_works_offline_and_numbers_do_not_overlap(case: Case, tmp_path: Path) -> None:
    path = tmp_path / "map.html"
    page(case, path)
    with browser_page(path) as (seen, asked, complaints):
        assert asked == [path.as_uri()]
        for zoom in (0, -4):
            seen.evaluate("z => map_job.setZoom(map_job.getZoom() + z, {animate: false})", zoom)
            boxes = boxes_of(seen, ".leaflet-marker-pane .mark")
            boxes = [one for one in boxes if one["width"] > 12]
            assert all(apart(one, other) for i, one in enumerate(boxes) for other in boxes[:i])
            labels = boxes_of(seen, ".sign .label")
            assert all(apart(one, other) for i, one in enumerate(labels) for other in labels[:i])
            assert seen.locator(".leaflet-marker-pane .sign.first .mark").is_visible()
        rows = seen.locator("#gaps .gap")
        assert rows.count() == 21
        assert rows.first.inner_text().startswith("1")
        rows.nth(4).click()
        assert "rank 5 of 21" in seen.locator(".leaflet-popup-content").inner_text()
        crosses = seen.locator(".leaflet-marker-pane .cross")
        assert crosses.count() == 3
        seen.get_by_label("Places ruled out").uncheck()
        assert crosses.count() == 0
        drawn = seen.locator(".leaflet-found-pane path")
        before = drawn.count()
        seen.get_by_label("Overhead lines").uncheck()
        assert drawn.count() == before - len(STROKES["line"])
        assert complaints == []


def test_set_ups_on_the_page(case: Case, tmp_path: Path) -> None:
    path = tmp_path / "map.html"
    page(case, path, mode="repeaters")
    with browser_page(path) as (seen, _, complaints):
        assert seen.locator("#gaps .gap").count() == 3
        assert seen.locator(".leaflet-marker-pane .repeater").count() == 2
        seen.get_by_label("Which set-up serves").check()
        lat, lng = seen.evaluate("[map_job.getCenter().lat, map_job.getCenter().lng]")
        seen.wait_for_timeout(200)
        said = seen.evaluate("at => describePlace(at[0], at[1])", [lat, lng])
        assert "served best by set-up 2" in said
        assert "from the base" not in said  # there is no one base
        assert complaints == []


def test_serving_layer_reads_back(case: Case) -> None:
    plan, coverage = siting_plan(case, mode="corridor"), case[1]
    result, combined = several(plan, coverage)
    assert result.together is not None
    many = tuple(replace(result.together.set_ups[0], order=order) for order in range(1, 24))
    placed = onto(coverage.grid, CRS.from_epsg(3857))
    layer = _serving(many, combined.serving, placed)
    assert len(layer.values) == 23  # a colour of its own each
    three = _serving(result.together.set_ups, combined.serving, placed)
    rgb = [tuple(map(int, key.split(","))) for key in three.values]
    grey = [0.299 * r + 0.587 * g + 0.114 * b for r, g, b in rgb]
    # neighbours are told apart in black and white
    assert min(abs(one - other) for one, other in pairwise(grey)) > 40


def test_hostile_names_stay_text_on_the_page(case: Case, tmp_path: Path) -> None:
    path = tmp_path / "map.html"
    page(case, path, names={"CP-1": HOSTILE, "line": HOSTILE, "strip": HOSTILE, "R0": HOSTILE + "0"})
    text = without_leaflet(path.read_text(encoding="utf-8"))
    assert "<script>alert" not in text
    assert "<b>&amp; Co" not in text
    assert text.count("</script>") == text.count("<script")
    with browser_page(path) as (seen, _, complaints):
        seen.locator("#gaps .gap").first.click()
        assert "alert(1)" in seen.locator(".leaflet-popup-content").inner_text()
        assert complaints == []


def test_map_on_paper_has_marks_outlines_and_their_signs(case: Case) -> None:
    plan, (_, coverage, summary) = siting_plan(case), case
    result = one_base(plan)
    extra = extra_of(plan, result, coverage.grid.frame)
    with canvas.house_style():
        figure = map_figure(plan, coverage, summary, class_areas(coverage), extra)
        words = [text.get_text() for axes in figure.axes for text in axes.texts]
        words += [text.get_text() for text in figure.texts]
    for sign in (
        "best place", "place that serves, by rank", "place ruled out", "ground where no mast may stand",
        "zones", "overhead line", "control point", "boundary of the job",
    ):  # fmt: skip
        assert sign in words
    assert "base" not in words
    assert not any(re.fullmatch(r"G\d+", word) for word in words)
    assert any("98.1\N{NO-BREAK SPACE}% of the job" in word for word in words)
    assert {"1", "2", "21", "CP-1", "CP & <3>"} <= set(words)
    assert any("CP-1, mast" in word for word in words)
    assert "and 11 more" in words


def test_marks_on_paper_keep_off_each_other(case: Case) -> None:
    plan, coverage = siting_plan(case), case[1]
    extra = extra_of(plan, one_base(plan), coverage.grid.frame)
    crowd = replace(
        extra,
        marks=tuple(replace(one, x_m=33.0 * i, y_m=14.0 * (i % 5)) for i, one in enumerate(extra.marks)),
    )
    inch = 300.0
    placed = place_marks(crowd, coverage.grid.extent_m, inch, [])
    numbered = [one for one in placed if one.numbered]
    boxes = [box for one in numbered for box in one.boxes(inch)]
    for i, one in enumerate(boxes):
        for other in boxes[:i]:
            wide = min(one[2], other[2]) - max(one[0], other[0])
            high = min(one[3], other[3]) - max(one[1], other[1])
            assert wide <= 1e-9 or high <= 1e-9
    assert 1 < len(numbered) < 21
    assert any(one.mark.number == "1" for one in numbered)


def test_map_of_repeaters_and_a_map_in_feet(make: Callable[..., Case], tmp_path: Path) -> None:
    case = make(unit="us-survey-foot", epsg=2229, rows=60, columns=80)
    plan, (_, coverage, summary) = siting_plan(case, mode="repeaters"), case
    result, _ = several(plan, coverage)
    extra = extra_of(plan, result, coverage.grid.frame)
    with canvas.house_style():
        figure = map_figure(plan, coverage, summary, class_areas(coverage), extra)
        canvas.save(figure, tmp_path / "map.png")
        words = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert {"repeater", "from base to repeater", "place that is not needed", "Set-ups"} <= set(words)
    magenta = tuple(int(style.BASE_FILL[i : i + 2], 16) for i in (1, 3, 5))
    pixels = np.asarray(Image.open(tmp_path / "map.png").convert("RGB")).astype(int)
    assert (np.abs(pixels - magenta).max(axis=2) < 12).sum() > 500


def test_curve_draws_the_steps(case: Case) -> None:
    plan = siting_plan(case)
    result = one_base(plan)
    with canvas.house_style():
        figure = curve_figure(plan, result)
        axes = figure.axes[0]
        drawn = {line.get_label(): line.get_xydata() for line in axes.lines}
    np.testing.assert_allclose(
        drawn["CP-1, 2 W"], [[2.0, 63.0], [3.0, 82.0], [4.0, 92.0], [5.0, 96.0], [8.0, 98.0]]
    )
    assert "CP-2, 2 W" in drawn
    unweighted = replace(result, zone_names=())
    with canvas.house_style():
        words = [text.get_text() for text in curve_figure(plan, unweighted).axes[0].texts]
    assert "wanted" in words
