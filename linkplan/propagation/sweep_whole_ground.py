"""The ground as one wedge of the map sees it: turned so that paths run outwards, with maxima of blocks.

A wedge holds the cells that lie further along one direction of the raster (down, up, right, left) than
across it. A path to one of them is sampled at every step along that direction, between two neighbours
across it.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkplan.propagation.sweep_wanted import Bounds, Box, box_towards

SingleArray = NDArray[np.float32]

RADIALS_PER_CELL = 4
"""Radials for each cell at the wedge's far side."""


class Frame(NamedTuple):
    """Where the cells of a wedge are. Kernels get it beside the arrays: arrays in a tuple cost them time."""

    centre: int
    """Column of the base in the wedge's heights."""
    last: int
    """Cells from the base to the raster's end outwards."""
    reach: int
    """Radial k of the wedge, -reach..reach, runs k / reach cells across a step."""
    near: int
    """The wedge's wanted cells lie near..far steps outwards,"""
    far: int
    low: int
    """and low..high across, counted from the base."""
    high: int
    outwards: int
    """Places in the raster's memory from a cell to the next one outwards."""
    across: int
    north_outwards: int
    """Cells that a step outwards goes north, and a step across."""
    north_across: int
    diagonal: int
    """1 where cells with as many steps across as outwards belong to this wedge."""


class Wedge(NamedTuple):
    """One of the four wedges around the base. Heights are m above the ground at the base."""

    frame: Frame
    height: SingleArray
    """(steps, across): [step outwards, cell across], the base at [0, centre]; one border cell repeated on
    both sides. As far as paths to wanted cells go."""


def wedges(ground_m: NDArray[Any], row: int, column: int, bounds: Bounds) -> list[Wedge]:
    """Wedges that hold a wanted cell; `ground_m` (rows, columns), NaN where missing but not at the base.

    Unknown ground lies low: no known cell's path crosses it.
    """
    columns = ground_m.shape[1]
    views = (
        (ground_m[row:], column, columns, 1, -1, 0, 1),
        (ground_m[row::-1], column, -columns, 1, 1, 0, 1),
        (ground_m[:, column:].T, row, 1, columns, 0, -1, 0),
        (ground_m[:, column::-1].T, row, -1, columns, 0, -1, 0),
    )
    boxes = [box_towards(bounds, row, column, side) for side in range(4)]
    return [_wedge(box, *view) for box, view in zip(boxes, views, strict=True) if box.near <= box.far]


def _wedge(
    box: Box,
    view: NDArray[Any],
    centre: int,
    outwards: int,
    across: int,
    north_outwards: int,
    north_across: int,
    diagonal: int,
) -> Wedge:
    last = view.shape[0] - 1
    steps = box.far + 1
    aside = min(last, steps + 1)  # the highest cells of a step are looked for beyond the diagonal too
    low = max(-centre, -aside)
    high = min(view.shape[1] - 1 - centre, aside)
    height = np.empty((steps, high - low + 3), dtype=np.float32)
    seen = view[:steps, centre + low : centre + high + 1]
    np.subtract(seen, view[0, centre], out=height[:, 1:-1], casting="unsafe")
    if math.isnan(height[:, 1:-1].min()):
        height[np.isnan(height)] = np.nanmin(height[:, 1:-1])
    height[:, 0] = height[:, 1]
    height[:, -1] = height[:, -2]
    frame = Frame(
        1 - low, last, RADIALS_PER_CELL * last, box.near, box.far, box.low, box.high,
        outwards, across, north_outwards, north_across, diagonal,
    )  # fmt: skip
    return Wedge(frame, height)
