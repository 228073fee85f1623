"""The answer in figures: how much of the job is covered, where the gaps are, how far it reaches."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.classes import NO_DATA
from linkplan.coverage.results import CoverageMap, CoverageSummary, Gap, Spot
from linkplan.plan.model import Plan

GAPS_LISTED = 12
"""How many gaps, largest first, a summary describes one by one."""
SMALLEST_GAP_CELLS = 4
"""Smaller gaps are counted but not described, unless there are only such."""


def summarize(plan: Plan, coverage: CoverageMap, warnings: tuple[str, ...] = ()) -> CoverageSummary:
    """Figures over the cells whose centres lie inside the job's boundary."""
    grid, inside = coverage.grid, coverage.inside
    total = int(inside.sum())
    counts = np.bincount(coverage.class_index[inside], minlength=len(coverage.classes) + 1)
    distance = grid.distance_from_base_m()
    limit = plan.goal.baseline_limit_m
    beyond = inside & (distance > limit) if limit is not None else np.zeros_like(inside)
    reached = inside & (coverage.class_index == 1)
    covered = reached & ~beyond
    known = inside & np.isfinite(coverage.margin_db)
    gaps, gap_count = _gaps(coverage, inside & ~reached, distance)
    return CoverageSummary(
        job_name=plan.name,
        job_area_m2=float(grid.frame.geometry_to_local(plan.boundary).area),
        cell_size_m=grid.cell_size_m,
        wanted_chance=plan.goal.chance,
        wanted_share=plan.goal.share,
        covered_share=float(covered.sum()) / total,
        class_shares=tuple(float(counts[one.index]) / total for one in coverage.classes),
        no_data_share=float(counts[NO_DATA]) / total,
        beyond_baseline_share=float(beyond.sum()) / total,
        baseline_limit_m=limit,
        longest_baseline_m=float(distance[inside].max()),
        gaps=gaps,
        gap_count=gap_count,
        farthest_dependable=_spot(coverage, np.where(covered, distance, -np.inf), distance),
        worst=_spot(coverage, np.where(known, -coverage.margin_db, -np.inf), distance),
        warnings=warnings,
        all_covered=bool(covered.sum() >= plan.goal.share * total),
        calibration=plan.calibration,
    )


def azimuth_deg(x_m: float, y_m: float) -> float:
    """Direction of a local point from the base, degrees clockwise from true north, 0 to 360."""
    return math.degrees(math.atan2(x_m, y_m)) % 360.0


def _spot(coverage: CoverageMap, score: NDArray[np.floating], distance: NDArray[np.float64]) -> Spot | None:
    """The cell with the greatest score, or None where no cell counts (all scores minus infinity)."""
    row, column = (int(i) for i in np.unravel_index(int(np.argmax(score)), score.shape))
    if not np.isfinite(score[row, column]):
        return None
    grid = coverage.grid
    x_m, y_m = grid.centre_of(row, column)
    easting, northing = grid.frame.to_job(x_m, y_m)
    longitude, latitude = grid.frame.to_geographic(x_m, y_m)
    return Spot(
        easting=float(easting),
        northing=float(northing),
        longitude_deg=float(longitude),
        latitude_deg=float(latitude),
        distance_m=float(distance[row, column]),
        azimuth_deg=azimuth_deg(x_m, y_m),
        margin_db=float(coverage.margin_db[row, column]),
        chance=float(coverage.chance[row, column]),
    )


def _gaps(
    coverage: CoverageMap, missed: NDArray[np.bool_], distance: NDArray[np.float64]
) -> tuple[tuple[Gap, ...], int]:
    """Connected pieces (by edge or corner) without the wanted chance, and how many; unknown ground apart."""
    from scipy import ndimage

    unknown = coverage.class_index == NO_DATA
    found: list[tuple[int, str, NDArray[np.int64], NDArray[np.int64]]] = []
    count = 0
    for kind, mask in (("weak", missed & ~unknown), ("no data", missed & unknown)):
        labels, number = ndimage.label(mask, structure=np.ones((3, 3)))
        count += number
        sizes = np.bincount(labels.ravel(), minlength=number + 1)
        sizes[0] = 0
        slices = ndimage.find_objects(labels)
        for label in np.argsort(-sizes, kind="stable")[: min(GAPS_LISTED, number)]:
            box = slices[label - 1]
            rows, columns = np.nonzero(labels[box] == label)
            found.append((int(sizes[label]), kind, rows + box[0].start, columns + box[1].start))
    found.sort(key=lambda gap: -gap[0])
    found = [gap for gap in found if gap[0] >= SMALLEST_GAP_CELLS] or found
    listed = tuple(
        _gap(coverage, number, gap, distance) for number, gap in enumerate(found[:GAPS_LISTED], start=1)
    )
    return listed, count


def _middle(rows: NDArray[np.int64], columns: NDArray[np.int64]) -> tuple[int, int]:
    """The cell of a piece that lies farthest inside it; of equals the one nearest its centroid."""
    from scipy import ndimage

    corner = rows.min() - 1, columns.min() - 1
    shape = int(np.ptp(rows)) + 3, int(np.ptp(columns)) + 3
    piece = np.zeros(shape, dtype=bool)
    piece[rows - corner[0], columns - corner[1]] = True
    depth = ndimage.distance_transform_edt(piece)[rows - corner[0], columns - corner[1]]
    off_centre = np.hypot(rows - rows.mean(), columns - columns.mean())
    best = int(np.lexsort((off_centre, -depth))[0])
    return int(rows[best]), int(columns[best])


def _gap(
    coverage: CoverageMap,
    number: int,
    found: tuple[int, str, NDArray[np.int64], NDArray[np.int64]],
    distance: NDArray[np.float64],
) -> Gap:
    size, kind, rows, columns = found
    row, column = _middle(rows, columns)
    grid = coverage.grid
    x_m, y_m = grid.centre_of(row, column)
    easting, northing = grid.frame.to_job(x_m, y_m)
    longitude, latitude = grid.frame.to_geographic(x_m, y_m)
    worst = None if kind == "no data" else float(coverage.margin_db[rows, columns].min())
    return Gap(
        number=number,
        kind=kind,
        area_m2=size * grid.cell_size_m**2,
        easting=float(easting),
        northing=float(northing),
        longitude_deg=float(longitude),
        latitude_deg=float(latitude),
        distance_m=float(distance[row, column]),
        azimuth_deg=azimuth_deg(x_m, y_m),
        worst_margin_db=worst,
    )
