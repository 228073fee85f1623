"""Which cells does somebody want, and where do they lie as seen from the base?

A map of which only some cells are wanted goes without what serves the others: directions, the ends of
radials, single samples. What is computed has the same numbers as on the whole map.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError

BoolArray = NDArray[np.bool_]
Bounds = tuple[int, int, int, int]
"""First and last row, first and last column of the wanted cells; the first beyond the last where none is."""


class Box(NamedTuple):
    """Part of a wedge that holds all wanted cells: steps from the base along its axis, and cells across."""

    near: int
    """At least 1."""
    far: int
    """Less than `near` where the wedge holds no wanted cell."""
    low: int
    high: int


def mask_of(wanted: ArrayLike | None, shape: tuple[int, int]) -> BoolArray:
    """The mask in flat memory; empty where every cell is wanted. Raises RangeError."""
    if wanted is None:
        return np.empty(0, dtype=np.bool_)
    mask = np.asarray(wanted)
    if mask.shape != shape or mask.dtype != np.bool_:
        raise RangeError(f"wanted is {mask.dtype} of shape {mask.shape}; it must be bool of shape {shape}")
    return np.empty(0, dtype=np.bool_) if mask.all() else np.ascontiguousarray(mask).reshape(-1)


def bounds_of(mask: BoolArray, shape: tuple[int, int]) -> Bounds:
    """Rows and columns between which the wanted cells lie."""
    rows, columns = shape
    if mask.size == 0:
        return 0, rows - 1, 0, columns - 1
    cells = mask.reshape(shape)
    down = np.flatnonzero(cells.any(axis=1))
    if down.size == 0:
        return 0, -1, 0, -1
    right = np.flatnonzero(cells[down[0] : down[-1] + 1].any(axis=0))
    return int(down[0]), int(down[-1]), int(right[0]), int(right[-1])


def box_towards(bounds: Bounds, row: int, column: int, side: int) -> Box:
    """The wanted part of the wedge around cell (row, column): side 0 down, 1 up, 2 right, 3 left."""
    top, bottom, left, right = bounds[0] - row, bounds[1] - row, bounds[2] - column, bounds[3] - column
    along, low, high = ((top, bottom), left, right) if side < 2 else ((left, right), top, bottom)
    near, far = along if side % 2 == 0 else (-along[1], -along[0])
    if bounds[0] > bounds[1]:
        far = 0
    # no cell of a wedge lies further across than along
    return Box(max(near, 1, low, -high), far, max(low, -far), min(high, far))


def turns_between(box: Box, reach: int) -> tuple[int, int]:
    """First and last radial at or before which a cell of the box lies; radial k runs k / reach across."""
    low = box.low * reach // (box.near if box.low < 0 else box.far)
    high = box.high * reach // (box.near if box.high > 0 else box.far)
    return max(low, -reach), min(high, reach)


def distances(bounds: Bounds, row: int, column: int) -> tuple[float, float]:
    """The shortest and the longest from cell (row, column) to cells between these bounds, in cells."""
    top, bottom, left, right = bounds[0] - row, bounds[1] - row, bounds[2] - column, bounds[3] - column
    return (
        math.hypot(max(top, -bottom, 0), max(left, -right, 0)),
        math.hypot(max(bottom, -top), max(right, -left)),
    )
