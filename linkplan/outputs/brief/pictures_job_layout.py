"""Where map and key of the brief's map stand: beside or below each other, the map as large as it goes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from linkplan.outputs import style
from linkplan.outputs.brief.pictures_board import (
    BETWEEN_COLUMNS_IN,
    ELLIPSIS,
    SCALE_IN,
    SCALE_ROOM_IN,
    SMALL,
    Board,
    Row,
    column_height,
    columns_of,
    scale_row,
    sign_row,
    text_row,
    title_row,
    wrapped,
)
from linkplan.outputs.brief.pictures_job_ground import bare, draw_boundary, draw_ground
from linkplan.outputs.brief.pictures_job_key import Shown, job_key
from linkplan.outputs.brief.pictures_job_view import View
from linkplan.outputs.brief.plain import plain as visible
from linkplan.outputs.map_labels import Extent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT_IN, TOP_IN, RIM_IN, BETWEEN_IN = 0.22, 0.04, 0.03, 0.2
LETTERS_IN, LETTER_HALF_IN = 0.2, 0.36
SIDE_IN = (1.95, 2.25, 2.55)
"""Widths of the key beside the map."""
MOST_SIDE_IN, NARROW_IN = 3.1, 1.8
KEY_OFF_IN = 0.1
"""From the scale to a key below it."""
LEAST_MAP_IN, LEAST_COLUMN_IN, LEAST_ROOM_IN = 1.2, 1.7, 0.8
WORTH = (1.0, 0.8, 0.75)
"""What a map's width counts, by how much its key leaves out: a key that says all is worth a smaller map."""
OVERVIEW_IN = 1.05


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


def layout_of(view: View, whole: Extent | None, width_in: float, most_height_in: float) -> Layout:
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
        for count, column_in in (*((1, side) for side in SIDE_IN), (2, SIDE_IN[0]), (2, NARROW_IN)):
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
        column_in = min(tried.column_in + (tried.map_wide - wide) / count, MOST_SIDE_IN)
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
    tried = replace(tried, map_wide=wide)
    columns = columns_of(key_rows(view, Shown.most(), tried, whole), len(tried.columns))
    key, high = max(column_height(one) for one in columns), wide * view.ratio
    under = TOP_IN + LETTERS_IN + (0.0 if tried.scale_in_key else SCALE_IN)
    height = max(high + under, key + TOP_IN) if tried.beside else high + under + key + KEY_OFF_IN
    return replace(tried, map_high=high, columns=columns, height=height)


def key_rows(
    view: View, shown: Shown, layout: Layout, whole: Extent | None, inch: float | None = None
) -> list[Row]:
    """The key; without `inch`, metres on an inch of paper, to be measured only."""
    width = layout.column_in
    rows = job_key(view.facts, view.words, view.show, shown, width, view.limit_m, layout.saving)
    if whole is not None:
        rows.append(_overview(view, whole, width))
    if layout.scale_in_key:
        rows.append(scale_row(view.show, view.words, inch or 1.0))
    if not coordinates_beside(view, layout):
        rows.append(text_row(view.words.coordinates.format(crs=visible(view.show.crs_name)), width))
    return rows


def coordinates_beside(view: View, layout: Layout) -> list[str]:
    """Which coordinates, in lines beside the scale; none where the map leaves no room for them there."""
    room = layout.map_wide - SCALE_ROOM_IN
    if layout.scale_in_key or room < LEAST_ROOM_IN:
        return []
    lines = wrapped(view.words.coordinates.format(crs=visible(view.show.crs_name)), SMALL, room, 2)
    return [] if any(line.endswith(ELLIPSIS) for line in lines) else lines


def into_columns(rows: Sequence[Row], layout: Layout) -> list[list[Row]]:
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
    title = title_row(view.words.overview, 0.06)
    frame = sign_row(_frame, view.words.on_overview, width, lines=1)

    def draw(board: Board, x: float, top: float, room: float) -> None:
        from matplotlib.patches import Rectangle

        title.draw(board, x, top, room)
        axes = board.axes(x, top - title.height_in - high, wide, high)
        draw_ground(axes, view, whole, round(high * 150))
        draw_boundary(axes, view, 0.5, (whole[2] - whole[0]) / wide)
        west, south, east, north = view.extent
        seen = Rectangle((west, south), east - west, north - south, fc="none", ec="black", lw=1.0, zorder=5)
        axes.add_patch(seen)
        axes.plot(0.0, 0.0, marker="o", ms=5.5, mfc=style.BASE_FILL, mec="black", mew=0.9, zorder=6)
        bare(axes, whole)
        frame.draw(board, x, top - title.height_in - high - 0.05, room)

    return Row(title.height_in + high + 0.05 + frame.height_in, draw)


def _frame(axes: Axes, x: float, y: float) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((x + 0.08, y - 0.055), 0.18, 0.11, fc="none", ec="black", lw=1.0))
