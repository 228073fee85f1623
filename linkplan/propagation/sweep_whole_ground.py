"""The ground as one wedge of the map sees it: turned so that paths run outwards, with maxima of blocks.

A wedge holds the cells that lie further along one direction of the raster (down, up, right, left) than
across it. A path to one of them is sampled at every step along that direction, between two neighbours
across it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

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
    low: int
    """The wedge's cells across: low..high, counted from the base."""
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
    """(last + 1, across): [step outwards, cell across], the base at [0, centre]; one border cell repeated
    on both sides."""


def wedges(relative_m: SingleArray, row: int, column: int) -> list[Wedge]:
    """Wedges that hold a cell; `relative_m` (rows, columns) without missing values."""
    columns = relative_m.shape[1]
    views = (
        (relative_m[row:], column, columns, 1, -1, 0, 1),
        (relative_m[row::-1], column, -columns, 1, 1, 0, 1),
        (relative_m[:, column:].T, row, 1, columns, 0, -1, 0),
        (relative_m[:, column::-1].T, row, -1, columns, 0, -1, 0),
    )
    return [_wedge(*view) for view in views if view[0].shape[0] > 1]


def _wedge(
    view: SingleArray,
    centre: int,
    outwards: int,
    across: int,
    north_outwards: int,
    north_across: int,
    diagonal: int,
) -> Wedge:
    last = view.shape[0] - 1
    low = max(-centre, -last)
    high = min(view.shape[1] - 1 - centre, last)
    height = np.empty((last + 1, high - low + 3), dtype=np.float32)
    height[:, 1:-1] = view[:, centre + low : centre + high + 1]
    height[:, 0] = height[:, 1]
    height[:, -1] = height[:, -2]
    frame = Frame(
        1 - low, last, RADIALS_PER_CELL * last, low, high,
        outwards, across, north_outwards, north_across, diagonal,
    )  # fmt: skip
    return Wedge(frame, height)
