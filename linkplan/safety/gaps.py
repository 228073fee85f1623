"""Gaps in guidance: where somebody relies on corrections, how long he goes without them through each gap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.classes import NO_DATA
from linkplan.coverage.results import CoverageMap
from linkplan.coverage.summary import GAPS_LISTED, azimuth_deg
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Zone
from linkplan.safety.cautions import WHAT_TO_DO
from linkplan.safety.results import GuidanceGap, GuidanceZone
from linkplan.tables.safety import WALKING_KM_H
from linkplan.terrain.grid import BoolArray
from linkplan.terrain.masks import cells_in

KM_H_PER_M_S = 3.6
MOST_WALKED_CELLS = 100_000
"""Larger gaps are measured straight across: no guidance bridges them."""


def zones_relied_on(plan: Plan) -> tuple[Zone, ...]:
    """Zones of the job where somebody relies on corrections."""
    return tuple(zone for zone in plan.siting.zones if zone.relies) if plan.siting is not None else ()


def guidance_zones(plan: Plan, coverage: CoverageMap) -> tuple[GuidanceZone, ...]:
    """Each such zone with its gaps: cells below the wanted chance or unknown, joined by edge or corner."""
    return tuple(_zone(plan, coverage, zone) for zone in zones_relied_on(plan))


@dataclass(frozen=True)
class _Piece:
    """A gap while it is measured: its cells and the longest way through them."""

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    way_m: float


def _zone(plan: Plan, coverage: CoverageMap, zone: Zone) -> GuidanceZone:
    grid, limit_s = coverage.grid, plan.safety.age_limit_s
    area = grid.frame.geometry_to_local(zone.area)
    cells = cells_in(grid.shape, grid.affine, area)
    if not cells.any():  # narrower than a cell: every cell that it touches counts
        cells = cells_in(grid.shape, grid.affine, area, touched=True)
    missed = cells & (coverage.class_index != 1)
    unknown = cells & (coverage.class_index == NO_DATA)
    total = int(cells.sum())
    speed_km_h = WALKING_KM_H if zone.speed_km_h is None else zone.speed_km_h
    pieces, count = _longest(missed, grid.cell_size_m)
    gap_number = np.zeros(grid.shape, dtype=np.uint16)
    gaps = []
    for number, piece in enumerate(pieces, start=1):
        gap_number[piece.rows, piece.columns] = number
        gaps.append(_gap(coverage, number, piece, speed_km_h / KM_H_PER_M_S, limit_s))
    return GuidanceZone(
        name=zone.name,
        relies=zone.relies,
        speed_km_h=speed_km_h,
        speed_assumed=zone.speed_km_h is None,
        age_limit_s=limit_s,
        area_m2=total * grid.cell_size_m**2,
        gap_share=float(missed.sum()) / total if total else 1.0,
        unknown_share=float(unknown.sum()) / total if total else 1.0,
        gap_count=count,
        gaps=tuple(gaps),
        held=total > 0 and not any(gap.too_long for gap in gaps),
        what_to_do=WHAT_TO_DO[zone.relies],
        gap_number=gap_number,
    )


def _longest(missed: BoolArray, cell_size_m: float) -> tuple[list[_Piece], int]:
    """The gaps with the longest ways, longest first, and how many gaps there are.

    A way through n cells is shorter than n of their diagonals: what cannot be among the longest is not
    measured.
    """
    from scipy import ndimage

    labels, count = ndimage.label(missed, structure=np.ones((3, 3)))
    sizes = np.bincount(labels.ravel(), minlength=count + 1)[1:]
    boxes = ndimage.find_objects(labels)
    pieces: list[_Piece] = []
    for label in np.argsort(-sizes, kind="stable") + 1:
        most_m = float(sizes[label - 1]) * np.sqrt(2.0) * cell_size_m
        if len(pieces) == GAPS_LISTED and most_m <= pieces[-1].way_m:
            break
        box = boxes[label - 1]
        rows, columns = np.nonzero(labels[box] == label)
        way_m = longest_way_m(rows, columns, cell_size_m)
        pieces.append(_Piece(rows + box[0].start, columns + box[1].start, way_m))
        pieces = sorted(pieces, key=lambda piece: -piece.way_m)[:GAPS_LISTED]
    return pieces, count


def longest_way_m(rows: NDArray[np.int64], columns: NDArray[np.int64], cell_size_m: float) -> float:
    """The longest way through connected cells, m: no less than straight across their outline.

    Where the piece winds, the way stays inside it, from cell to cell by edges and corners, between two ends
    of which none lies farther from the other; longer by up to 8 % than a way that need not keep to centres.
    """
    across_m, ends = _straight(rows, columns)
    if rows.size > MOST_WALKED_CELLS:
        return across_m * cell_size_m
    inside = _walked(rows, columns, ends)
    return max(across_m, inside + 1.0) * cell_size_m


def _straight(rows: NDArray[np.int64], columns: NDArray[np.int64]) -> tuple[float, int]:
    """Greatest distance between corners of the cells, in cells, and the index of a cell at its end."""
    import shapely

    corners = np.concatenate([np.column_stack((columns + x, rows + y)) for x in (0, 1) for y in (0, 1)])
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(corners)))
    apart = np.hypot(*(hull[:, None, axis] - hull[None, :, axis] for axis in (0, 1)))
    at, _ = np.unravel_index(int(np.argmax(apart)), apart.shape)
    end = int(np.argmin(np.hypot(columns + 0.5 - hull[at, 0], rows + 0.5 - hull[at, 1])))
    return float(apart.max()), end


def _walked(rows: NDArray[np.int64], columns: NDArray[np.int64], start: int) -> float:
    """From a cell to the farthest, from there to the farthest again, and so on while that grows; in cells."""
    from scipy import sparse

    index = np.full((int(np.ptp(rows)) + 3, int(np.ptp(columns)) + 3), -1, dtype=np.int64)
    at_row, at_column = rows - rows.min() + 1, columns - columns.min() + 1
    index[at_row, at_column] = np.arange(rows.size)
    starts, ends, steps = [], [], []
    for down, right in ((0, 1), (1, 0), (1, 1), (1, -1)):
        other = index[at_row + down, at_column + right]
        there = other >= 0
        starts.append(np.flatnonzero(there))
        ends.append(other[there])
        steps.append(np.full(int(there.sum()), np.hypot(down, right)))
    graph: Any = sparse.coo_array(
        (np.concatenate(steps), (np.concatenate(starts), np.concatenate(ends))), shape=(rows.size, rows.size)
    ).tocsr()
    longest, end = -1.0, start
    while True:
        far = sparse.csgraph.dijkstra(graph, directed=False, indices=end)
        if far.max() <= longest:
            return longest
        longest, end = float(far.max()), int(np.argmax(far))


def _gap(coverage: CoverageMap, number: int, piece: _Piece, speed_m_s: float, limit_s: float) -> GuidanceGap:
    grid, rows, columns = coverage.grid, piece.rows, piece.columns
    middle = int(np.argmin(np.hypot(rows - rows.mean(), columns - columns.mean())))
    x_m, y_m = grid.centre_of(int(rows[middle]), int(columns[middle]))
    easting, northing = grid.frame.to_job(x_m, y_m)
    longitude, latitude = grid.frame.to_geographic(x_m, y_m)
    seconds = piece.way_m / speed_m_s
    return GuidanceGap(
        number=number,
        area_m2=rows.size * grid.cell_size_m**2,
        unknown_share=float((coverage.class_index[rows, columns] == NO_DATA).mean()),
        way_m=piece.way_m,
        seconds=seconds,
        too_long=seconds > limit_s,
        easting=float(easting),
        northing=float(northing),
        longitude_deg=float(longitude),
        latitude_deg=float(latitude),
        distance_m=float(np.hypot(x_m, y_m)),
        azimuth_deg=azimuth_deg(x_m, y_m),
    )
