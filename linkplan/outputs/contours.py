"""Contour lines: the shape of the ground that colours over a hillshade cannot show."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linkplan.outputs import style
from linkplan.outputs.formats import Formats, grouped
from linkplan.outputs.map_frame import step_at_least
from linkplan.terrain.grid import TerrainGrid
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

LINES_ABOUT = 20
"""How many contours a map has at most, near enough: more than that is clutter at the size of a page."""
NUMBERED_EVERY = 5
"""Every fifth contour is heavier and carries its height, as is usual on maps."""
MOST_CELLS = 600
"""Longer sides are thinned for drawing."""
PAGE_CELLS, MOST_POINTS = 400, 20_000
"""The same for the browser's map, and how many corners its lines may have in all."""
SLACK_CELLS, SPECK_CELLS = 0.25, 3.0
"""How far simplifying may move a line, and how large a ring has to be, in thinned cells."""
LEAST_RELIEF_M = 0.5
"""Flatter ground gets no contours."""


def contour_step_m(grid: TerrainGrid, height_unit: str) -> float | None:
    """Interval of the contours, m: a round number of the job's height unit; None for flat or no ground."""
    known = grid.height_m[np.isfinite(grid.height_m)]
    relief_m = float(np.ptp(known)) if known.size else 0.0
    if relief_m < LEAST_RELIEF_M:
        return None
    unit_m = METRES_PER_UNIT[height_unit]
    return step_at_least(relief_m / LINES_ABOUT / unit_m) * unit_m


def draw_contours(axes: Axes, grid: TerrainGrid, show: Formats) -> None:
    """Contours over the axes of a map in local metres; nothing on flat ground."""
    step_m = contour_step_m(grid, show.height_unit)
    ground = _Ground.of(grid, MOST_CELLS)
    if step_m is None or min(ground.height.shape) < 2:
        return
    light, heavy = ground.levels(step_m)
    for levels, width in ((light, 0.35), (heavy, 0.75)):
        if levels.size:
            lines = axes.contour(
                ground.x, ground.y, ground.height, levels=levels, colors=style.CONTOUR, linewidths=width,
                alpha=0.55, zorder=2.2,
            )  # fmt: skip
    if heavy.size:
        unit_m = METRES_PER_UNIT[show.height_unit]
        axes.clabel(
            lines, fmt=lambda level: grouped(level / unit_m), fontsize=5.5, inline=True, inline_spacing=2
        )


@dataclass(frozen=True)
class Contour:
    """One line of equal height."""

    height_m: float
    numbered: bool
    points: NDArray[np.float64]
    """(n, 2), local metres."""


def contour_lines(grid: TerrainGrid, height_unit: str) -> tuple[float, tuple[Contour, ...]] | None:
    """Interval (m) and lines for a page that has to stay small; None for flat or unknown ground.

    Lines are simplified to a part of a cell, specks left out, and the interval doubled until there are
    no more than MOST_POINTS corners.
    """
    step_m = contour_step_m(grid, height_unit)
    ground = _Ground.of(grid, PAGE_CELLS)
    if step_m is None or min(ground.height.shape) < 2:
        return None
    while True:
        lines = tuple(_traced(ground, step_m))
        if sum(len(line.points) for line in lines) <= MOST_POINTS:
            return step_m, lines
        step_m *= 2.0


def _traced(ground: _Ground, step_m: float) -> Iterator[Contour]:
    from matplotlib.figure import Figure
    from shapely import LineString

    axes = Figure().add_subplot()
    cell = abs(float(ground.x[1] - ground.x[0]))
    for levels, numbered in zip(ground.levels(step_m), (False, True), strict=True):
        if not levels.size:
            continue
        drawn = axes.contour(ground.x, ground.y, ground.height, levels=levels)
        for level, path in zip(drawn.levels, drawn.get_paths(), strict=True):
            for points in path.to_polygons(closed_only=False):
                if np.ptp(points, axis=0).max() >= SPECK_CELLS * cell:
                    line = LineString(points).simplify(SLACK_CELLS * cell)
                    yield Contour(float(level), numbered, np.asarray(line.coords))


@dataclass(frozen=True)
class _Ground:
    """The heights of a grid, thinned, with the local coordinates of their columns and rows."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    height: np.ma.MaskedArray[tuple[int, int], np.dtype[np.float64]]

    @classmethod
    def of(cls, grid: TerrainGrid, most_cells: int) -> _Ground:
        thin = math.ceil(max(grid.shape) / most_cells)
        rows, columns = (np.arange(0, side, thin, dtype=np.float64) for side in grid.shape)
        return cls(
            (columns - grid.base_column) * grid.cell_size_m,
            (grid.base_row - rows) * grid.cell_size_m,
            np.ma.masked_invalid(grid.height_m[::thin, ::thin]),
        )

    def levels(self, step_m: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Heights of the light and of the numbered contours, m."""
        first = math.ceil(float(self.height.min()) / step_m - 1e-9)
        last = math.floor(float(self.height.max()) / step_m + 1e-9)
        numbers = np.arange(first, last + 1)
        heavy = numbers % NUMBERED_EVERY == 0
        return numbers[~heavy] * step_m, numbers[heavy] * step_m
