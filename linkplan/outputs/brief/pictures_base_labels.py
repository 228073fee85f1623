"""Labels of the circles and lines around the base, on the line itself where there is room."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_around import FALL, FENCE, Circle, Scene, circle_style
from linkplan.outputs.brief.pictures_board import fitted
from linkplan.outputs.brief.pictures_type import width_in
from linkplan.outputs.canvas import plain
from linkplan.outputs.formats import typeset
from linkplan.outputs.map_labels import Box
from linkplan.tables.exposure import PUBLIC, WORKER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE, HEIGHT_IN = 8.2, 0.15
TURNS = 48
"""Directions that are tried."""
LONGEST_IN = 1.7
_SHARES = (0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9)


def circle_words(circle: Circle, words: PictureWords) -> str:
    """What stands on a circle's line."""
    text = {
        PUBLIC: words.public_on_line,
        WORKER: words.worker_on_line,
        FALL: words.fall_on_line,
        FENCE: words.fence_on_line,
    }[circle.kind]
    return text.format(radius=circle.said)


@dataclass(frozen=True)
class _Spot:
    """A place for a label."""

    box: Box
    cost: float
    """How unwelcome it is."""
    start: tuple[float, float] | None
    """Where its line to the circle begins; None for one that stands on the circle."""

    @property
    def middle(self) -> tuple[float, float]:
        return (self.box[0] + self.box[2]) / 2.0, (self.box[1] + self.box[3]) / 2.0


def label_circles(
    axes: Axes, scene: Scene, circles: Sequence[Circle], words: PictureWords, inch: float, taken: list[Box]
) -> None:
    """Write on each circle what it is; `taken` grows by that. Great circles go first: their labels stand on
    their line, and the lines of the others' labels keep clear of them."""
    import shapely

    bands = shapely.union_all([line.band for line in scene.lines if line.band is not None])
    for circle in sorted(circles, key=lambda one: -one.radius_m):
        text = typeset(circle_words(circle, words))
        size = (width_in(text, SIZE, "bold") + 0.08) * inch, HEIGHT_IN * inch
        others = [one.radius_m for one in circles if one is not circle]
        best: _Spot | None = None
        for spot in _spots(circle.radius_m, *size):
            if max(abs(side) for side in spot.box) > 0.985 * scene.half_m or not _clear(spot, taken):
                continue
            cost = spot.cost + 3.0 * sum(crosses(spot.box, radius) for radius in others)
            cost += 2.0 * (spot.start is not None and crosses(spot.box, circle.radius_m))
            if best is not None and cost >= best.cost:
                continue
            cost += 3.0 * bool(bands.intersects(shapely.box(*spot.box)))
            if best is None or cost < best.cost:
                best = replace(spot, cost=cost)
        if best is not None:
            taken.append(best.box)
            _write(axes, text, best, circle)


def _spots(radius: float, wide: float, high: float) -> Iterator[_Spot]:
    """On the line from the top on, then off it, joined to it by a line."""
    for number in range(TURNS):
        turn = 2.0 * math.pi * number / TURNS
        east, north = math.sin(turn), math.cos(turn)
        away = min(number, TURNS - number) / TURNS
        if wide < 1.9 * radius:
            yield _Spot(_box(radius * east, radius * north, wide, high), away, None)
        for step in range(1, 14):
            reach = radius + step * high
            box = _box(reach * east + wide / 2.0 * east, reach * north, wide, high)
            yield _Spot(box, 4.0 + 0.3 * step + away, (radius * east, radius * north))


def _clear(spot: _Spot, taken: Sequence[Box]) -> bool:
    """Neither the label nor its line runs over anything else; the line may touch what it begins at."""
    if any(_touch(spot.box, other) for other in taken):
        return False
    if spot.start is None:
        return True
    (x, y), (to_x, to_y) = spot.start, spot.middle
    points = [(x + share * (to_x - x), y + share * (to_y - y)) for share in _SHARES]
    return not any(box[0] <= a <= box[2] and box[1] <= b <= box[3] for box in taken for a, b in points)


def _box(x: float, y: float, wide: float, high: float) -> Box:
    return x - wide / 2.0, y - high / 2.0, x + wide / 2.0, y + high / 2.0


def _write(axes: Axes, text: str, spot: _Spot, circle: Circle) -> None:
    colour = circle_style(circle.kind)["ec"]
    if spot.start is not None:
        x, y = zip(spot.start, spot.middle, strict=True)
        for ink, width, order in (("white", 2.4, 7.1), (colour, 0.9, 7.2)):
            axes.plot(x, y, color=ink, lw=width, zorder=order)
    label = axes.text(
        *spot.middle, plain(text), ha="center", va="center", fontsize=SIZE, fontweight="bold", color=colour,
        zorder=7.5, bbox={"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none"},
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
        wide, high = (width_in(text, SIZE) + 0.06) * inch, HEIGHT_IN * inch
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


def crosses(box: Box, radius: float) -> bool:
    """Whether a circle around the mast runs through a box."""
    near_x, near_y = max(box[0], -box[2], 0.0), max(box[1], -box[3], 0.0)
    far_x, far_y = max(abs(box[0]), abs(box[2])), max(abs(box[1]), abs(box[3]))
    return math.hypot(near_x, near_y) <= radius <= math.hypot(far_x, far_y)


def _touch(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
