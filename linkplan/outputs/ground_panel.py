"""A printed map of cells in a few looks over the hillshade: colours in order of grey, and hatches.

What the sky's maps and the map of workable ground share; the coverage map has its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkplan.outputs import style
from linkplan.outputs.canvas import patch_of, plain
from linkplan.outputs.contours import draw_contours
from linkplan.outputs.formats import Formats, typeset
from linkplan.outputs.map_frame import draw_baseline_limit, draw_scale_and_north
from linkplan.outputs.picture import shade_bytes, step_of
from linkplan.outputs.shapes import drawn_boundary
from linkplan.outputs.siting_words import clean
from linkplan.plan.model import Plan
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.masks import polygons_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_IN = 0.3
CHIP_IN = (0.38, 0.22)
LONGEST_NAME = 22
OUTSIDE = -1
"""Index of cells that show the ground alone."""


@dataclass(frozen=True)
class Look:
    """How the cells of one kind are drawn, and what stands beside them in the legend."""

    name: str
    rgb: style.Rgb | None
    """None: the ground alone, with the hatch over it."""
    hatch: str = ""
    hatch_rgb: style.Rgb = (255, 255, 255)
    note: str = ""
    share: str = ""


def draw_panel(
    axes: Axes,
    plan: Plan,
    grid: TerrainGrid,
    index: NDArray[np.integer[Any]],
    looks: Sequence[Look],
    *,
    limit_m: float | None = None,
) -> None:
    """Fill `axes` with the map; `index` (rows, columns) says which look a cell has, OUTSIDE none."""
    west, south, east, north = grid.extent_m
    _pixels(axes, grid, index, looks)
    draw_contours(axes, grid, Formats.of(plan))
    for number, outline in polygons_of(grid, index.astype(np.int32) + 1):
        if number == 0:
            continue
        look = looks[number - 1]
        if look.hatch:
            axes.add_artist(
                patch_of(outline, fc="none", ec=_unit(look.hatch_rgb), hatch=look.hatch, lw=0.0, zorder=2)
            )
        axes.add_artist(patch_of(outline, fc="none", ec=(0, 0, 0, 0.5), lw=0.3, zorder=2.4))
    if limit_m is not None:
        draw_baseline_limit(axes, limit_m)
    boundary = drawn_boundary(plan, grid)
    for colour, width, order in (("white", style.CASING_WIDTH, 4.0), ("black", style.BOUNDARY_WIDTH, 4.1)):
        axes.add_artist(patch_of(boundary, fc="none", ec=colour, lw=width, joinstyle="round", zorder=order))
    axes.plot(0.0, 0.0, marker="o", ms=11.5, mfc="white", mec="white", zorder=6.0)
    axes.plot(0.0, 0.0, marker="o", ms=9.0, mfc=style.BASE_FILL, mec="black", mew=1.1, zorder=6.1)
    axes.plot(0.0, 0.0, marker="o", ms=2.8, mfc="white", mec="none", zorder=6.2)
    _name_base(axes, plan, grid)
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_xticks([])
    axes.set_yticks([])


def _name_base(axes: Axes, plan: Plan, grid: TerrainGrid) -> None:
    from matplotlib import patheffects

    west, _, east, _ = grid.extent_m
    side = -1.0 if west + east < 0.0 else 1.0  # towards the wider side of the map
    name = clean(plan.base.name)
    name = name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + "\N{HORIZONTAL ELLIPSIS}"
    halo: list[Any] = [patheffects.withStroke(linewidth=2.4, foreground="white")]
    text = axes.annotate(
        plain(f"base {name}"), (0.0, 0.0), xytext=(9.0 * side, 0.0), textcoords="offset points", va="center",
        ha="left" if side > 0.0 else "right", fontsize=8.5, fontweight="bold", zorder=8,
    )  # fmt: skip
    text.set_path_effects(halo)


def _pixels(axes: Axes, grid: TerrainGrid, index: NDArray[np.integer[Any]], looks: Sequence[Look]) -> None:
    west, _, _, north = grid.extent_m
    step = step_of(grid)
    ground = np.repeat(shade_bytes(grid, step)[..., None], 3, axis=2).astype(np.float64)
    palette = np.array([look.rgb or (0, 0, 0) for look in looks] + [(0, 0, 0)], dtype=np.float64)
    coloured = np.array([look.rgb is not None for look in looks] + [False])
    here = index[::step, ::step].astype(np.intp)
    mixed = style.OVERLAY_OPACITY * palette[here] + (1.0 - style.OVERLAY_OPACITY) * ground
    picture = np.where(coloured[here][..., None], mixed, ground).round().astype(np.uint8)
    block = step * grid.cell_size_m
    edges = (west, west + picture.shape[1] * block, north - picture.shape[0] * block, north)
    axes.imshow(picture, extent=edges, interpolation="antialiased", zorder=1)


def draw_looks(axes: Axes, looks: Sequence[Look], size_in: tuple[float, float], heading: str) -> None:
    """The legend of a panel, from the top of `axes`, which is size_in (width, height) inches large."""
    from matplotlib.patches import Rectangle

    wide, high = size_in
    axes.set_axis_off()
    axes.set_xlim(0.0, wide)
    axes.set_ylim(0.0, high)
    y = high - 0.12
    axes.text(0.0, y, plain(typeset(heading)), fontsize=9.5, fontweight="bold", va="center")
    y -= 0.3
    grey = (round(255 * style.LEGEND_GREY),) * 3
    for look in looks:
        rgb = style.on_ground(look.rgb) if look.rgb is not None else grey
        edge = look.hatch_rgb if look.hatch else style.HATCH_RGB
        axes.add_patch(
            Rectangle(
                (0.0, y - CHIP_IN[1] / 2), *CHIP_IN, fc=_unit(rgb), ec=_unit(edge), hatch=look.hatch, lw=0
            )
        )
        axes.add_patch(
            Rectangle((0.0, y - CHIP_IN[1] / 2), *CHIP_IN, fc="none", ec=_unit(style.HATCH_RGB), lw=0.7)
        )
        shift = 0.065 if look.note else 0.0
        axes.text(0.5, y + shift, plain(typeset(look.name)), fontsize=8.5, va="center")
        if look.note:
            axes.text(
                0.5, y - 0.075, plain(typeset(look.note)), fontsize=7, va="center", color=style.INK_SOFT
            )
        if look.share:
            axes.text(wide, y, plain(typeset(look.share)), fontsize=8.5, va="center", ha="right")
        y -= ROW_IN


def looks_height_in(looks: Sequence[Look]) -> float:
    """Height that `draw_looks` needs, inches."""
    return 0.4 + ROW_IN * len(looks)


def draw_scale(
    figure: Figure, plan: Plan, grid: TerrainGrid, box_in: tuple[float, float, float, float]
) -> None:
    """Scale bar and north arrow; `box_in` is left, bottom, width of the map above, height, inches."""
    width, height = figure.get_size_inches()
    left, low, wide, high = box_in
    west, _, east, _ = grid.extent_m
    room = max(wide, 1.8)
    axes = figure.add_axes((left / width, low / height, room / width, high / height))
    draw_scale_and_north(axes, Formats.of(plan), (east - west) / wide, (room, high))


def _unit(rgb: style.Rgb) -> tuple[float, ...]:
    return tuple(part / 255.0 for part in rgb)
