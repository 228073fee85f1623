"""Contour lines: the shape of the ground that colours over a hillshade cannot show."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkplan.outputs import style
from linkplan.outputs.formats import Formats, grouped
from linkplan.outputs.map_frame import step_at_least
from linkplan.terrain.grid import TerrainGrid
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINES_ABOUT = 20
"""How many contours a map has at most, near enough: more than that is clutter at the size of a page."""
NUMBERED_EVERY = 5
"""Every fifth contour is heavier and carries its height, as is usual on maps."""
MOST_CELLS = 600
"""Longer sides are thinned for drawing."""
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
    thin = math.ceil(max(grid.shape) / MOST_CELLS)
    height = np.ma.masked_invalid(grid.height_m[::thin, ::thin])
    if step_m is None or min(height.shape) < 2:
        return
    rows, columns = (np.arange(0, side, thin) for side in grid.shape)
    x = (columns - grid.base_column) * grid.cell_size_m
    y = (grid.base_row - rows) * grid.cell_size_m
    first = math.ceil(float(height.min()) / step_m - 1e-9)
    last = math.floor(float(height.max()) / step_m + 1e-9)
    numbers = np.arange(first, last + 1)
    heavy = numbers[numbers % NUMBERED_EVERY == 0] * step_m
    light = numbers[numbers % NUMBERED_EVERY != 0] * step_m
    for levels, width in ((light, 0.35), (heavy, 0.75)):
        if levels.size:
            lines = axes.contour(
                x, y, height, levels=levels, colors=style.CONTOUR, linewidths=width, alpha=0.55, zorder=2.2
            )
    if heavy.size:
        unit_m = METRES_PER_UNIT[show.height_unit]
        axes.clabel(
            lines, fmt=lambda level: grouped(level / unit_m), fontsize=5.5, inline=True, inline_spacing=2
        )
