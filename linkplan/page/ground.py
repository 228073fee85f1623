"""The ground of an open job: read again only when its files have changed, kept for the next step of a drag.

The full map's ground is just that of `linkplan cover`. The coarse one is sampled from a wider piece of ground
that is read once: it is there while the user drags, and nothing else rests on it.
"""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from linkplan.coverage.ground import job_grid
from linkplan.coverage.link import Terminal
from linkplan.errors import DemError, PlaceError
from linkplan.page.stamps import raster_files, stamp_of
from linkplan.plan.model import Plan
from linkplan.terrain.dem import MARGIN_SHARE, load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import FloatArray, TerrainGrid

MOST_KEPT, MOST_KEPT_CELLS = 12, 6_000_000
"""Number and cells of full grids that are kept, beside the one in use."""
MOST_KEPT_FRAMES = 8
REGION_CELLS = 1_500_000
REGION_SHARE = 0.3
"""Ground shown around the job and its points, as a share of the longer side of their box."""
COARSE_CELLS = 60_000
"""Of a coarse map, at most."""
LEAST_COARSENING = 2.0
_TRIES = 3


@dataclass(frozen=True)
class Region:
    """A wider piece of ground around the job, for the hillshade and for coarse maps."""

    grid: TerrainGrid
    stamp: str


class Ground:
    """The ground of one job file; safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._files: dict[Any, tuple[Path, ...]] = {}
        self._stamps: dict[Any, str] = {}
        self._grids: OrderedDict[tuple[Any, ...], TerrainGrid] = OrderedDict()
        self._frames: OrderedDict[tuple[Any, ...], LocalFrame] = OrderedDict()
        self._region: tuple[Any, Region] | None = None
        self._blocks: OrderedDict[tuple[str, int], tuple[FloatArray, FloatArray | None]] = OrderedDict()

    def stamp(self, plan: Plan) -> str:
        """Of the rasters as they are on disk now. DemError where one cannot be read."""
        key = (plan.terrain, None if plan.clutter is None else plan.clutter.file)
        with self._lock:
            files = self._files.get(key)
            found = stamp_of(files) if files is not None else ""
            if files is None or found != self._stamps.get(key):
                # a raster that was written anew may be made of other files than before
                files = raster_files(plan)
                found = stamp_of(files)
                self._files, self._stamps = {key: files}, {key: found}
            return found

    def full(self, plan: Plan, *further: Terminal) -> tuple[TerrainGrid, str]:
        """The grid of `linkplan cover` for a job's base, and the stamp of the files that it was read from.

        DemError where the files change faster than they can be read.
        """
        base = plan.base
        places = tuple((one.easting, one.northing) for one in further)
        key = (base.easting, base.northing, places, _source_key(plan))

        def read() -> TerrainGrid:
            if further:
                return job_grid(plan, *further)
            # as `job_grid` does it, with a frame that may be there from the coarse map
            frame = self._frame(plan)
            area = frame.geometry_to_local(plan.boundary)
            return load_terrain(plan.terrain, plan.clutter, frame=frame, area=area)

        return self._kept(plan, key, read)

    def _frame(self, plan: Plan) -> LocalFrame:
        """The plane around a base; building one costs a tenth of a coarse map."""
        key = (plan.base.easting, plan.base.northing, plan.crs.to_wkt())
        with self._lock:
            found = self._frames.get(key)
            if found is None:
                found = LocalFrame.around(plan.crs, plan.base.easting, plan.base.northing)
                self._frames[key] = found
                while len(self._frames) > MOST_KEPT_FRAMES:
                    self._frames.popitem(last=False)
            return found

    def _kept(
        self, plan: Plan, key: tuple[Any, ...], read: Callable[[], TerrainGrid]
    ) -> tuple[TerrainGrid, str]:
        for _ in range(_TRIES):
            stamp = self.stamp(plan)
            with self._lock:
                found = self._grids.get((*key, stamp))
                if found is not None:
                    self._grids.move_to_end((*key, stamp))
                    return found, stamp
            grid = read()
            if self.stamp(plan) != stamp:
                continue
            with self._lock:
                self._grids[(*key, stamp)] = grid
                self._forget(stamp)
            return grid, stamp
        raise changing(plan)

    def _forget(self, stamp: str) -> None:
        """Let go of grids of files as they were, and of the oldest."""
        for key in [key for key in self._grids if key[-1] != stamp]:
            del self._grids[key]
        cells = sum(one.height_m.size for one in self._grids.values())
        while len(self._grids) > MOST_KEPT or (len(self._grids) > 1 and cells > MOST_KEPT_CELLS):
            cells -= self._grids.popitem(last=False)[1].height_m.size

    def region(self, plan: Plan) -> Region:
        """The wider piece of ground of a job as its file has it."""
        with self._lock:
            for _ in range(_TRIES):
                stamp = self.stamp(plan)
                key = (_source_key(plan), tuple(_points(plan)), plan.base.easting, plan.base.northing)
                if self._region is not None:
                    kept, region = self._region
                    if kept == key and region.stamp == stamp:
                        return region
                grid = _region_grid(plan)
                if self.stamp(plan) == stamp:
                    self._blocks.clear()
                    self._region = (key, Region(grid, stamp))
                    return self._region[1]
        raise changing(plan)

    def coarse(self, job: Plan, plan: Plan) -> tuple[TerrainGrid, str]:
        """Ground with wide cells around the base of `plan`, a set-up of `job`."""
        region = self.region(job)
        layout = _Coarse.of(self._frame(plan), plan, region.grid)
        block = max(1, int(layout.cell_m / region.grid.cell_size_m + 1e-6))
        with self._lock:
            key = (region.stamp, block)
            if key not in self._blocks:
                clutter = region.grid.clutter_height_m
                self._blocks[key] = (
                    _averaged(region.grid.height_m, block),
                    None if clutter is None else _averaged(clutter, block),
                )
                while len(self._blocks) > 3:
                    self._blocks.popitem(last=False)
            heights, clutter_heights = self._blocks[key]
        row, column = layout.places_in(region.grid, block)
        height = _sampled(heights, row, column)
        if math.isnan(height[layout.base_row, layout.base_column]):
            # beyond the piece that is kept, or a hole: the slow way knows, and says what is wrong
            terrain = replace(plan.terrain, cell_size_m=layout.cell_m)
            return job_grid(replace(plan, terrain=terrain)), region.stamp
        grid = TerrainGrid(
            frame=layout.frame,
            cell_size_m=layout.cell_m,
            base_row=layout.base_row,
            base_column=layout.base_column,
            height_m=height,
            clutter_height_m=None if clutter_heights is None else _sampled(clutter_heights, row, column),
            height_datum=region.grid.height_datum,
            source_cell_m=region.grid.source_cell_m,
        )
        return grid, region.stamp


def _source_key(plan: Plan) -> tuple[Any, ...]:
    clutter = plan.clutter
    return (
        plan.terrain,
        None if clutter is None else (clutter.file, tuple(sorted(clutter.heights_m.items()))),
        plan.boundary.wkb,
        plan.crs.to_wkt(),
    )


def changing(plan: Plan) -> DemError:
    """What to say when the ground does not stay the same for as long as a reading takes."""
    names = ", ".join(path.name for path in plan.terrain.files[:3])
    return DemError(
        f"terrain file {names}: changes while it is read; wait until it is written, then try again"
    )


def _region_grid(plan: Plan) -> TerrainGrid:
    """Ground of the job, its base and its points, and some around; PlaceError where none of them has any."""
    import shapely

    starts = [(plan.base.easting, plan.base.northing)]
    middle = plan.boundary.representative_point()
    starts += [(middle.x, middle.y), *((one.easting, one.northing) for one in plan.control_points[:20])]
    trouble: PlaceError | None = None
    for easting, northing in starts:
        frame = LocalFrame.around(plan.crs, easting, northing)
        west, south, east, north = frame.geometry_to_local(plan.boundary).bounds
        west, south, east, north = min(west, 0.0), min(south, 0.0), max(east, 0.0), max(north, 0.0)
        reach = max(east - west, north - south)
        for one in _points(plan):
            x_m, y_m = frame.to_local(*one)
            if west - reach <= x_m <= east + reach and south - reach <= y_m <= north + reach:
                west, south = min(west, x_m), min(south, y_m)
                east, north = max(east, x_m), max(north, y_m)
        spare = REGION_SHARE * max(east - west, north - south)
        box = shapely.box(west - spare, south - spare, east + spare, north + spare)
        try:
            return load_terrain(
                plan.terrain, plan.clutter, frame=frame, area=box, margin_m=0.0, max_cells=REGION_CELLS
            )
        except PlaceError as error:
            trouble = trouble or error
    assert trouble is not None
    raise trouble


def _points(plan: Plan) -> list[tuple[float, float]]:
    places = plan.siting.places if plan.siting is not None else ()
    found = [(one.easting, one.northing) for one in plan.control_points[:2000]]
    return found + [(one.easting, one.northing) for one in places[:2000]]


@dataclass(frozen=True)
class _Coarse:
    """Where the cells of a coarse map lie."""

    frame: LocalFrame
    cell_m: float
    base_row: int
    base_column: int
    rows: int
    columns: int

    @classmethod
    def of(cls, frame: LocalFrame, plan: Plan, region: TerrainGrid) -> _Coarse:
        area = frame.geometry_to_local(plan.boundary)
        bounds = area.bounds
        sides = (min(bounds[0], 0.0), min(bounds[1], 0.0), max(bounds[2], 0.0), max(bounds[3], 0.0))
        west, south, east, north = sides
        longer = max(east - west, north - south)
        if not longer <= 200_000.0:
            raise PlaceError("the base stands too far from its job; check its coordinates")
        margin = MARGIN_SHARE * longer
        wide, high = east - west + 2.0 * margin, north - south + 2.0 * margin
        fine_m = region.cell_size_m
        cell_m = max(LEAST_COARSENING * fine_m, math.sqrt(wide * high / COARSE_CELLS))
        # a job of a few cells stays what it is
        cell_m = min(cell_m, max(fine_m, math.sqrt(area.area) / 20.0))
        left, down, right, up = (
            max(0, math.ceil((abs(side) + max(margin, 0.5 * cell_m)) / cell_m - 0.5)) for side in sides
        )
        return cls(frame, cell_m, up, left, up + down + 1, left + right + 1)

    def places_in(self, region: TerrainGrid, block: int) -> tuple[FloatArray, FloatArray]:
        """Fractional row and column of every cell's centre on the region's blocks.

        Two planes of true metres a few kilometres apart differ by a turn and a shift, to within centimetres
        (`terrain.geodesy`).
        """
        reach = self.cell_m * max(self.rows, self.columns) / 2.0
        corner_x, corner_y = np.array([0.0, reach, 0.0]), np.array([0.0, 0.0, reach])
        x, y = region.frame.to_local(*self.frame.to_job(corner_x, corner_y))
        x_m, y_m = np.asarray(x), np.asarray(y)
        east = (np.arange(self.columns) - self.base_column) * self.cell_m / reach
        north = (self.base_row - np.arange(self.rows)) * self.cell_m / reach
        at_x = x_m[0] + (x_m[1] - x_m[0]) * east[None, :] + (x_m[2] - x_m[0]) * north[:, None]
        at_y = y_m[0] + (y_m[1] - y_m[0]) * east[None, :] + (y_m[2] - y_m[0]) * north[:, None]
        cell = region.cell_size_m
        row = (region.base_row - at_y / cell + 0.5) / block - 0.5
        column = (region.base_column + at_x / cell + 0.5) / block - 0.5
        return row, column


def _averaged(values: FloatArray, block: int) -> FloatArray:
    """Means of block x block cells, as wide as whole blocks go; NaN where one is missing."""
    rows, columns = (size // block * block for size in values.shape)
    parts = values[:rows, :columns].reshape(rows // block, block, columns // block, block)
    mean: FloatArray = parts.mean(axis=(1, 3))
    return mean


def _sampled(values: FloatArray, row: FloatArray, column: FloatArray) -> FloatArray:
    """Bilinear between cell centres; NaN outside and beside missing cells."""
    rows, columns = values.shape
    inside = (row >= -0.5) & (row <= rows - 0.5) & (column >= -0.5) & (column <= columns - 0.5)
    row, column = np.clip(row, 0.0, rows - 1.0), np.clip(column, 0.0, columns - 1.0)
    top = np.minimum(row.astype(np.intp), max(rows - 2, 0))
    left = np.minimum(column.astype(np.intp), max(columns - 2, 0))
    below, right = np.minimum(top + 1, rows - 1), np.minimum(left + 1, columns - 1)
    down, across = row - top, column - left
    upper = values[top, left] * (1.0 - across) + values[top, right] * across
    lower = values[below, left] * (1.0 - across) + values[below, right] * across
    found: FloatArray = np.where(inside, upper * (1.0 - down) + lower * down, np.nan)
    return found
