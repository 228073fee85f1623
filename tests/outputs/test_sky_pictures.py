"""Pictures and page of a sky: what is drawn is where it belongs, within bounds, and nothing is fetched."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from linkplan.outputs import canvas
from linkplan.outputs.sky_folder import write_sky
from linkplan.outputs.sky_map import common_bands, over_cells, sky_map
from linkplan.outputs.sky_plot import on_dial, sky_plot
from linkplan.outputs.sky_style import SYSTEM_LOOKS
from linkplan.outputs.sky_timeline import local_ticks, timeline
from linkplan.sky.results import SystemDay
from linkplan.study import SkyStudy
from tests.outputs.conftest import HOSTILE
from tests.outputs.sky_example import sky_study
from tests.outputs.test_output_webmap import browser_page


@pytest.fixture(scope="module")
def sky(case: tuple) -> SkyStudy:
    return sky_study(case)


def luminance(colour: str) -> float:
    red, green, blue = (int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5))
    return 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2


def test_a_dial_is_a_map_of_the_sky() -> None:
    x, y = on_dial([0.0, 90.0, 180.0, 270.0, 45.0], [0.0, 45.0, 90.0, -5.0, 0.0])
    root = np.sqrt(0.5)
    np.testing.assert_allclose(x, [0.0, 0.5, 0.0, -1.0, root], atol=1e-12)
    np.testing.assert_allclose(y, [1.0, 0.0, 0.0, 0.0, root], atol=1e-12)


def test_systems_differ_by_marker_line_hatch_and_colour() -> None:
    looks = list(SYSTEM_LOOKS.values())
    for field in ("colour", "marker", "line", "hatch"):
        assert len({getattr(look, field) for look in looks}) == len(looks)


@pytest.mark.parametrize("draw", [sky_plot, timeline, sky_map])
def test_figures_are_full_within_bounds_and_the_same_each_time(sky: SkyStudy, draw: object) -> None:
    assert callable(draw)
    with canvas.house_style():
        figure = draw(sky)
        first = canvas.png_bytes(figure)
        assert canvas.png_bytes(draw(sky)) == first
        view = FigureCanvasAgg(figure)
        renderer = view.get_renderer()
        wide, high = figure.get_size_inches() * figure.dpi
        for text in figure.findobj(matplotlib.text.Text):
            if text.get_text() and text.get_visible() and text.get_window_extent(renderer).width > 0:
                box = text.get_window_extent(renderer)
                assert box.x0 >= -1, text.get_text()
                assert box.x1 <= wide + 1, text.get_text()
                assert box.y0 >= -1, text.get_text()
                assert box.y1 <= high + 1, text.get_text()
    image = np.asarray(Image.open(io.BytesIO(first)).convert("RGB"))
    assert 0.03 < float((image < 250).any(axis=-1).mean()) < 0.9


def test_tracks_are_drawn_where_the_satellites_are_seen(sky: SkyStudy) -> None:
    with canvas.house_style():
        dials = [axes for axes in sky_plot(sky).axes if axes.lines]
    assert len(dials) == 2
    names = {text.get_text() for text in dials[0].texts}
    seen = sky.base.visible.any(axis=1)
    for number, satellite in enumerate(sky.base.satellites):
        assert (satellite in names) == (satellite[0] == "G" and bool(seen[number]))
    signs = [one for one in dials[0].lines if one.get_marker() == "o"]
    ends = []
    for number in np.flatnonzero(seen)[:6]:
        last = int(np.flatnonzero(sky.base.visible[number])[-1])
        turn = np.radians(sky.base.azimuth_deg[number, last])
        radius = 1.0 - sky.base.elevation_deg[number, last] / 90.0
        ends.append((radius * np.sin(turn), radius * np.cos(turn)))
    drawn = [(float(np.ravel(one.get_xdata())[0]), float(np.ravel(one.get_ydata())[0])) for one in signs]
    np.testing.assert_allclose(sorted(drawn), sorted(ends), atol=1e-9)


def test_timeline_has_local_time_and_utc_beside_each_other(sky: SkyStudy) -> None:
    with canvas.house_style():
        figure = timeline(sky)
    labels = [text.get_text() for text in figure.findobj(matplotlib.text.Text)]
    ticks = local_ticks(sky.base.day)
    assert len(ticks) == 11
    for moment in ticks:
        assert f"{moment:%H:%M}" in labels
        assert f"{moment.astimezone(sky.base.day.local[0].tzinfo):%H:%M}" in labels
    assert {"corrections held back", "least to send: 7", "greatest to send: 3"} <= set(labels)


def test_a_day_of_a_single_time_is_drawn(case: tuple) -> None:
    sky = sky_study(case)
    base = sky.base
    day = replace(base.day, utc=base.day.utc[:1], local=base.day.local[:1])

    def first(one: SystemDay) -> SystemDay:
        fields = ("satellites", "pdop", "hdop", "vdop", "held_back")
        return replace(one, **{name: getattr(one, name)[:1] for name in fields})

    short = replace(base, day=day, systems=tuple(map(first, base.systems)), together=first(base.together))
    with canvas.house_style():
        figure = timeline(replace(sky, base=short))
        steps = [one for one in figure.axes[0].lines if one.get_drawstyle() == "steps-mid"]
        assert steps[0].get_ydata().tolist() == [base.together.satellites[0]] * 2
        assert canvas.png_bytes(figure)


def test_the_map_spreads_each_place_over_the_cells_nearest_to_it(sky: SkyStudy) -> None:
    rovers = sky.rovers
    cells = over_cells(rovers, sky.inside, rovers.open_share)
    assert np.isnan(cells[~sky.inside]).all()
    np.testing.assert_allclose(cells[rovers.rows, rovers.columns], rovers.open_share)
    bands = common_bands(5)
    assert [sum(band.low <= count < band.high for band in bands) for count in range(30)] == [1] * 30


def test_page_is_one_file_that_asks_for_nothing(hostile_case: tuple, tmp_path: Path) -> None:
    sky = sky_study(hostile_case)
    written = write_sky(sky, tmp_path)
    assert [one.path.name for one in written] == [
        "sky.html", "skyplot.png", "skyplot.svg", "timeline.png", "map.png", "sky.csv", "summary.txt",
        "sky.json",
    ]  # fmt: skip
    page = (tmp_path / "sky.html").read_text(encoding="utf-8")
    assert HOSTILE not in page
    assert "<script" not in page
    names = re.findall(r'\bid="([^"]+)"', page)
    assert len(names) == len(set(names))
    for target in re.findall(r'(?:xlink:)?href="([^"]+)"', page):
        assert target.startswith("#") or (tmp_path / target).exists()
    for used in re.findall(r"url\(#([^)]+)\)", page):
        assert used in names
    ET.parse(tmp_path / "skyplot.svg")
    with browser_page(tmp_path / "sky.html") as (view, asked, complaints):
        assert view.inner_text("h1") == HOSTILE
        assert view.locator("figure.drawing svg").count() == 2
        assert view.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert asked == [(tmp_path / "sky.html").as_uri()]
        assert complaints == []
