"""The coverage map as a figure for paper: classes over the hillshade, with everything a map needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.outputs import canvas, style
from linkplan.outputs.canvas import patch_of, plain, write_fitted
from linkplan.outputs.contours import draw_contours
from linkplan.outputs.formats import Formats
from linkplan.outputs.map_frame import draw_coordinate_grid, draw_scale_and_north
from linkplan.outputs.map_labels import tag_positions
from linkplan.outputs.map_legend import draw_gaps, draw_legend
from linkplan.outputs.picture import class_picture, step_of
from linkplan.outputs.shapes import ClassArea, Place, places
from linkplan.outputs.text import answer_line
from linkplan.plan.model import Plan

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely.geometry.base import BaseGeometry

MAP_WIDTH_IN, MOST_HEIGHT_IN = 7.35, 8.2
TOP_IN, BOTTOM_IN, LEFT_IN, BETWEEN_IN = 1.12, 0.62, 0.48, 0.3
SIDE_WIDTH_IN, SIDE_HEIGHT_IN = 3.05, 5.95
LEAST_TABLE_IN = 0.9
"""Room under a low map from which on the gaps are listed there."""
LEAST_NUMBERED_SHARE = 0.004
"""Patches smaller than this share of the map get no class number."""


def map_figure(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, areas: tuple[ClassArea, ...]
) -> Figure:
    """Draw the map; `areas` are the exact class areas. To be called inside `canvas.house_style()`."""
    west, south, east, north = coverage.grid.extent_m
    ratio = (north - south) / (east - west)
    wide = min(MAP_WIDTH_IN, MOST_HEIGHT_IN / ratio)
    tall = wide * ratio
    height = max(tall, SIDE_HEIGHT_IN)
    width = max(LEFT_IN + wide + BETWEEN_IN + SIDE_WIDTH_IN + 0.15, 8.8)
    total = TOP_IN + height + BOTTOM_IN
    figure = canvas.blank(width, total)

    def box(x: float, y: float, w: float, h: float) -> Axes:
        return figure.add_axes((x / width, y / total, w / width, h / total))

    show = Formats.of(plan)
    axes = box(LEFT_IN, BOTTOM_IN + height - tall, wide, tall)
    _map(axes, _View(plan, coverage, summary, areas, show, (east - west) / wide))
    side_x = LEFT_IN + wide + BETWEEN_IN
    side = (width - side_x - 0.15, height)
    draw_legend(box(side_x, BOTTOM_IN, *side), plan, coverage, summary, side)
    below = height - tall - 0.3
    if below > LEAST_TABLE_IN and summary.gaps:
        draw_gaps(box(LEFT_IN, BOTTOM_IN, wide, below), summary, show, (wide, below))
    room = {"x_in": 0.22, "width_in": width - 0.44}
    write_fitted(figure, y_in=total - 0.36, text=plan.name, size=17, least=11, fontweight="bold", **room)
    write_fitted(figure, y_in=total - 0.75, text=answer_line(summary), size=10.5, least=8, **room)
    foot = f"{style.PREDICTION}  Coordinates: {show.crs_name}. North is true north, up."
    write_fitted(figure, y_in=0.2, text=foot, size=7.5, least=6, color=style.INK_SOFT, **room)
    return figure


@dataclass(frozen=True)
class _View:
    """What the parts of the map need to know."""

    plan: Plan
    coverage: CoverageMap
    summary: CoverageSummary
    areas: tuple[ClassArea, ...]
    show: Formats
    inch: float
    """Metres of ground on an inch of paper."""


def _map(axes: Axes, view: _View) -> None:
    found = places(view.plan, view.coverage.grid, view.summary)
    boundary = view.coverage.grid.frame.geometry_to_local(view.plan.boundary)
    _ground(axes, view.coverage, view.areas)
    draw_contours(axes, view.coverage.grid, view.show)
    for colour, width, order in (("white", style.CASING_WIDTH, 4.0), ("black", style.BOUNDARY_WIDTH, 4.1)):
        axes.add_patch(patch_of(boundary, fc="none", ec=colour, lw=width, joinstyle="round", zorder=order))
    _class_numbers(axes, view, found, boundary)
    draw_coordinate_grid(axes, view.coverage, view.show, view.inch)
    draw_scale_and_north(axes, boundary, view.show, view.inch)
    tags = tag_positions(found, view.coverage.grid.extent_m, view.inch)
    for place in found:
        if place.kind == "gap":
            _gap(axes, place, tags[place.name])
        else:
            _place(axes, place)


def _ground(axes: Axes, coverage: CoverageMap, areas: tuple[ClassArea, ...]) -> None:
    west, south, east, north = coverage.grid.extent_m
    step = step_of(coverage.grid)
    picture = class_picture(coverage, step)
    block = step * coverage.grid.cell_size_m
    edges = (west, west + picture.shape[1] * block, north - picture.shape[0] * block, north)
    axes.imshow(picture, extent=edges, interpolation="antialiased", zorder=1)
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_xticks([])
    axes.set_yticks([])
    for area in areas:
        if area.index == 0:
            hatch = np.array(style.HATCH_RGB) / 255.0
            axes.add_patch(patch_of(area.outline, fc="none", ec=hatch, hatch="////", lw=0.7, zorder=2))
        else:
            axes.add_patch(patch_of(area.outline, fc="none", ec=(0, 0, 0, 0.55), lw=0.35, zorder=2.5))


def _class_numbers(axes: Axes, view: _View, found: tuple[Place, ...], boundary: BaseGeometry) -> None:
    """The number of the class in its larger patches, so that the map reads in black and white."""
    import shapely

    west, south, east, north = view.coverage.grid.extent_m
    least = LEAST_NUMBERED_SHARE * (east - west) * (north - south)
    names = [
        shapely.Point(place.x_m + 0.25 * view.inch, place.y_m).buffer(0.5 * view.inch) for place in found
    ]
    taken = shapely.union_all([*names, boundary.boundary.buffer(0.05 * view.inch)])
    for area in view.areas:
        if area.rgb is None:
            continue
        parts = sorted(getattr(area.outline, "geoms", [area.outline]), key=lambda part: -part.area)
        for part in parts[:4]:
            if part.area < least:
                break
            outline = part.simplify(0.02 * view.inch) - taken
            if outline.is_empty:
                continue
            circle = shapely.maximum_inscribed_circle(outline, 0.05 * view.inch)
            spot = shapely.Point(circle.coords[0])
            if circle.length > 0.09 * view.inch:
                taken = taken.union(spot.buffer(0.3 * view.inch))
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


def _place(axes: Axes, place: Place) -> None:
    from matplotlib import patheffects

    halo: list[Any] = [patheffects.withStroke(linewidth=2.4, foreground="white")]
    at = (place.x_m, place.y_m)
    marker, size, fill = (
        ("o", 10.0, style.BASE_FILL) if place.kind == "base" else ("^", 7.5, style.CONTROL_FILL)
    )
    axes.plot(*at, marker=marker, ms=size + 2.6, mfc="white", mec="white", mew=0.8, zorder=6)
    axes.plot(*at, marker=marker, ms=size, mfc=fill, mec="black", mew=1.1, zorder=6.1)
    if place.kind == "base":
        axes.plot(*at, marker="o", ms=3.0, mfc="white", mec="none", zorder=6.2)
    text = axes.annotate(
        plain(place.name),
        at,
        xytext=(8, 6),
        textcoords="offset points",
        zorder=8,
        annotation_clip=True,
        fontsize=9 if place.kind == "base" else 7.5,
        fontweight="bold" if place.kind == "base" else "normal",
    )
    text.set_path_effects(halo)
