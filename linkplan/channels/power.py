"""How little power would do, and how far the full power is heard beyond the job."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from linkplan.channels.cells import JobCells
from linkplan.channels.ratios import Case, judge
from linkplan.channels.stations import OwnStation
from linkplan.coverage.area import compute_coverage
from linkplan.coverage.calibrated import at_worst_for_others
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.masks import inside_mask

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

SEARCH_M = 10_000.0
"""How far beyond the job's boundary spill is looked for."""

SEARCH_CELLS = 250_000
"""Cells of that search; coarser ones are taken where it would be more."""


@dataclass(frozen=True)
class Spill:
    """Area outside the job above the protected level, within the search."""

    full_m2: float
    reduced_m2: float | None
    unknown_m2: float


def covered_share(cells: JobCells, base: int) -> float:
    """Share of the cells that a base serves with the wanted chance; 0 where it serves none."""
    served = int(cells.served[base].sum())
    return int(cells.covered[base].sum()) / served if served else 0.0


def reduction_db(cells: JobCells, base: int, wanted_share: float) -> float | None:
    """By how much a base's power may fall until the wanted share of its cells is just covered, dB.

    A margin falls with the power, dB by dB, so no map is computed anew. None where the share is not
    reached even now. Cells without terrain or beyond the baseline limit never count as covered.
    """
    served = cells.served[base]
    needed = math.ceil(wanted_share * int(served.sum()) - 1e-9)
    margin = cells.margin_db[base, served & cells.within_limit[base]]
    margin = np.sort(margin[np.isfinite(margin)])[::-1]
    if needed < 1 or margin.size < needed:
        return None
    slack = float(margin[needed - 1]) - cells.needed_margin_db
    return slack if slack >= 0.0 else None


def ratios_after(
    case: Case, reductions_db: list[float], frequency_mhz: FloatArray, slot: IntArray
) -> FloatArray:
    """(n,) worst ratio of each base's rovers once every base sends that much weaker.

    Third-order products, which fall three times as fast, are left out.
    """
    less = np.array(reductions_db)
    weaker = replace(
        case,
        wanted_dbm=case.wanted_dbm - less[case.owner],
        own_dbm=case.own_dbm - less[None, :],
        mixes=(),
    )
    return judge(weaker, frequency_mhz, slot).per_base_db


def spill(station: OwnStation, level_dbm: float, reduced_db: float | None) -> Spill:
    """Where outside the job, within `SEARCH_M`, a rover's receiver would get more than `level_dbm`.

    Median level of each cell. Raises PlaceError where the base has no terrain.
    """
    plan = station.plan
    frame = LocalFrame.around(plan.crs, station.base.easting, station.base.northing)
    search = frame.geometry_to_local(plan.boundary).buffer(SEARCH_M)
    grid = load_terrain(
        plan.terrain, plan.clutter, frame=frame, area=search, margin_m=0.0, max_cells=SEARCH_CELLS
    )
    coverage = compute_coverage(at_worst_for_others(plan), grid)
    outside = inside_mask(grid, search) & ~coverage.inside
    level = coverage.received_dbm[outside]
    known = np.isfinite(level)
    cell_m2 = grid.cell_size_m**2
    heard = level[known]
    return Spill(
        full_m2=float((heard > level_dbm).sum()) * cell_m2,
        reduced_m2=None if reduced_db is None else float((heard - reduced_db > level_dbm).sum()) * cell_m2,
        unknown_m2=float((~known).sum()) * cell_m2,
    )
