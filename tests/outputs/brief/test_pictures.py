"""The brief's drawings: true to scale by their own bar, every number there, no label on another."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import fields, replace
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from linkplan.outputs.brief.picture_words import ENGLISH, PictureWords
from linkplan.outputs.brief.pictures import Drawn, base_picture, job_picture
from linkplan.outputs.brief.pictures_base import base_board
from linkplan.outputs.brief.pictures_board import fitted, wrapped
from linkplan.outputs.brief.pictures_job import job_board
from linkplan.outputs.brief.pictures_svg import drawn
from linkplan.outputs.brief.pictures_type import drawing_style, width_in
from linkplan.outputs.formats import Formats
from linkplan.outputs.safety_text import band_ends, keep, safety_text
from linkplan.plan.model import ControlPoint
from linkplan.safety.results import Reach
from linkplan.study import BriefFacts
from linkplan.tables.exposure import PUBLIC, WORKER
from tests.outputs.brief.briefs import facts_of, full_of_it
from tests.outputs.conftest import HOSTILE, Case

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"
BOARDS = {"job": job_board, "base": base_board}
PICTURES = {"job": job_picture, "base": base_picture}
SIZES = [(7.08, 2.6), (7.08, 4.5), (3.4, 7.5)]
NAMES = (
    HOSTILE,
    r"$\frac{a}{b}$ 100 % {radius}",
    "the old survey pillar beside the northern gate of quarry no. 7",
    "نقطة التحكم الشرقية",
    "点十二 Ŝtono",
    "\x00\x07\x1b[31mred \ud800 -- >",
    "\u202eright to left\u0301\U0001f6a7",
)


@pytest.fixture(scope="module")
def full(case: Case) -> BriefFacts:
    """Zones with gaps, overhead lines of which one is too near, a fence, and circles on the ground."""
    return with_circles(facts_of(case, **full_of_it(case)), 5.31, 2.37)


def with_circles(facts: BriefFacts, public_m: float, worker_m: float, **reach: Any) -> BriefFacts:
    """The same with other radii on the ground."""
    radius = {PUBLIC: public_m, WORKER: worker_m}

    def keyed(one: Reach, group: str) -> Reach:
        return replace(one, ground_radius_m=radius[group], **reach)

    figures = tuple(replace(one, keyed=keyed(one.keyed, one.group)) for one in facts.safety.exposure.figures)
    exposure = replace(facts.safety.exposure, figures=figures)
    return replace(facts, safety=replace(facts.safety, exposure=exposure))


def renamed(facts: BriefFacts, names: tuple[str, ...] = NAMES) -> BriefFacts:
    """The same under other names of points, zones and lines."""
    plan, frame, extent = (
        facts.study.plan,
        facts.study.coverage.grid.frame,
        facts.study.coverage.grid.extent_m,
    )
    points = []
    for number, name in enumerate(names):
        share = 0.1 + 0.8 * number / len(names)
        x, y = 0.7 * extent[0] + share * 1.5 * extent[2], extent[1] + share * (extent[3] - extent[1])
        points.append(ControlPoint(name, *map(float, frame.to_job(x, y)), None))
    zones = tuple(replace(one, name=names[i % len(names)]) for i, one in enumerate(facts.safety.zones))
    lines = tuple(replace(one, name=names[i % len(names)]) for i, one in enumerate(facts.safety.mast.lines))
    mast = replace(facts.safety.mast, lines=lines)
    plan = replace(plan, name=names[0], base=replace(plan.base, name=names[0]), control_points=tuple(points))
    study = replace(facts.study, plan=plan)
    return replace(facts, study=study, safety=replace(facts.safety, zones=zones, mast=mast))


@contextmanager
def figure_of(
    kind: str, facts: BriefFacts, width: float = 7.08, most: float = 4.5, words: PictureWords = ENGLISH
) -> Iterator[Figure]:
    with drawing_style():
        yield BOARDS[kind](facts, words, width, most).figure


def part(figure: Figure, gid: str) -> Axes:
    return next(axes for axes in figure.axes if axes.get_gid() == gid)


def said(figure: Figure) -> list[str]:
    found = [one.get_text().replace("\u00a0", " ") for one in figure.findobj(Text) if one.get_visible()]
    return [text for text in found if text.strip()]


def points_a_metre(figure: Figure) -> float:
    """By the scale bar, as who holds a ruler to the paper finds it: its parts and what is written there."""
    strip = next(axes for axes in figure.axes if any(one.get_text() == "N" for one in axes.texts))
    parts = [one for one in strip.patches if isinstance(one, Rectangle)]
    ends = [one.get_window_extent().x0 for one in parts], [one.get_window_extent().x1 for one in parts]
    number, unit = re.fullmatch(r"([\d.\u202f]+) (m|km|ft)", strip.texts[1].get_text()).groups()  # type: ignore[union-attr]
    metres = float(number.replace("\u202f", "")) * {"m": 1.0, "km": 1000.0, "ft": 1200.0 / 3937.0}[unit]
    return (max(ends[1]) - min(ends[0])) * 72.0 / figure.dpi / metres


def path_of(drawing: Drawn, gid: str) -> np.ndarray:
    """Corners of a drawn path, points on paper."""
    group = next(one for one in ET.fromstring(drawing.svg).iter(f"{SVG}g") if one.get("id") == gid)
    numbers = re.findall(r"-?\d+(?:\.\d+)?", group.find(f"{SVG}path").get("d"))  # type: ignore[union-attr,arg-type]
    return np.array(numbers, dtype=float).reshape(-1, 2)


def test_circles_are_as_large_as_the_results_by_the_scale_bar(full: BriefFacts) -> None:
    with figure_of("base", full) as figure:
        scale, drawing = points_a_metre(figure), drawn(figure)
    wanted = {
        "circle-public": 5.31,
        "circle-worker": 2.37,
        "circle-fall": full.safety.mast.fall_radius_m,
        "circle-fence": 4.0,
    }
    for gid, radius_m in wanted.items():
        across = np.ptp(path_of(drawing, gid), axis=0) / 2.0 / scale
        assert across == pytest.approx([radius_m, radius_m], rel=5e-3), gid
    middles = [path_of(drawing, gid).min(axis=0) + path_of(drawing, gid).max(axis=0) for gid in wanted]
    assert np.ptp(middles, axis=0).max() < 0.1


def test_an_overhead_line_lies_as_far_away_as_the_result_says(full: BriefFacts) -> None:
    # the line of the example runs north and south, 11 m east of the mast
    nearest = min(full.safety.mast.lines, key=lambda one: one.distance_m)
    with figure_of("base", full) as figure:
        scale, axes = points_a_metre(figure), part(figure, "around")
        to_points = axes.transData.transform([(0.0, 0.0), (nearest.distance_m, 0.0)]) * 72.0 / figure.dpi
        upright = [one for one in axes.lines if np.ptp(one.get_xdata()) < 0.05 and len(one.get_xdata()) > 1]
        at = {round(float(np.mean(one.get_xdata())), 1) for one in upright}
        words = said(figure)
    assert np.ptp(to_points[:, 0]) / scale == pytest.approx(nearest.distance_m, rel=5e-3)
    assert round(nearest.distance_m, 1) in at
    assert not nearest.held
    assert any(text.startswith("TOO NEAR: 11.00 m away") for text in words)
    assert "clearance 4.57 m: valley line" in words


def test_map_is_true_to_its_scale_bar(full: BriefFacts, make: Callable[..., Case]) -> None:
    for facts in (full, facts_of(make(epsg=2229, unit="us-survey-foot"))):
        for size in SIZES:
            with figure_of("job", facts, *size) as figure:
                axes = part(figure, "map")
                corners = axes.transData.transform([(0.0, 0.0), (1000.0, 0.0), (0.0, 1000.0)])
                scale = points_a_metre(figure) * 1000.0 * figure.dpi / 72.0
            assert corners[1, 0] - corners[0, 0] == pytest.approx(scale, rel=2e-3)
            assert corners[2, 1] - corners[0, 1] == pytest.approx(scale, rel=2e-3)


def test_map_numbers_gaps_zones_and_their_gaps(full: BriefFacts) -> None:
    with figure_of("job", full) as figure:
        words = {one.get_text() for one in part(figure, "map").texts}
        beside = " ".join(said(figure))
    gaps = {f"G{gap.number}" for gap in full.study.summary.gaps}
    inside = {f"Z{i}.{gap.number}" for i, zone in enumerate(full.safety.zones, 1) for gap in zone.gaps}
    assert inside
    assert gaps | inside | {"Z1", "Z2", "Z3", "CP-1", "CP-2"} <= words
    assert {str(one.index) for one in full.study.coverage.classes} & words
    for text in ("machines: haul road", "people: stakeout", "overhead line", "no data", "95 % or more"):
        assert text in beside


def test_radii_are_rounded_away_from_people_as_the_text_does(full: BriefFacts) -> None:
    show = Formats.of(full.study.plan)
    # by hand: 5.31 up to 5.4, 2.37 up to 2.4; a band's lower end goes down
    reach = full.safety.exposure.figures[0].keyed
    assert (keep(5.31, show), keep(2.0, show)) == ("5.4 m", "2.0 m")
    assert band_ends(replace(reach, lowest_m=2.78), show)[0] == "2.7"
    assert keep(1.0, replace(show, height_unit="foot")) == "3.3 ft"  # 3.2808 ft
    with figure_of("base", full) as figure:
        words = said(figure)
    fall = keep(full.safety.mast.fall_radius_m, show)
    assert {"keep out 5.4 m", "workers 2.4 m", f"fall {fall}", "fence 4.0 m"} <= set(words)
    text = safety_text(full.study.plan, full.safety)
    assert f"falls within {fall}" in text
    assert "5.4" in text


def test_no_circle_on_the_ground_is_said_as_a_band(full: BriefFacts) -> None:
    aloft = with_circles(full, 0.0, 0.0, lowest_m=2.78, highest_m=3.21, near_field=True)
    with figure_of("base", aloft) as figure:
        words, patches = said(figure), [one.get_gid() for one in part(figure, "around").patches]
    assert words.count("2.7 to 3.3 m up") == 2
    far = keep(full.safety.exposure.far_field_from_m, Formats.of(full.study.plan))
    assert ENGLISH.near_field.format(far=far) in " ".join(words)
    assert "circle-public" not in patches
    assert not any("0.0 m" in text for text in words)


def test_circles_that_do_not_fit_are_said_beside(full: BriefFacts) -> None:
    wide = with_circles(replace(full, safety=replace(full.safety, fence_m=400.0)), 0.2, 0.1)
    with figure_of("base", wide) as figure:
        words, gids = said(figure), [one.get_gid() for one in part(figure, "around").patches]
    assert {"0.2 m", "0.1 m", "400.0 m", ENGLISH.too_large} <= set(words)
    assert ENGLISH.too_small in " ".join(words)
    assert "circle-fall" in gids
    assert not {"circle-public", "circle-fence"} & set(gids)


def boxes(texts: list[Text], figure: Figure) -> list[tuple[str, shapely.Polygon]]:
    figure.set_dpi(600.0)  # type is fitted to pixels: at fewer of them its widths are off by some
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    shown = [one for one in texts if one.get_text().strip() and one.get_visible()]
    return [
        (one.get_text(), shapely.box(*one.get_window_extent(canvas.get_renderer()).extents)) for one in shown
    ]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("kind", list(BOARDS))
@pytest.mark.parametrize("names", [False, True])
def test_no_text_is_small_cut_off_or_on_another(
    full: BriefFacts, kind: str, size: tuple[float, float], names: bool
) -> None:
    facts = renamed(full) if names else full
    with figure_of(kind, facts, *size) as figure:
        texts = figure.findobj(Text)
        assert min(one.get_fontsize() for one in texts if one.get_text().strip()) >= 6.5
        found = boxes(texts, figure)
        width, height = figure.get_size_inches()
        assert height <= size[1] + 1e-6
    sheet = shapely.box(0.0, 0.0, width * figure.dpi, height * figure.dpi).buffer(2.0)
    for text, box in found:
        assert sheet.covers(box), text
    tree = shapely.STRtree([box for _, box in found])
    for i, (text, box) in enumerate(found):
        for other in tree.query(box.buffer(-4.0), predicate="intersects"):
            assert other == i, (text, found[other][0])


@pytest.mark.parametrize("kind", list(PICTURES))
def test_same_bytes_small_and_whole_in_itself(full: BriefFacts, kind: str) -> None:
    one = PICTURES[kind](full, ENGLISH, 7.08, 4.5)
    assert PICTURES[kind](full, ENGLISH, 7.08, 4.5) == one
    assert len(one.svg) < 600_000
    root = ET.fromstring(one.svg)
    assert root.get("width") == f"{one.width_in * 72:g}pt"
    assert one.height_in <= 4.5
    names = re.sub(rb' xmlns(:\w+)?="[^"]*"', b"", one.svg)
    assert b"http" not in names
    assert b"<!DOCTYPE" not in names
    for element in root.iter():
        assert element.tag.removeprefix(SVG) not in {"script", "foreignObject", "metadata"}
        link = element.get(HREF) or element.get("href")
        assert link is None or link.startswith(("#", "data:image/png;base64,"))
        assert "url(" not in "".join(element.attrib.values()).replace("url(#", "")


@pytest.mark.parametrize("kind", list(PICTURES))
def test_names_are_plain_text(full: BriefFacts, kind: str) -> None:
    hostile = renamed(full)
    root = ET.fromstring(PICTURES[kind](hostile, ENGLISH, 7.08, 4.5).svg)
    assert not [one for one in root.iter() if one.tag.removeprefix(SVG) in {"script", "text", "b"}]
    with figure_of(kind, hostile) as figure:
        words = said(figure)
    assert any(text.startswith('Grube "Süd"') for text in words)
    assert any(r"\$\frac{a}{b}\$" in text for text in words)  # escaped: no mathematics


@pytest.mark.parametrize("kind", list(BOARDS))
def test_every_word_comes_from_the_words(full: BriefFacts, kind: str) -> None:
    values: dict[str, Any] = {}
    for field in fields(PictureWords):
        if field.name not in {"class_names", "class_meanings"}:
            holes = re.findall(r"\{\w+\}", getattr(ENGLISH, field.name))
            values[field.name] = " ".join([f"«{field.name}»", *holes])
    values["north"] = "N"
    values["class_names"] = {one.key: f"«{one.key}»" for one in full.study.coverage.classes}
    values["class_meanings"] = {one.meaning: f"«{one.index}»" for one in full.study.coverage.classes}
    words = PictureWords(**values)
    names = {full.study.plan.base.name, *(point.name for point in full.study.plan.control_points)}
    names |= {one.name for one in (*full.safety.mast.lines, *full.safety.zones)}
    with figure_of(kind, full, words=words) as figure:
        left = [text for text in said(figure) if "«" not in text and text not in names]
    number = r"…|[\d\s.\u202f]*(m|km|%)?|N|.*EPSG.*|UTM.*"
    plain = [text for text in left if not re.fullmatch(number, text)]
    assert [text for text in plain if not any(text in name or name in text for name in names)] == []


def test_a_base_far_away_has_a_map_of_its_own(case: Case) -> None:
    plan, coverage, summary = case
    _, _, east, north = coverage.grid.extent_m
    job = coverage.grid.frame.geometry_to_job(shapely.box(0.75 * east, 0.7 * north, 0.9 * east, 0.85 * north))
    facts = facts_of((plan, coverage, summary), boundary=job)
    with figure_of("job", facts) as figure:
        axes, words = part(figure, "map"), said(figure)
        (west, right), (south, top) = axes.get_xlim(), axes.get_ylim()
    assert west > 0.0
    assert south > 0.0
    assert (west, top) == pytest.approx((0.75 * east, 0.85 * north), abs=0.1 * (right - west))
    assert ENGLISH.overview in words
    assert len(figure.axes) == 4  # the sheet, the map, its scale, the small one


def test_large_maps_are_thinned_and_stay_in_place(case: Case) -> None:
    facts, times = facts_of(case), 9
    coverage = facts.study.coverage
    fine = {
        name: np.kron(getattr(coverage.grid, name), np.ones((times, times)))
        for name in ("height_m", "clutter_height_m")
    }
    grid = replace(
        coverage.grid,
        cell_size_m=coverage.grid.cell_size_m / times,
        base_row=coverage.grid.base_row * times + times // 2,
        base_column=coverage.grid.base_column * times + times // 2,
        **fine,
    )
    index = np.kron(coverage.class_index, np.ones((times, times), np.uint8))
    study = replace(facts.study, coverage=replace(coverage, grid=grid, class_index=index))
    assert grid.extent_m == pytest.approx(coverage.grid.extent_m)
    with figure_of("job", facts) as plain, figure_of("job", replace(facts, study=study)) as figure:
        one, other = part(plain, "map").images[0], part(figure, "map").images[0]
        assert max(other.get_array().shape) <= 900
        # the same ground under the same place: classes by their colour, a few cells of the thinned map apart
        share = np.linspace(0.02, 0.98, 60)
        seen = []
        for image in (one, other):
            (left, right, low, high), (rows, columns, _) = image.get_extent(), image.get_array().shape
            west, south, east, north = coverage.grid.extent_m
            x, y = west + share * (east - west), south + share * (north - south)
            column = ((x - left) / (right - left) * columns).astype(int).clip(0, columns - 1)
            row = ((high - y) / (high - low) * rows).astype(int).clip(0, rows - 1)
            seen.append(image.get_array()[np.ix_(row, column)].astype(int))
    assert (np.abs(seen[0] - seen[1]).max(axis=-1) < 40).mean() > 0.95
    assert len(job_picture(replace(facts, study=study), ENGLISH, 7.08, 4.5).svg) < 600_000


def test_text_is_cut_and_broken_to_the_room_there_is() -> None:
    long = "a control point beside the northern gate of the old quarry"
    with drawing_style():
        assert fitted("short", 7.0, 2.0) == "short"
        cut = fitted(long, 7.0, 1.0)
        lines = wrapped(long, 7.0, 1.0, 2)
        assert width_in(cut, 7.0) <= 1.0
        assert all(width_in(line, 7.0) <= 1.0 for line in lines)
    assert cut.endswith("…")
    assert long.startswith(cut[:-1].rstrip())
    assert len(lines) == 2
    assert lines[1].endswith("…")
    assert wrapped("", 7.0, 1.0, 2) == [""]
