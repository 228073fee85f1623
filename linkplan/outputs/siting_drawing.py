"""Marks and outlines of a siting search on the printed map, and their signs in its legend."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linkplan.outputs import style
from linkplan.outputs.canvas import patch_of, plain, text_width_in
from linkplan.outputs.map_labels import Box, Extent, name_boxes
from linkplan.outputs.shapes import Place
from linkplan.outputs.siting_marks import FIRST, OUT, OUTLINES, RANKED, REPEATER, SPARE, Extra, Mark, Outline

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from shapely.geometry.base import BaseGeometry

NUMBER_HALF_IN = {FIRST: 0.105, REPEATER: 0.105, RANKED: 0.095}
"""Less than the way from a place to its name."""
DOT_HALF_IN = 0.05
NAME_SIZE = {FIRST: 9.0, REPEATER: 9.0}
SMALL_NAME = 7.0
LONGEST_NAME = 22
DRAWN = ("keep-out", "zone", "line", "corridor", "link")
"""Outlines on paper; the page shows the others too."""

_WHITE, _BLACK, _DARK_RED = "white", "black", "#5c0a0a"
LINES: dict[str, list[dict[str, Any]]] = {
    "zone": [{"color": _WHITE, "lw": 3.0, "alpha": 0.85}, {"color": _BLACK, "lw": 1.3, "ls": (0, (1, 1.8))}],
    "line": [
        {"color": _WHITE, "lw": 3.6},
        {"color": _BLACK, "lw": 5.0, "ls": (0, (1, 3.6)), "dash_capstyle": "butt"},
        {"color": _BLACK, "lw": 1.5},
    ],
    "corridor": [{"color": _WHITE, "lw": 2.6}, {"color": _BLACK, "lw": 1.1}],
    "link": [{"color": _WHITE, "lw": 4.0}, {"color": style.BASE_FILL, "lw": 2.0, "ls": (0, (5, 2.2))}],
}


@dataclass(frozen=True)
class Placed:
    """A mark with what there is room for."""

    mark: Mark
    numbered: bool
    name_box: Box | None

    def boxes(self, inch: float) -> list[Box]:
        """What mark and name cover."""
        half = NUMBER_HALF_IN.get(self.mark.kind, DOT_HALF_IN) if self.numbered else DOT_HALF_IN
        return [_around(self.mark, half * inch), *([self.name_box] if self.name_box else [])]


def place_marks(extra: Extra, extent: Extent, inch: float, taken: list[Box]) -> list[Placed]:
    """The marks on the map, drawn last first; `taken` grows by what they cover.

    The best get room for number and name first; one without room for its number becomes a dot.
    """
    west, south, east, north = extent
    here = [mark for mark in extra.marks if west < mark.x_m < east and south < mark.y_m < north]
    here.sort(key=lambda mark: mark.order)
    numbered = []
    for mark in here:
        half = NUMBER_HALF_IN.get(mark.kind, DOT_HALF_IN) * inch
        box = _around(mark, half)
        fits = bool(mark.number) and (mark.order == 0 or not any(_touch(box, other) for other in taken))
        numbered.append(fits)
        taken.append(box if fits else _around(mark, DOT_HALF_IN * inch))
    boxes: list[Box | None] = []
    for mark in here:
        bold = mark.kind in NAME_SIZE
        width = text_width_in(_short(mark.name), _size(mark), "bold" if bold else "normal")
        spot = Place("mark", mark.name, mark.x_m, mark.y_m, 0.0, 0.0, "")
        found = name_boxes([spot], [width + 0.03], extent, inch, taken, all_of_them=mark.order == 0)
        taken.extend(box for box in found if box)
        boxes += found
    placed = [Placed(*one) for one in zip(here, numbered, boxes, strict=True)]
    return placed[::-1]


def draw_marks(axes: Axes, placed: Sequence[Placed]) -> None:
    """Marks, numbers and names."""
    from matplotlib import patheffects

    halo: list[Any] = [patheffects.withStroke(linewidth=2.2, foreground="white")]
    for one in placed:
        mark = one.mark
        draw_mark(axes, mark.kind, mark.number if one.numbered else "", mark.x_m, mark.y_m, clip=True)
        if one.name_box is not None:
            low, high = one.name_box[1], one.name_box[3]
            text = axes.text(
                one.name_box[0], (low + high) / 2.0, plain(_short(mark.name)), ha="left", va="center",
                fontsize=_size(mark), fontweight="bold" if mark.kind in NAME_SIZE else "normal",
                zorder=8, clip_on=True,
            )  # fmt: skip
            text.set_path_effects(halo)


def draw_mark(axes: Axes, kind: str, number: str, x: float, y: float, *, clip: bool = False) -> None:
    """One mark at a place of `axes`."""
    at, order = ([x], [y]), 6.6 if kind in NAME_SIZE else 6.2
    if kind == OUT:
        axes.plot(*at, marker="x", ms=6.5, mec=_WHITE, mew=3.4, zorder=6.0, clip_on=clip)
        axes.plot(*at, marker="x", ms=6.0, mec=_BLACK, mew=1.7, zorder=6.1, clip_on=clip)
        return
    fill, ink = (style.BASE_FILL, _WHITE) if kind in NAME_SIZE else (_WHITE, _BLACK)
    size = 4.5 if not number else 13.5 if kind in NAME_SIZE else 11.0
    shape = "s" if kind == REPEATER else "o"
    axes.plot(*at, marker=shape, ms=size + 2.4, mfc=_WHITE, mec=_WHITE, zorder=order, clip_on=clip)
    axes.plot(*at, marker=shape, ms=size, mfc=fill, mec=_BLACK, mew=1.0, zorder=order + 0.1, clip_on=clip)
    if number:
        points = 8.0 if kind in NAME_SIZE else 7.0 if len(number) < 3 else 5.2
        axes.text(
            x, y, number, ha="center", va="center_baseline", fontsize=points, fontweight="bold", color=ink,
            zorder=order + 0.2, clip_on=clip,
        )  # fmt: skip


def draw_outlines(axes: Axes, outlines: Sequence[Outline]) -> None:
    """Zones, ground and lines over the coverage."""
    for one in outlines:
        if one.kind == "keep-out":
            axes.add_artist(patch_of(one.shape, fc="none", ec=_DARK_RED, hatch="xxxxx", lw=1.1, zorder=4.2))
        elif one.kind in DRAWN:
            for at, how in enumerate(LINES[one.kind]):
                for x, y in _runs(one.shape):
                    axes.plot(x, y, zorder=4.4 + 0.1 * at, scalex=False, scaley=False, **how)


def _runs(shape: BaseGeometry) -> list[Any]:
    """Rings and lines of a geometry as x and y."""
    import shapely

    lines = shapely.get_parts(shape)
    rings = [ring for part in lines for ring in (_rings(part) if part.geom_type == "Polygon" else [part])]
    return [ring.xy for ring in rings if ring.geom_type in {"LineString", "LinearRing"}]


def _rings(polygon: Any) -> list[Any]:
    return [polygon.exterior, *polygon.interiors]


def legend_signs(extra: Extra, *, dots: bool) -> list[tuple[Callable[[Axes, float], object], str]]:
    """What draws a sign on the legend's axes at a height, and what it means.

    `dots`: some places stand on the map without their number.
    """
    kinds = {mark.kind for mark in extra.marks}
    if extra.several:
        words = {FIRST: "set-up", REPEATER: "repeater", SPARE: "place that is not needed"}
    else:
        words = {FIRST: "best place", RANKED: "place that serves, by rank"}
    words[OUT] = "place ruled out"
    numbers = {FIRST: "1", REPEATER: "2", RANKED: "2"}
    signs: list[tuple[Callable[[Axes, float], object], str]] = []
    for kind, word in words.items():
        if kind in kinds:
            signs.append((_mark_sign(kind, numbers.get(kind, "")), word))
        if kind == RANKED and dots:
            signs.append((_mark_sign(RANKED, ""), "the same, no room for its rank"))
    for kind in DRAWN:
        some = [one for one in extra.outlines if one.kind == kind]
        if some:
            named = f"{OUTLINES[kind]}s" if len(some) > 1 and kind in {"zone", "line"} else OUTLINES[kind]
            signs.append((_outline_sign(kind), named))
    return signs


def _mark_sign(kind: str, number: str) -> Callable[[Axes, float], object]:
    return lambda axes, y: draw_mark(axes, kind, number, 0.19, y)


def _outline_sign(kind: str) -> Callable[[Axes, float], object]:
    def draw(axes: Axes, y: float) -> None:
        if kind == "keep-out":
            from matplotlib.patches import Rectangle

            axes.add_patch(
                Rectangle((0.0, y - 0.07), 0.38, 0.14, fc=_WHITE, ec=_DARK_RED, hatch="xxxxx", lw=1.0)
            )
            return
        for how in LINES[kind]:
            axes.plot([0.0, 0.38], [y, y], **how)

    return draw


def _size(mark: Mark) -> float:
    return NAME_SIZE.get(mark.kind, SMALL_NAME)


def _short(name: str) -> str:
    cut = len(name) > LONGEST_NAME
    return name[: LONGEST_NAME - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}" if cut else name


def _around(mark: Mark, half: float) -> Box:
    return mark.x_m - half, mark.y_m - half, mark.x_m + half, mark.y_m + half


def _touch(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
