"""Two set-ups on one map: who reaches what, and by how many decibels one is above the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from linkplan.coverage.classes import NO_DATA
from linkplan.outputs import formats
from linkplan.outputs.formats import typeset
from linkplan.page.cover import Covered
from linkplan.page.pictures import Picture, decibel_picture, served_picture
from linkplan.page.placing import extent, placed
from linkplan.plan.model import Plan
from linkplan.terrain.grid import BoolArray
from linkplan.terrain.masks import inside_mask


def compared(
    plan: Plan, one: Covered, other: Covered, layers: Sequence[str]
) -> tuple[tuple[Picture, ...], dict[str, Any]]:
    """Pictures of the difference, and what it comes to inside the job.

    Both maps stand on grids of their own; each pixel takes the nearest computed cell of each.
    """
    boxes = [extent(one.coverage.grid), extent(other.coverage.grid)]
    window = (
        max(boxes[0][0], boxes[1][0]), max(boxes[0][1], boxes[1][1]),
        min(boxes[0][2], boxes[1][2]), min(boxes[0][3], boxes[1][3]),
    )  # fmt: skip
    first = placed(one.coverage.grid, window)
    second = placed(other.coverage.grid, first.mercator_m, first.cell.shape)
    class_a = first.look_up(one.coverage.class_index)
    class_b = second.look_up(other.coverage.class_index)
    unknown = (class_a == NO_DATA) | (class_b == NO_DATA)
    reached_a, reached_b = first.look_up(_reached(one)), second.look_up(_reached(other))
    index = np.where(reached_a, np.where(reached_b, 1, 2), np.where(reached_b, 3, 4)).astype(np.uint8)
    index[unknown] = 0
    grid = one.coverage.grid
    inside = first.look_up(inside_mask(grid, grid.frame.geometry_to_local(plan.boundary)))
    counts = np.bincount(index[inside], minlength=5) / max(int(inside.sum()), 1)
    shares = [float(share) for share in counts[1:5]]
    found = []
    for layer in layers:
        if layer == "served":
            found.append(served_picture(index, shares, float(counts[0]), first))
        else:
            margin_a = first.look_up(one.coverage.margin_db, np.nan)
            margin_b = second.look_up(other.coverage.margin_db, np.nan)
            found.append(decibel_picture("gain", margin_b - margin_a, first))
    line = (
        f"B reaches {formats.percent(shares[2])} of the job that A does not; A reaches "
        f"{formats.percent(shares[1])} that B does not; both reach {formats.percent(shares[0])}."
    )
    difference = {
        "line": typeset(line), "both_share": shares[0], "only_a_share": shares[1], "only_b_share": shares[2],
        "neither_share": shares[3], "unknown_share": float(counts[0]),
    }  # fmt: skip
    return tuple(found), difference


def _reached(covered: Covered) -> BoolArray:
    """(rows, columns): the wanted chance, within the baseline limit if the job has one."""
    coverage, limit = covered.coverage, covered.plan.goal.baseline_limit_m
    reached: BoolArray = coverage.class_index == 1
    return reached if limit is None else reached & (coverage.grid.distance_from_base_m() <= limit)
