"""A sheet measured in inches, and the rows of a key that are set on it in columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linkplan.outputs import canvas, style
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_type import width_in
from linkplan.outputs.canvas import plain
from linkplan.outputs.formats import Formats, typeset
from linkplan.outputs.map_frame import draw_scale_and_north

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SMALL, NORMAL, TITLE = 7.2, 8.0, 9.5
"""Sizes of type, points; nothing is smaller than 6.5."""
LINE_IN = 0.118
"""From one small line of type to the next."""
SIGN_IN, SIGN_GAP_IN = 0.34, 0.09
"""Width of a sign in the key, and from there to its words."""
SCALE_IN, SCALE_FROM_IN, SCALE_ROOM_IN = 0.34, 2.2, 1.85
"""Height of scale and north, the width that the bar is a part of, and what both take at most."""
BETWEEN_COLUMNS_IN = 0.2
ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"


class Board:
    """A figure with axes over all of it whose units are inches from the lower left corner."""

    def __init__(self, width_in: float, height_in: float) -> None:
        self.width, self.height = width_in, height_in
        self.figure = canvas.blank(width_in, height_in)
        self.sheet = self.axes(0.0, 0.0, width_in, height_in)
        canvas.bare(self.sheet)
        self.sheet.set_xlim(0.0, width_in)
        self.sheet.set_ylim(0.0, height_in)

    def axes(self, x: float, y: float, wide: float, high: float) -> Axes:
        """Axes at inches."""
        box = (x / self.width, y / self.height, wide / self.width, high / self.height)
        return self.figure.add_axes(box)

    def write(self, x: float, y: float, text: str, size: float = NORMAL, **how: Any) -> None:
        """A line of plain text, by its middle height."""
        self.sheet.text(x, y, plain(typeset(text)), fontsize=size, va="center", **how)


Sign = Callable[["Axes", float, float], None]
"""Draws a sign on axes in inches, SIGN_IN wide, from its left end at middle height."""


@dataclass(frozen=True)
class Row:
    """A row of a key."""

    height_in: float
    draw: Callable[[Board, float, float, float], None]
    """On a board, with the left end, the upper edge and the width there is."""
    title: bool = False
    """Never the last of a column."""


def title_row(text: str, above_in: float = 0.0) -> Row:
    """A heading, so far below what is above it."""

    def draw(board: Board, x: float, top: float, width: float) -> None:
        board.write(x, top - above_in - 0.09, fitted(text, TITLE, width, "bold"), TITLE, fontweight="bold")

    return Row(0.2 + above_in, draw, title=True)


def sign_row(
    sign: Sign,
    name: str,
    width: float,
    right: str = "",
    note: str = "",
    *,
    bold: bool = False,
    lines: int = 2,
) -> Row:
    """A sign with its name, a value at the right end, and a note in smaller type below."""
    weight = "bold" if bold else "normal"
    indent = SIGN_IN + SIGN_GAP_IN
    room = width - indent
    right_in = width_in(typeset(right), NORMAL) + 0.08 if right else 0.0
    named = wrapped(name, NORMAL, room - right_in, lines, weight)
    noted = wrapped(note, SMALL, room, 3) if note else []
    height = 0.165 + LINE_IN * (len(named) - 1 + len(noted))

    def draw(board: Board, x: float, top: float, _width: float) -> None:
        y = top - 0.08
        sign(board.sheet, x, y)
        if right:
            board.write(x + width, y, right, NORMAL, ha="right")
        for line in named:
            board.write(x + indent, y, line, NORMAL, fontweight=weight)
            y -= LINE_IN
        for line in noted:
            board.write(x + indent, y, line, SMALL, color=style.INK_SOFT)
            y -= LINE_IN

    return Row(height, draw)


def text_row(text: str, width: float, lines: int = 3) -> Row:
    """A remark over the whole width."""
    parts = wrapped(text, SMALL, width, lines)

    def draw(board: Board, x: float, top: float, _width: float) -> None:
        for number, line in enumerate(parts):
            board.write(x, top - 0.07 - number * LINE_IN, line, SMALL, color=style.INK_SOFT)

    return Row(LINE_IN * len(parts) + 0.04, draw)


def scale_row(show: Formats, words: PictureWords, inch: float) -> Row:
    """Scale bar and north; `inch` is metres on an inch of paper."""

    def draw(board: Board, x: float, top: float, width: float) -> None:
        size = (min(max(width, 1.6), SCALE_FROM_IN), SCALE_IN - 0.06)
        axes = board.axes(x, top - SCALE_IN + 0.02, *size)
        draw_scale_and_north(axes, show, inch, size, words.north)

    return Row(SCALE_IN, draw)


def columns_of(rows: Sequence[Row], count: int) -> list[list[Row]]:
    """The rows in `count` columns, in order, as even as they go; no heading is the last of a column."""
    total = sum(row.height_in for row in rows)
    best: list[list[Row]] = [list(rows)]
    most = total / count
    for _ in range(60):
        columns: list[list[Row]] = [[]]
        for row in rows:
            if columns[-1] and column_height(columns[-1]) + row.height_in > most + 1e-9:
                over = [columns[-1].pop()] if columns[-1][-1].title else []
                columns.append(over)
            columns[-1].append(row)
        best = columns
        if len(columns) <= count:
            break
        most += 0.04
    return best


def column_height(rows: Sequence[Row]) -> float:
    """Inches."""
    return sum(row.height_in for row in rows)


def draw_columns(board: Board, columns: Sequence[Sequence[Row]], x: float, top: float, width: float) -> None:
    """Columns `width` wide side by side, downwards from `top`."""
    for rows in columns:
        y = top
        for row in rows:
            row.draw(board, x, y, width)
            y -= row.height_in
        x += width + BETWEEN_COLUMNS_IN


def fitted(text: str, size: float, width_in: float, weight: str = "normal") -> str:
    """The text, cut short where it is wider than there is room."""
    if _width_in(text, size, weight) <= width_in:
        return text
    low, high = 0, len(text)
    while low < high - 1:
        middle = (low + high) // 2
        short = text[:middle].rstrip() + ELLIPSIS
        low, high = (middle, high) if _width_in(short, size, weight) <= width_in else (low, middle)
    return text[:low].rstrip() + ELLIPSIS


def wrapped(text: str, size: float, width_in: float, lines: int, weight: str = "normal") -> list[str]:
    """The text on so many lines at most; what does not go there is cut short."""
    found: list[str] = [""]
    for word in text.split():
        longer = f"{found[-1]} {word}".strip()
        if found[-1] and _width_in(longer, size, weight) > width_in:
            if len(found) == lines:
                found[-1] = longer
                break
            found.append(word)
        else:
            found[-1] = longer
    return [fitted(line, size, width_in, weight) for line in found]


def _width_in(text: str, size: float, weight: str) -> float:
    return width_in(typeset(text), size, weight)
