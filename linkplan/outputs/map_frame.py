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

LEAST_SPACING_IN = 1.05
"""Between two lines of the coordinate grid, so that their letters do not touch."""
LIMIT_LINE: dict[str, Any] = {"color": "black", "lw": 1.3, "ls": (0, (5, 2.5))}
_SAMPLES = 25


def draw_coordinate_grid(
    axes: Axes,
    coverage: CoverageMap,
    show: Formats,
    inch: float,
    extent_m: tuple[float, float, float, float] | None = None,
    axis_names: tuple[str, str] | None = None,
    rim_in: float = 0.0,
    spacing_in: float = LEAST_SPACING_IN,
) -> None:
    """Lines of equal easting and northing of the job's own coordinate system, lettered at the frame.

    `inch` is the metres of ground on an inch of paper, `extent_m` what the axes show if not all of the map,
    `axis_names` the letters of the two coordinates in another language, `rim_in` how near to a corner no line
    is lettered, `spacing_in` the least from one line to the next.
    """
    frame = coverage.grid.frame
    names = axis_names or show.axis_names
    west, south, east, north = extent_m or coverage.grid.extent_m
    t = np.linspace(0.0, 1.0, _SAMPLES)
    along_x, along_y = west + (east - west) * t, south + (north - south) * t
    rim_x = np.concatenate([along_x, np.full(_SAMPLES, west), np.full(_SAMPLES, east), along_x])
    rim_y = np.concatenate([np.full(_SAMPLES, south), along_y, along_y, np.full(_SAMPLES, north)])
    rim = frame.to_job(rim_x, rim_y)
    low, high = [float(value.min()) for value in rim], [float(value.max()) for value in rim]
    paper_in = ((east - west) / inch, (north - south) / inch)
    for axis in (0, 1):
        step = step_at_least(spacing_in * (high[axis] - low[axis]) / paper_in[axis])
        digits = max(0, -math.floor(math.log10(step) + 1e-9))
        for number in range(math.ceil(low[axis] / step), math.floor(high[axis] / step) + 1):
            along = np.full(t.size, number * step)
            across = low[1 - axis] + (high[1 - axis] - low[1 - axis]) * t
            x, y = frame.to_local(along, across) if axis == 0 else frame.to_local(across, along)
            axes.plot(x, y, color="black", lw=0.45, alpha=0.35, zorder=3.5)
            value = f"{number * step:,.{digits}f}".replace(",", NARROW_SPACE)
            _letter(axes, axis, x, y, rim_in * inch, f"{value}{'°' if show.geographic else ''} {names[axis]}")


def _letter(
    axes: Axes, axis: int, x: NDArray[np.float64], y: NDArray[np.float64], rim: float, label: str
) -> None:
    """Letter a grid line where it crosses the lower (axis 0) or the left (axis 1) edge of the map."""
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    low, high = (west, east) if axis == 0 else (south, north)
    at = float(np.interp(south, y, x) if axis == 0 else np.interp(west, x, y))
    rim = max(0.03 * (high - low), rim)
    if not low + rim < at < high - rim:
        return
    how: dict[str, Any] = {"textcoords": "offset points", "fontsize": 7, "color": style.INK_SOFT}
    if axis == 0:
        axes.annotate(label, (at, south), xytext=(0, -4), ha="center", va="top", **how)
    else:
        axes.annotate(label, (west, at), xytext=(-4, 0), ha="right", va="center", rotation=90, **how)


def draw_scale_and_north(
    axes: Axes, show: Formats, inch: float, size_in: tuple[float, float], letter: str = "N"
) -> None:
    """A scale bar and a north arrow in a strip of their own, where they hide nothing of the map.

    `axes` is size_in (width, height) inches large, `inch` the metres of ground on an inch of paper, `letter`
    stands for north.
    """
    wide, high = size_in
    axes.set_axis_off()
    axes.set_xlim(0.0, wide)
    axes.set_ylim(0.0, high)
    unit = METRES_PER_UNIT[show.length_unit]
    length = step_at_most(min(2.0, 0.55 * wide) * inch / unit) * unit
    long, y = length / inch, 0.04
    for part in range(4):
        fill = "black" if part % 2 == 0 else "white"
        axes.add_patch(_rectangle(part * long / 4, y, long / 4, 0.055, fc=fill, ec="black", lw=0.7))
    for x, label, side in ((0.0, "0", "left"), (long, show.round_distance(length), "center")):
        axes.text(x, y + 0.1, label, ha=side, va="bottom", fontsize=7.5)
    at = long + 0.45
    axes.annotate(
        letter, (at, high), xytext=(at, 0.0), ha="center", va="bottom", fontsize=8.5, fontweight="bold",
        arrowprops={"arrowstyle": "-|>", "color": "black", "lw": 1.2, "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip


def draw_baseline_limit(axes: Axes, limit_m: float) -> None:
    """The circle around the base beyond which no rover may work."""
    turn = np.linspace(0.0, 2.0 * np.pi, 361)
    x, y = limit_m * np.cos(turn), limit_m * np.sin(turn)
    axes.plot(x, y, color="white", lw=3.2, zorder=3.8, scalex=False, scaley=False)
    axes.plot(x, y, zorder=3.9, scalex=False, scaley=False, **LIMIT_LINE)


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
