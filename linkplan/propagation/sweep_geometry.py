"""Which cells lie around the base, and how a straight line through them is sampled.

The map falls into four quadrants: wedges of cells that lie further along one axis of the raster than across
it. A radial of a quadrant runs through (reach, k): `reach` steps along the axis, k across, |k| <= reach. It
is sampled at every step along the axis, where its height lies between those of two cells.

Rasters are flat memory here, so that one kernel serves all four quadrants.
"""

from __future__ import annotations

from typing import NamedTuple

from linkplan.propagation.sweep_numba import FloatArray, inner, kernel


class Quadrant(NamedTuple):
    """One of the four wedges around the base, in flat memory."""

    start: int
    """Index of the base's cell."""
    along: int
    """From a cell to the next along the axis, away from the base."""
    across: int
    """From a cell to the next across the axis."""
    last: int
    """Cells from the base to the raster's border along the axis."""
    low: int
    """First cell of the raster across the axis, counted from the base: 0 or less."""
    high: int
    """Last cell across."""
    diagonal: int
    """1 where cells with as many steps across as along belong to this wedge, 0 where not."""


@kernel
def quadrant_towards(rows: int, columns: int, row: int, column: int, side: int) -> Quadrant:
    """The quadrant around cell (row, column): side 0 down, 1 up, 2 right, 3 left."""
    start = row * columns + column
    if side == 0:
        return Quadrant(start, columns, 1, rows - 1 - row, -column, columns - 1 - column, 1)
    if side == 1:
        return Quadrant(start, -columns, 1, row, -column, columns - 1 - column, 1)
    if side == 2:
        return Quadrant(start, 1, columns, columns - 1 - column, -row, rows - 1 - row, 0)
    return Quadrant(start, -1, columns, column, -row, rows - 1 - row, 0)


@inner
def sample_radial(height: FloatArray, q: Quadrant, reach: int, k: int, last: int, out: FloatArray) -> None:
    """Heights at steps 0..last of the radial through (reach, k); beyond the raster its border is repeated.

    A neighbour that is not needed is not looked at: through cells' centres the line takes them alone.
    """
    cell = 0  # the cell at or before the line, counted across, and the rest of the way in 1/reach
    rest = 0
    here = q.start
    share_of_rest = 1.0 / reach
    for i in range(last + 1):
        value = height[here + min(max(cell, q.low), q.high) * q.across]
        if rest > 0:
            beside = height[here + min(max(cell + 1, q.low), q.high) * q.across]
            value += rest * share_of_rest * (beside - value)
        out[i] = value
        here += q.along
        rest += k
        if rest >= reach:
            rest -= reach
            cell += 1
        elif rest < 0:
            rest += reach
            cell -= 1


@inner
def radial_last(q: Quadrant, reach: int, k: int) -> int:
    """The last step at which a cell of the raster lies less than one radial's spacing from radial k."""
    beside = abs(k) - 1
    room = q.high if k > 0 else -q.low
    return q.last if room * reach >= beside * q.last else (room * reach) // beside
