"""Labels of the circles and lines around the base, on the line itself where there is room."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_around import FALL, FENCE, Circle, Scene, circle_style
from linkplan.outputs.brief.pictures_board import fitted
from linkplan.outputs.canvas import plain, text_width_in
from linkplan.outputs.formats import typeset
from linkplan.outputs.map_labels import Box
from linkplan.tables.exposure import PUBLIC, WORKER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE, HEIGHT_IN = 7.2, 0.15
TURNS = 48
"""Directions that are tried."""
LONGEST_IN = 1.7


def circle_words(circle: Circle, words: PictureWords) -> str:
    """What stands on a circle's line."""
    text = {
        PUBLIC: words.public_on_line,
        WORKER: words.worker_on_line,
        FALL: words.fall_on_line,
        FENCE: words.fence_on_line,
    }[circle.kind]
    return text.format(radius=circle.said)


def label_circles(
    axes: Axes, scene: Scene, circles: Sequence[Circle], words: PictureWords, inch: float, taken: list[Box]
) -> None:
    """Write on each circle what it is; `taken` grows by that. Small circles go first: they have less room."""
    for circle in sorted(circles, key=lambda one: one.radius_m):
        text = typeset(circle_words(circle, words))
        wide, high = (text_width_in(text, SIZE, "bold") + 0.08) * inch, HEIGHT_IN * inch
        others = [one.radius_m for one in circles if one is not circle]
        best: tuple[float, float, float, bool] | None = None
        for x, y, cost, led in _spots(circle.radius_m, wide, high):
            box = (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
            if max(abs(box[0]), abs(box[2]), abs(box[1]), abs(box[3])) > 0.985 * scene.half_m:
                continue
            if any(_touch(box, other) for other in taken):
                continue
            cost += 3.0 * sum(_crosses(box, radius) for radius in others)
            if led:
                cost += 2.0 * _crosses(box, circle.radius_m)
            if best is None or cost < best[2]:
                best = (x, y, cost, led)
        if best is None:
            continue
        x, y, _, led = best
        taken.append((x - wide / 2, y - high / 2, x + wide / 2, y + high / 2))
        _write(axes, text, x, y, circle, led=led)


def _spots(radius: float, wide: float, high: float) -> list[tuple[float, float, float, bool]]:
    """Middles of a label with how unwelcome each is: on the line from the top on, then beside it."""
    found = []
    on_line = wide < 1.7 * radius
    for number in range(TURNS):
        turn = 2.0 * math.pi * number / TURNS
        away = min(number, TURNS - number) / TURNS
        if on_line:
            found.append((radius * math.sin(turn), radius * math.cos(turn), away, False))
        for step in range(1, 14):
            reach = radius + step * high
            x, y = reach * math.sin(turn), reach * math.cos(turn)
            found.append(
                (x + math.copysign(wide / 2, x) * abs(math.sin(turn)), y, 4.0 + 0.3 * step + away, True)
            )
    return found


def _write(axes: Axes, text: str, x: float, y: float, circle: Circle, *, led: bool) -> None:
    colour = circle_style(circle.kind)["ec"]
    how: dict[str, Any] = {}
    at = (x, y)
    if led:
        length = math.hypot(x, y)
        at = (circle.radius_m * x / length, circle.radius_m * y / length)
        how["arrowprops"] = {"arrowstyle": "-", "color": colour, "lw": 0.9, "shrinkA": 0, "shrinkB": 0}
    label = axes.annotate(
        plain(text), at, xytext=(x, y), ha="center", va="center", fontsize=SIZE, fontweight="bold",
        color=colour, zorder=7.5, bbox={"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none"}, **how,
    )  # fmt: skip
    label.set_gid(f"label-{circle.kind}")


def label_lines(axes: Axes, scene: Scene, inch: float, taken: list[Box]) -> None:
    """The name of each overhead line beside it, within the drawing."""
    import shapely

    window = shapely.box(*scene.extent)
    for line in scene.lines:
        seen = shapely.intersection(line.shape, window)
        if not line.seen or seen.is_empty:
            continue
        text = fitted(line.clearance.name, SIZE, LONGEST_IN)
        wide, high = (text_width_in(text, SIZE) + 0.06) * inch, HEIGHT_IN * inch
        longest = max(shapely.get_parts(seen), key=lambda part: part.length)
        for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9):
            at = longest.interpolate(share, normalized=True)
            spots = [(at.x + right * (wide / 2 + 0.09 * inch), at.y + up * high) for right, up in _SIDES]
            free = next(
                (spot for spot in spots if _free(spot, wide, high, scene.half_m, longest, taken)), None
            )
            if free is not None:
                x, y = free
                taken.append((x - wide / 2, y - high / 2, x + wide / 2, y + high / 2))
                axes.text(
                    x, y, plain(text), fontsize=SIZE, ha="center", va="center", zorder=7.4,
                    bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"},
                )  # fmt: skip
                break


_SIDES = (
    (1.0, 0.0),
    (-1.0, 0.0),
    (1.0, 1.0),
    (-1.0, 1.0),
    (1.0, -1.0),
    (-1.0, -1.0),
    (0.0, 1.2),
    (0.0, -1.2),
)


def _free(
    spot: tuple[float, float], wide: float, high: float, half: float, line: Any, taken: Sequence[Box]
) -> bool:
    import shapely

    box = (spot[0] - wide / 2, spot[1] - high / 2, spot[0] + wide / 2, spot[1] + high / 2)
    inside = max(abs(side) for side in box) < 0.985 * half
    return (
        inside and not any(_touch(box, other) for other in taken) and not line.intersects(shapely.box(*box))
    )


def _crosses(box: Box, radius: float) -> bool:
    """Whether a circle around the mast runs through a box."""
    near_x, near_y = max(box[0], -box[2], 0.0), max(box[1], -box[3], 0.0)
    far_x, far_y = max(abs(box[0]), abs(box[2])), max(abs(box[1]), abs(box[3]))
    return math.hypot(near_x, near_y) <= radius <= math.hypot(far_x, far_y)


def _touch(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
