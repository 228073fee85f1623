"""The map of the job as the brief carries it: half a page, readable in black and white."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import CoverageMap
from linkplan.outputs import style
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_board import (
    BETWEEN_COLUMNS_IN,
    LINE_IN,
    SCALE_IN,
    SCALE_ROOM_IN,
    SMALL,
    Board,
    Row,
    column_height,
    columns_of,
    draw_columns,
    scale_row,
    text_row,
    title_row,
    wrapped,
)
from linkplan.outputs.brief.pictures_job_key import Shown, job_key
from linkplan.outputs.brief.pictures_tags import GAP, ZONE, ZONE_GAP, Tag, draw_tag, place_tags
from linkplan.outputs.canvas import patch_of, text_width_in
from linkplan.outputs.formats import Formats
from linkplan.outputs.map_figure import NAME_SIZE, draw_class_numbers, draw_name, draw_place, short_name
from linkplan.outputs.map_frame import draw_baseline_limit, draw_coordinate_grid
from linkplan.outputs.map_labels import Box, Extent, name_boxes, sign_boxes
from linkplan.outputs.picture import class_picture
from linkplan.outputs.shapes import ClassArea, Place, class_areas, drawn_boundary, limit_on_map_m, places
from linkplan.outputs.siting_drawing import draw_outlines
from linkplan.outputs.siting_marks import Outline
from linkplan.study import BriefFacts
from linkplan.terrain.masks import polygons_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from shapely.geometry.base import BaseGeometry

LEFT_IN, TOP_IN, RIM_IN, BETWEEN_IN = 0.22, 0.04, 0.03, 0.2
LETTERS_IN = 0.2
SIDE_IN = (1.95, 2.25, 2.55)
"""Widths of the key beside the map."""
KEY_OFF_IN = 0.1
"""From the scale to a key below it."""
LEAST_MAP_IN, LEAST_COLUMN_IN = 1.2, 1.7
WORTH = (1.0, 0.8, 0.75)
"""What a map's width counts, by how much its key leaves out: a key that says all is worth a smaller map."""
SMALL_JOB = 0.42
"""A job that takes less than this share of the map's width and height is drawn alone, the rest beside it."""
OVERVIEW_IN = 1.05
MOST_PIXELS = 900
"""Longer side of the picture inside."""
SPECK_IN = 0.03
"""Patches of less than its square are left to their colour."""
SLACK_IN = 0.005
"""How far an outline may be off, an eighth of a millimetre: the file stays small."""
NO_DATA_HATCH = "////"


@dataclass(frozen=True)
class View:
    """What the parts of the map need to know."""

    facts: BriefFacts
    words: PictureWords
    show: Formats
    areas: tuple[ClassArea, ...]
    boundary: BaseGeometry
    outlines: tuple[Outline, ...]
    zone_gaps: BaseGeometry
    places: tuple[Place, ...]
    """Control points, gaps, the base last."""
    extent: Extent
    limit_m: float | None

    @property
    def ratio(self) -> float:
        """Of its height to its width."""
        return (self.extent[3] - self.extent[1]) / (self.extent[2] - self.extent[0])

    @property
    def coverage(self) -> CoverageMap:
        """Of the job."""
        return self.facts.study.coverage


@dataclass(frozen=True)
class Layout:
    """Where the map and the columns of the key stand, inches."""

    map_wide: float
    map_high: float
    columns: list[list[Row]]
    column_in: float
    beside: bool
    height: float
    scale_in_key: bool
    """Scale and north stand at the end of the key, not under the map."""
    saving: int
    """How much the key leaves out, as `job_key` has it."""


def job_board(facts: BriefFacts, words: PictureWords, width_in: float, most_height_in: float) -> Board:
    """The map drawn. To be called inside `canvas.house_style()`."""
    view, whole = _view(facts, words)
    layout = _layout(view, whole, width_in, most_height_in)
    board = Board(width_in, layout.height)
    inch = (view.extent[2] - view.extent[0]) / layout.map_wide
    foot = layout.height - TOP_IN - layout.map_high
    axes = board.axes(LEFT_IN, foot, layout.map_wide, layout.map_high)
    axes.set_gid("map")
    shown = _map(axes, view, inch)
    names = (words.longitude_axis, words.latitude_axis) if view.show.geographic else None
    names = names or (words.easting_axis, words.northing_axis)
    draw_coordinate_grid(axes, view.coverage, view.show, inch, view.extent, names)
    if not layout.scale_in_key:
        scale_row(view.show, words, inch).draw(board, LEFT_IN, foot - LETTERS_IN, layout.map_wide)
        _coordinates(board, view, foot - LETTERS_IN - 0.12, layout)
    rows = _rows(view, shown, layout, whole, inch)
    columns = _into(rows, layout)
    if layout.beside:
        draw_columns(
            board, columns, LEFT_IN + layout.map_wide + BETWEEN_IN, layout.height - TOP_IN, layout.column_in
        )
    else:
        top = foot - LETTERS_IN - SCALE_IN - KEY_OFF_IN
        draw_columns(board, columns, RIM_IN, top, layout.column_in)
    return board


def _view(facts: BriefFacts, words: PictureWords) -> tuple[View, Extent | None]:
    """The view, and the extent of the whole map where the view is of its part with the job alone."""
    import shapely

    plan, coverage, summary = facts.study.plan, facts.study.coverage, facts.study.summary
    grid = coverage.grid
    boundary = drawn_boundary(plan, grid)
    relied = [zone for zone in plan.siting.zones if zone.relies] if plan.siting is not None else []
    lines = plan.siting.rules.lines if plan.siting is not None else ()
    outlines = [Outline("zone", one.name, grid.frame.geometry_to_local(one.area)) for one in relied]
    outlines += [Outline("line", one.name, grid.frame.geometry_to_local(one.shape)) for one in lines]
    order = {"control": 0, "gap": 1, "base": 2}
    found = sorted(places(plan, grid, summary), key=lambda place: order[place.kind])
    whole, near = grid.extent_m, _with_rim(boundary)
    small = max((near[2] - near[0]) / (whole[2] - whole[0]), (near[3] - near[1]) / (whole[3] - whole[1]))
    extent = near if small < SMALL_JOB else whole
    gaps = shapely.union_all(
        [cells for zone in facts.safety.zones for cells in _gap_cells(facts, zone.gap_number)]
    )
    view = View(
        facts, words, Formats.of(plan), class_areas(coverage), boundary, tuple(outlines), gaps, tuple(found),
        extent, limit_on_map_m(coverage, summary),
    )  # fmt: skip
    return view, whole if extent is near else None


def _gap_cells(facts: BriefFacts, number: Any) -> list[BaseGeometry]:
    if not number.any():
        return []
    return [outline for value, outline in polygons_of(facts.study.coverage.grid, number) if value]


def _with_rim(boundary: BaseGeometry) -> Extent:
    west, south, east, north = boundary.bounds
    rim = 0.06 * max(east - west, north - south)
    return west - rim, south - rim, east + rim, north + rim


def _layout(view: View, whole: Extent | None, width_in: float, most_height_in: float) -> Layout:
    """The key beside the map or below it, in full or short, whichever leaves the map larger."""
    found: list[tuple[float, Layout]] = []
    for saving, worth in enumerate(WORTH):
        tried = [*_beside(width_in, saving), *_below(width_in, saving)]
        done = [_fitted(view, whole, one, width_in, most_height_in) for one in tried]
        found += [(one.map_wide * worth, one) for one in done if one is not None]
    if found:
        return max(found, key=lambda one: one[0])[1]
    # hardly any room: a small map, and the key as long as it is
    least = next(one for one in _below(width_in, len(WORTH) - 1))
    return _set(view, None, least, min(width_in - LEFT_IN - RIM_IN, 2.0))


def _beside(width_in: float, saving: int) -> Iterator[Layout]:
    for scale_in_key in (False, True):
        for count, column_in in ((1, SIDE_IN[0]), (1, SIDE_IN[1]), (1, SIDE_IN[2]), (2, SIDE_IN[0])):
            frame = LEFT_IN + BETWEEN_IN + RIM_IN + (count - 1) * BETWEEN_COLUMNS_IN
            wide = width_in - frame - count * column_in
            yield Layout(wide, 0.0, [[]] * count, column_in, True, 0.0, scale_in_key, saving)


def _below(width_in: float, saving: int) -> Iterator[Layout]:
    for count in (1, 2, 3, 4):
        column_in = (width_in - 2 * RIM_IN - (count - 1) * BETWEEN_COLUMNS_IN) / count
        if count == 1 or column_in > LEAST_COLUMN_IN:
            wide = width_in - LEFT_IN - RIM_IN
            yield Layout(wide, 0.0, [[]] * count, column_in, False, 0.0, False, saving)


def _fitted(
    view: View, whole: Extent | None, tried: Layout, width_in: float, most_height_in: float
) -> Layout | None:
    """A layout with the map as large as it goes, or None where the key does not fit."""
    under = TOP_IN + LETTERS_IN + (0.0 if tried.scale_in_key else SCALE_IN)
    if tried.beside:
        wide = min(tried.map_wide, (most_height_in - under) / view.ratio)
        count = len(tried.columns)
        column_in = min(tried.column_in + (tried.map_wide - wide) / count, SIDE_IN[2])
        tried = replace(tried, column_in=column_in)
    else:
        key = _set(view, whole, tried, 1.0).height - view.ratio
        wide = min(tried.map_wide, (most_height_in - key) / view.ratio)
    if wide < LEAST_MAP_IN or tried.column_in > width_in:
        return None
    found = _set(view, whole, tried, wide)
    return (
        found if found.height <= most_height_in + 1e-9 and len(found.columns) <= len(tried.columns) else None
    )


def _set(view: View, whole: Extent | None, tried: Layout, wide: float) -> Layout:
    """The same with a map so wide, and the key in its columns."""
    columns = columns_of(_rows(view, Shown.most(), tried, whole), len(tried.columns))
    key, high = max(column_height(one) for one in columns), wide * view.ratio
    under = TOP_IN + LETTERS_IN + (0.0 if tried.scale_in_key else SCALE_IN)
    height = max(high + under, key + TOP_IN) if tried.beside else high + under + key + KEY_OFF_IN
    return replace(tried, map_wide=wide, map_high=high, columns=columns, height=height)


def _rows(
    view: View, shown: Shown, layout: Layout, whole: Extent | None, inch: float | None = None
) -> list[Row]:
    """The key; without `inch`, metres on an inch of paper, to be measured only."""
    width = layout.column_in
    rows = job_key(view.facts, view.words, view.show, shown, width, view.limit_m, layout.saving)
    if whole is not None:
        rows.append(_overview(view, whole, width))
    if layout.scale_in_key:
        rows.append(scale_row(view.show, view.words, inch or 1.0))
        rows.append(text_row(view.words.coordinates.format(crs=view.show.crs_name), width))
    return rows


def _into(rows: Sequence[Row], layout: Layout) -> list[list[Row]]:
    """The rows where the layout has them: only their words have changed since."""
    found, start = [], 0
    for column in layout.columns:
        found.append(list(rows[start : start + len(column)]))
        start += len(column)
    return found


def _overview(view: View, whole: Extent, width: float) -> Row:
    """The whole map, small, with the part that the large one shows."""
    ratio = (whole[3] - whole[1]) / (whole[2] - whole[0])
    high = min(OVERVIEW_IN, width * ratio)
    wide = high / ratio
    title = title_row(view.words.overview)

    def draw(board: Board, x: float, top: float, room: float) -> None:
        from matplotlib.patches import Rectangle

        title.draw(board, x, top, room)
        axes = board.axes(x, top - title.height_in - high, wide, high)
        _ground(axes, view, whole, round(high * 150))
        _boundary(axes, view, 0.5, (whole[2] - whole[0]) / wide)
        west, south, east, north = view.extent
        frame = Rectangle((west, south), east - west, north - south, fc="none", ec="black", lw=1.0, zorder=5)
        axes.add_patch(frame)
        axes.plot(0.0, 0.0, marker="o", ms=5.5, mfc=style.BASE_FILL, mec="black", mew=0.9, zorder=6)
        _bare(axes, whole)

    return Row(title.height_in + high + 0.06, draw)


def _map(axes: Axes, view: View, inch: float) -> Shown:
    """Draw all that lies on the ground, and say what had room for its name."""
    _ground(axes, view, view.extent, MOST_PIXELS)
    _outlines(axes, view, inch)
    _boundary(axes, view, 1.0, inch)
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
    for place in signs:
        draw_place(axes, place)
    for place, box in [*control, *named]:
        if box is not None:
            draw_name(axes, place, box)
    _bare(axes, view.extent)
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
    widths = [text_width_in(short_name(place), NAME_SIZE[kind], weight) for place in chosen]
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


def _ground(axes: Axes, view: View, extent: Extent, most_pixels: int) -> None:
    """Classes over the hillshade, the part that is seen."""
    grid = view.coverage.grid
    cell, (rows, columns) = grid.cell_size_m, grid.shape
    west, _, _, north = grid.extent_m
    first_row = max(math.floor((north - extent[3]) / cell), 0)
    last_row = min(math.ceil((north - extent[1]) / cell), rows)
    first_column = max(math.floor((extent[0] - west) / cell), 0)
    last_column = min(math.ceil((extent[2] - west) / cell), columns)
    step = math.ceil(max(last_row - first_row, last_column - first_column) / most_pixels)
    picture = class_picture(view.coverage)[first_row:last_row:step, first_column:last_column:step]
    left, top = west + first_column * cell, north - first_row * cell
    high, wide = picture.shape[0] * step * cell, picture.shape[1] * step * cell
    axes.imshow(picture, extent=(left, left + wide, top - high, top), interpolation="none", zorder=1)


def _outlines(axes: Axes, view: View, inch: float) -> None:
    """Fine lines around the classes, a hatch where nothing is known."""
    import shapely

    hatch = np.array(style.HATCH_RGB) / 255.0
    for area in view.areas:
        seen = shapely.clip_by_rect(area.outline, *_wider(view.extent))
        parts = [part for part in shapely.get_parts(seen) if part.geom_type == "Polygon"]
        if area.index == 0:
            for part in parts:
                axes.add_artist(patch_of(part, fc="none", ec=hatch, hatch=NO_DATA_HATCH, lw=0.6, zorder=2))
            continue
        large = [part.simplify(SLACK_IN * inch) for part in parts if part.area > (SPECK_IN * inch) ** 2]
        for part in large:
            axes.add_artist(patch_of(part, fc="none", ec=(0, 0, 0, 0.6), lw=0.35, zorder=2.5))


def _wider(extent: Extent) -> Extent:
    """So that a cut edge is drawn outside of the frame."""
    rim = 0.01 * (extent[2] - extent[0])
    return extent[0] - rim, extent[1] - rim, extent[2] + rim, extent[3] + rim


def _boundary(axes: Axes, view: View, scale: float, inch: float) -> None:
    outline = view.boundary.simplify(SLACK_IN / 2.0 * inch)
    for colour, width, order in (("white", style.CASING_WIDTH, 4.0), ("black", style.BOUNDARY_WIDTH, 4.1)):
        line = patch_of(outline, fc="none", ec=colour, lw=width * scale, joinstyle="round", zorder=order)
        axes.add_artist(line)


def _bare(axes: Axes, extent: Extent) -> None:
    axes.set_xlim(extent[0], extent[2])
    axes.set_ylim(extent[1], extent[3])
    axes.set_aspect("auto")
    axes.set_xticks([])
    axes.set_yticks([])


def _coordinates(board: Board, view: View, y: float, layout: Layout) -> None:
    """Which coordinates, beside the scale, in the room that the map's width leaves."""
    room = layout.map_wide - SCALE_ROOM_IN
    text = view.words.coordinates.format(crs=view.show.crs_name)
    if room < 0.8:
        return
    for number, line in enumerate(wrapped(text, SMALL, room, 2)):
        at = LEFT_IN + layout.map_wide
        board.write(at, y - LINE_IN * number, line, SMALL, ha="right", color=style.INK_SOFT)
