"""What is around the base, close up: circles to keep, fall of the mast, guys, fence, overhead lines."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.outputs import style
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_around import (
    Circle,
    Scene,
    circle_style,
    scene_of,
)
from linkplan.outputs.brief.pictures_base_key import base_key
from linkplan.outputs.brief.pictures_base_labels import label_circles, label_lines
from linkplan.outputs.brief.pictures_board import (
    Board,
    column_height,
    draw_columns,
)
from linkplan.outputs.canvas import patch_of, text_width_in
from linkplan.outputs.map_figure import NAME_SIZE, draw_name, draw_place, short_name
from linkplan.outputs.map_frame import draw_scale_and_north, step_at_least
from linkplan.outputs.map_labels import name_boxes, sign_boxes
from linkplan.outputs.siting_drawing import draw_outlines
from linkplan.outputs.siting_marks import Outline
from linkplan.study import BriefFacts
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TOP_IN, RIM_IN, BETWEEN_IN, SCALE_IN = 0.04, 0.03, 0.2, 0.42
KEY_IN = 2.3
NARROW_IN = 4.4
"""On less width the key stands below."""
CONTOURS_ABOUT, LEAST_CELLS = 6, 4
BAND_HATCH = "\\\\\\\\"


def base_board(facts: BriefFacts, words: PictureWords, width_in: float, most_height_in: float) -> Board:
    """The drawing. To be called inside `canvas.house_style()`."""
    scene = scene_of(facts)
    beside = width_in >= NARROW_IN
    if beside:
        side = min(most_height_in - TOP_IN - SCALE_IN, width_in - 2 * RIM_IN - BETWEEN_IN - KEY_IN)
        key_in = min(width_in - 2 * RIM_IN - BETWEEN_IN - side, 1.4 * KEY_IN)
    else:
        side, key_in = width_in - 2 * RIM_IN, width_in - 2 * RIM_IN
    inch = 2.0 * scene.half_m / side
    rows = base_key(scene, words, inch, contour_step_m(scene), key_in)
    key = column_height(rows)
    if not beside:
        side = max(min(side, most_height_in - TOP_IN - SCALE_IN - key - 0.1), 1.5)
        inch = 2.0 * scene.half_m / side
        rows = base_key(scene, words, inch, contour_step_m(scene), key_in)
        key = column_height(rows)
    high = TOP_IN + side + SCALE_IN
    height = max(high, key + TOP_IN) if beside else high + key + 0.1
    board = Board(width_in, height)
    foot = height - TOP_IN - side
    axes = board.axes(RIM_IN, foot, side, side)
    axes.set_gid("around")
    _around(axes, scene, words, inch)
    strip = (max(side, 1.6), SCALE_IN - 0.14)
    scale = board.axes(RIM_IN, foot - SCALE_IN + 0.02, *strip)
    draw_scale_and_north(scale, scene.show, inch, strip, words.north)
    if beside:
        draw_columns(board, [rows], RIM_IN + side + BETWEEN_IN, height - TOP_IN, key_in)
    else:
        draw_columns(board, [rows], RIM_IN, foot - SCALE_IN - 0.1, key_in)
    return board


def _around(axes: Axes, scene: Scene, words: PictureWords, inch: float) -> None:
    half = scene.half_m
    axes.set_xlim(-half, half)
    axes.set_ylim(-half, half)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_autoscale_on(False)
    _contours(axes, scene)
    _guys(axes, scene)
    for line in scene.lines:
        if line.band is not None:
            axes.add_artist(
                patch_of(line.band, fc="none", ec=(0.45, 0.45, 0.45), hatch=BAND_HATCH, lw=0.8, zorder=3.0)
            )
    draw_outlines(
        axes, [Outline("line", line.clearance.name, line.shape) for line in scene.lines if line.seen]
    )
    drawn = [one for one in scene.circles if one.drawn(inch, half)]
    for one in drawn:
        draw_circle(axes, one)
    taken = sign_boxes(scene.places, inch)
    named = []
    for kind in ("base", "control"):
        chosen = [place for place in scene.places if place.kind == kind]
        weight = "bold" if kind == "base" else "normal"
        widths = [text_width_in(short_name(one), NAME_SIZE[kind], weight) for one in chosen]
        boxes = name_boxes(chosen, widths, scene.extent, inch, taken)
        taken.extend(box for box in boxes if box)
        named += [(place, box) for place, box in zip(chosen, boxes, strict=True) if box]
    label_circles(axes, scene, drawn, words, inch, taken)
    label_lines(axes, scene, inch, taken)
    for place in scene.places:
        draw_place(axes, place)
    for place, box in named:
        draw_name(axes, place, box)


def draw_circle(axes: Axes, circle: Circle) -> None:
    """A circle around the mast with a white edge."""
    from matplotlib.patches import Circle as Round

    how = circle_style(circle.kind)
    axes.add_patch(Round((0.0, 0.0), circle.radius_m, fc="none", ec="white", lw=how["lw"] + 1.8, zorder=5.0))
    drawn = Round((0.0, 0.0), circle.radius_m, fc="none", zorder=5.1, **how)
    drawn.set_gid(f"circle-{circle.kind}")
    axes.add_patch(drawn)


def _guys(axes: Axes, scene: Scene) -> None:
    """The band where the anchors stand, and an example of them."""
    from matplotlib.patches import Annulus

    least, most = scene.mast.guy_anchors_m
    axes.add_patch(
        Annulus((0.0, 0.0), most, most - least, fc=(0.93, 0.93, 0.93), ec="black", lw=0.5, zorder=2.4)
    )
    middle = (least + most) / 2.0
    for number in range(scene.mast.guy_directions):
        turn = 2.0 * math.pi * number / scene.mast.guy_directions
        x, y = middle * math.sin(turn), middle * math.cos(turn)
        axes.plot([0.0, x], [0.0, y], color="black", lw=0.7, zorder=2.5)
        axes.plot([x], [y], marker="s", ms=3.2, mfc="black", mec="white", mew=0.5, zorder=2.6)


def _crop(scene: Scene) -> tuple[Any, Any, Any]:
    """Heights around the base with the local coordinates of their columns and rows."""
    grid = scene.grid
    reach = math.ceil(scene.half_m / grid.cell_size_m) + 1
    rows = np.arange(max(grid.base_row - reach, 0), min(grid.base_row + reach + 1, grid.shape[0]))
    columns = np.arange(max(grid.base_column - reach, 0), min(grid.base_column + reach + 1, grid.shape[1]))
    x = (columns - grid.base_column) * grid.cell_size_m
    y = (grid.base_row - rows) * grid.cell_size_m
    return x, y, np.ma.masked_invalid(grid.height_m[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1])


def contour_step_m(scene: Scene) -> float | None:
    """Interval of the contours, m; None where the cells are too coarse or the ground too level for them."""
    if 2.0 * scene.half_m < LEAST_CELLS * scene.grid.cell_size_m:
        return None
    _, _, height = _crop(scene)
    if min(height.shape) < 2 or height.count() < 4:
        return None
    unit_m = METRES_PER_UNIT[scene.show.height_unit]
    relief = float(np.ptp(height.compressed())) / unit_m
    step = step_at_least(max(relief / CONTOURS_ABOUT, 0.1))
    return step * unit_m if relief > step else None


def _contours(axes: Axes, scene: Scene) -> None:
    step_m = contour_step_m(scene)
    if step_m is None:
        return
    x, y, height = _crop(scene)
    levels = np.arange(math.ceil(height.min() / step_m), math.floor(height.max() / step_m) + 1) * step_m
    lines = axes.contour(
        x, y, height, levels=levels, colors=style.CONTOUR, linewidths=0.5, alpha=0.55, zorder=1.5
    )
    digits = 0 if step_m >= METRES_PER_UNIT[scene.show.height_unit] else 1
    unit_m = METRES_PER_UNIT[scene.show.height_unit]
    axes.clabel(lines, fmt=lambda level: f"{level / unit_m:.{digits}f}", fontsize=6.6, inline_spacing=2)
