"""The base's sky as a figure: one dial a satellite system, the real horizon filled in, tracks over the day.

A dial shows the sky as one looks up at a map: north up, east to the right, the zenith in the middle and the
horizon at the rim.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkplan.outputs import canvas, style
from linkplan.outputs import sky_words as words
from linkplan.outputs.canvas import plain, write_fitted
from linkplan.outputs.formats import typeset
from linkplan.outputs.siting_words import clean
from linkplan.outputs.sky_style import (
    HORIZON_FILL,
    MASK_FILL,
    OBSTRUCTION_FILL,
    SKY_FILL,
    look_of,
)
from linkplan.sky.results import BaseSky
from linkplan.study import SkyStudy
from linkplan.tables.constellations import SYSTEMS
from linkplan.terrain.surroundings import SKY_KNOWN_M

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DIAL_IN, BETWEEN_IN, SIDE_IN = 3.75, 0.2, 0.25
TOP_IN, TITLE_IN, LEGEND_IN, BOTTOM_IN = 1.15, 0.3, 0.62, 0.45
ROOM = 1.17
"""Half a dial's side; its rim has the radius 1."""
RIM = (1.015, 1.055)
"""Where directions of unknown ground are marked."""
LABEL_SIZE = 5.6

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]


def on_dial(azimuth_deg: Any, elevation_deg: Any) -> Pair:
    """x to the right and y up on a dial whose rim, at elevation 0, has the radius 1; below it stays there."""
    radius = 1.0 - np.clip(np.asarray(elevation_deg, dtype=float), 0.0, 90.0) / 90.0
    turn = np.radians(np.asarray(azimuth_deg, dtype=float))
    return radius * np.sin(turn), radius * np.cos(turn)


def sky_plot(sky: SkyStudy) -> Figure:
    """The figure; to be called inside `canvas.house_style()`."""
    base = sky.base
    across = 1 if len(base.systems) == 1 else 2
    down = -(-len(base.systems) // across)
    width = max(2 * SIDE_IN + across * DIAL_IN + (across - 1) * BETWEEN_IN, 6.4)
    height = TOP_IN + down * (DIAL_IN + TITLE_IN) + LEGEND_IN + BOTTOM_IN
    figure = canvas.blank(width, height)
    left = (width - across * DIAL_IN - (across - 1) * BETWEEN_IN) / 2.0
    for number, system in enumerate(base.systems):
        row, column = divmod(number, across)
        x = left + column * (DIAL_IN + BETWEEN_IN)
        y = height - TOP_IN - (row + 1) * (DIAL_IN + TITLE_IN)
        axes = figure.add_axes((x / width, y / height, DIAL_IN / width, DIAL_IN / height))
        _dial(axes, base)
        letter = next(letter for letter, one in SYSTEMS.items() if one.name == system.name)
        _tracks(axes, base, letter, system.name)
        counts = f"{system.fewest} to {system.most} in view" if system.most else "never in view"
        title_y = (y + DIAL_IN + 0.12) / height
        figure.text((x + 0.05) / width, title_y, system.name, fontsize=11, fontweight="bold", va="center")
        figure.text(
            (x + DIAL_IN - 0.05) / width, title_y, counts, fontsize=8.5, va="center", ha="right",
            color=style.INK_SOFT,
        )  # fmt: skip
    _legend(figure, base, height)
    _lettering(figure, sky, width, height)
    return figure


def _lettering(figure: Figure, sky: SkyStudy, width: float, height: float) -> None:
    room: dict[str, Any] = {"x_in": 0.22, "width_in": width - 0.44}
    base = sky.base
    title = f"Sky of the base {clean(sky.plan.base.name)}, {clean(sky.plan.name)}"
    when = words.between(words.whole_day(base.day), base.day)
    date = f"{words.TYPICAL}. " if base.orbits.typical else f"{words.day_of(base.day)}, "
    write_fitted(figure, y_in=height - 0.36, text=title, size=14, least=9, lines=2, fontweight="bold", **room)
    write_fitted(figure, y_in=height - 0.72, text=f"{date}{when}", size=9.5, least=7, **room)
    foot = (
        "North is up, east to the right, the zenith in the middle. A track is drawn where the satellite is "
        "in view and ends with its sign where it was last in view."
    )
    write_fitted(figure, y_in=0.2, text=foot, size=7.5, least=5.5, color=style.INK_SOFT, **room)


def _dial(axes: Axes, base: BaseSky) -> None:
    """Sky, ring below the mask, horizon, obstructions, circles and directions."""
    from matplotlib.patches import Circle

    axes.set_axis_off()
    axes.set_xlim(-ROOM, ROOM)
    axes.set_ylim(-ROOM, ROOM)
    mask = 1.0 - base.mask_deg / 90.0
    axes.add_patch(Circle((0.0, 0.0), 1.0, fc=MASK_FILL, ec="none", zorder=1))
    axes.add_patch(Circle((0.0, 0.0), mask, fc=SKY_FILL, ec="none", zorder=1.1))
    for part in _ground(base):
        how: dict[str, Any] = {"fc": HORIZON_FILL, "ec": style.GROUND_LINE}
        if part.obstruction:
            how = {"fc": OBSTRUCTION_FILL, "ec": "white", "hatch": "xxxx"}
        axes.fill(part.x, part.y, lw=0.4, zorder=1.5, **how)
    for x, y in _unknown(base):
        axes.fill(x, y, fc="white", ec=style.INK_SOFT, hatch="//////", lw=0.5, zorder=1.5)
    axes.add_patch(Circle((0.0, 0.0), mask, fc="none", ec=style.INK, lw=0.9, ls=(0, (4.0, 2.0)), zorder=2.2))
    axes.add_patch(Circle((0.0, 0.0), 1.0, fc="none", ec=style.INK, lw=0.9, zorder=2.2))
    for elevation in (30.0, 60.0):
        axes.add_patch(
            Circle((0.0, 0.0), 1.0 - elevation / 90.0, fc="none", ec=style.INK_FAINT, lw=0.5, zorder=1.3)
        )
        x, y = on_dial(0.0, elevation)
        axes.text(
            float(x) + 0.02, float(y), f"{elevation:g}°", fontsize=6, color=style.INK_SOFT, va="bottom",
            zorder=1.4,
        )  # fmt: skip
    for azimuth in range(0, 360, 30):
        x, y = on_dial([azimuth, azimuth], [90.0, 0.0])
        axes.plot(x, y, color=style.INK_FAINT, lw=0.4, zorder=1.3)
        name = {0: "N", 90: "E", 180: "S", 270: "W"}.get(azimuth, f"{azimuth:03d}")
        turn = math.radians(azimuth)
        axes.text(
            1.11 * math.sin(turn), 1.11 * math.cos(turn), name, ha="center", va="center",
            fontsize=9 if len(name) == 1 else 6, fontweight="bold" if len(name) == 1 else "normal",
            color=style.INK if len(name) == 1 else style.INK_SOFT,
        )  # fmt: skip


@dataclass(frozen=True)
class _Part:
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    obstruction: bool


def _ground(base: BaseSky) -> list[_Part]:
    """What stands over the horizontal, terrain and given obstructions apart, as closed outlines."""
    horizon = base.horizon
    raised = np.nan_to_num(horizon.horizon_deg, nan=0.0)
    given = np.isnan(horizon.distance_m) & (raised > 0.0)
    parts = []
    for obstruction, wanted in ((False, (raised > 0.0) & ~given), (True, given)):
        for low, high, inside in _runs(horizon.azimuths_deg, wanted):
            azimuth = np.concatenate([[low], horizon.azimuths_deg[inside], [high]])
            azimuth = np.rad2deg(np.unwrap(np.radians(azimuth)))
            top = np.concatenate([raised[inside][:1], raised[inside], raised[inside][-1:]])
            rim = np.linspace(azimuth[-1], azimuth[0], max(int(abs(azimuth[-1] - azimuth[0])), 2))
            x, y = on_dial(np.concatenate([azimuth, rim]), np.concatenate([top, np.zeros(rim.size)]))
            parts.append(_Part(x, y, obstruction))
    return parts


def _unknown(base: BaseSky) -> list[Pair]:
    """Bands outside of the rim where the ground is not known far enough."""
    horizon = base.horizon
    blocked = np.nan_to_num(horizon.horizon_deg, nan=-90.0) > base.mask_deg
    short = ~blocked & ~(horizon.known_to_m >= SKY_KNOWN_M)
    bands = []
    for low, high, _ in _runs(horizon.azimuths_deg, short):
        turn = np.radians(np.linspace(low, high, max(int(high - low), 2)))
        radius = np.concatenate([np.full(turn.size, RIM[0]), np.full(turn.size, RIM[1])])
        turn = np.concatenate([turn, turn[::-1]])
        bands.append((radius * np.sin(turn), radius * np.cos(turn)))
    return bands


def _runs(
    azimuths_deg: NDArray[np.float64], wanted: NDArray[np.bool_]
) -> list[tuple[float, float, NDArray[np.intp]]]:
    """Runs of directions around the circle: from, to (degrees, rising, half a step beyond) and indices."""
    count = azimuths_deg.size
    half = 180.0 / count
    if not wanted.any():
        return []
    if wanted.all():
        order = np.arange(count)
        return [(float(azimuths_deg[0]), float(azimuths_deg[0]) + 360.0, np.append(order, 0))]
    first = int(np.flatnonzero(~wanted)[0])
    order = np.roll(np.arange(count), -first)
    turned = wanted[order]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]]).astype(np.int8)))
    found = []
    for start, after in edges.reshape(-1, 2).tolist():
        inside = order[start:after]
        low = float(azimuths_deg[inside[0]]) - half
        found.append((low, low + 2.0 * half * inside.size, inside))
    return found


def _tracks(axes: Axes, base: BaseSky, letter: str, name: str) -> None:
    look = look_of(name)
    taken: list[tuple[float, float, float, float]] = []
    ends = []
    for number, satellite in enumerate(base.satellites):
        seen = base.visible[number]
        if satellite[0] != letter or not seen.any():
            continue
        x, y = on_dial(base.azimuth_deg[number], base.elevation_deg[number])
        axes.plot(
            np.where(seen, x, np.nan), np.where(seen, y, np.nan), color=look.colour, lw=1.1, ls=look.line,
            zorder=3, solid_capstyle="round",
        )  # fmt: skip
        last = int(np.flatnonzero(seen)[-1])
        ends.append((satellite, float(x[last]), float(y[last])))
    for _, at_x, at_y in ends:
        taken.append((at_x - 0.03, at_y - 0.03, at_x + 0.03, at_y + 0.03))
        axes.plot(
            [at_x],
            [at_y],
            marker=look.marker,
            ms=5.0,
            mfc=look.colour,
            mec="white",
            mew=0.7,
            zorder=4,
            clip_on=False,
        )
    for satellite, at_x, at_y in ends:
        _label(axes, satellite, at_x, at_y, taken)


def _label(axes: Axes, text: str, x: float, y: float, taken: list[tuple[float, float, float, float]]) -> None:
    """The satellite's name beside the end of its track, where it covers no other."""
    from matplotlib import patheffects

    inch = 2.0 * ROOM / DIAL_IN
    wide, high = canvas.text_width_in(text, LABEL_SIZE) * inch, LABEL_SIZE / 72.0 * inch
    spots = [
        (x + distance * dx - wide * (1.0 - dx) / 2.0, y + distance * dy - high / 2.0)
        for distance in (0.045, 0.09, 0.14)
        for dx, dy in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0), (0.8, 0.8), (-0.8, 0.8),
                       (0.8, -0.8), (-0.8, -0.8))
    ]  # fmt: skip
    boxes = [(left, low, left + wide, low + high) for left, low in spots]
    free = (box for box in boxes if not any(_touch(box, other) for other in taken))
    box = next(free, boxes[0])
    taken.append(box)
    halo: list[Any] = [patheffects.withStroke(linewidth=1.6, foreground="white")]
    label = axes.text(
        box[0], (box[1] + box[3]) / 2.0, plain(text), fontsize=LABEL_SIZE, va="center", zorder=5
    )
    label.set_path_effects(halo)


def _touch(one: Sequence[float], other: Sequence[float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _legend(figure: Figure, base: BaseSky, height: float) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    given = bool((np.isnan(base.horizon.distance_m) & (np.nan_to_num(base.horizon.horizon_deg) > 0.0)).any())
    signs: list[Any] = [Patch(fc=HORIZON_FILL, ec=style.GROUND_LINE, lw=0.5, label="hidden by the terrain")]
    if given:
        signs.append(
            Patch(fc=OBSTRUCTION_FILL, ec="white", hatch="xxxx", lw=0.5, label="obstruction of the job file")
        )
    mask = f"elevation mask, {base.mask_deg:g}°"
    signs.append(Line2D([], [], color=style.INK, lw=0.9, ls=(0, (4.0, 2.0)), label=mask))
    if base.unknown_share > 0.0:
        unknown = typeset("ground not known far enough: hills may stand there")
        signs.append(Patch(fc="white", ec=style.INK_SOFT, hatch="//////", lw=0.5, label=unknown))
    figure.legend(
        handles=signs, loc="center", bbox_to_anchor=(0.5, (BOTTOM_IN + LEGEND_IN / 2.0) / height), ncols=2,
        frameon=False, fontsize=8, handlelength=2.4, columnspacing=2.0,
    )  # fmt: skip
