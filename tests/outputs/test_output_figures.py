"""Figures: the same bytes each time, the colours of the legend on the map, no text that is mathematics."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import matplotlib
import numpy as np
import pytest
from PIL import Image

from linkplan.coverage.results import LinkResult
from linkplan.errors import OutputError
from linkplan.outputs import canvas, style
from linkplan.outputs.figures import write_map_figure, write_profile
from linkplan.outputs.map_figure import map_figure
from linkplan.outputs.map_frame import step_at_least, step_at_most
from linkplan.outputs.map_labels import TAG_HEIGHT_IN, TAG_WIDTH_IN, name_boxes, sign_boxes, tag_positions
from linkplan.outputs.profile_figure import profile_figure
from linkplan.outputs.shapes import Place, class_areas
from linkplan.outputs.text import gaps_title


def texts(figure: matplotlib.figure.Figure) -> list[str]:
    return [one.get_text() for one in figure.findobj(matplotlib.text.Text) if one.get_text()]


def pixels(path: Path) -> np.ndarray:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def share_near(image: np.ndarray, rgb: tuple[int, int, int], reach: int = 8) -> float:
    return float((np.abs(image - np.array(rgb)).max(axis=-1) <= reach).mean())


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_profile_is_the_same_each_time(case: tuple, link: LinkResult, tmp_path: Path, ending: str) -> None:
    first = write_profile(case[0], link, tmp_path / f"one.{ending}").read_bytes()
    assert write_profile(case[0], link, tmp_path / f"two.{ending}").read_bytes() == first


def test_map_is_the_same_each_time(case: tuple, tmp_path: Path) -> None:
    areas = class_areas(case[1])
    first = write_map_figure(*case, areas, tmp_path / "one.png").read_bytes()
    assert write_map_figure(*case, areas, tmp_path / "two.png").read_bytes() == first


def test_settings_of_matplotlib_are_left_alone(case: tuple, link: LinkResult, tmp_path: Path) -> None:
    with matplotlib.rc_context({"font.size": 17.0}):
        write_profile(case[0], link, tmp_path / "one.png")
        assert matplotlib.rcParams["font.size"] == 17.0


def test_svg_is_xml_without_a_date(case: tuple, link: LinkResult, tmp_path: Path) -> None:
    text = write_profile(case[0], link, tmp_path / "one.svg").read_text(encoding="utf-8")
    assert ET.fromstring(text).tag.endswith("svg")
    assert "<dc:date>" not in text


def test_profile_says_what_the_link_says(case: tuple, link: LinkResult) -> None:
    with canvas.house_style():
        said = "\n".join(texts(profile_figure(case[0], link))).replace("\u00a0", " ")
    assert "CP-1 to gap 1" in said
    assert "margin +7.3 dB" in said
    assert "chance of corrections 89 %" in said
    assert link.obstacle is not None
    assert f"worst obstacle, {link.obstacle.distance_m / 1000:.2f} km from CP-1" in said
    assert f"{-link.obstacle.clearance_m:.1f} m above the ray" in said
    assert "CP-1, antenna 5.0 m above ground" in said


def test_profile_draws_ground_ray_and_zone_where_they_are(case: tuple, link: LinkResult) -> None:
    with canvas.house_style():
        axes = profile_figure(case[0], link).axes[0]
    drawn = {line.get_label(): line for line in axes.lines}
    km = link.profile.distance_m / 1000.0
    np.testing.assert_allclose(drawn["straight ray"].get_xdata(), km)
    np.testing.assert_allclose(drawn["straight ray"].get_ydata(), link.ray_m)
    # between the points of the profile too, by the definition of the zone: r^2 = wavelength d1 d2 / (d1 + d2)
    x, y = (1000.0 * drawn["0.6 of the zone"].get_xdata(), drawn["0.6 of the zone"].get_ydata())
    radius = np.sqrt(299.792458 / 451.0 * x * (2400.0 - x) / 2400.0)
    np.testing.assert_allclose(y, np.interp(x, link.profile.distance_m, link.ray_m) - 0.6 * radius)
    assert set(np.round(link.profile.distance_m, 6)) <= set(np.round(x, 6))
    assert (
        np.hypot(*np.diff([x / np.ptp(x), y / np.ptp(y)])).max() < 0.05
    )  # round, not a polygon, at its ends
    ground = link.profile.height_m + link.bulge_m
    assert any(
        np.allclose(line.get_ydata(), ground) for line in axes.lines if len(line.get_ydata()) == km.size
    )


def test_profile_in_feet(make: Callable[..., tuple], link: LinkResult) -> None:
    plan, _, _ = make(epsg=2229, unit="us-survey-foot", rows=12, columns=12)
    with canvas.house_style():
        axes = profile_figure(plan, link).axes[0]
    assert axes.get_xlim()[1] == pytest.approx(2400.0 / (1200.0 / 3937.0))
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("distance from CP-1 (ft)", "height (ft)")


def test_long_path_shows_the_curve_of_the_earth(case: tuple, link: LinkResult) -> None:
    bulge = link.bulge_m * 100.0  # ten times the distance
    with canvas.house_style():
        near = profile_figure(case[0], link).axes[0].get_legend_handles_labels()[1]
        far = profile_figure(case[0], replace(link, bulge_m=bulge)).axes[0].get_legend_handles_labels()[1]
    assert "curve of the earth" not in near
    assert "curve of the earth" in far


def test_open_link_without_obstacle_is_drawn(case: tuple, link: LinkResult, tmp_path: Path) -> None:
    path = write_profile(case[0], replace(link, obstacle=None), tmp_path / "open.png")
    assert path.stat().st_size > 10_000


def test_text_with_dollar_signs_is_no_mathematics(case: tuple, link: LinkResult) -> None:
    named = replace(link, to_name="$x^2$ & Süd")
    with canvas.house_style():
        figure = profile_figure(case[0], named)
        canvas.png_bytes(figure)
        drawn = [one for one in figure.findobj(matplotlib.text.Text) if "Süd" in one.get_text()]
    assert drawn
    assert all(r"\$x^2\$" in one.get_text() for one in drawn)


def test_map_has_each_class_in_the_colour_of_its_chip(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    image = pixels(write_map_figure(plan, coverage, summary, class_areas(coverage), tmp_path / "map.png"))
    split = int(image.shape[1] * 0.71)
    for one in coverage.classes:
        chip = style.on_ground(style.class_rgb(one, coverage.classes))
        assert share_near(image[:, split:], chip) > 0.0004, one.name  # its chip in the legend
        assert share_near(image[:, :split], chip, 24) > 0.002, one.name  # its ground on the map
    assert tuple(image[2, 2]) == (255, 255, 255)


def test_map_letters_the_job_s_own_grid(make: Callable[..., tuple]) -> None:
    plan, coverage, summary = make()
    with canvas.house_style():
        figure = map_figure(plan, coverage, summary, class_areas(coverage))
    axes = figure.axes[0]
    inch = (axes.get_xlim()[1] - axes.get_xlim()[0]) / (axes.get_position().width * figure.get_figwidth())
    lettered = [one for one in axes.texts if one.get_text().endswith(" E")]
    assert len(lettered) >= 3
    for one in lettered:
        x, y = one.xy
        easting, _ = coverage.grid.frame.to_job(x, y)
        stated = float(one.get_text().removesuffix(" E").replace("\u202f", ""))
        assert easting == pytest.approx(stated, abs=0.005 * inch)


def test_map_marks_gaps_base_and_control(case: tuple) -> None:
    plan, coverage, summary = case
    with canvas.house_style():
        said = texts(map_figure(plan, coverage, summary, class_areas(coverage)))
    assert {"G1", "G2", "CP-1", "CP-2", "CP & <3>", "N"} <= set(said)
    assert any("NOT covered as wanted" in one for one in said)


def test_low_wide_map_lists_its_gaps(make: Callable[..., tuple]) -> None:
    plan, coverage, summary = make(rows=80, columns=300)
    with canvas.house_style():
        said = texts(map_figure(plan, coverage, summary, class_areas(coverage)))
    assert gaps_title(summary) in said
    assert "worst margin (dB)" in said


def test_long_name_is_made_to_fit(case: tuple) -> None:
    plan, coverage, summary = case
    with canvas.house_style():
        figure = map_figure(replace(plan, name="Long name " * 40), coverage, summary, class_areas(coverage))
        canvas.png_bytes(figure)
        title = next(one for one in figure.texts if one.get_text().startswith("Long name"))
        assert title.get_window_extent().x1 <= figure.get_figwidth() * figure.dpi
    assert title.get_text().endswith("…")


def test_tags_keep_off_gaps_and_off_each_other() -> None:
    rng = np.random.default_rng(2)
    spots = rng.uniform(200.0, 800.0, (12, 2))
    found = tuple(Place("gap", str(i), x, y, x, y, "weak") for i, (x, y) in enumerate(spots))
    tags = np.array(list(tag_positions(found, (0.0, 0.0, 1000.0, 1000.0), 100.0).values()))
    for i, tag in enumerate(tags):
        apart = np.abs(np.delete(tags, i, axis=0) - tag) / (100.0 * TAG_WIDTH_IN, 100.0 * TAG_HEIGHT_IN)
        assert (apart.max(axis=1) >= 0.999).all()
        clear = np.abs(spots - tag) / (50.0 * TAG_WIDTH_IN, 50.0 * TAG_HEIGHT_IN)
        assert (clear.max(axis=1) >= 1.0).all()


def test_names_keep_off_each_other_and_on_the_map() -> None:
    extent, inch = (0.0, 0.0, 1000.0, 1000.0), 100.0
    spots = [(990.0, 990.0), (500.0, 500.0), (505.0, 503.0), (510.0, 500.0), (503.0, 495.0), (5.0, 5.0)]
    found = tuple(Place("control", str(i), x, y, x, y, "") for i, (x, y) in enumerate(spots))
    signs = sign_boxes(found, inch)
    boxes = name_boxes(found, [1.2] * len(found), extent, inch, signs)
    drawn = [box for box in boxes if box is not None]
    assert boxes[0] is not None  # at a corner, turned inwards
    assert boxes[-1] is not None
    assert any(box is None for box in boxes)  # five names do not fit around one heap of signs
    for i, one in enumerate(drawn):
        assert extent[0] <= one[0] < one[2] <= extent[2]
        assert extent[1] <= one[1] < one[3] <= extent[3]
        for other in (*drawn[:i], *signs):
            assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
    forced = name_boxes(found, [1.2] * len(found), extent, inch, signs, all_of_them=True)
    assert None not in forced


def test_nothing_of_the_frame_lies_on_the_map(make: Callable[..., tuple]) -> None:
    for rows, columns in ((160, 220), (40, 300), (300, 40)):
        plan, coverage, summary = make(rows=rows, columns=columns)
        with canvas.house_style():
            figure = map_figure(plan, coverage, summary, class_areas(coverage))
            canvas.png_bytes(figure)
        ground, *rest = (axes.get_position() for axes in figure.axes)
        for other in rest:
            assert not ground.overlaps(other)
        page = figure.bbox
        for text in figure.findobj(matplotlib.text.Text):
            if text.get_text() and text.get_visible() and text.axes is not figure.axes[0]:
                seen = text.get_window_extent()
                assert page.x0 <= seen.x0 < seen.x1 <= page.x1, text.get_text()
                assert page.y0 <= seen.y0 < seen.y1 <= page.y1, text.get_text()


def test_legend_leaves_nothing_out(case: tuple) -> None:
    plan, coverage, summary = case
    many = tuple(replace(plan.control_points[1], name=f"P{i}") for i in range(30))
    grid = replace(coverage.grid, height_datum="a datum with a long name that takes a second line of room")
    with canvas.house_style():
        drawn = replace(plan, control_points=many), replace(coverage, grid=grid), summary
        figure = map_figure(*drawn, class_areas(coverage))
        canvas.png_bytes(figure)
    said = texts(figure)
    assert "heights above" in said
    assert any(one == "room" for one in said)
    assert any(one.startswith("control point (") and "of 30 named)" in one for one in said)
    assert "baseline limit" not in " ".join(said)  # 10 km: beyond the map
    with canvas.house_style():
        near = map_figure(plan, coverage, replace(summary, baseline_limit_m=900.0), class_areas(coverage))
    assert "baseline limit, 900 m" in [one.replace("\u00a0", " ") for one in texts(near)]
    circles = [line for line in near.axes[0].lines if len(line.get_xdata()) > 100]
    for line in circles:
        np.testing.assert_allclose(np.hypot(line.get_xdata(), line.get_ydata()), 900.0)
    assert len(circles) == 2  # line and casing


def test_a_small_job_far_from_its_base_is_drawn_larger(case: tuple) -> None:
    from shapely import Polygon, transform

    plan, coverage, summary = case
    west, _, _, north = coverage.grid.extent_m
    ring = Polygon([(0.9 * west, 0.7 * north), (0.6 * west, 0.7 * north), (0.7 * west, 0.9 * north)])
    job = transform(ring, lambda xy: np.column_stack(coverage.grid.frame.to_job(xy[:, 0], xy[:, 1])))
    with canvas.house_style():
        figure = map_figure(replace(plan, boundary=job), coverage, summary, class_areas(coverage))
    assert any("times as large" in one for one in texts(figure))
    near = figure.axes[-1]
    (left, right), (low, high) = near.get_xlim(), near.get_ylim()
    assert left < 0.9 * west < 0.6 * west < right
    assert low < 0.7 * north < 0.9 * north < high
    size = near.get_position()
    wide, tall = size.width * figure.get_figwidth(), size.height * figure.get_figheight()
    assert (right - left) / wide == pytest.approx((high - low) / tall)


@pytest.mark.parametrize(
    ("about", "most", "least"), [(1.0, 1, 1), (3.3, 2, 5), (70.0, 50, 100), (0.12, 0.1, 0.2)]
)
def test_steps_are_round(about: float, most: float, least: float) -> None:
    assert step_at_most(about) == pytest.approx(most)
    assert step_at_least(about) == pytest.approx(least)


def test_png_is_small_and_stays_true(case: tuple, link: LinkResult) -> None:
    with canvas.house_style():
        data = canvas.png_bytes(profile_figure(case[0], link))
    assert len(data) < 150_000
    with Image.open(io.BytesIO(data)) as image:
        assert image.mode == "P"
        colours = np.asarray(image.convert("RGB")).astype(int)
    assert share_near(colours, tuple(int(style.RAY[i : i + 2], 16) for i in (1, 3, 5)), 12) > 0.0005


def test_other_endings_are_refused(case: tuple, link: LinkResult, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"\.png or \.svg, not as \.jpg"):
        write_profile(case[0], link, tmp_path / "p.jpg")
    assert list(tmp_path.iterdir()) == []


def test_large_map_is_thinned_without_a_shift(case: tuple, monkeypatch: pytest.MonkeyPatch) -> None:
    from linkplan.outputs import picture

    plan, coverage, summary = case
    whole = picture.class_picture(coverage)
    monkeypatch.setattr(picture, "MOST_CELLS", 60)
    step = picture.step_of(coverage.grid)
    assert step == 4
    thinned = picture.class_picture(coverage, step)
    assert thinned.shape[:2] == tuple(-(-n // step) for n in coverage.grid.shape)
    assert (np.abs(thinned.astype(int) - whole[::step, ::step]).mean(axis=(0, 1)) < 12).all()
    with canvas.house_style():
        shown = map_figure(plan, coverage, summary, class_areas(coverage)).axes[0].images[0]
    west, _, _, north = coverage.grid.extent_m
    left, right, bottom, top = shown.get_extent()
    assert (left, top) == (west, north)
    assert (
        (right - left) / thinned.shape[1]
        == (top - bottom) / thinned.shape[0]
        == step * coverage.grid.cell_size_m
    )
