"""The ground around a base, from the rasters that a job names to one grid of true metres."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from linkplan.errors import DemError, PlaceError
from linkplan.ranges import require_range
from linkplan.terrain import raster, resample
from linkplan.terrain.clutter import clutter_on
from linkplan.terrain.geodesy import LocalFrame, transformer_between
from linkplan.terrain.grid import BoolArray, FloatArray, TerrainGrid
from linkplan.terrain.masks import cells_in
from linkplan.terrain.raster import RasterFacts
from linkplan.terrain.resample import Layout, Reading
from linkplan.terrain.source import ClutterSource, TerrainSource
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Box = tuple[float, float, float, float]
"""West, south, east, north."""

MARGIN_SHARE = 0.05
"""Ground shown around base and job, as a share of the longer side of their box."""

FARTHEST_M = 100_000.0
"""A job that reaches farther from its base than this has wrong coordinates: UHF links end long before."""

CELL_SIZE_M = (0.1, 1000.0)
"""Cells that a user may ask for: finer shows no more, coarser is no terrain."""

FILES_NAMED = 6
"""How many of many files a sentence names."""

LONELY_ZERO_M = 10.0
"""Heights of 0 are questioned where no other cell comes nearer to 0 than this: sea has a shore."""

BASE_HEIGHT_TOLERANCE_M = 3.0
NOT_STATED = "not stated"


def load_terrain(
    terrain: TerrainSource,
    clutter: ClutterSource | None,
    *,
    frame: LocalFrame,
    area: BaseGeometry,
    margin_m: float | None = None,
    max_cells: int = 4_000_000,
) -> TerrainGrid:
    """Ground (and clutter) of base and job on square cells of `frame`, the base on a cell's centre.

    `area` is the job's boundary in local metres. The grid covers the box of base and area and
    `margin_m` (default 5 % of the box's longer side, half a cell at least) around it. Its cell is the
    terrain source's own wish, else the ground size of the finest raster that touches the box, to two
    digits; coarser where the grid would have more than `max_cells`. Heights come out in metres, bilinear
    between the rasters' cells (see `resample`); unknown stays NaN. Clutter whose class is unknown is NaN
    too.

    Raises DemError for a file that cannot serve, PlaceError for a base or a whole job without ground,
    RangeError for a cell size outside `CELL_SIZE_M`.
    What the user should know of the way is in the grid's `notes`.
    """
    if not terrain.files:
        raise DemError("the job names no terrain file")
    rasters = [raster.describe(path, terrain.height_unit) for path in terrain.files]
    for facts in {facts.crs: facts for facts in reversed(rasters)}.values():
        raster.require_way(facts.crs, frame.job_crs, facts.path)
    box = _box(area)
    rough = _layout(frame, box, margin_m, max(_longer_side(box), 1.0) / 100.0)
    used = [facts for facts in rasters if resample.touches(facts, rough)]
    _require_base_on(rasters, frame)
    native_m = _finest_cell_m(used, rough)
    layout, notes = _chosen_layout(frame, box, margin_m, terrain.cell_size_m, native_m, max_cells)
    height_m, reading = resample.heights_on(layout, used)
    notes += _reading_notes(reading, used) + _shift_notes(used, frame)
    notes += _coverage_notes(layout, height_m, area, frame)
    stands = None
    if clutter is not None:
        stands = clutter_on(layout, clutter)
        notes += _clutter_notes(layout, stands.height_m, area, clutter.file)
    datum, datum_notes = _datum(terrain, used)
    return TerrainGrid(
        frame=frame,
        cell_size_m=layout.cell_size_m,
        base_row=layout.base_row,
        base_column=layout.base_column,
        height_m=height_m,
        clutter_height_m=stands.height_m if stands is not None else None,
        height_datum=datum,
        source_cell_m=native_m,
        notes=tuple(notes + datum_notes),
        clutter_class=stands.class_number if stands is not None else None,
        clutter_codes=stands.codes if stands is not None else (),
    )


def base_height_warning(grid: TerrainGrid, stated_height_m: float, height_unit: str = "metre") -> str | None:
    """A sentence when the base's stated ground height and the terrain differ by more than 3 m.

    It speaks in `height_unit`, a key of `units.METRES_PER_UNIT`.
    """
    ground_m = float(grid.height_m[grid.base_row, grid.base_column])
    difference_m = stated_height_m - ground_m
    if not abs(difference_m) > BASE_HEIGHT_TOLERANCE_M:
        return None
    side = "above" if difference_m > 0 else "below"
    stated, apart, ground = (
        f"{length_m / METRES_PER_UNIT[height_unit]:.1f} {'m' if height_unit == 'metre' else 'ft'}"
        for length_m in (stated_height_m, abs(difference_m), ground_m)
    )
    return (
        f"The base's stated height of {stated} lies {apart} {side} the terrain's {ground} "
        f"(heights of the terrain: {grid.height_datum}). Heights may be counted from different datums "
        "(geoid or ellipsoid), be in another unit, or the point may be the wrong one; the terrain's "
        "height is used."
    )


def _box(area: BaseGeometry) -> Box:
    """West, south, east, north of base and area, m; PlaceError for an impossible area."""
    if area.is_empty:
        raise PlaceError("the job's boundary is empty")
    west, south, east, north = area.bounds
    reach = max(abs(west), abs(south), abs(east), abs(north))
    if not reach <= FARTHEST_M:
        far = f"{reach / 1000.0:.0f} km" if math.isfinite(reach) else "endlessly far"
        raise PlaceError(
            f"the job reaches {far} from its base (at most {FARTHEST_M / 1000.0:.0f} km makes sense "
            "here); check the coordinates of both and the coordinate system"
        )
    return min(west, 0.0), min(south, 0.0), max(east, 0.0), max(north, 0.0)


def _longer_side(box: Box) -> float:
    return max(box[2] - box[0], box[3] - box[1])


def _layout(frame: LocalFrame, box: Box, margin_m: float | None, cell_size_m: float) -> Layout:
    """Cells whose outer edges hold box and margin, the base at (0, 0) on a centre."""
    if margin_m is None:  # half a cell at least: heights are known between the centres of cells only
        margin_m = max(MARGIN_SHARE * _longer_side(box), 0.5 * cell_size_m)
    west, south, east, north = (
        max(0, math.ceil((abs(side) + margin_m) / cell_size_m - 0.5 - 1e-9)) for side in box
    )
    return Layout(frame, cell_size_m, north, west, north + south + 1, west + east + 1)


def _finest_cell_m(used: Sequence[RasterFacts], layout: Layout) -> float:
    """Ground size of the smallest cell near the base; DemError where none is fine enough to be terrain."""
    native_m, facts = min(
        ((raster.cell_size_at(facts, layout.local_wkt), facts) for facts in used), key=lambda pair: pair[0]
    )
    if not 0.0 < native_m <= CELL_SIZE_M[1]:
        raise DemError(
            f"terrain file {facts.path}: its cells are {native_m:.0f} m wide at the base; for radio paths "
            f"at most {CELL_SIZE_M[1]:.0f} m is terrain, and some 30 m or less is wanted"
        )
    return native_m


def _chosen_layout(
    frame: LocalFrame,
    box: Box,
    margin_m: float | None,
    wanted_m: float | None,
    native_m: float,
    max_cells: int,
) -> tuple[Layout, list[str]]:
    if wanted_m is not None:
        require_range("cell size of the terrain grid", wanted_m, *CELL_SIZE_M, unit="m")
    cell_m = _two_digits(native_m) if wanted_m is None else wanted_m
    layout = _layout(frame, box, margin_m, cell_m)
    if layout.rows * layout.columns <= max_cells:
        if cell_m < native_m / 1.5:
            return layout, [
                f"The grid's cells of {cell_m:g} m are finer than the terrain's of "
                f"{native_m:.2g} m: they show no more than that."
            ]
        return layout, []
    coarse_m = cell_m
    while layout.rows * layout.columns > max_cells:
        needed = coarse_m * math.sqrt(layout.rows * layout.columns / max_cells)
        coarse_m = max(_two_digits(needed, up=True), _next_step(coarse_m))
        layout = _layout(frame, box, margin_m, coarse_m)
    return layout, [
        f"Cells are {coarse_m:g} m instead of {cell_m:g} m, so that the grid stays within "
        f"{max_cells:,} cells: ridges and pits smaller than that are smoothed away."
    ]


def _two_digits(length_m: float, *, up: bool = False) -> float:
    """A length to two significant digits, to the nearest or upwards."""
    step = 10.0 ** (math.floor(math.log10(length_m)) - 1)
    steps = math.ceil(length_m / step - 1e-9) if up else round(length_m / step)
    return float(f"{steps * step:.12g}")


def _next_step(length_m: float) -> float:
    """The next greater length of two significant digits."""
    return _two_digits(length_m * 1.005 + 10.0 ** (math.floor(math.log10(length_m)) - 1) / 2, up=True)


def _require_base_on(rasters: Sequence[RasterFacts], frame: LocalFrame) -> None:
    """PlaceError when the base lies outside every raster."""
    zero = np.zeros(1)
    for facts in rasters:
        column, row = raster.pixels_of(facts, frame.local_crs.to_wkt(), zero, zero)
        if 0.0 <= column[0] <= facts.columns and 0.0 <= row[0] <= facts.rows:
            return
    raise PlaceError(
        f"the base at {_place(frame)} lies outside the terrain ({_names(rasters)}, which "
        f"covers {_reach_of(rasters[0], frame)})"
    )


def _reach_of(facts: RasterFacts, frame: LocalFrame) -> str:
    """A raster's box in the job's coordinates, in words."""
    edge = np.linspace(0.0, 1.0, 11)
    column = facts.columns * np.concatenate([edge, edge, 0 * edge, 0 * edge + 1])
    row = facts.rows * np.concatenate([0 * edge, 0 * edge + 1, edge, edge])
    corners = raster.applied(facts.transform, column, row)
    east, north = raster.moved(facts.crs.to_wkt(), frame.job_crs.to_wkt(), *corners)
    if not np.isfinite(east + north).all():
        return "ground that the job's coordinate system cannot express"
    digits = 5 if frame.job_crs.is_geographic else 0
    return (
        f"{east.min():.{digits}f} to {east.max():.{digits}f} east and "
        f"{north.min():.{digits}f} to {north.max():.{digits}f} north"
    )


def _place(frame: LocalFrame) -> str:
    digits = 6 if frame.job_crs.is_geographic else 1
    return f"{frame.easting:.{digits}f}, {frame.northing:.{digits}f}"


def _coverage_notes(layout: Layout, height_m: FloatArray, area: BaseGeometry, frame: LocalFrame) -> list[str]:
    """PlaceError when base or the whole job has no ground; else what is missing, in words."""
    if math.isnan(height_m[layout.base_row, layout.base_column]):
        raise PlaceError(
            f"the base at {_place(frame)} stands where the terrain has no data; "
            "choose another place or a terrain file without the hole"
        )
    missing = _share_of(np.isnan(height_m), layout, area)
    if missing == 1.0:
        raise PlaceError("the whole job lies where the terrain has no data, or outside of it")
    if missing > 0.0:
        return [
            f"{_percent(missing)} of the job's area has no terrain data; nothing is claimed there, nor "
            "behind it."
        ]
    return []


def _clutter_notes(layout: Layout, clutter_height_m: FloatArray, area: BaseGeometry, file: Path) -> list[str]:
    missing = _share_of(np.isnan(clutter_height_m), layout, area)
    if missing > 0.0:
        return [
            f"{_percent(missing)} of the job's area has no class in the clutter file {file.name}; nothing "
            "is claimed where a path crosses it."
        ]
    return []


def _share_of(cells: BoolArray, layout: Layout, area: BaseGeometry) -> float:
    """Share of the area's cells for which `cells` is true."""
    shape, affine = (layout.rows, layout.columns), tuple(layout.affine)[:6]
    inside = cells_in(shape, affine, area)
    if not inside.any():
        inside = cells_in(shape, affine, area, touched=True)
    return float(cells[inside].mean())


def _names(rasters: Sequence[RasterFacts]) -> str:
    """File names in a sentence, the first few of many."""
    names = [facts.path.name for facts in rasters[:FILES_NAMED]]
    more = len(rasters) - len(names)
    return ", ".join(names) + (f" and {more} more files" if more else "")


def _percent(share: float) -> str:
    if share < 0.001:
        return "Less than 0.1 %"
    return f"{100.0 * share:.1f} %" if share <= 0.999 or share == 1.0 else "More than 99.9 %"


def _reading_notes(reading: Reading, used: Sequence[RasterFacts]) -> list[str]:
    notes = [
        f"{count:,} cells of {name} hold heights below {resample.LOWEST_HEIGHT_M:g} m or above "
        f"{resample.HIGHEST_HEIGHT_M:g} m: taken as missing data."
        for name, count in reading.absurd_cells.items()
    ]
    for name, count in reading.zero_cells.items():
        nearest_m = reading.nearest_to_zero_m[name]
        if count and LONELY_ZERO_M <= nearest_m < math.inf:
            notes.append(
                f"{count:,} cells of {name} are at exactly 0 m, and no other of them within "
                f"{nearest_m:.0f} m of that: if 0 stands for missing data, the file must say so (its nodata "
                "value); here it is taken as ground."
            )
    if reading.averaged > 1:
        notes.append(
            f"The terrain's cells are averaged over blocks of {reading.averaged} x {reading.averaged}."
        )
    silent = [facts for facts in used if not facts.unit_stated]
    if silent:
        notes.append(f"{_names(silent)}: no unit of heights is stated; metres are assumed.")
    many = [facts for facts in used if facts.bands > 1]
    if many:
        notes.append(f"{_names(many)}: the first of several bands is taken as the height.")
    return notes


def _shift_notes(used: Sequence[RasterFacts], frame: LocalFrame) -> list[str]:
    """What to say when no shift between a raster's datum and the job's is known."""
    notes = []
    for facts in used:
        shift = transformer_between(facts.crs, frame.job_crs)
        if "Ballpark" in shift.description:
            notes.append(
                f"{facts.path.name} is on the datum of {facts.crs.name}, the job on that of "
                f"{frame.job_crs.name}; no shift between them is known here, so the ground may lie some "
                "metres, at worst some hundred, off its place."
            )
    return notes


def _datum(terrain: TerrainSource, used: Sequence[RasterFacts]) -> tuple[str, list[str]]:
    """What heights are counted from, in words, and what to say about it."""
    if terrain.height_datum:
        return terrain.height_datum, []
    stated = list(dict.fromkeys(facts.height_datum for facts in used if facts.height_datum))
    if not stated:
        return NOT_STATED, [
            "Nobody states from which datum the terrain's heights are counted; compare them with a "
            "point whose height is known."
        ]
    if len(stated) > 1:
        return " / ".join(stated), [
            f"The terrain files count heights from different datums ({', '.join(stated)}); they are "
            "used as they stand, so there may be steps between files."
        ]
    return stated[0], []
