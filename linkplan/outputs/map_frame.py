"""What frames a map: the job's coordinate grid, a scale bar and a north arrow."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import CoverageMap
from linkplan.outputs import style
from linkplan.outputs.formats import NARROW_SPACE, Formats
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Rectangle
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

LEAST_SPACING_IN = 1.05
"""Between two lines of the coordinate grid, so that their letters do not touch."""
_SAMPLES = 25


def draw_coordinate_grid(axes: Axes, coverage: CoverageMap, show: Formats, inch: float) -> None:
    """Lines of equal easting and northing of the job's own coordinate system, lettered at the frame.

    `inch` is the metres of ground on an inch of paper.
    """
    frame = coverage.grid.frame
    west, south, east, north = coverage.grid.extent_m
    t = np.linspace(0.0, 1.0, _SAMPLES)
    along_x, along_y = west + (east - west) * t, south + (north - south) * t
    rim_x = np.concatenate([along_x, np.full(_SAMPLES, west), np.full(_SAMPLES, east), along_x])
    rim_y = np.concatenate([np.full(_SAMPLES, south), along_y, along_y, np.full(_SAMPLES, north)])
    rim = frame.to_job(rim_x, rim_y)
    low, high = [float(value.min()) for value in rim], [float(value.max()) for value in rim]
    paper_in = ((east - west) / inch, (north - south) / inch)
    for axis in (0, 1):
        step = step_at_least(LEAST_SPACING_IN * (high[axis] - low[axis]) / paper_in[axis])
        digits = max(0, -math.floor(math.log10(step) + 1e-9))
        for number in range(math.ceil(low[axis] / step), math.floor(high[axis] / step) + 1):
            along = np.full(t.size, number * step)
            across = low[1 - axis] + (high[1 - axis] - low[1 - axis]) * t
            x, y = frame.to_local(along, across) if axis == 0 else frame.to_local(across, along)
            axes.plot(x, y, color="black", lw=0.45, alpha=0.35, zorder=3.5)
            value = f"{number * step:,.{digits}f}".replace(",", NARROW_SPACE)
            _letter(axes, axis, x, y, f"{value}{'°' if show.geographic else ''} {show.axis_names[axis]}")


def _letter(axes: Axes, axis: int, x: NDArray[np.float64], y: NDArray[np.float64], label: str) -> None:
    """Letter a grid line where it crosses the lower (axis 0) or the left (axis 1) edge of the map."""
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    low, high = (west, east) if axis == 0 else (south, north)
    at = float(np.interp(south, y, x) if axis == 0 else np.interp(west, x, y))
    if not low + 0.03 * (high - low) < at < high - 0.03 * (high - low):
        return
    how: dict[str, Any] = {"textcoords": "offset points", "fontsize": 7, "color": style.INK_SOFT}
    if axis == 0:
        axes.annotate(label, (at, south), xytext=(0, -4), ha="center", va="top", **how)
    else:
        axes.annotate(label, (west, at), xytext=(-4, 0), ha="right", va="center", rotation=90, **how)


def draw_scale_and_north(axes: Axes, boundary: BaseGeometry, show: Formats, inch: float) -> None:
    """A scale bar and a north arrow in the corner that has the least of the job under it."""
    from shapely import box

    unit = METRES_PER_UNIT[show.length_unit]
    length = step_at_most(1.5 * inch / unit) * unit
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    wide, high, rim = length + 0.8 * inch, 0.52 * inch, 0.12 * inch
    corners = [(x, y) for y in (south + rim, north - rim - high) for x in (west + rim, east - rim - wide)]
    x, y = min(corners, key=lambda at: boundary.intersection(box(*at, at[0] + wide, at[1] + high)).area)
    axes.add_patch(_rectangle(x, y, wide, high, fc="white", ec=style.INK_FAINT, lw=0.6, alpha=0.9, zorder=8))
    x, y = x + 0.18 * inch, y + 0.14 * inch
    for part in range(4):
        fill = "black" if part % 2 == 0 else "white"
        axes.add_patch(
            _rectangle(
                x + part * length / 4, y, length / 4, 0.055 * inch, fc=fill, ec="black", lw=0.7, zorder=9
            )
        )
    for share, label in ((0.0, "0"), (1.0, show.round_distance(length))):
        axes.text(
            x + share * length, y + 0.11 * inch, label, ha="center", va="bottom", fontsize=7.5, zorder=9
        )
    arrow = {"arrowstyle": "-|>", "color": "black", "lw": 1.2, "shrinkA": 0, "shrinkB": 0}
    at = x + length + 0.41 * inch
    axes.annotate(
        "N", (at, y + 0.32 * inch), xytext=(at, y - 0.06 * inch), ha="center", va="bottom", fontsize=8.5,
        fontweight="bold", zorder=9, arrowprops=arrow,
    )  # fmt: skip


def _rectangle(x: float, y: float, width: float, height: float, **how: Any) -> Rectangle:
    from matplotlib.patches import Rectangle

    return Rectangle((x, y), width, height, **how)


def step_at_most(about: float) -> float:
    """1, 2 or 5 times a power of ten, the largest that is not above `about` (> 0)."""
    power = 10.0 ** math.floor(math.log10(about))
    return next(factor * power for factor in (5.0, 2.0, 1.0) if factor * power <= about * (1 + 1e-9))


def step_at_least(about: float) -> float:
    """1, 2 or 5 times a power of ten, the smallest that is not below `about` (> 0)."""
    power = 10.0 ** math.floor(math.log10(about))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= about * (1 - 1e-9))
