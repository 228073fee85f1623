"""What the brief's map shows, and of which part of the ground."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from linkplan.coverage.results import CoverageMap
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.plain import plain as visible
from linkplan.outputs.formats import Formats
from linkplan.outputs.map_labels import Extent
from linkplan.outputs.shapes import ClassArea, Place, class_areas, drawn_boundary, limit_on_map_m, places
from linkplan.outputs.siting_marks import Outline
from linkplan.safety.gaps import zones_relied_on
from linkplan.study import BriefFacts
from linkplan.terrain.masks import polygons_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

SMALL_JOB = 0.42
"""A job that takes less than this share of the map's width and height is drawn alone, the rest beside it."""
MOST_CELLS = 900
"""Longer side of what is drawn."""


@dataclass(frozen=True)
class View:
    """What the parts of the map need to know."""

    facts: BriefFacts
    words: PictureWords
    show: Formats
    coverage: CoverageMap
    """Grid and classes as fine as they are drawn; the rest is that of the job."""
    areas: tuple[ClassArea, ...]
    boundary: BaseGeometry
    outlines: tuple[Outline, ...]
    zone_gaps: BaseGeometry
    places: tuple[Place, ...]
    """Control points, gaps, the base last."""
    extent: Extent
    limit_m: float | None

    @property
    def ratio(self) -> float:
        """Of its height to its width."""
        return (self.extent[3] - self.extent[1]) / (self.extent[2] - self.extent[0])


def view_of(facts: BriefFacts, words: PictureWords) -> tuple[View, Extent | None]:
    """The view, and the extent of the whole map where the view is of its part with the job alone."""
    import shapely

    plan, coverage, summary = facts.study.plan, facts.study.coverage, facts.study.summary
    grid = coverage.grid
    boundary = drawn_boundary(plan, grid)
    lines = plan.siting.rules.lines if plan.siting is not None else ()
    outlines = [
        Outline("zone", one.name, grid.frame.geometry_to_local(one.area)) for one in zones_relied_on(plan)
    ]
    outlines += [Outline("line", one.name, grid.frame.geometry_to_local(one.shape)) for one in lines]
    order = {"control": 0, "gap": 1, "base": 2}
    found = [replace(place, name=visible(place.name)) for place in places(plan, grid, summary)]
    found.sort(key=lambda place: order[place.kind])
    drawn = _thinned(coverage)
    whole, near = grid.extent_m, _with_rim(boundary)
    small = max((near[2] - near[0]) / (whole[2] - whole[0]), (near[3] - near[1]) / (whole[3] - whole[1]))
    extent = near if small < SMALL_JOB else whole
    gaps = shapely.union_all(
        [cells for zone in facts.safety.zones for cells in _gap_cells(facts, zone.gap_number)]
    )
    view = View(
        facts, words, Formats.of(plan), drawn, class_areas(drawn), boundary, tuple(outlines), gaps,
        tuple(found), extent, limit_on_map_m(coverage, summary),
    )  # fmt: skip
    return view, whole if extent is near else None


def _gap_cells(facts: BriefFacts, number: Any) -> list[BaseGeometry]:
    if not number.any():
        return []
    return [outline for value, outline in polygons_of(facts.study.coverage.grid, number) if value]


def _with_rim(boundary: BaseGeometry) -> Extent:
    west, south, east, north = boundary.bounds
    rim = 0.06 * max(east - west, north - south)
    return west - rim, south - rim, east + rim, north + rim


def _thinned(coverage: CoverageMap) -> CoverageMap:
    """Every second (third ...) cell of a large map, the base's among them: half a page shows no more."""
    grid = coverage.grid
    step = math.ceil(max(grid.shape) / MOST_CELLS)
    if step == 1:
        return coverage
    part = slice(grid.base_row % step, None, step), slice(grid.base_column % step, None, step)
    thin = replace(
        grid,
        cell_size_m=grid.cell_size_m * step,
        base_row=grid.base_row // step,
        base_column=grid.base_column // step,
        height_m=grid.height_m[part],
        clutter_height_m=None,
        clutter_class=None,
    )
    return replace(coverage, grid=thin, class_index=coverage.class_index[part])
