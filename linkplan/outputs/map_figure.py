"""The coverage map as a figure for paper: classes over the hillshade, with everything a map needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.outputs import canvas, style
from linkplan.outputs.canvas import patch_of, plain, text_width_in, write_fitted
from linkplan.outputs.contours import draw_contours
from linkplan.outputs.formats import Formats, typeset
from linkplan.outputs.map_frame import draw_baseline_limit, draw_coordinate_grid, draw_scale_and_north
from linkplan.outputs.map_labels import Box, name_boxes, sign_boxes, tag_box, tag_positions
from linkplan.outputs.map_legend import (
    HEADING_IN,
    Job,
    draw_figures,
    draw_gaps,
    draw_legend,
    figures_height_in,
    legend_height_in,
)
from linkplan.outputs.picture import class_picture, step_of
from linkplan.outputs.shapes import ClassArea, Place, drawn_boundary, limit_on_map_m, places
from linkplan.outputs.siting_drawing import Placed, draw_marks, draw_outlines, place_marks
from linkplan.outputs.siting_marks import Extra
from linkplan.outputs.text import answer_line
from linkplan.plan.model import Plan

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely.geometry.base import BaseGeometry

MAP_WIDTH_IN, MOST_HEIGHT_IN = 7.35, 8.2
TOP_IN, BOTTOM_IN, LEFT_IN, BETWEEN_IN, RIM_IN = 1.12, 0.45, 0.48, 0.3, 0.15
LETTERS_IN, SCALE_IN = 0.28, 0.36
"""Under the map: the letters of its coordinate grid, then scale and north."""
SIDE_WIDTH_IN = 3.05
FIGURES_FROM_IN, LEAST_FOR_FIGURES_IN = 2.9, 6.0
"""Where on a low map of a search the figures begin, beside the scale, and how wide it must be for that."""
LEAST_TABLE_IN = 0.9
"""Room under a low map from which on the gaps are listed there."""
LEAST_NUMBERED_SHARE = 0.004
"""Patches smaller than this share of the map get no class number."""
SMALL_JOB = 0.3
"""A job that takes less than this share of the map's width and height is drawn larger beside it."""
LONGEST_NAME = 22

Extent = tuple[float, float, float, float]


@dataclass(frozen=True)
class _View:
    """What the parts of a map need to know."""

    job: Job
    areas: tuple[ClassArea, ...]
    boundary: BaseGeometry
    """In local metres."""
    places: tuple[Place, ...]
    """Signs to draw, the base last."""
    extent: Extent
    inch: float
    """Metres of ground on an inch of paper."""


def map_figure(
    plan: Plan,
    coverage: CoverageMap,
    summary: CoverageSummary,
    areas: tuple[ClassArea, ...],
    extra: Extra | None = None,
) -> Figure:
    """Draw the map; `areas` are the exact class areas. To be called inside `canvas.house_style()`.

    With `extra` the places of a search stand on it in the place of base and gaps.
    """
    west, south, east, north = coverage.grid.extent_m
    ratio = (north - south) / (east - west)
    wide = min(MAP_WIDTH_IN, MOST_HEIGHT_IN / ratio)
    tall = wide * ratio
    job = Job(plan, coverage, summary, Formats.of(plan), limit_on_map_m(coverage, summary), 0, extra)
    boundary = drawn_boundary(plan, coverage.grid)
    found = _signed(job)
    larger = _larger(boundary, coverage.grid.extent_m)
    shown = tuple(place for place in found if larger is None or place.kind != "gap")
    view = _View(job, areas, boundary, shown, coverage.grid.extent_m, (east - west) / wide)
    labels = _labels(view)
    job = replace(job, named=sum(box is not None for place, box in labels.names if place.kind == "control"))
    job = replace(job, dots=any(one.mark.number and not one.numbered for one in labels.marks))
    under = LETTERS_IN + SCALE_IN
    low = extra is not None and legend_height_in(job) > tall + under and wide > LEAST_FOR_FIGURES_IN
    job = replace(job, figures_apart=low)
    legend = legend_height_in(job)
    inset = _size_in(larger) if larger else (0.0, 0.0)
    figures = LETTERS_IN + figures_height_in(job) if low else 0.0
    height = max(tall + max(under, figures), legend + (inset[1] + HEADING_IN if larger else 0.0))
    side_x = LEFT_IN + wide + BETWEEN_IN
    width = max(side_x + SIDE_WIDTH_IN + RIM_IN, 8.8)
    total = TOP_IN + height + BOTTOM_IN
    figure = canvas.blank(width, total)

    def box(x: float, y: float, w: float, h: float) -> Axes:
        return figure.add_axes((x / width, y / total, w / width, h / total))

    axes = box(LEFT_IN, BOTTOM_IN + height - tall, wide, tall)
    _map(axes, view, labels)
    draw_coordinate_grid(axes, coverage, job.show, view.inch)
    scale = (max(wide, 1.8), SCALE_IN)
    draw_scale_and_north(box(LEFT_IN, BOTTOM_IN + height - tall - under, *scale), job.show, view.inch, scale)
    side = (width - side_x - RIM_IN, legend)
    draw_legend(box(side_x, BOTTOM_IN + height - legend, *side), job, side)
    if low:
        room = (wide - FIGURES_FROM_IN, figures - LETTERS_IN)
        draw_figures(box(LEFT_IN + FIGURES_FROM_IN, BOTTOM_IN + height - tall - figures, *room), job, room)
    below = height - tall - under - 0.2
    if below > LEAST_TABLE_IN and summary.gaps and extra is None:
        draw_gaps(box(LEFT_IN, BOTTOM_IN, wide, below), summary, job.show, (wide, below))
    if larger:
        foot_in = BOTTOM_IN + height - legend - HEADING_IN - inset[1]
        near = replace(view, places=tuple(found), extent=larger, inch=(larger[2] - larger[0]) / inset[0])
        _map(box(side_x, foot_in, *inset), near, _labels(near))
        times = f"The job, {view.inch / near.inch:.2g} times as large"
        figure.text(
            side_x / width, (foot_in + inset[1] + 0.14) / total, times, fontsize=9.5, fontweight="bold",
            va="center",
        )  # fmt: skip
    _lettering(figure, job, width, total)
    return figure


def _lettering(figure: Figure, job: Job, width: float, total: float) -> None:
    room: dict[str, Any] = {"x_in": 0.22, "width_in": width - 0.44}
    name, answer = job.plan.name, typeset(job.extra.answer) if job.extra else answer_line(job.summary)
    write_fitted(figure, y_in=total - 0.36, text=name, size=17, least=11, lines=2, fontweight="bold", **room)
    lines = 2 if job.extra else 1
    write_fitted(
        figure, y_in=total - 0.75, text=answer, size=11, least=8, lines=lines, fontweight="bold", **room
    )
    foot = f"{style.PREDICTION}  Coordinates: {job.show.crs_name}. North is true north, up."
    write_fitted(figure, y_in=0.2, text=foot, size=7.5, least=6, color=style.INK_SOFT, **room)


def _signed(job: Job) -> list[Place]:
    """Control points, gaps, then the base; on the map of a search the control points without a mark."""
    found = places(job.plan, job.coverage.grid, job.summary)
    extra = job.extra
    if extra is not None:
        return [one for one in found if one.kind == "control" and not extra.at(one.x_m, one.y_m)]
    order = {"control": 0, "gap": 1, "base": 2}
    return sorted(found, key=lambda place: order[place.kind])


def _larger(boundary: BaseGeometry, extent: Extent) -> Extent | None:
    """The job with a rim, where it is small on the map, as with a base far away."""
    west, south, east, north = boundary.bounds
    rim = 0.06 * max(east - west, north - south)
    west, south, east, north = west - rim, south - rim, east + rim, north + rim
    small = max((east - west) / (extent[2] - extent[0]), (north - south) / (extent[3] - extent[1]))
    return (west, south, east, north) if small < SMALL_JOB else None


def _size_in(extent: Extent) -> tuple[float, float]:
    """Size on paper of the larger drawing of the job."""
    ratio = (extent[3] - extent[1]) / (extent[2] - extent[0])
    wide = min(SIDE_WIDTH_IN, 3.2 / ratio)
    return wide, wide * ratio


@dataclass(frozen=True)
class _Labels:
    """Where names and tags stand, in local metres."""

    names: list[tuple[Place, Box | None]]
    tags: dict[str, tuple[float, float]]
    marks: list[Placed]


def _labels(view: _View) -> _Labels:
    """Marks of a search first, then base, gaps, and as many control points as have room for their names."""
    west, south, east, north = view.extent
    here = tuple(one for one in view.places if west < one.x_m < east and south < one.y_m < north)
    taken = sign_boxes(here, view.inch)
    extra = view.job.extra
    marks = place_marks(extra, view.extent, view.inch, taken) if extra is not None else []

    def names(kind: str) -> list[tuple[Place, Box | None]]:
        chosen = [place for place in here if place.kind == kind]
        weight = "bold" if kind == "base" else "normal"
        widths = [text_width_in(short_name(place), NAME_SIZE[kind], weight) for place in chosen]
        room = name_boxes(chosen, widths, view.extent, view.inch, taken, all_of_them=kind == "base")
        taken.extend(box for box in room if box)
        return list(zip(chosen, room, strict=True))

    base = names("base")
    tags = tag_positions(here, view.extent, view.inch, taken)
    taken.extend(tag_box(at, view.inch) for at in tags.values())
    return _Labels([*names("control"), *base], tags, marks)


NAME_SIZE = {"base": 9.0, "control": 7.5}


def short_name(place: Place) -> str:
    """A long name cut short."""
    long = len(place.name) > LONGEST_NAME
    return place.name[: LONGEST_NAME - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}" if long else place.name


def _map(axes: Axes, view: _View, labels: _Labels) -> None:
    west, south, east, north = view.extent
    _ground(axes, view)
    draw_contours(axes, view.job.coverage.grid, view.job.show)
    if view.job.limit_m is not None:
        draw_baseline_limit(axes, view.job.limit_m)
    for colour, width, order in (("white", style.CASING_WIDTH, 4.0), ("black", style.BOUNDARY_WIDTH, 4.1)):
        line = patch_of(view.boundary, fc="none", ec=colour, lw=width, joinstyle="round", zorder=order)
        axes.add_artist(line)
    if view.job.extra is not None:
        draw_outlines(axes, view.job.extra.outlines)
    _class_numbers(axes, view, labels)
    draw_marks(axes, labels.marks)
    for place in view.places:
        if place.name in labels.tags and place.kind == "gap":
            _gap(axes, place, labels.tags[place.name])
        elif place.kind != "gap":
            draw_place(axes, place)
    for place, box in labels.names:
        if box is not None:
            draw_name(axes, place, box)
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_xticks([])
    axes.set_yticks([])


def _ground(axes: Axes, view: _View) -> None:
    coverage = view.job.coverage
    west, _, _, north = coverage.grid.extent_m
    step = step_of(coverage.grid)
    picture = class_picture(coverage, step)
    block = step * coverage.grid.cell_size_m
    edges = (west, west + picture.shape[1] * block, north - picture.shape[0] * block, north)
    axes.imshow(picture, extent=edges, interpolation="antialiased", zorder=1)
    axes.set_xlim(view.extent[0], view.extent[2])
    axes.set_ylim(view.extent[1], view.extent[3])
    for area in view.areas:
        if area.index == 0:
            hatch = np.array(style.HATCH_RGB) / 255.0
            axes.add_artist(patch_of(area.outline, fc="none", ec=hatch, hatch="////", lw=0.7, zorder=2))
        else:
            axes.add_artist(patch_of(area.outline, fc="none", ec=(0, 0, 0, 0.55), lw=0.35, zorder=2.5))


def _class_numbers(axes: Axes, view: _View, labels: _Labels) -> None:
    used = [*sign_boxes(view.places, view.inch), *(box for _, box in labels.names if box)]
    used += [tag_box(at, view.inch) for at in labels.tags.values()]
    used += [box for mark in labels.marks for box in mark.boxes(view.inch)]
    draw_class_numbers(axes, view.areas, view.extent, view.inch, used, view.boundary)


def draw_class_numbers(
    axes: Axes,
    areas: Sequence[ClassArea],
    extent: Extent,
    inch: float,
    used: Sequence[Box],
    boundary: BaseGeometry,
) -> None:
    """The number of the class in its larger patches, so that the map reads in black and white.

    They keep away from the boxes that are used and from the boundary; `inch` is metres on an inch of paper.
    """
    import shapely

    west, south, east, north = extent
    least = LEAST_NUMBERED_SHARE * (east - west) * (north - south)
    around = [shapely.box(*box).buffer(0.1 * inch) for box in used]
    taken = shapely.union_all([*around, boundary.simplify(0.02 * inch).boundary.buffer(0.05 * inch)])
    for area in areas:
        if area.rgb is None:
            continue
        inside = shapely.clip_by_rect(area.outline, *extent)
        parts = sorted(getattr(inside, "geoms", [inside]), key=lambda part: -part.area)
        for part in parts[:4]:
            if part.area < least:
                break
            outline = part.simplify(0.02 * inch) - taken
            if outline.is_empty:
                continue
            circle = shapely.maximum_inscribed_circle(outline, 0.05 * inch)
            spot = shapely.Point(circle.coords[0])
            if circle.length > 0.09 * inch:
                taken = taken.union(spot.buffer(0.3 * inch))
                axes.text(
                    spot.x,
                    spot.y,
                    str(area.index),
                    ha="center",
                    va="center",
                    fontsize=8.5,
                    fontstyle="italic",
                    color=style.ink_on(style.on_ground(area.rgb)),
                    zorder=3,
                )


def _gap(axes: Axes, place: Place, tag: tuple[float, float]) -> None:
    """A dot in the gap, and its tag beside it."""
    axes.annotate(
        f"G{place.name}",
        (place.x_m, place.y_m),
        xytext=tag,
        ha="center",
        va="center",
        fontsize=7,
        fontweight="bold",
        color="white",
        zorder=7,
        bbox={"boxstyle": "round,pad=0.28", "fc": "black", "ec": "white", "lw": 0.9},
        arrowprops={"arrowstyle": "-", "color": "black", "lw": 1.0, "shrinkA": 0, "shrinkB": 0},
    )
    axes.plot(place.x_m, place.y_m, marker="o", ms=4.2, mfc="black", mec="white", mew=0.9, zorder=6.5)


def draw_place(axes: Axes, place: Place) -> None:
    """The sign of the base or of a control point."""
    at = (place.x_m, place.y_m)
    marker, size, fill = (
        ("o", 10.0, style.BASE_FILL) if place.kind == "base" else ("^", 7.5, style.CONTROL_FILL)
    )
    order = 6.3 if place.kind == "base" else 6.0
    axes.plot(*at, marker=marker, ms=size + 2.6, mfc="white", mec="white", mew=0.8, zorder=order)
    axes.plot(*at, marker=marker, ms=size, mfc=fill, mec="black", mew=1.1, zorder=order + 0.1)
    if place.kind == "base":
        axes.plot(*at, marker="o", ms=3.0, mfc="white", mec="none", zorder=order + 0.2)


def draw_name(axes: Axes, place: Place, box: Box) -> None:
    """The name of the base or of a control point in its box."""
    from matplotlib import patheffects

    halo: list[Any] = [patheffects.withStroke(linewidth=2.4, foreground="white")]
    text = axes.text(
        box[0], (box[1] + box[3]) / 2.0, plain(short_name(place)), ha="left", va="center", zorder=8,
        clip_on=True, fontsize=NAME_SIZE[place.kind],
        fontweight="bold" if place.kind == "base" else "normal",
    )  # fmt: skip
    text.set_path_effects(halo)
