"""The browser map: nothing from the web, nothing from the job as markup, and it works in a browser."""

from __future__ import annotations

import base64
import io
import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from pyproj import CRS, Transformer

from linkplan.outputs import readout, style
from linkplan.outputs.leaflet import leaflet
from linkplan.outputs.overlays import overlays
from linkplan.outputs.regrid import onto
from linkplan.outputs.shapes import class_areas
from linkplan.outputs.webmap import MOST_PIXELS, script_json, webmap_html, write_webmap

CHROMIUM = Path("/usr/bin/chromium")


def page_of(case: tuple) -> str:
    return webmap_html(*case, class_areas(case[1]))


def without_leaflet(page: str) -> str:
    software = leaflet()
    bare = page
    for part in (software.script, software.style):
        cleaned = "\n".join(line.rstrip() for line in part.splitlines())
        assert cleaned in page
        bare = bare.replace(cleaned, "")
    return bare


def test_page_refers_to_nothing_outside(case: tuple) -> None:
    page = without_leaflet(page_of(case))
    assert not re.findall(r"""(?:src|href)\s*=\s*["']?\s*(?:https?:)?//""", page, re.I)
    assert not re.findall(r"url\(\s*[\"']?(?!data:|#)", page)
    assert "@import" not in page
    assert not re.findall(r"<(?:link|iframe|object|embed)\b", page, re.I)
    assert "default-src 'none'" in page


def test_leaflet_goes_in_whole_with_its_licence(case: tuple) -> None:
    page = page_of(case)
    assert leaflet().version == "1.9.4"
    for words in (
        "BSD 2-Clause License",
        "Redistributions in binary form",
        "THIS SOFTWARE IS PROVIDED",
        "Agafonkin",
    ):
        assert words in page
    assert "url(images/" not in page
    assert "sourceMappingURL" not in page


def test_folium_s_own_lists_are_left_alone() -> None:
    import folium

    from linkplan.outputs.webmap_frame import OfflineMap

    assert len(folium.Map.default_js) > 2
    assert OfflineMap.default_js == []


def test_nothing_of_the_job_becomes_markup_or_template(hostile_case: tuple) -> None:
    page = page_of(hostile_case)
    assert "<script>alert" not in page
    assert "<b>&amp; Co" not in page
    assert "{{ 7*7 }}" in page  # stays as it is typed: not rendered as a template
    assert "&lt;script&gt;alert(1)" in page
    assert page.count("</script>") == page.count("<script")


def test_json_in_a_script_cannot_end_it() -> None:
    text = script_json({"name": "</script><!-- \u2028 &"})
    assert not re.search("[<>&\u2028]", text)
    assert json.loads(text) == {"name": "</script><!-- \u2028 &"}


def test_page_is_the_same_each_time_and_small(case: tuple) -> None:
    page = page_of(case)
    assert page_of(case) == page
    assert len(page.encode()) < 400_000


def test_large_map_stays_within_its_pixels(case: tuple) -> None:
    placed = onto(case[1].grid, CRS.from_epsg(3857), most_pixels=50)
    assert 48 <= max(placed.shape) <= 51
    assert MOST_PIXELS >= 1000


def decode(uri: str) -> np.ndarray:
    with Image.open(io.BytesIO(base64.b64decode(uri.split(",", 1)[1]))) as image:
        return np.asarray(image.convert("RGBA")).astype(int)


def test_pictures_say_what_the_cells_say(case: tuple) -> None:
    """Every opaque pixel's colour means the value of its cell; unknown cells are transparent."""
    _, coverage, summary = case
    placed = onto(coverage.grid, CRS.from_epsg(3857))
    by_key = {layer.key: layer for layer in overlays(coverage, summary, placed)}
    cell, known = placed.cell, placed.look_up(coverage.class_index, 0) > 0

    def words(key: str) -> np.ndarray:
        image = decode(by_key[key].picture)
        assert ((image[..., 3] == 255) == known).all()
        assert set(np.unique(image[..., 3])) == {0, 255}
        meaning = by_key[key].values
        return np.array([meaning[",".join(map(str, rgb))] for rgb in image[known][:, :3]])

    def cells(values: np.ndarray) -> np.ndarray:
        return values.ravel()[cell[known]]

    names = {one.index: f"{one.index} {one.name}" for one in coverage.classes}
    assert (words("chance") == np.array([names[i] for i in cells(coverage.class_index)])).all()
    margin = [int(re.sub("[^-0-9]", "", word.replace("−", "-"))) for word in words("margin")]
    limit = style.MARGIN_LIMIT_DB
    assert (margin == np.clip(np.rint(cells(coverage.margin_db)), -limit, limit)).all()
    assert ((words("sight") == "in line of sight") == (cells(coverage.line_of_sight) > 0.5)).all()
    fresnel = words("fresnel")
    assert ((fresnel == "ray blocked") == (cells(coverage.fresnel_clearance) < 0)).all()
    assert ((fresnel == style.FRESNEL_BANDS[0].name) == (cells(coverage.fresnel_clearance) >= 1)).all()


def test_legend_s_colours_are_the_picture_s(case: tuple) -> None:
    _, coverage, summary = case
    placed = onto(coverage.grid, CRS.from_epsg(3857))
    for layer in overlays(coverage, summary, placed):
        seen = {tuple(rgb) for rgb in decode(layer.picture)[..., :3].reshape(-1, 3)}
        meant = {tuple(map(int, key.split(","))) for key in layer.values}
        shown = {style.hex_of(style.on_ground(rgb)) for rgb in meant}
        assert {entry["colour"] for entry in layer.legend if "colour" in entry} | set(layer.ramp) <= shown
        assert len(seen & meant) > 1
        assert seen - meant <= {(0, 0, 0)}  # the transparent one


@pytest.mark.parametrize("epsg", [25832, 2229, 4326])
def test_readout_s_formula_is_the_projection(make: Callable[..., tuple], epsg: int) -> None:
    _, coverage, _ = make(epsg=epsg, cell=90.0)  # 14 x 20 km
    placed = onto(coverage.grid, CRS.from_epsg(3857))
    found = readout.fit(coverage.grid, placed)
    rng = np.random.default_rng(1)
    u, v = rng.uniform(-1, 1, (2, 500))
    west, south, east, north = placed.bounds
    x, y = west + (u + 1) * (east - west) / 2, south + (v + 1) * (north - south) / 2
    exact = Transformer.from_crs(3857, epsg, always_xy=True).transform(x, y)
    fitted = (readout.terms(u, v) @ np.array(found.coefficients).T).T
    # shown to 0.1 of the unit, or 1e-6 of a degree
    for one, other in zip(fitted[:2], exact, strict=True):
        np.testing.assert_allclose(one, other, rtol=0, atol=1e-7 if epsg == 4326 else 0.05)


@contextmanager
def browser_page(
    path: Path, width: int = 1200, height: int = 800
) -> Iterator[tuple[Any, list[str], list[str]]]:
    """The file in Chromium without a network: the page, what it asked for, and what it complained of."""
    playwright = pytest.importorskip("playwright.sync_api", reason="the browser tests need playwright")
    if not CHROMIUM.exists():
        pytest.skip("the browser tests need chromium")
    with playwright.sync_playwright() as driver:
        flags = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=flags)
        context = browser.new_context(viewport={"width": width, "height": height}, offline=True)
        page = context.new_page()
        asked: list[str] = []
        complaints: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(path.as_uri())
        page.wait_for_timeout(400)
        yield page, [url for url in asked if not url.startswith("data:")], complaints
        browser.close()


def test_browser_shows_the_map_without_a_network(hostile_case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = hostile_case
    path = write_webmap(plan, coverage, summary, class_areas(coverage), tmp_path / "map.html")
    base = coverage.grid.frame.to_geographic(0.0, 0.0)
    with browser_page(path) as (page, asked, complaints):
        assert page.inner_text("h1") == plan.name
        # signs stand where the map says that they are
        box = page.locator(".sign.base svg").bounding_box()
        frame = page.locator("main").bounding_box()
        point = page.evaluate(
            "([x, y]) => { const p = map_job.latLngToContainerPoint([y, x]); return [p.x, p.y]; }", base
        )
        assert box["x"] + box["width"] / 2 - frame["x"] == pytest.approx(point[0], abs=1.5)
        assert box["y"] + box["height"] / 2 - frame["y"] == pytest.approx(point[1], abs=1.5)
        for gap, dot in zip(summary.gaps, page.locator(".gap-sign .dot").all(), strict=True):
            at = page.evaluate(
                "([x, y]) => { const p = map_job.latLngToContainerPoint([y, x]); return [p.x, p.y]; }",
                [gap.longitude_deg, gap.latitude_deg],
            )
            seen = dot.bounding_box()
            assert seen["x"] + seen["width"] / 2 - frame["x"] == pytest.approx(at[0], abs=1.5)
            assert seen["y"] + seen["height"] / 2 - frame["y"] == pytest.approx(at[1], abs=1.5)
        # what the map says at a place is what the result holds there
        for row, column in ((20, 20), (100, 60), (60, 150), (150, 200)):
            x, y = coverage.grid.centre_of(row, column)
            longitude, latitude = coverage.grid.frame.to_geographic(x, y)
            said = page.evaluate("([a, b]) => describePlace(a, b)", [latitude, longitude])
            easting, northing = coverage.grid.frame.to_job(x, y)
            assert f"E {easting:.1f}, N {northing:.1f}" in said
            index = int(coverage.class_index[row, column])
            assert f"{index} {coverage.classes[index - 1].name}" in said
        unknown = np.argwhere(coverage.class_index == 0)
        row, column = unknown[len(unknown) // 2]
        longitude, latitude = coverage.grid.frame.to_geographic(
            *coverage.grid.centre_of(int(row), int(column))
        )
        assert page.evaluate("([a, b]) => describePlace(a, b)", [latitude, longitude]).endswith("no data")
        # layers switch, gaps open
        for name in ("Link margin", "Line of sight", "Fresnel clearance"):
            page.get_by_label(name).check()
            assert page.locator("img.cells").count() == 1
        page.locator("button.gap").first.click()
        page.wait_for_timeout(600)
        assert "Gap 1" in page.inner_text(".leaflet-popup-content")
        assert page.evaluate(
            "[...document.querySelectorAll('[src],[href]')].every(e => !/^(https?:)?\\/\\//"
            ".test(e.getAttribute('src') || e.getAttribute('href')))"
        )
        assert asked == [path.as_uri()]
        assert complaints == []


@pytest.mark.parametrize(("width", "height"), [(400, 800), (800, 900), (1600, 900)])
def test_whole_job_is_in_sight_at_any_width(case: tuple, tmp_path: Path, width: int, height: int) -> None:
    path = write_webmap(*case, class_areas(case[1]), tmp_path / "map.html")
    with browser_page(path, width, height) as (page, _, complaints):
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        view = page.evaluate("JSON.parse(document.getElementById('job').textContent).view")
        assert page.evaluate(
            "v => map_job.getBounds().contains(L.latLngBounds(v.map(p => [p[1], p[0]])))", view
        )
        assert page.locator("main").bounding_box()["height"] > 250
        assert complaints == []


def boxes_of(page: Any, selector: str) -> list[dict[str, float]]:
    seen = [one for one in page.locator(selector).all() if one.is_visible()]
    return [one.bounding_box() for one in seen]


@pytest.mark.parametrize("width", [400, 1366])
def test_names_and_tags_do_not_overlap_at_any_zoom(case: tuple, tmp_path: Path, width: int) -> None:
    plan, coverage, summary = case
    crowd = tuple(
        replace(plan.control_points[1], name=f"station {i}", easting=plan.base.easting + 40.0 * (i % 6),
                northing=plan.base.northing + 60.0 * (i // 6))
        for i in range(30)
    )  # fmt: skip
    heap = tuple(
        replace(summary.gaps[0], number=i, easting=plan.base.easting + 90.0 * i, northing=plan.base.northing)
        for i in range(1, 9)
    )
    job = replace(plan, control_points=crowd), coverage, replace(summary, gaps=heap, gap_count=8)
    path = write_webmap(*job, class_areas(coverage), tmp_path / "map.html")
    with browser_page(path, width, 700) as (page, _, complaints):
        counts = []
        for zoom in (0, 2, -4):
            page.evaluate("z => map_job.setZoom(map_job.getZoom() + z, {animate: false})", zoom)
            boxes = boxes_of(page, ".sign .tag, .sign .label")
            counts.append(len(boxes))
            for i, one in enumerate(boxes):
                for other in boxes[:i]:
                    apart = (
                        one["x"] + one["width"] <= other["x"] + 0.5
                        or other["x"] + other["width"] <= one["x"] + 0.5
                        or one["y"] + one["height"] <= other["y"] + 0.5
                        or other["y"] + other["height"] <= one["y"] + 0.5
                    )
                    assert apart, (zoom, one, other)
            assert page.locator(".sign.base .label").is_visible()
        assert counts[1] > counts[2] > 0  # more names the nearer one looks
        assert complaints == []


def test_contours_and_limit_can_be_switched(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    near = replace(summary, baseline_limit_m=900.0)
    path = write_webmap(plan, coverage, near, class_areas(coverage), tmp_path / "map.html")
    with browser_page(path) as (page, _, complaints):
        lines = page.locator(".leaflet-contours-pane path")
        drawn = lines.count()
        assert drawn > 5
        for name in ("Contours every", "Baseline limit, 900"):
            box = page.get_by_label(name)
            assert box.is_checked()
            box.uncheck()
        assert lines.count() == 0
        page.get_by_label("Contours every").check()
        assert lines.count() == drawn
        assert complaints == []


def test_contours_lie_where_the_ground_has_their_height(case: tuple) -> None:
    _, coverage, _ = case
    grid = coverage.grid
    data = json.loads(re.search(r'id="job">(.*?)</script>', page_of(case), re.S)[1])
    west, south, _, _ = data["mercator"]
    move = Transformer.from_crs("EPSG:3857", grid.frame.local_crs, always_xy=True)
    tested = 0
    for number, steps in data["contours"]["lines"]:
        if not number:
            continue
        corners = np.cumsum(np.reshape(steps, (-1, 2)), axis=0) * data["contours"]["size"] + [west, south]
        x, y = move.transform(*corners.T)
        row = np.clip(np.rint(grid.base_row - y / grid.cell_size_m).astype(int), 1, grid.shape[0] - 2)
        column = np.clip(np.rint(grid.base_column + x / grid.cell_size_m).astype(int), 1, grid.shape[1] - 2)
        around = [grid.height_m[row + i, column + j] for i in (-1, 0, 1) for j in (-1, 0, 1)]
        level = float(number)
        assert ((np.nanmin(around, axis=0) <= level) & (level <= np.nanmax(around, axis=0))).mean() > 0.98
        tested += len(x)
    assert tested > 50


def test_job_in_wgs84_names_a_place_once(make: Callable[..., tuple]) -> None:
    page = page_of(make(epsg=4326, rows=30, columns=40))
    data = json.loads(re.search(r'id="job">(.*?)</script>', page, re.S)[1])
    assert data["wgs84"] is True
    base = next(place for place in data["places"] if place["kind"] == "base")
    assert sum("46." in line for line in base["lines"]) == 1


def test_print_shows_the_whole_job_and_its_colours(case: tuple, tmp_path: Path) -> None:
    path = write_webmap(*case, class_areas(case[1]), tmp_path / "map.html")
    with browser_page(path, 1366, 700) as (page, _, complaints):
        page.evaluate("map_job.setZoom(map_job.getZoom() + 3, {animate: false})")
        zoomed = page.evaluate("map_job.getZoom()")
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        view = page.evaluate("JSON.parse(document.getElementById('job').textContent).view")
        assert page.evaluate(
            "v => map_job.getBounds().contains(L.latLngBounds(v.map(p => [p[1], p[0]])))", view
        )
        assert (
            page.locator("main").bounding_box()["width"] < 720
        )  # 190 mm at 96 dots an inch: A4 less margins
        assert page.evaluate("getComputedStyle(document.querySelector('.tag')).printColorAdjust") == "exact"
        page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert page.evaluate("map_job.getZoom()") == zoomed
        assert complaints == []
