"""What field logs have taught, as it is added to predicted levels at a rover.

What was learned holds for the way from an own base to an own rover: whether base, way or rover is the reason,
no log can tell.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.plan.model import Plan
from linkplan.terrain.grid import FloatArray, TerrainGrid

Cells = tuple[Any, Any]
"""Rows and columns as they index an array: numbers, arrays or slices."""


def general_offset_db(plan: Plan) -> float:
    """Added to every level, dB; 0 where nothing was learned."""
    return plan.calibration.offset_db if plan.calibration is not None else 0.0


def class_offset_db(plan: Plan, grid: TerrainGrid, cells: Cells) -> FloatArray | float:
    """Added beside it for the clutter class at the rover's cells, dB; 0 where the class is unknown.

    A plain 0, which costs nothing, where no class has an offset of its own.
    """
    learned = plan.calibration.class_offsets_db if plan.calibration is not None else {}
    if not learned or grid.clutter_class is None:
        return 0.0
    by_class: NDArray[np.float64] = np.array([0.0, *(learned.get(code, 0.0) for code in grid.clutter_codes)])
    found: FloatArray = by_class[grid.clutter_class[cells]]
    return found


def unwanted_offset_db(
    plan: Plan, grid: TerrainGrid, easting: FloatArray, northing: FloatArray
) -> FloatArray:
    """Added to unwanted levels at places in job coordinates, dB: what was learned, where it is a gain.

    It was not learned for the way from another transmitter, so that only the worse case is taken.
    """
    x_m, y_m = grid.frame.to_local(np.asarray(easting), np.asarray(northing))
    rows = np.rint(grid.base_row - y_m / grid.cell_size_m).astype(np.intp)
    columns = np.rint(grid.base_column + x_m / grid.cell_size_m).astype(np.intp)
    at = np.clip(rows, 0, grid.shape[0] - 1), np.clip(columns, 0, grid.shape[1] - 1)
    learned = general_offset_db(plan) + class_offset_db(plan, grid, at)
    worse: FloatArray = np.maximum(np.broadcast_to(learned, x_m.shape), 0.0)
    return worse


def at_worst_for_others(plan: Plan) -> Plan:
    """The job for levels that others are to be spared: nothing learned makes them weaker."""
    learned = plan.calibration
    if learned is None:
        return plan
    general_db = max(learned.offset_db, 0.0)
    classes = {
        code: max(learned.offset_db + more_db, 0.0) - general_db
        for code, more_db in learned.class_offsets_db.items()
    }
    return replace(plan, calibration=replace(learned, offset_db=general_db, class_offsets_db=classes))
