"""Where the prediction was wrong, on the map: for paper, and for a browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.check import FieldAnswer
from linkplan.outputs import canvas, fieldcheck_words, formats, style
from linkplan.outputs.canvas import plain, write_fitted
from linkplan.outputs.fieldcheck_marks import (
    CAME,
    KEPT,
    LEFT,
    MOST_SIGNS,
    NAMES,
    OTHER_SIGN,
    SIGN,
    STRONG,
    UNKEPT,
    UNPROMISED,
    WEAK,
    WRONG_SIGN,
    FieldMark,
    kinds_of,
    marks_of,
)
from linkplan.outputs.files import write_file
from linkplan.outputs.formats import Formats, counted, typeset
from linkplan.outputs.ground_panel import Look, draw_looks, draw_panel, draw_scale, looks_height_in
from linkplan.outputs.map_figure import draw_class_numbers
from linkplan.outputs.overlays import Overlay, data_uri
from linkplan.outputs.regrid import Regrid
from linkplan.outputs.shapes import class_areas, drawn_boundary, places
from linkplan.outputs.siting_drawing import draw_mark
from linkplan.outputs.siting_words import clean
from linkplan.outputs.webmap import More, asset, rounded, webmap_html

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MAP_WIDE_IN, MAP_HIGH_IN = 6.6, 7.6
TOP_IN, SCALE_IN, SIDE_IN, LEGEND_WIDE_IN, BOTTOM_IN = 1.35, 0.5, 0.25, 3.75, 0.4
SIGN_ROW_IN = 0.27
TRACK, TRACK_SIZE = "track", 1.6
SHAPES = {CAME: ("D", 4.0, "white"), WEAK: ("v", 3.6, "black"), STRONG: ("^", 3.6, "black")}
"""Marker, size and fill of signs that only this map has."""
MOST_DOTS = 6000
"""Of the track."""
NUMBER_IN = 0.19
"""Across a numbered sign."""

COLOURS: dict[str, style.Rgb] = {
    KEPT: style.VIRIDIS[4],
    LEFT: style.VIRIDIS[2],
    UNPROMISED: style.VIRIDIS[1],
    UNKEPT: (214, 0, 108),
}
"""Of cells that were visited; the broken promise in the base's magenta, which is on no scale."""
GROUPS = {"wrong": "Where map and logs disagree most", "other": "Another base used"}


def write_field_figure(answer: FieldAnswer, path: Path) -> Path:
    """Draw the map as .png or .svg. Raises OutputError."""
    with canvas.house_style():
        return canvas.save(field_figure(answer), path)


def field_figure(answer: FieldAnswer) -> Figure:
    """The figure; to be called inside `canvas.house_style()`."""
    grid = answer.coverage.grid
    west, south, east, north = grid.extent_m
    ratio = (north - south) / (east - west)
    wide = min(MAP_WIDE_IN, MAP_HIGH_IN / ratio)
    tall = wide * ratio
    looks = _looks(answer)
    marks = marks_of(answer)
    signs = _signs(answer, marks, (east - west) / wide)
    legend, signed = looks_height_in(looks), 0.45 + SIGN_ROW_IN * len(signs)
    width = max(3 * SIDE_IN + wide + LEGEND_WIDE_IN, 7.0)
    height = TOP_IN + max(tall + SCALE_IN, legend + signed) + BOTTOM_IN
    figure = canvas.blank(width, height)
    axes = figure.add_axes((SIDE_IN / width, (height - TOP_IN - tall) / height, wide / width, tall / height))
    index = answer.coverage.class_index.astype(np.int16) - 1
    index[index < 0] = len(looks) - 1
    draw_panel(axes, answer.plan, grid, index, looks)
    _class_numbers(axes, answer, (east - west) / wide)
    _draw(axes, answer, marks, (east - west) / wide)
    draw_scale(figure, answer.plan, grid, (SIDE_IN, height - TOP_IN - tall - SCALE_IN + 0.05, wide, 0.34))
    x = 2 * SIDE_IN + wide
    top = height - TOP_IN
    beside = figure.add_axes((x / width, (top - legend) / height, LEGEND_WIDE_IN / width, legend / height))
    draw_looks(beside, looks, (LEGEND_WIDE_IN, legend), "Predicted chance of corrections")
    below = figure.add_axes(
        (x / width, (top - legend - signed) / height, LEGEND_WIDE_IN / width, signed / height)
    )
    _draw_signs(below, signs, (LEGEND_WIDE_IN, signed))
    _lettering(figure, answer, width, height)
    return figure


def _lettering(figure: Figure, answer: FieldAnswer, width: float, height: float) -> None:
    room: dict[str, Any] = {"x_in": SIDE_IN, "width_in": width - 2 * SIDE_IN}
    title = f"Was the prediction true? {clean(answer.plan.name)}"
    write_fitted(figure, y_in=height - 0.36, text=title, size=15, least=10, fontweight="bold", **room)
    line = typeset(fieldcheck_words.answer_line(answer))
    write_fitted(figure, y_in=height - 0.84, text=line, size=10, least=8.5, lines=2, **room)
    foot = (
        "A log shows where somebody was on that day, and nothing else: go on watching for lost corrections."
    )
    write_fitted(figure, y_in=0.18, text=foot, size=7.5, least=6, color=style.INK_SOFT, **room)


def _looks(answer: FieldAnswer) -> list[Look]:
    coverage, summary = answer.coverage, answer.summary
    looks = [
        Look(
            f"{one.index}  {one.name}",
            style.class_rgb(one, coverage.classes),
            note=formats.chance_range(one.chance_low, one.chance_high),
            share=formats.percent(share),
        )
        for one, share in zip(coverage.classes, summary.class_shares, strict=True)
    ]
    unknown = Look(
        style.NO_DATA_NAME,
        None,
        "////",
        style.HATCH_RGB,
        "nothing is claimed",
        formats.percent(summary.no_data_share),
    )
    return [*looks, unknown]


def _class_numbers(axes: Axes, answer: FieldAnswer, inch: float) -> None:
    grid = answer.coverage.grid
    boundary = drawn_boundary(answer.plan, grid)
    areas = class_areas(answer.coverage)
    draw_class_numbers(axes, areas, grid.extent_m, inch, [], boundary)


def _draw(axes: Axes, answer: FieldAnswer, marks: tuple[FieldMark, ...], inch: float) -> None:
    """The track as dots, then the signs, the numbered ones last."""
    kinds, samples = kinds_of(answer), answer.samples
    same = np.flatnonzero(
        (kinds == KEPT) | (kinds == LEFT) | ((kinds == "") & np.isfinite(samples.level_dbm))
    )
    same = same[:: max(1, -(-same.size // MOST_DOTS))]
    axes.plot(
        samples.x_m[same], samples.y_m[same], ls="none", marker="o", ms=TRACK_SIZE, mfc="black", mec="white",
        mew=0.25, zorder=5.0,
    )  # fmt: skip
    crowded = _crowded(marks, inch)
    for mark in sorted(marks, key=lambda mark: (mark.sign in (WRONG_SIGN, OTHER_SIGN), mark not in crowded)):
        _sign(axes, mark.sign, "" if mark in crowded else mark.text, mark.x_m, mark.y_m, clip=True)


def _crowded(marks: tuple[FieldMark, ...], inch: float) -> set[FieldMark]:
    """Those whose number would lie on one that comes before: they become dots."""
    found: set[FieldMark] = set()
    numbered = [mark for mark in marks if mark.text]
    for at, mark in enumerate(numbered):
        before = [one for one in numbered[:at] if one not in found]
        if any(np.hypot(one.x_m - mark.x_m, one.y_m - mark.y_m) < NUMBER_IN * inch for one in before):
            found.add(mark)
    return found


def _sign(axes: Axes, sign: str, text: str, x: float, y: float, *, clip: bool = False) -> None:
    if sign not in SHAPES:
        draw_mark(axes, sign, text, x, y, clip=clip)
        return
    marker, size, fill = SHAPES[sign]
    axes.plot([x], [y], marker=marker, ms=size + 1.8, mfc="white", mec="white", zorder=5.8, clip_on=clip)
    axes.plot([x], [y], marker=marker, ms=size, mfc=fill, mec="black", mew=1.0, zorder=5.9, clip_on=clip)


def _signs(answer: FieldAnswer, marks: tuple[FieldMark, ...], inch: float) -> list[tuple[str, str, str]]:
    """Sign, text in it and meaning of what is on the map, in the legend's order."""
    kinds = kinds_of(answer)
    found = [(TRACK, "", "place looked at, as predicted")]
    for kind, sign in SIGN.items():
        number = int((kinds == kind).sum())
        if number:
            found.append((sign, "", f"{NAMES[kind]} ({formats.grouped(number)})"))
    there = {mark.group for mark in marks}
    if "wrong" in there:
        found.append((WRONG_SIGN, "1", "ground where they disagree most"))
    if any(mark.group == "wrong" for mark in _crowded(marks, inch)):
        found.append((WRONG_SIGN, "", "the same, no room for its number"))
    if "other" in there:
        station = next(mark.text for mark in marks if mark.group == "other")
        found.append((OTHER_SIGN, station, "another base used, with its ID"))
    if any(int((kinds == kind).sum()) > MOST_SIGNS for kind in SIGN):
        found.append(("", "", f"of single signs at most {MOST_SIGNS} of a kind are drawn"))
    return found


def _draw_signs(axes: Axes, signs: list[tuple[str, str, str]], size_in: tuple[float, float]) -> None:
    axes.set_axis_off()
    axes.set_xlim(0.0, size_in[0])
    axes.set_ylim(0.0, size_in[1])
    y = size_in[1] - 0.18
    axes.text(0.0, y, "What the logs say", fontsize=9.5, fontweight="bold", va="center")
    for sign, text, words in signs:
        y -= SIGN_ROW_IN
        if sign == TRACK:
            axes.plot([0.19], [y], marker="o", ms=TRACK_SIZE + 1.4, mfc="black", mec="white", mew=0.4)
        elif sign:
            _sign(axes, sign, text, 0.19, y)
        axes.text(0.5, y, plain(typeset(words)), fontsize=8.5, va="center")


def write_field_webmap(answer: FieldAnswer, path: Path) -> Path:
    """Write the map for a browser. Raises OutputError."""
    marks = marks_of(answer)
    more = More(
        answer=typeset(fieldcheck_words.answer_line(answer)),
        good=answer.holds,
        list_title=fieldcheck_words.wrong_title(answer),
        css=asset("marks.css") + asset("field.css"),
        js=asset("marks.js"),
        data=_data(answer, marks),
        layers=lambda placed: (_seen(answer, placed),),
    )
    areas = class_areas(answer.coverage)
    return write_file(path, webmap_html(answer.plan, answer.coverage, answer.summary, areas, more))


def _data(answer: FieldAnswer, marks: tuple[FieldMark, ...]) -> dict[str, Any]:
    frame = answer.coverage.grid.frame
    groups = {**GROUPS, **{kind: NAMES[kind][:1].upper() + NAMES[kind][1:] for kind in SIGN}}
    signs = {mark.group: mark.sign for mark in reversed(marks)}
    shown = []
    for order, mark in enumerate(marks, start=1):
        at = frame.to_geographic(mark.x_m, mark.y_m)
        one: dict[str, Any] = {
            "kind": mark.group,
            "sign": mark.sign,
            "number": mark.text,
            "order": order,
            "label": mark.label,
            "title": mark.title,
            "at": rounded([at])[0],
            "lines": [typeset(line) for line in mark.lines],
        }
        if mark.row is not None:
            one["listed"] = [typeset(part) for part in mark.row]
        shown.append(one)
    return {
        "places": [*_fixed(answer), *shown],
        "groups": [[key, name, signs[key]] for key, name in groups.items() if key in signs],
    }


def _fixed(answer: FieldAnswer) -> list[dict[str, Any]]:
    """Base and control points."""
    plan, grid = answer.plan, answer.coverage.grid
    show = Formats.of(plan)
    found = []
    for place in places(plan, grid, answer.summary):
        if place.kind == "gap":
            continue
        base = place.kind == "base"
        note = f"radio antenna {show.height(plan.base.antenna_height_m)} above ground" if base else place.note
        at = grid.frame.to_geographic(place.x_m, place.y_m)
        lines = [*([clean(note)] if note else []), *show.positions(place.easting, place.northing, *at)]
        name = clean(place.name)
        found.append(
            {"kind": place.kind, "label": name, "title": f"Base {name}" if base else name,
             "at": rounded([at])[0], "lines": [typeset(line) for line in lines]}
        )  # fmt: skip
    return found


def _seen(answer: FieldAnswer, placed: Regrid) -> Overlay:
    """Cells that somebody visited; of several samples in a cell the broken promise shows, then the others."""
    kinds, samples = kinds_of(answer), answer.samples
    cells: NDArray[np.uint8] = np.zeros(answer.coverage.grid.shape, dtype=np.uint8)
    order = list(COLOURS)
    legend = []
    for number, kind in enumerate(order, start=1):
        mine = kinds == kind
        cells[samples.row[mine], samples.column[mine]] = number
        legend.append(
            {
                "name": NAMES[kind],
                "note": counted(int(mine.sum()), "sample"),
                "colour": style.hex_of(style.on_ground(COLOURS[kind])),
                "ink": style.ink_on(style.on_ground(COLOURS[kind])),
            }
        )
    index = placed.look_up(cells, 0)
    values = {",".join(map(str, COLOURS[kind])): NAMES[kind] for kind in order}
    picture = data_uri(index, [COLOURS[kind] for kind in order])
    return Overlay("seen", "What the logs say", picture, tuple(legend), values)
