"""The map of the job as the brief carries it: half a page, readable in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from linkplan.outputs import style
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_board import (
    LINE_IN,
    SCALE_IN,
    SMALL,
    Board,
    draw_columns,
    scale_row,
)
from linkplan.outputs.brief.pictures_job_ground import bare, draw_boundary, draw_class_outlines, draw_ground
from linkplan.outputs.brief.pictures_job_key import Shown
from linkplan.outputs.brief.pictures_job_layout import (
    BETWEEN_IN,
    KEY_OFF_IN,
    LEFT_IN,
    LETTER_HALF_IN,
    LETTERS_IN,
    RIM_IN,
    TOP_IN,
    coordinates_beside,
    into_columns,
    key_rows,
    layout_of,
)
from linkplan.outputs.brief.pictures_job_view import MOST_CELLS, View, view_of
from linkplan.outputs.brief.pictures_tags import GAP, ZONE, ZONE_GAP, Tag, draw_tag, place_tags
from linkplan.outputs.brief.pictures_type import width_in
from linkplan.outputs.canvas import patch_of
from linkplan.outputs.map_figure import NAME_SIZE, draw_class_numbers, draw_name, draw_place, short_name
from linkplan.outputs.map_frame import draw_baseline_limit, draw_coordinate_grid
from linkplan.outputs.map_labels import Box, Extent, name_boxes, sign_boxes
from linkplan.outputs.shapes import Place
from linkplan.outputs.siting_drawing import draw_outlines
from linkplan.study import BriefFacts

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SPACING_IN = 0.8
"""Least from one line of the coordinate grid to the next."""
MANY_POINTS = 100
"""More control points have smaller signs."""


def job_board(facts: BriefFacts, words: PictureWords, width_in: float, most_height_in: float) -> Board:
    """The map drawn. To be called inside `drawing_style()`."""
    view, whole = view_of(facts, words)
    layout = layout_of(view, whole, width_in, most_height_in)
    board = Board(width_in, layout.height)
    inch = (view.extent[2] - view.extent[0]) / layout.map_wide
    foot = layout.height - TOP_IN - layout.map_high
    axes = board.axes(LEFT_IN, foot, layout.map_wide, layout.map_high)
    axes.set_gid("map")
    shown = _map(axes, view, inch)
    names = (words.longitude_axis, words.latitude_axis) if view.show.geographic else None
    names = names or (words.easting_axis, words.northing_axis)
    draw_coordinate_grid(axes, view.coverage, view.show, inch, view.extent, names, LETTER_HALF_IN, SPACING_IN)
    if not layout.scale_in_key:
        scale_row(view.show, words, inch).draw(board, LEFT_IN, foot - LETTERS_IN, layout.map_wide)
        for number, line in enumerate(coordinates_beside(view, layout)):
            y = foot - LETTERS_IN - 0.12 - LINE_IN * number
            board.write(LEFT_IN + layout.map_wide, y, line, SMALL, ha="right", color=style.INK_SOFT)
    rows = key_rows(view, shown, layout, whole, inch)
    columns = into_columns(rows, layout)
    if layout.beside:
        draw_columns(
            board, columns, LEFT_IN + layout.map_wide + BETWEEN_IN, layout.height - TOP_IN, layout.column_in
        )
    else:
        top = foot - LETTERS_IN - SCALE_IN - KEY_OFF_IN
        draw_columns(board, columns, RIM_IN, top, layout.column_in)
    return board


def _map(axes: Axes, view: View, inch: float) -> Shown:
    """Draw all that lies on the ground, and say what had room for its name."""
    draw_ground(axes, view, view.extent, MOST_CELLS)
    draw_class_outlines(axes, view, inch)
    draw_boundary(axes, view, 1.0, inch)
    if view.limit_m is not None:
        draw_baseline_limit(axes, view.limit_m)
    if not view.zone_gaps.is_empty:
        for colour, width, hatch in (("white", 2.4, None), ("black", 1.1, "xxxxx")):
            axes.add_artist(patch_of(view.zone_gaps, fc="none", ec=colour, lw=width, hatch=hatch, zorder=4.3))
    draw_outlines(axes, view.outlines)
    west, south, east, north = view.extent
    here = [place for place in view.places if west < place.x_m < east and south < place.y_m < north]
    signs = [place for place in here if place.kind != "gap"]
    taken = sign_boxes(here, inch)
    named = _names(signs, "base", view.extent, inch, taken)
    tags, left_out = place_tags(_tags(view), view.extent, inch, taken)
    control = _names(signs, "control", view.extent, inch, taken)
    draw_class_numbers(axes, view.areas, view.extent, inch, taken, view.boundary)
    for tag in tags:
        draw_tag(axes, tag)
    if sum(place.kind == "control" for place in signs) > MANY_POINTS:
        few = [place for place in signs if place.kind == "control"]
        at = [place.x_m for place in few], [place.y_m for place in few]
        axes.plot(*at, ls="none", marker="^", ms=4.5, mfc="white", mec="black", mew=0.7, zorder=6.0)
        signs = [place for place in signs if place.kind == "base"]
    for place in signs:
        draw_place(axes, place)
    for place, box in [*control, *named]:
        if box is not None:
            draw_name(axes, place, box)
    bare(axes, view.extent)
    return Shown(
        control=len(control),
        control_named=sum(box is not None for _, box in control),
        base=any(place.kind == "base" for place in signs),
        unnumbered=left_out > 0,
    )


def _names(
    signs: Sequence[Place], kind: str, extent: Extent, inch: float, taken: list[Box]
) -> list[tuple[Place, Box | None]]:
    chosen = [place for place in signs if place.kind == kind]
    weight = "bold" if kind == "base" else "normal"
    widths = [width_in(short_name(place), NAME_SIZE[kind], weight) for place in chosen]
    room = name_boxes(chosen, widths, extent, inch, taken)
    taken.extend(box for box in room if box)
    return list(zip(chosen, room, strict=True))


def _tags(view: View) -> list[Tag]:
    """Zones first, then their gaps, then those of the job: who is placed first gets the better room."""
    words, frame = view.words, view.coverage.grid.frame
    shapes = [one.shape for one in view.outlines if one.kind == "zone"]
    tags = []
    for number, shape in enumerate(shapes, start=1):
        point = shape.representative_point()
        tags.append(Tag(ZONE, words.zone_number(number), point.x, point.y))
    for number, zone in enumerate(view.facts.safety.zones, start=1):
        for gap in zone.gaps:
            x, y = frame.to_local(gap.easting, gap.northing)
            tags.append(Tag(ZONE_GAP, words.zone_gap_number(number, gap.number), float(x), float(y)))
    for place in view.places:
        if place.kind == "gap":
            tags.append(Tag(GAP, words.gap_number(int(place.name)), place.x_m, place.y_m))
    return tags
