"""What is around the base, close up: circles to keep, fall of the mast, guys, fence, overhead lines."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.outputs import style
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_around import (
    BAND_LOOK,
    MISSING_LOOK,
    Circle,
    Scene,
    circle_style,
    scene_of,
)
from linkplan.outputs.brief.pictures_base_key import base_key
from linkplan.outputs.brief.pictures_base_labels import crosses, label_circles, label_lines
from linkplan.outputs.brief.pictures_board import Board, Row, column_height, draw_columns, scale_row
from linkplan.outputs.brief.pictures_type import width_in
from linkplan.outputs.canvas import patch_of
from linkplan.outputs.map_figure import NAME_SIZE, draw_name, draw_place, short_name
from linkplan.outputs.map_frame import step_at_least
from linkplan.outputs.map_labels import Box, name_boxes, sign_boxes
from linkplan.outputs.siting_drawing import draw_outlines
from linkplan.outputs.siting_marks import Outline
from linkplan.study import BriefFacts
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TOP_IN, RIM_IN, BETWEEN_IN = 0.04, 0.03, 0.2
KEY_IN, LEAST_SIDE_IN = 2.3, 1.6
NARROW_IN = 4.4
"""On less width the key stands below."""
CONTOURS_ABOUT, LEAST_CELLS = 6, 4


def base_board(facts: BriefFacts, words: PictureWords, width_in: float, most_height_in: float) -> Board:
    """The drawing. To be called inside `drawing_style()`."""
    scene = scene_of(facts)
    beside = width_in >= NARROW_IN
    room = width_in - 2 * RIM_IN
    side = min(most_height_in - 2 * TOP_IN, room - BETWEEN_IN - KEY_IN) if beside else room
    key_in = min(room - BETWEEN_IN - side, 1.6 * KEY_IN) if beside else room
    step_m = contour_step_m(scene)

    def rows(side_in: float) -> list[Row]:
        inch = 2.0 * scene.half_m / side_in
        found = base_key(scene, words, inch, step_m, key_in, most_height_in - TOP_IN)
        return [*found, scale_row(scene.show, words, inch)]

    key = column_height(rows(side))
    if not beside:
        side = max(min(side, most_height_in - 2 * TOP_IN - key), LEAST_SIDE_IN)
    height = max(side, key) + 2 * TOP_IN if beside else side + key + 3 * TOP_IN
    board = Board(width_in, height)
    axes = board.axes(RIM_IN, height - TOP_IN - side, side, side)
    axes.set_gid("around")
    _around(axes, scene, words, 2.0 * scene.half_m / side)
    at = (RIM_IN + side + BETWEEN_IN, height - TOP_IN) if beside else (RIM_IN, height - 2 * TOP_IN - side)
    draw_columns(board, [rows(side)], *at, key_in)
    return board


def _around(axes: Axes, scene: Scene, words: PictureWords, inch: float) -> None:
    half = scene.half_m
    axes.set_xlim(-half, half)
    axes.set_ylim(-half, half)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_autoscale_on(False)
    if scene.missing is not None:
        axes.add_artist(patch_of(scene.missing, zorder=1.2, **MISSING_LOOK))
    heights = _contours(axes, scene, inch)
    _guys(axes, scene)
    for line in scene.lines:
        if line.band is not None:
            axes.add_artist(patch_of(line.band, zorder=3.0, **BAND_LOOK))
    draw_outlines(
        axes, [Outline("line", line.clearance.name, line.shape) for line in scene.lines if line.seen]
    )
    drawn = [one for one in scene.circles if one.drawn(inch, half)]
    for one in drawn:
        draw_circle(axes, one)
    taken = [*sign_boxes(scene.places, inch), *heights]
    named = []
    for kind in ("base", "control"):
        chosen = [place for place in scene.places if place.kind == kind]
        weight = "bold" if kind == "base" else "normal"
        widths = [width_in(short_name(one), NAME_SIZE[kind], weight) for one in chosen]
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


def _contours(axes: Axes, scene: Scene, inch: float) -> list[Box]:
    """Draw them, with their heights where nothing else is; the room that these take."""
    import shapely

    step_m = contour_step_m(scene)
    if step_m is None:
        return []
    x, y, height = _crop(scene)
    levels = np.arange(math.ceil(height.min() / step_m), math.floor(height.max() / step_m) + 1) * step_m
    lines = axes.contour(
        x, y, height, levels=levels, colors=style.CONTOUR, linewidths=0.5, alpha=0.55, zorder=1.5
    )
    unit_m = METRES_PER_UNIT[scene.show.height_unit]
    digits = 0 if step_m >= unit_m else 1
    written = axes.clabel(lines, fmt=lambda level: f"{level / unit_m:.{digits}f}", fontsize=7.2, inline=False)
    bands = [line.band for line in scene.lines if line.band is not None]
    radii = [*(one.radius_m for one in scene.circles), *scene.mast.guy_anchors_m]
    found = []
    for label in written:
        at, half = label.get_position(), 0.17 * inch
        box = (at[0] - half, at[1] - half, at[0] + half, at[1] + half)
        outside = max(abs(side) for side in box) > scene.half_m
        over = math.hypot(*at) < 2.0 * half or any(crosses(box, radius) for radius in radii)
        over = over or any(band.intersects(shapely.box(*box)) for band in bands)
        if outside or over:
            label.set_visible(False)
            continue
        label.set_bbox({"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"})
        found.append(box)
    return found
