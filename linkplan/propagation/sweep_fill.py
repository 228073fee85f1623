"""From the input of a map and its number of radials to all its cells, piece by piece."""

from __future__ import annotations

import math

from linkplan.propagation.sweep_final import NU_FLOOR
from linkplan.propagation.sweep_geometry import Quadrant
from linkplan.propagation.sweep_numba import FloatArray, SingleArray
from linkplan.propagation.sweep_plan import Field, Progress, reach_of
from linkplan.propagation.sweep_profile import cell_rows
from linkplan.propagation.sweep_profile import scratch_for as profile_scratch
from linkplan.propagation.sweep_sector import Scratch, scratch_for, sweep_sector
from linkplan.propagation.sweep_threads import run_blocks
from linkplan.propagation.sweep_wanted import Box, box_towards, turns_between

SECTOR_RADIALS = 32
"""Radials of one piece of work."""

Sector = tuple[Quadrant, Box, int, int, int]
"""A wedge and its wanted part; reach; the first radial and that after the last."""


def fill_exactly(field: Field, loss: FloatArray, clearance: SingleArray, progress: Progress) -> None:
    """All wanted cells, each by the path to its own centre."""
    rows, columns = field.shape
    top, bottom, left, right = field.bounds

    def block(first: int, stop: int) -> None:
        cell_rows(
            field.ground, field.surface, field.shape, field.row, field.column, top + first, top + stop,
            left, right + 1, field.wanted, field.cell_km, field.link, profile_scratch(field.shape),
            loss, clearance,
        )  # fmt: skip

    block(0, 0)  # compiles in this thread, where an interrupt is heard
    size = max(1, int(1e6 / (max(1, right + 1 - left) * max(rows, columns))))
    run_blocks(block, bottom + 1 - top, size, progress)


def sectors_of(field: Field, density: float) -> list[Sector]:
    """All pieces of a map that may hold wanted cells, from the longest."""
    bounds = field.bounds
    sectors = []
    for side, q in sorted(field.quadrants(), key=lambda side: -side[1].last):
        box = box_towards(bounds, field.row, field.column, side)
        if box.near > box.far:
            continue
        reach = reach_of(q, density)
        first, last = turns_between(box, reach)
        stop = min(last + 1, reach)
        sectors += [
            (q, box, reach, begin, min(begin + SECTOR_RADIALS, stop))
            for begin in range(min(first, reach - 1), stop, SECTOR_RADIALS)
        ]
    return sectors


def fill_by_radials(
    field: Field,
    density: float,
    single: bool,
    loss: FloatArray,
    clearance: SingleArray,
    progress: Progress,
) -> None:
    """All wanted cells, each from the two radials beside it."""
    sectors = sectors_of(field, density)
    longest = max((box.far for _, box, *_ in sectors), default=0)
    nothing = [(q, box, reach, 0, -1) for q, box, reach, *_ in sectors[:1]]
    spare: list[Scratch] = []

    def block(first: int, stop: int) -> None:
        scratch = spare.pop() if spare else scratch_for(longest, SECTOR_RADIALS)
        for q, box, reach, begin, end in sectors[first:stop] if stop else nothing:
            sweep_sector(
                field.ground, field.surface, field.wanted, q, box, reach, begin, end, single,
                field.cell_km, field.link, scratch, loss, clearance,
            )  # fmt: skip
        spare.append(scratch)

    block(0, 0)  # compiles in this thread, where an interrupt is heard
    run_blocks(block, len(sectors), 1, progress)
    start = field.row * field.shape[1] + field.column
    if field.wanted.size == 0 or field.wanted[start]:
        loss[start] = 0.0
        clearance[start] = -NU_FLOOR * math.sqrt(0.5)
