"""What the close-up of the base shows, as plain tables, and the extent that serves all of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.outputs.brief.plain import plain as visible
from linkplan.outputs.brief.words import rounded_down
from linkplan.outputs.formats import Formats
from linkplan.outputs.safety_text import keep
from linkplan.outputs.shapes import Place, places
from linkplan.safety.results import LineClearance, MastAnswer, SafetyAnswer
from linkplan.study import BriefFacts
from linkplan.tables.exposure import PUBLIC, WORKER
from linkplan.terrain.grid import TerrainGrid

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

FALL, FENCE = "fall", "fence"
LEAST_DRAWN_IN = 0.09
"""A circle of a smaller radius on paper hides under the base's sign."""
RIM = 1.22
"""Half the drawing's width is this many times the greatest circle."""
FENCE_REACH, LINE_REACH = 4.0, 3.0
"""A fence or an overhead line farther than so many times the other circles does not widen the drawing."""
LEAST_HALF_M = 2.0
BAND_LOOK: dict[str, Any] = {"fc": "none", "ec": (0.45, 0.45, 0.45), "hatch": "\\\\\\\\", "lw": 0.8}
"""Of the ground nearer to an overhead line than its clearance."""

_STYLES: dict[str, dict[str, Any]] = {
    PUBLIC: {"ec": "#a3003f", "lw": 2.0, "ls": "-"},
    WORKER: {"ec": "#8a5a00", "lw": 1.5, "ls": (0, (4.0, 1.6))},
    FALL: {"ec": "#17417f", "lw": 1.5, "ls": (0, (7.0, 1.8, 1.2, 1.8))},
    FENCE: {"ec": "#175c33", "lw": 2.2, "ls": (0, (1.0, 1.3))},
}


MISSING_LOOK: dict[str, Any] = {
    "fc": (0.85, 0.85, 0.85),
    "ec": (0.45, 0.45, 0.45),
    "hatch": "////",
    "lw": 0.5,
}


def circle_style(kind: str) -> dict[str, Any]:
    """Line of a circle; in grey its dashes tell it apart."""
    return _STYLES[kind]


@dataclass(frozen=True)
class Circle:
    """A circle around the mast."""

    kind: str
    """Of PUBLIC, WORKER, FALL, FENCE."""
    radius_m: float
    said: str
    """The radius in words: rounded up where people keep away from it."""

    def drawn(self, inch: float, half_m: float) -> bool:
        """Whether it is large enough to be seen, and within the drawing."""
        return self.radius_m >= LEAST_DRAWN_IN * inch and self.radius_m < half_m


@dataclass(frozen=True)
class NearLine:
    """Overhead lines of one kind."""

    clearance: LineClearance
    shape: BaseGeometry
    """In local metres."""
    band: BaseGeometry | None
    """Nearer than its clearance; None where it lies outside of the drawing."""
    seen: bool


@dataclass(frozen=True)
class Scene:
    """Everything around the base."""

    show: Formats
    safety: SafetyAnswer
    grid: TerrainGrid
    half_m: float
    """From the mast to the edge of the drawing."""
    circles: tuple[Circle, ...]
    lines: tuple[NearLine, ...]
    places: tuple[Place, ...]
    """Control points in the drawing, the base last."""
    missing: BaseGeometry | None
    """Where the terrain is missing, in local metres."""

    @property
    def mast(self) -> MastAnswer:
        """Of the base."""
        return self.safety.mast

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """West, south, east, north, local metres."""
        return -self.half_m, -self.half_m, self.half_m, self.half_m


def scene_of(facts: BriefFacts) -> Scene:
    """What there is, and the extent: the greatest circle with a rim, wider for a fence or line close by."""
    plan, safety, grid = facts.study.plan, facts.safety, facts.study.coverage.grid
    show = Formats.of(plan)
    circles = _circles(safety, show)
    half_m = _half_m(safety)
    found = [replace(one, name=visible(one.name)) for one in places(plan, grid, facts.study.summary)]
    near = [
        place for place in found if place.kind == "control" and max(abs(place.x_m), abs(place.y_m)) < half_m
    ]
    base = [place for place in found if place.kind == "base"]
    return Scene(
        show, safety, grid, half_m, circles, _lines(facts, half_m), (*near, *base), _missing(grid, half_m)
    )


def _missing(grid: TerrainGrid, half_m: float) -> BaseGeometry | None:
    import shapely

    window = shapely.box(-half_m, -half_m, half_m, half_m)
    rows, columns = np.nonzero(~np.isfinite(grid.height_m))
    x, y = (columns - grid.base_column) * grid.cell_size_m, (grid.base_row - rows) * grid.cell_size_m
    near = np.maximum(np.abs(x), np.abs(y)) < half_m + grid.cell_size_m
    half = grid.cell_size_m / 2.0
    cells = shapely.box(x[near] - half, y[near] - half, x[near] + half, y[near] + half)
    found = shapely.intersection(shapely.union_all(cells), window)
    west, south, east, north = grid.extent_m
    found = shapely.union(found, shapely.difference(window, shapely.box(west, south, east, north)))
    return found if found.area > 0.0 else None


def _circles(safety: SafetyAnswer, show: Formats) -> tuple[Circle, ...]:
    """With no radius on the ground where the field passes over people's heads."""
    found = [
        Circle(group, radius, keep(radius, show))
        for group in (PUBLIC, WORKER)
        for radius in (safety.exposure.figure(group).keyed.ground_radius_m,)
    ]
    found.append(Circle(FALL, safety.mast.fall_radius_m, keep(safety.mast.fall_radius_m, show)))
    if safety.fence_m:
        found.append(Circle(FENCE, safety.fence_m, rounded_down(safety.fence_m, show, 1)))
    return tuple(found)


def _half_m(safety: SafetyAnswer) -> float:
    public = safety.exposure.figure(PUBLIC).keyed.ground_radius_m
    core = max(safety.mast.fall_radius_m, public, LEAST_HALF_M)
    reach = core
    if safety.fence_m and safety.fence_m <= FENCE_REACH * core:
        reach = max(reach, safety.fence_m)
    for line in safety.mast.lines:
        if line.distance_m + line.clearance_m <= LINE_REACH * core:
            reach = max(reach, line.distance_m + line.clearance_m)
    return RIM * reach


def _lines(facts: BriefFacts, half_m: float) -> tuple[NearLine, ...]:
    import shapely

    plan, frame = facts.study.plan, facts.study.coverage.grid.frame
    if plan.siting is None:
        return ()
    found = []
    for line, clearance in zip(plan.siting.rules.lines, facts.safety.mast.lines, strict=True):
        window = shapely.box(*(side * 1.5 for side in (-half_m, -half_m, half_m, half_m)))
        reach = window.buffer(2.0 * clearance.clearance_m)
        shape = shapely.intersection(frame.geometry_to_local(line.shape), reach)
        band = None
        if not shape.is_empty:
            grown = shape.buffer(clearance.clearance_m)
            band = grown if grown.intersects(shapely.box(-half_m, -half_m, half_m, half_m)) else None
        seen = bool(shape.intersects(shapely.box(-half_m, -half_m, half_m, half_m)))
        clearance = replace(clearance, name=visible(clearance.name))
        found.append(NearLine(clearance, shape, band, seen))
    return tuple(found)
