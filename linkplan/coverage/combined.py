"""Coverage from several stations on one grid: at each cell the station that serves it best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.classes import classify
from linkplan.coverage.reliability import chance_of_corrections
from linkplan.coverage.results import CoverageMap
from linkplan.plan.model import Plan
from linkplan.terrain.grid import BoolArray, TerrainGrid
from linkplan.terrain.masks import inside_mask


@dataclass(frozen=True)
class CombinedCoverage:
    """What several stations do together."""

    coverage: CoverageMap
    """Of each cell's best station; its class is the last one where every station is beyond the baseline
    limit."""
    serving: NDArray[np.int16]
    """(rows, columns): which station serves the cell best, from 1; 0 where none is known to."""
    covered: BoolArray
    """(rows, columns): the wanted chance, within the baseline limit, inside the job."""
    by_itself: tuple[float, ...]
    """Share of the job that each station covers."""
    by_no_other: tuple[float, ...]
    """Share of the job that only this station covers."""

    @property
    def covered_share(self) -> float:
        """Of the job's area."""
        return float(self.covered.sum() / self.coverage.inside.sum())


def combine(
    plan: Plan,
    grid: TerrainGrid,
    maps: Sequence[CoverageMap],
    anchors: Sequence[tuple[float, float]],
) -> CombinedCoverage:
    """Join maps of single stations on `grid`: each of its cells takes the nearest computed cell of each map.

    `anchors`: where the baseline of each map begins, in job coordinates: the base's own place, for a
    repeater that of its base.
    """
    inside = inside_mask(grid, grid.frame.geometry_to_local(plan.boundary))
    limit = plan.goal.baseline_limit_m
    x_m, y_m = cell_centres(grid)
    margins, seen, within = [], [], []
    for one, anchor in zip(maps, anchors, strict=True):
        rows, columns, on = _nearest(one.grid, grid, x_m, y_m)
        margins.append(np.where(on, one.margin_db[rows, columns], np.float32(np.nan)))
        seen.append((rows, columns, on))
        at_x, at_y = grid.frame.to_local(*anchor)
        near = np.ones(grid.shape, bool) if limit is None else np.hypot(x_m - at_x, y_m - at_y) <= limit
        within.append(near)
    stack, near_stack = np.stack(margins), np.stack(within)
    score = np.where(np.isnan(stack), -np.inf, np.where(near_stack, stack, stack - 1e4))
    best = score.argmax(axis=0)
    margin = np.take_along_axis(stack, best[None], axis=0)[0]
    near_best = np.take_along_axis(near_stack, best[None], axis=0)[0]
    first = maps[0]
    chance = chance_of_corrections(margin, first.sigma_db)
    index = classify(chance, first.classes)
    index[(index > 0) & ~near_best] = first.classes[-1].index
    each = [
        inside & near & (classify(chance_of_corrections(one, first.sigma_db), first.classes) == 1)
        for one, near in zip(margins, within, strict=True)
    ]
    together = np.sum(each, axis=0)
    total = float(inside.sum())

    def taken(name: str) -> NDArray[np.float32]:
        layers = [
            np.where(on, getattr(one, name)[rows, columns], np.float32(np.nan))
            for one, (rows, columns, on) in zip(maps, seen, strict=True)
        ]
        picked: NDArray[np.float32] = np.take_along_axis(np.stack(layers), best[None], axis=0)[0]
        return picked

    coverage = replace(
        first,
        grid=grid,
        loss_db=taken("loss_db"),
        received_dbm=taken("received_dbm"),
        margin_db=margin,
        chance=np.where(near_best, chance, np.where(np.isnan(chance), chance, np.float32(0.0))),
        line_of_sight=taken("line_of_sight"),
        fresnel_clearance=taken("fresnel_clearance"),
        class_index=index,
        inside=inside,
    )
    return CombinedCoverage(
        coverage=coverage,
        serving=np.where(np.isnan(margin) | ~near_best, 0, best + 1).astype(np.int16),
        covered=together > 0,
        by_itself=tuple(float(one.sum()) / total for one in each),
        by_no_other=tuple(float((one & (together == 1)).sum()) / total for one in each),
    )


def cell_centres(grid: TerrainGrid) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Local x and y of every cell's centre, (rows, columns) each."""
    rows, columns = grid.shape
    x_m = (np.arange(columns) - grid.base_column) * grid.cell_size_m
    y_m = (grid.base_row - np.arange(rows)) * grid.cell_size_m
    across, down = np.meshgrid(x_m, y_m)
    return across.astype(np.float64), down.astype(np.float64)


def _nearest(
    source: TerrainGrid, grid: TerrainGrid, x_m: NDArray[np.float64], y_m: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp], BoolArray]:
    """Row and column of the cell of `source` that holds each point of `grid`, and whether there is one."""
    easting, northing = grid.frame.to_job(x_m.ravel(), y_m.ravel())
    there_x, there_y = source.frame.to_local(easting, northing)
    rows = np.rint(source.base_row - there_y / source.cell_size_m).reshape(grid.shape)
    columns = np.rint(source.base_column + there_x / source.cell_size_m).reshape(grid.shape)
    on = (rows >= 0) & (rows < source.shape[0]) & (columns >= 0) & (columns < source.shape[1])
    return np.where(on, rows, 0).astype(np.intp), np.where(on, columns, 0).astype(np.intp), on
