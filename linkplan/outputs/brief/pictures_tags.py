"""Numbers of gaps and zones on the brief's map: which sign they have, and where there is room for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from linkplan.outputs.brief.pictures_type import width_in
from linkplan.outputs.canvas import plain
from linkplan.outputs.map_labels import Box, Extent, free_tags, sign_boxes
from linkplan.outputs.shapes import Place

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GAP, ZONE, ZONE_GAP = "gap", "zone", "zone gap"
SIZE = 7.6
LOOKS: dict[str, dict[str, Any]] = {
    GAP: {"boxstyle": "round,pad=0.25", "fc": "black", "ec": "white", "lw": 0.8},
    ZONE: {"boxstyle": "square,pad=0.25", "fc": "white", "ec": "black", "lw": 1.0},
    ZONE_GAP: {"boxstyle": "square,pad=0.25", "fc": "black", "ec": "white", "lw": 0.8},
}


@dataclass(frozen=True)
class Tag:
    """A number with its place, in local metres."""

    kind: str
    text: str
    x_m: float
    y_m: float
    box: Box | None = None
    """Room for it."""


def place_tags(tags: Sequence[Tag], extent: Extent, inch: float, taken: list[Box]) -> tuple[list[Tag], int]:
    """The tags on the map with their room, and how many have none; `taken` grows by what they cover."""
    west, south, east, north = extent
    here = [tag for tag in tags if west < tag.x_m < east and south < tag.y_m < north]
    dots = [Place("gap", tag.text, tag.x_m, tag.y_m, 0.0, 0.0, "") for tag in here if tag.kind == ZONE_GAP]
    taken.extend(sign_boxes(dots, inch))
    found = []
    for tag in here:
        wide = width_in(tag.text, SIZE, "bold") + 0.09
        room = free_tags([(tag.x_m, tag.y_m)], [wide], extent, inch, taken, on_place=tag.kind == ZONE)
        found.append(replace(tag, box=room[0]))
        taken.extend(box for box in room if box is not None)
    return found, sum(tag.box is None for tag in found)


def draw_tag(axes: Axes, tag: Tag) -> None:
    """A dot in the gap with its number beside it; of a zone the number alone."""
    if tag.box is not None:
        middle = (tag.box[0] + tag.box[2]) / 2.0, (tag.box[1] + tag.box[3]) / 2.0
        for colour, width, order in (("white", 2.0, 6.3), ("black", 0.9, 6.4)):
            axes.plot([tag.x_m, middle[0]], [tag.y_m, middle[1]], color=colour, lw=width, zorder=order)
        axes.text(
            *middle, plain(tag.text), ha="center", va="center_baseline", fontsize=SIZE, fontweight="bold",
            color="black" if tag.kind == ZONE else "white", zorder=7, bbox=LOOKS[tag.kind],
        )  # fmt: skip
    if tag.kind != ZONE:
        shape = "s" if tag.kind == ZONE_GAP else "o"
        axes.plot(tag.x_m, tag.y_m, marker=shape, ms=4.0, mfc="black", mec="white", mew=0.9, zorder=6.5)


def tag_sign(kind: str, text: str) -> Any:
    """Its sign for the key."""

    def draw(axes: Axes, x: float, y: float) -> None:
        axes.text(
            x + 0.17, y, plain(text), fontsize=SIZE, fontweight="bold", ha="center", va="center_baseline",
            color="black" if kind == ZONE else "white", bbox=LOOKS[kind],
        )  # fmt: skip

    return draw
