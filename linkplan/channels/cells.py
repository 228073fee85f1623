"""The job's cells as rovers see the own bases: which base serves which cell, and which cells to look at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.channels.stations import OwnStation
from linkplan.channels.unwanted import ground_around
from linkplan.coverage.area import compute_coverage
from linkplan.coverage.reliability import margin_for_chance_db
from linkplan.coverage.results import CoverageMap
from linkplan.errors import PlaceError
from linkplan.terrain.grid import TerrainGrid

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

MOST_CELLS = 40_000
"""Cells of the job that are looked at; evenly thinned where there are more."""

SAMPLE_CELLS = 160
"""Cells at which unwanted signals are computed path by path, shared out among the bases."""


@dataclass(frozen=True)
class JobCells:
    """Cells inside the job's boundary, and every own base's level there. Arrays (n,) and (bases, n)."""

    easting: FloatArray
    northing: FloatArray
    all_cells: int
    """Cells of the first base's grid inside the job, before thinning."""
    cell_area_m2: float
    """Area that one of the cells kept stands for."""
    wanted_dbm: FloatArray
    """Median level of each base; NaN where unknown."""
    margin_db: FloatArray
    """Over the weakest usable level."""
    within_limit: BoolArray
    """Whether the cell lies within the baseline limit of each base."""
    needed_margin_db: float
    """Margin that gives the wanted chance."""
    weakest_usable_dbm: float
    served: BoolArray
    """Whether rovers in the cell are to use the base."""
    grids: tuple[TerrainGrid, ...]
    """The ground around each base."""

    @property
    def covered(self) -> BoolArray:
        """Whether the base gives the cell that it serves the wanted chance."""
        with np.errstate(invalid="ignore"):
            reached = self.margin_db >= self.needed_margin_db
        return np.asarray(self.served & reached & self.within_limit)


def job_cells(stations: tuple[OwnStation, ...], tell: Callable[[float], None]) -> JobCells:
    """Compute every own base's coverage and join the maps on the cells of the first one."""
    maps = []
    for number, station in enumerate(stations):
        tell(number / len(stations))
        try:
            grid = ground_around(station.plan, station.base.easting, station.base.northing)
        except PlaceError as error:
            raise PlaceError(f"{station.key} ({station.name}): {error}") from error
        maps.append(compute_coverage(station.plan, grid))
    first = maps[0]
    rows, columns = np.nonzero(first.inside)
    step = max(1, int(np.ceil(rows.size / MOST_CELLS)))
    kept = slice(step // 2, None, step)
    x_m = (columns[kept] - first.grid.base_column) * first.grid.cell_size_m
    y_m = (first.grid.base_row - rows[kept]) * first.grid.cell_size_m
    easting, northing = first.grid.frame.to_job(x_m.astype(np.float64), y_m.astype(np.float64))
    values = [_at(one, easting, northing) for one in maps]
    wanted = np.array([received for received, _ in values])
    limit_m = stations[0].plan.goal.baseline_limit_m or np.inf
    weakest = first.weakest_usable_dbm
    goal = stations[0].plan.goal
    return JobCells(
        easting=easting,
        northing=northing,
        all_cells=rows.size,
        cell_area_m2=first.grid.cell_size_m**2 * rows.size / easting.size,
        wanted_dbm=wanted,
        margin_db=wanted - weakest,
        within_limit=np.array([distance for _, distance in values]) <= limit_m,
        needed_margin_db=margin_for_chance_db(goal.chance, first.sigma_db),
        weakest_usable_dbm=weakest,
        served=_served(stations, wanted),
        grids=tuple(one.grid for one in maps),
    )


def _at(coverage: CoverageMap, easting: FloatArray, northing: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Received level of the cell that holds each place, and its distance from the base."""
    grid = coverage.grid
    x_m, y_m = grid.frame.to_local(easting, northing)
    row = np.rint(grid.base_row - y_m / grid.cell_size_m).astype(np.intp)
    column = np.rint(grid.base_column + x_m / grid.cell_size_m).astype(np.intp)
    rows, columns = grid.shape
    on = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    level = np.full(easting.shape, np.nan)
    level[on] = coverage.received_dbm[row[on], column[on]]
    return level, np.hypot(x_m, y_m)


def _served(stations: tuple[OwnStation, ...], wanted: FloatArray) -> BoolArray:
    """A cell belongs to the base that is the strongest there, and to every base that serves the whole job."""
    known = np.isfinite(wanted)
    strongest = np.argmax(np.where(known, wanted, -np.inf), axis=0)
    whole = np.array([station.base.serves == "job" for station in stations])
    mine = strongest[None, :] == np.arange(len(stations))[:, None]
    # a cell that no base is known to reach still belongs to somebody: it counts as not covered
    return np.asarray(np.where(whole[:, None], True, mine))


def sample_for(cells: JobCells, base: int, others: FloatArray) -> NDArray[np.intp]:
    """Positions of the cells at which a base's rovers are asked about unwanted signals.

    Of the cells that it covers: an even share of them, and those that are likely to be the worst: the
    weakest, those where another own base gains most on it, those nearest to each foreign transmitter
    (`others`, (m, 2) in job coordinates).
    """
    mine = np.flatnonzero(cells.covered[base])
    if mine.size == 0:
        return mine
    count = len(cells.grids)
    even = np.linspace(0, mine.size - 1, min(mine.size, max(16, SAMPLE_CELLS // count))).astype(np.intp)
    wanted = cells.wanted_dbm[base, mine]
    picked = [mine[even], mine[[int(np.argmin(wanted))]]]
    for other in range(count):
        gain = np.nan_to_num(cells.wanted_dbm[other, mine] - wanted, nan=-np.inf)
        if other != base:
            picked.append(mine[[int(np.argmax(gain))]])
    frame = cells.grids[0].frame
    x_m, y_m = frame.to_local(cells.easting[mine], cells.northing[mine])
    for easting, northing in others:
        other_x_m, other_y_m = frame.to_local(float(easting), float(northing))
        away = np.hypot(x_m - other_x_m, y_m - other_y_m)
        picked.append(mine[[int(np.argmin(away))]])
    return np.unique(np.concatenate(picked))
