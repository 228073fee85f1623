"""Where names and tags go on a map: beside their sign, not on it, on the map, and not on each other."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from linkplan.outputs.shapes import Place

Box = tuple[float, float, float, float]
Extent = tuple[float, float, float, float]

TAG_WIDTH_IN, TAG_HEIGHT_IN = 0.27, 0.17
SIGN_HALF_IN = 0.09
NAME_HEIGHT_IN = 0.14
_NEAR, _FAR = 0.2, 0.42
FARTHEST_SHARE = 0.24
"""A tag stands no farther from its place than this share of the map's height."""
_SHARES = (0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
_REACHES = (0.2, 0.3, 0.42, 0.58, 0.76)
_DIRECTIONS = (
    (0.0, 1.0),
    (1.0, 0.8),
    (-1.0, 0.8),
    (1.0, -0.8),
    (-1.0, -0.8),
    (0.0, -1.0),
    (1.3, 0.0),
    (-1.3, 0.0),
)


def tag_positions(
    places: tuple[Place, ...], extent_m: Extent, inch: float, taken: Sequence[Box] = ()
) -> dict[str, tuple[float, float]]:
    """Centre of each gap's tag in local metres, by the gap's name; `inch` is metres on an inch of paper.

    The first place around the gap that is free of signs, earlier tags and what is `taken`, and lies on the
    map; where none is, the one that covers the least.
    """
    used = [*sign_boxes(places, inch), *taken]
    found = {}
    for place in places:
        if place.kind != "gap":
            continue
        best: tuple[float, Box] | None = None
        for reach in (_NEAR, _FAR):
            for across, up in _DIRECTIONS:
                box = tag_box((place.x_m + across * reach * inch, place.y_m + up * reach * inch), inch)
                cost = sum(_overlap(box, other) for other in used) + _beyond(box, extent_m, inch)
                if best is None or cost < best[0]:
                    best = (cost, box)
        assert best is not None
        used.append(best[1])
        found[place.name] = ((best[1][0] + best[1][2]) / 2.0, (best[1][1] + best[1][3]) / 2.0)
    return found


def free_tags(
    at: Sequence[tuple[float, float]],
    widths_in: Sequence[float],
    extent_m: Extent,
    inch: float,
    taken: Sequence[Box],
    *,
    on_place: bool = False,
) -> list[Box | None]:
    """Room for tags, `widths_in` wide, around places in local metres: on the map and on nothing else, the
    nearest first; None where there is none. `on_place`: it may cover the place itself."""
    used = [*taken]
    found: list[Box | None] = []
    farthest_in = max(FARTHEST_SHARE * (extent_m[3] - extent_m[1]) / inch, _REACHES[0])
    for (x, y), width_in in zip(at, widths_in, strict=True):
        half = width_in * inch / 2.0, TAG_HEIGHT_IN * inch / 2.0
        widen = (width_in - TAG_WIDTH_IN) / 2.0
        shifts = [(0.0, 0.0)] if on_place else []
        shifts += [
            (across * reach + math.copysign(widen, across) * bool(across), up * reach)
            for reach in _REACHES
            if reach <= farthest_in
            for across, up in _DIRECTIONS
        ]
        boxes = (_around(x + right * inch, y + up * inch, *half) for right, up in shifts)
        free = (box for box in boxes if not _beyond(box, extent_m, inch))
        clear = [box for box in free if not any(_overlap(box, other) > 0.0 for other in used)]
        room = next((box for box in clear if not _led_over(box, (x, y), used)), clear[0] if clear else None)
        found.append(room)
        if room is not None:
            used.append(room)
    return found


def name_boxes(
    places: Sequence[Place],
    widths_in: Sequence[float],
    extent_m: Extent,
    inch: float,
    taken: Sequence[Box],
    *,
    all_of_them: bool = False,
) -> list[Box | None]:
    """Room for the name of each place, `widths_in` wide on paper; None where there is none.

    With `all_of_them` every name gets the best room there is.
    """
    used = np.empty((len(taken) + len(places), 4))
    used[: len(taken)] = np.reshape(taken, (-1, 4))
    count = len(taken)
    found: list[Box | None] = []
    for place, width_in in zip(places, widths_in, strict=True):
        wide, high, off = width_in * inch, NAME_HEIGHT_IN * inch, 0.11 * inch
        lefts = (place.x_m + off, place.x_m - off - wide)
        spots = [(left, place.y_m + up * 0.085 * inch) for up in (1, -1, 0) for left in lefts]
        spots += [(place.x_m - wide / 2.0, place.y_m + up * 0.17 * inch) for up in (1, -1)]
        boxes = [(x, y - high / 2.0, x + wide, y + high / 2.0) for x, y in spots]
        costs = [_overlaps(box, used[:count]) + _beyond(box, extent_m, inch) for box in boxes]
        least = min(range(len(boxes)), key=costs.__getitem__)
        found.append(boxes[least] if all_of_them or costs[least] == 0.0 else None)
        if found[-1] is not None:
            used[count] = boxes[least]
            count += 1
    return found


def sign_boxes(places: Sequence[Place], inch: float) -> list[Box]:
    """What the signs themselves cover."""
    half = SIGN_HALF_IN * inch
    return [_around(place.x_m, place.y_m, half, half) for place in places]


def tag_box(centre: tuple[float, float], inch: float) -> Box:
    """What a gap's tag covers."""
    return _around(*centre, TAG_WIDTH_IN * inch / 2.0, TAG_HEIGHT_IN * inch / 2.0)


def _around(x: float, y: float, half_width: float, half_height: float) -> Box:
    return x - half_width, y - half_height, x + half_width, y + half_height


def _led_over(box: Box, at: tuple[float, float], others: Sequence[Box]) -> bool:
    """Whether the line from a place to the middle of its tag runs over something else than the place's own
    sign."""
    middle = (box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0
    points = [(at[0] + share * (middle[0] - at[0]), at[1] + share * (middle[1] - at[1])) for share in _SHARES]
    return any(
        other[0] <= x <= other[2] and other[1] <= y <= other[3]
        for other in others
        if not (other[0] <= at[0] <= other[2] and other[1] <= at[1] <= other[3])
        for x, y in points
    )


def _beyond(box: Box, extent_m: Extent, inch: float) -> float:
    """A cost above any overlap for what would leave the map."""
    west, south, east, north = extent_m
    outside = box[0] < west or box[1] < south or box[2] > east or box[3] > north
    return inch**2 if outside else 0.0


def _overlaps(one: Box, others: NDArray[np.float64]) -> float:
    """The same with many at once: a job may have thousands of control points."""
    wide = np.minimum(one[2], others[:, 2]) - np.maximum(one[0], others[:, 0])
    high = np.minimum(one[3], others[:, 3]) - np.maximum(one[1], others[:, 1])
    return float((np.maximum(wide, 0.0) * np.maximum(high, 0.0)).sum())


def _overlap(one: Box, other: Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return max(wide, 0.0) * max(high, 0.0)
