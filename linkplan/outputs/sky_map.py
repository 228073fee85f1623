"""The rovers' sky over the job as a printed map: common satellites at the worst time, and openness."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkplan.outputs import canvas, formats, style
from linkplan.outputs import sky_words as words
from linkplan.outputs.canvas import write_fitted
from linkplan.outputs.ground_panel import (
    OUTSIDE,
    Look,
    draw_looks,
    draw_panel,
    draw_scale,
    looks_height_in,
)
from linkplan.outputs.picture import band_index
from linkplan.outputs.siting_words import clean
from linkplan.outputs.style import VIRIDIS, Band
from linkplan.sky.results import RoverSky
from linkplan.sky.view import on_cells
from linkplan.study import SkyStudy
from linkplan.terrain.grid import BoolArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MAP_WIDE_IN, MAP_HIGH_IN = 4.3, 5.4
TOP_IN, SCALE_IN, BETWEEN_IN, SIDE_IN, BOTTOM_IN = 1.3, 0.5, 0.4, 0.25, 0.4

OPEN_BANDS = (
    Band("95 % or more of the sky open", 0.95, float("inf"), VIRIDIS[4]),
    Band("85 to 95 %", 0.85, 0.95, VIRIDIS[3]),
    Band("70 to 85 %", 0.70, 0.85, VIRIDIS[2]),
    Band("50 to 70 %", 0.50, 0.70, VIRIDIS[1]),
    Band("under 50 %", float("-inf"), 0.50, VIRIDIS[0]),
)
"""Of the sky's solid angle above the rover's mask."""


def common_bands(least: int) -> tuple[Band, ...]:
    """Numbers of common satellites beside the least that serve, best first."""
    inf = float("inf")
    return (
        Band(f"{least + 12} or more in common", least + 12, inf, VIRIDIS[4]),
        Band(f"{least + 6} to {least + 11}", least + 6, least + 12, VIRIDIS[3]),
        Band(f"{least + 2} to {least + 5}", least + 2, least + 6, VIRIDIS[2]),
        Band(f"{least} or {least + 1}", least, least + 2, VIRIDIS[1]),
        Band(f"under {least}: too few", -inf, least, VIRIDIS[0]),
    )


def over_cells(rover: RoverSky, inside: BoolArray, values: NDArray[Any]) -> NDArray[np.float64]:
    """A value a place, (P,), as one a cell: that of the nearest place; NaN outside of the job."""
    found = np.full(inside.shape, np.nan)
    found[inside] = values[on_cells(rover, inside)]
    return found


def sky_map(sky: SkyStudy) -> Figure:
    """The figure; to be called inside `canvas.house_style()`."""
    west, south, east, north = sky.grid.extent_m
    ratio = (north - south) / (east - west)
    wide = min(MAP_WIDE_IN, MAP_HIGH_IN / ratio)
    tall = wide * ratio
    left = _common(sky)
    right = _open(sky)
    legend = max(looks_height_in(left[1]), looks_height_in(right[1]))
    column = max(wide, 3.4)
    width = 2 * SIDE_IN + 2 * column + BETWEEN_IN
    height = TOP_IN + tall + SCALE_IN + legend + BOTTOM_IN
    figure = canvas.blank(width, height)
    for number, (index, looks, heading) in enumerate((left, right)):
        x = SIDE_IN + number * (column + BETWEEN_IN)
        y = height - TOP_IN - tall
        axes = figure.add_axes((x / width, y / height, wide / width, tall / height))
        draw_panel(axes, sky.plan, sky.grid, index, looks)
        if number == 0:
            draw_scale(figure, sky.plan, sky.grid, (x, y - SCALE_IN + 0.05, wide, 0.34))
        beside = figure.add_axes((x / width, BOTTOM_IN / height, column / width, legend / height))
        draw_looks(beside, looks, (column, legend), heading)
    _lettering(figure, sky, width, height)
    return figure


def _lettering(figure: Figure, sky: SkyStudy, width: float, height: float) -> None:
    room: dict[str, Any] = {"x_in": 0.25, "width_in": width - 0.5}
    day, rovers = sky.base.day, sky.rovers
    title = f"Sky of the rovers, {clean(sky.plan.name)}"
    write_fitted(figure, y_in=height - 0.36, text=title, size=14, least=9, fontweight="bold", **room)
    typical = f" {words.TYPICAL}." if sky.base.orbits.typical else f" {words.day_of(day)}."
    line = (
        f"Left: satellites in common with the base at the worst time, {words.moment(day, rovers.worst_time)}."
        f"{typical} Right: how much of the sky above the rover's mask is open."
    )
    write_fitted(figure, y_in=height - 0.8, text=line, size=9.5, least=8, lines=2, **room)
    write_fitted(figure, y_in=0.18, text=words.VERIFY, size=7, least=5.5, color=style.INK_SOFT, **room)


Panel = tuple[NDArray[np.int16], list[Look], str]


def _common(sky: SkyStudy) -> Panel:
    """Common satellites; places that have not enough, be it for the PDOP or the base's silence, hatched."""
    rovers, at = sky.rovers, sky.rovers.worst_time
    bands = common_bands(rovers.least_common)
    of_place = band_index(rovers.common[:, at].astype(np.float64), bands).astype(np.int16) - 1
    few = len(bands) - 1
    of_place[~rovers.enough[:, at] & (of_place < few)] = len(bands)
    of_place[~sky.known] = len(bands) + 1
    looks = [
        *(Look(band.name, band.rgb, hatch="\\\\\\\\" if band is bands[few] else "") for band in bands),
        Look(
            "enough in number, not enough for work",
            (120, 120, 120),
            hatch="....",
            note="PDOP too great, or the base holds back",
        ),
        _UNKNOWN,
    ]
    return _panel(sky, of_place, looks, "Satellites in common with the base")


def _open(sky: SkyStudy) -> Panel:
    of_place = band_index(sky.rovers.open_share, OPEN_BANDS).astype(np.int16) - 1
    of_place[~sky.known] = len(OPEN_BANDS)
    looks = [*(Look(band.name, band.rgb) for band in OPEN_BANDS), _UNKNOWN]
    return _panel(sky, of_place, looks, "Open sky")


_UNKNOWN = Look("unknown ground: nothing is claimed", None, hatch="////", hatch_rgb=style.HATCH_RGB)


def _panel(sky: SkyStudy, of_place: NDArray[np.int16], looks: list[Look], heading: str) -> Panel:
    """The look of each place spread over the cells, with the share of places beside each look."""
    cells = over_cells(sky.rovers, sky.inside, of_place.astype(np.float64))
    index = np.where(np.isnan(cells), OUTSIDE, cells).astype(np.int16)
    shown = [
        replace(look, share=formats.percent(float((of_place == number).mean())))
        for number, look in enumerate(looks)
    ]
    return index, shown, heading
