"""Where the tags of the gaps go on a map: beside the gap, not on it, and not on each other."""

from __future__ import annotations

from linkplan.outputs.shapes import Place

Box = tuple[float, float, float, float]
Extent = tuple[float, float, float, float]

TAG_WIDTH_IN, TAG_HEIGHT_IN = 0.27, 0.17
_NEAR, _FAR = 0.2, 0.42
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


def tag_positions(places: tuple[Place, ...], extent_m: Extent, inch: float) -> dict[str, tuple[float, float]]:
    """Centre of each gap's tag in local metres, by the gap's name; `inch` is metres on an inch of paper.

    The first place around the gap that is free of signs, names and earlier tags and lies on the map;
    where none is, the one that covers the least.
    """
    taken = [_around(place.x_m, place.y_m, 0.09 * inch, 0.09 * inch) for place in places]
    taken += [
        _around(place.x_m + 0.3 * inch, place.y_m + 0.14 * inch, 0.25 * inch, 0.09 * inch)
        for place in places
        if place.kind != "gap"
    ]
    west, south, east, north = extent_m
    half = (TAG_WIDTH_IN * inch / 2.0, TAG_HEIGHT_IN * inch / 2.0)
    found = {}
    for place in places:
        if place.kind != "gap":
            continue
        best: tuple[float, Box] | None = None
        for reach in (_NEAR, _FAR):
            for across, up in _DIRECTIONS:
                x, y = place.x_m + across * reach * inch, place.y_m + up * reach * inch
                box = _around(x, y, *half)
                outside = box[0] < west or box[1] < south or box[2] > east or box[3] > north
                cost = sum(_overlap(box, other) for other in taken) + (inch**2 if outside else 0.0)
                if best is None or cost < best[0]:
                    best = (cost, box)
        assert best is not None
        taken.append(best[1])
        found[place.name] = ((best[1][0] + best[1][2]) / 2.0, (best[1][1] + best[1][3]) / 2.0)
    return found


def _around(x: float, y: float, half_width: float, half_height: float) -> Box:
    return x - half_width, y - half_height, x + half_width, y + half_height


def _overlap(one: Box, other: Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return max(wide, 0.0) * max(high, 0.0)
