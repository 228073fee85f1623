"""The drawable shapes of a job: class polygons, boundary, base, control points, gaps, as plain tables.

Written once here, in local metres, so that GeoPackage, GeoJSON, KML, figures and map draw the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from linkplan.coverage.results import CoverageClass, CoverageMap, CoverageSummary
from linkplan.outputs import style
from linkplan.plan.model import Plan
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.masks import polygons_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


SMOOTHING_CELLS = 0.75
"""Width of the corners that smoothing takes off, in cells: no edge moves by more than one."""

CORNERS_DRAWN = 2000
"""A boundary of more corners is thinned before it is drawn; the GeoPackage keeps them all."""

CORNER_CELLS = 0.1
"""How far thinning may move an edge, in cells."""


@dataclass(frozen=True)
class ClassArea:
    """All cells of one class."""

    index: int
    name: str
    meaning: str
    chance_low: float | None
    """None for unknown ground."""
    chance_high: float | None
    rgb: style.Rgb | None
    outline: BaseGeometry
    """(Multi)Polygon in local metres."""
    area_m2: float
    """Of the cells, also where the outline is smoothed."""


@dataclass(frozen=True)
class Place:
    """A point with a name: the base, a control point, a gap."""

    kind: str
    """"base", "control" or "gap"."""
    name: str
    x_m: float
    y_m: float
    easting: float
    northing: float
    note: str


def class_areas(coverage: CoverageMap) -> tuple[ClassArea, ...]:
    """One area a class that occurs, best first, unknown ground last."""
    known = {one.index: one for one in coverage.classes}
    areas = [
        _class_area(index, known.get(index), coverage.classes, outline)
        for index, outline in polygons_of(coverage.grid, coverage.class_index)
    ]
    return tuple(sorted(areas, key=lambda area: (area.index == 0, area.index)))


def smoothed(areas: tuple[ClassArea, ...], cell_size_m: float) -> tuple[ClassArea, ...]:
    """The same areas with the cells' stairs rounded off by at most one cell, still without overlap.

    Edges shared by two classes move together; edges to unknown ground and the rim of the map do not
    move at all, so that no class reaches into what is not known.
    """
    import shapely

    coloured = [area for area in areas if area.index != 0]
    if not coloured:
        return areas
    # a vertex at every cell corner, so that neighbours share theirs; those on straight lines go again
    noded = shapely.segmentize([area.outline for area in coloured], cell_size_m * 1.000001)
    rounded = shapely.coverage_simplify(
        noded, tolerance=SMOOTHING_CELLS * cell_size_m, simplify_boundary=False
    )
    outlines = shapely.simplify(rounded, 0.0)
    moved = [replace(area, outline=outline) for area, outline in zip(coloured, outlines, strict=True)]
    return (*moved, *(area for area in areas if area.index == 0))


def places(plan: Plan, grid: TerrainGrid, summary: CoverageSummary) -> tuple[Place, ...]:
    """The base, the control points and the listed gaps."""
    frame = grid.frame

    def place(kind: str, name: str, easting: float, northing: float, note: str) -> Place:
        x_m, y_m = frame.to_local(easting, northing)
        return Place(kind, name, float(x_m), float(y_m), easting, northing, note)

    base = plan.base
    found = [place("base", base.name, base.easting, base.northing, "base")]
    found += [
        place("control", point.name, point.easting, point.northing, point.code)
        for point in plan.control_points
        if point.name != base.name
    ]
    found += [place("gap", str(gap.number), gap.easting, gap.northing, gap.kind) for gap in summary.gaps]
    return tuple(found)


def drawn_boundary(plan: Plan, grid: TerrainGrid) -> BaseGeometry:
    """The boundary in local metres; one of very many corners without those that no map can show.

    The drivers and the figure take time that grows faster than the number of corners. No edge moves by
    more than a tenth of a cell.
    """
    import shapely

    boundary = grid.frame.geometry_to_local(plan.boundary)
    if shapely.get_num_coordinates(boundary) <= CORNERS_DRAWN:
        return boundary
    return shapely.simplify(boundary, CORNER_CELLS * grid.cell_size_m)


def limit_on_map_m(coverage: CoverageMap, summary: CoverageSummary) -> float | None:
    """Baseline limit where it crosses the map, m; None where all of the map is nearer, or without a limit."""
    limit = summary.baseline_limit_m
    west, south, east, north = coverage.grid.extent_m
    farthest = math.hypot(max(-west, east), max(-south, north))
    return limit if limit is not None and limit < farthest else None


def _class_area(
    index: int, one: CoverageClass | None, classes: tuple[CoverageClass, ...], outline: BaseGeometry
) -> ClassArea:
    area_m2 = float(outline.area)
    if one is None:
        return ClassArea(index, style.NO_DATA_NAME, style.NO_DATA_MEANING, None, None, None, outline, area_m2)
    rgb = style.class_rgb(one, classes)
    return ClassArea(index, one.name, one.meaning, one.chance_low, one.chance_high, rgb, outline, area_m2)
