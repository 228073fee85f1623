"""From rasters in any coordinate system to heights on the local grid, a window at a time.

Bilinear between the centres of the raster's cells. A raster much finer than the grid is first averaged
over blocks of k x k whole cells (k = grid cell / raster cell, rounded down, or up from some 0.94), so
that only one block row of it is in memory. Missing data never shrinks: a block with one missing cell is
missing, and so is a grid cell whose bilinear neighbourhood touches a missing one or which holds the
centre of one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS

from linkplan.terrain import raster
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.raster import RasterFacts

if TYPE_CHECKING:
    from affine import Affine

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LOWEST_HEIGHT_M = -500.0
HIGHEST_HEIGHT_M = 9000.0
"""Dry ground on earth lies between these (lowest shore about -430 m, highest peak 8849 m; from memory)."""

STRIP_CELLS = 1_000_000
"""Raster cells read at once."""

MISSING_WEIGHT = 1e-3
"""A neighbour of less bilinear weight than this does not count (rounding of coordinates)."""


@dataclass(frozen=True)
class Layout:
    """Where the cells of a local grid lie, before any height is known (see `TerrainGrid`)."""

    frame: LocalFrame
    cell_size_m: float
    base_row: int
    base_column: int
    rows: int
    columns: int

    @property
    def local_wkt(self) -> str:
        """The local plane as the raster library takes it."""
        return self.frame.local_crs.to_wkt()

    @property
    def affine(self) -> Affine:
        """From (column, row) of a cell's upper left corner to local x, y."""
        from affine import Affine

        cell = self.cell_size_m
        west, north = -(self.base_column + 0.5) * cell, (self.base_row + 0.5) * cell
        return Affine(cell, 0.0, west, 0.0, -cell, north)

    def lattice(self, points_a_side: int = 33) -> tuple[FloatArray, FloatArray]:
        """Local x, y of points spread evenly over the grid, its outer edges included."""
        affine = self.affine
        x = affine.c + np.linspace(0.0, self.columns, points_a_side) * self.cell_size_m
        y = affine.f - np.linspace(0.0, self.rows, points_a_side) * self.cell_size_m
        grid_x, grid_y = np.meshgrid(x, y)
        return grid_x.ravel(), grid_y.ravel()


@dataclass
class Reading:
    """What was noticed while cells were read."""

    absurd_cells: dict[str, int] = field(default_factory=dict)
    """By file name: cells with a height that no ground has."""
    zero_cells: dict[str, int] = field(default_factory=dict)
    """By name of a file that marks nothing as missing: cells of height exactly 0."""
    nearest_to_zero_m: dict[str, float] = field(default_factory=dict)
    """By name of such a file: the height nearest to 0 that is not 0."""
    averaged: int = 1
    """Largest block over which cells were averaged."""


@dataclass(frozen=True)
class Window:
    """Half-open ranges of columns and rows on the lattice of a group of rasters."""

    column: int
    row: int
    columns: int
    rows: int


@dataclass(frozen=True)
class _Group:
    """Rasters that share one lattice of cells, and the offset of each on it (columns, rows)."""

    members: tuple[RasterFacts, ...]
    offsets: tuple[tuple[int, int], ...]

    @property
    def transform(self) -> Affine:
        """Of the lattice; its origin is the first column and row that any member has."""
        return raster.stepped(self.members[0].transform, -self.offsets[0][0], -self.offsets[0][1])

    @property
    def size(self) -> tuple[int, int]:
        """Columns and rows of the lattice."""
        pairs = list(zip(self.members, self.offsets, strict=True))
        return (
            max(facts.columns + offset[0] for facts, offset in pairs),
            max(facts.rows + offset[1] for facts, offset in pairs),
        )


def touches(facts: RasterFacts, layout: Layout) -> bool:
    """Whether a raster may hold anything of the grid (never wrongly False)."""
    return _wanted_window(facts, layout, (facts.columns, facts.rows), 1) is not None


def heights_on(layout: Layout, rasters: Sequence[RasterFacts]) -> tuple[FloatArray, Reading]:
    """Heights in m on the cells of `layout`, NaN where missing; earlier rasters come first.

    Neighbouring rasters in the order given that share one lattice of cells are joined before
    resampling, so that no seam shows between tiles. In the outer half of a lattice's outermost cells
    the height is that cell's own, unless another raster knows better. Raises DemError when a file
    fails on the way.
    """
    height_m = np.full((layout.rows, layout.columns), np.nan)
    edge_m = height_m.copy()
    reading = Reading()
    groups = _grouped(rasters)
    for group in groups:
        if np.isfinite(height_m).all():
            break
        source, transform, holes = _source_for(layout, group, reading)
        if not source.size:
            continue
        crs = group.members[0].crs
        on_grid = _warped(source, transform, crs, layout)
        on_grid[holes] = np.nan
        if len(groups) > 1:
            _fill_unknown(edge_m, on_grid)
            ringed = np.pad(source, 1, constant_values=np.nan)
            on_grid = _warped(ringed, raster.stepped(transform, -1, -1), crs, layout)
            on_grid[holes] = np.nan
        _fill_unknown(height_m, on_grid)
    _fill_unknown(height_m, edge_m)
    return height_m, reading


def _fill_unknown(height_m: FloatArray, more_m: FloatArray) -> None:
    np.copyto(height_m, more_m, where=np.isnan(height_m))


def _source_for(
    layout: Layout, group: _Group, reading: Reading
) -> tuple[NDArray[np.float32], Affine, BoolArray]:
    """What a group knows of the grid's ground, averaged over blocks, of size 0 if nothing; its holes."""
    holes = np.zeros((layout.rows, layout.columns), dtype=np.bool_)
    native = raster.cell_size_at(group.members[0], layout.local_wkt)
    block = _block_for(layout.cell_size_m / native)
    lattice = _as_facts(group)
    window = _wanted_window(lattice, layout, group.size, block)
    if window is None:
        return np.empty((0, 0), dtype=np.float32), lattice.transform, holes
    reading.averaged = max(reading.averaged, block)
    source = np.full((window.rows // block, window.columns // block), np.nan, dtype=np.float32)
    for start, strip in _strips(group, window, block, reading):
        shape = (strip.shape[0] // block, block, strip.shape[1] // block, block)
        source[start : start + shape[0]] = strip.reshape(shape).mean(axis=(1, 3), dtype=np.float64)
        corner = raster.stepped(lattice.transform, window.column, window.row + start * block)
        _mark_holes(holes, np.isnan(strip), corner, lattice.crs, layout)
    return source, raster.stepped(lattice.transform, window.column, window.row, block), holes


def _block_for(ratio: float) -> int:
    """Raster cells a side to average over, for grid cells of `ratio` raster cells."""
    block = max(1, int(ratio + 1e-6))
    # A hole midway between four centres has the weight below squared, and must count.
    weight = (block + 1 - ratio) / (2 * block)
    return block + 1 if weight < math.sqrt(MISSING_WEIGHT) else block


def _as_facts(group: _Group) -> RasterFacts:
    """The lattice of a group, as if it were one raster."""
    columns, rows = group.size
    return replace(group.members[0], transform=group.transform, columns=columns, rows=rows)


def _grouped(rasters: Sequence[RasterFacts]) -> list[_Group]:
    groups: list[list[tuple[RasterFacts, tuple[int, int]]]] = []
    for facts in rasters:
        offset = _offset(groups[-1][0][0], facts) if groups else None
        if offset is None:
            groups.append([(facts, (0, 0))])
        else:
            groups[-1].append((facts, offset))
    result = []
    for members in groups:
        left = min(offset[0] for _, offset in members)
        top = min(offset[1] for _, offset in members)
        result.append(
            _Group(
                tuple(facts for facts, _ in members),
                tuple((offset[0] - left, offset[1] - top) for _, offset in members),
            )
        )
    return result


def _offset(first: RasterFacts, other: RasterFacts) -> tuple[int, int] | None:
    """Columns and rows from the first raster's corner to the other's, or None off its lattice."""
    if first.crs != other.crs:
        return None
    steps = np.array(first.transform[:2] + first.transform[3:5])
    other_steps = np.array(other.transform[:2] + other.transform[3:5])
    reach = max(other.columns, other.rows)
    if np.abs(steps - other_steps).max() * reach > 0.01 * np.abs(steps).max():
        return None
    corner_x, corner_y = np.array([other.transform.c]), np.array([other.transform.f])
    corner = [float(v[0]) for v in raster.applied(~first.transform, corner_x, corner_y)]
    column, row = round(corner[0]), round(corner[1])
    aligned = abs(corner[0] - column) < 0.01 and abs(corner[1] - row) < 0.01
    return (column, row) if aligned else None


def _wanted_window(lattice: RasterFacts, layout: Layout, size: tuple[int, int], block: int) -> Window | None:
    """The cells that the grid needs, in whole blocks, clipped to what there is."""
    column, row = raster.pixels_of(lattice, layout.local_wkt, *layout.lattice())
    known = np.isfinite(column) & np.isfinite(row)
    if not known.any():
        return None
    bounds = []
    for values, limit in ((column[known], size[0]), (row[known], size[1])):
        low, high = values.min(), values.max()
        # The lattice of points misses a little of curved edges; bilinear needs a neighbour or two.
        spare = 3 * block + 0.01 * (high - low)
        start = max(0, int(low - spare) // block * block)
        stop = min(limit // block * block, int(high + spare) // block * block + block)
        if stop <= start or high < 0 or low > limit:
            return None
        bounds.append((start, stop - start))
    (first_column, columns), (first_row, rows) = bounds
    return Window(first_column, first_row, columns, rows)


def _strips(
    group: _Group, window: Window, block: int, reading: Reading
) -> Iterator[tuple[int, NDArray[np.float32]]]:
    """Block rows of the joined rasters: index of the first block row, heights in m, NaN if missing."""
    at_once = max(1, STRIP_CELLS // (window.columns * block)) * block
    with ExitStack() as stack:
        sources = [stack.enter_context(raster.opened(facts.path)) for facts in group.members]
        for start in range(0, window.rows, at_once):
            rows = min(at_once, window.rows - start)
            part = Window(window.column, window.row + start, window.columns, rows)
            strip = np.full((rows, window.columns), np.nan, dtype=np.float32)
            for facts, offset, source in zip(group.members, group.offsets, sources, strict=True):
                _fill(strip, part, facts, offset, source, reading)
            yield start // block, strip


def _fill(
    strip: NDArray[np.float32],
    part: Window,
    facts: RasterFacts,
    offset: tuple[int, int],
    source: Any,
    reading: Reading,
) -> None:
    """Put what one raster knows into the unknown cells of a strip."""
    from rasterio.enums import MaskFlags
    from rasterio.windows import Window as RasterWindow

    left, top = max(part.column, offset[0]), max(part.row, offset[1])
    right = min(part.column + part.columns, offset[0] + facts.columns)
    bottom = min(part.row + part.rows, offset[1] + facts.rows)
    if right <= left or bottom <= top:
        return
    place = RasterWindow(left - offset[0], top - offset[1], right - left, bottom - top)
    target = strip[top - part.row : bottom - part.row, left - part.column : right - part.column]
    values = source.read(1, window=place).astype(np.float64)
    if MaskFlags.all_valid in source.mask_flag_enums[0]:
        missing = np.zeros(values.shape, dtype=np.bool_)
    else:
        missing = source.read_masks(1, window=place) == 0
    alpha = raster.alpha_band(source)
    if alpha is not None:
        missing |= source.read(alpha, window=place) == 0
    values = (values * source.scales[0] + source.offsets[0]) * facts.metres_per_unit
    missing |= np.isnan(values)
    absurd = ~missing & ~((values >= LOWEST_HEIGHT_M) & (values <= HIGHEST_HEIGHT_M))
    count = int(absurd.sum())
    if count:
        name = facts.path.name
        reading.absurd_cells[name] = reading.absurd_cells.get(name, 0) + count
    if source.nodata is None and not missing.any():
        _count_zeros(values, facts.path.name, reading)
    np.copyto(target, values, where=np.isnan(target) & ~missing & ~absurd, casting="same_kind")


def _count_zeros(height_m: FloatArray, name: str, reading: Reading) -> None:
    """Note heights of 0, which may stand for missing data, and how near to 0 the others come."""
    zero = height_m == 0.0
    reading.zero_cells[name] = reading.zero_cells.get(name, 0) + int(zero.sum())
    least_m = float(np.min(np.abs(height_m), where=~zero, initial=np.inf))
    reading.nearest_to_zero_m[name] = min(reading.nearest_to_zero_m.get(name, np.inf), least_m)


def _warped(source: NDArray[np.float32], transform: Affine, crs: CRS, layout: Layout) -> FloatArray:
    """Bilinear from an array to the local grid; NaN outside it and beside missing cells."""
    missing = np.isnan(source)
    height_m = _reprojected(np.where(missing, np.float32(0.0), source), transform, crs, layout)
    if missing.any():
        weight = _reprojected(missing.astype(np.float32), transform, crs, layout)
        height_m[weight > MISSING_WEIGHT] = np.nan
        height_m /= np.where(weight > MISSING_WEIGHT, 1.0, 1.0 - weight)
    return height_m


def _mark_holes(holes: BoolArray, missing: BoolArray, transform: Affine, crs: CRS, layout: Layout) -> None:
    """Mark grid cells that hold the centre of a missing raster cell: it may lie between all samples."""
    from scipy.ndimage import binary_erosion

    if not missing.any() or missing.all():
        return
    row, column = np.nonzero(missing & ~binary_erosion(missing, border_value=1))
    centre = raster.applied(transform, column.astype(np.float64) + 0.5, row.astype(np.float64) + 0.5)
    x_m, y_m = raster.moved(crs.to_wkt(), layout.local_wkt, *centre)
    place = layout.affine
    with np.errstate(invalid="ignore"):  # no answer stays none
        across, down = np.floor((x_m - place.c) / place.a), np.floor((y_m - place.f) / place.e)
    inside = (across >= 0) & (across < layout.columns) & (down >= 0) & (down < layout.rows)
    holes[down[inside].astype(np.intp), across[inside].astype(np.intp)] = True


def _reprojected(source: NDArray[np.float32], transform: Affine, crs: CRS, layout: Layout) -> FloatArray:
    from rasterio.warp import Resampling, reproject

    result = np.full((layout.rows, layout.columns), np.nan)
    with raster.quiet_environment():
        reproject(
            source,
            result,
            src_transform=transform,
            src_crs=crs.to_wkt(),
            dst_transform=layout.affine,
            dst_crs=layout.local_wkt,
            resampling=Resampling.bilinear,
            # Coordinates are interpolated along a row of the grid to this share of a raster's cell.
            tolerance=0.01,
            init_dest_nodata=False,
            num_threads=2,  # the same bits as with one
            # Else a turned raster counts as a finer one, and ridges are smoothed.
            XSCALE=1,
            YSCALE=1,
        )
    return result
