"""Where work can go on, as a printed map readable in black and white."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.coverage.results import CoverageMap
from linkplan.outputs import canvas, formats, style
from linkplan.outputs.canvas import write_fitted
from linkplan.outputs.ground_panel import Look, draw_looks, draw_panel, draw_scale, looks_height_in
from linkplan.outputs.siting_words import clean
from linkplan.outputs.workable_looks import LOOKS, look_index, look_shares
from linkplan.outputs.workable_words import Work, work_line, work_remarks
from linkplan.plan.model import Plan

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MAP_WIDE_IN, MAP_HIGH_IN = 6.2, 7.4
TOP_IN, SCALE_IN, SIDE_IN, LEGEND_WIDE_IN, BOTTOM_IN = 1.6, 0.5, 0.25, 3.75, 0.4


def write_work_figure(plan: Plan, coverage: CoverageMap, work: Work, path: Path) -> Path:
    """Draw the map as .png or .svg. Raises OutputError."""
    with canvas.house_style():
        return canvas.save(work_figure(plan, coverage, work), path)


def work_figure(plan: Plan, coverage: CoverageMap, work: Work) -> Figure:
    """The figure; to be called inside `canvas.house_style()`."""
    grid = coverage.grid
    west, south, east, north = grid.extent_m
    ratio = (north - south) / (east - west)
    wide = min(MAP_WIDE_IN, MAP_HIGH_IN / ratio)
    tall = wide * ratio
    looks = _looks(work)
    legend = looks_height_in(looks)
    width = max(3 * SIDE_IN + wide + LEGEND_WIDE_IN, 7.0)
    height = TOP_IN + max(tall + SCALE_IN, legend) + BOTTOM_IN
    figure = canvas.blank(width, height)
    axes = figure.add_axes((SIDE_IN / width, (height - TOP_IN - tall) / height, wide / width, tall / height))
    limit = work.found.baseline_limit_m
    draw_panel(axes, plan, grid, look_index(work.found), looks, limit_m=limit)
    draw_scale(figure, plan, grid, (SIDE_IN, height - TOP_IN - tall - SCALE_IN + 0.05, wide, 0.34))
    beside = figure.add_axes(
        (
            (2 * SIDE_IN + wide) / width,
            (height - TOP_IN - legend) / height,
            LEGEND_WIDE_IN / width,
            legend / height,
        )
    )
    draw_looks(beside, looks, (LEGEND_WIDE_IN, legend), "Where work can go on")
    room: dict[str, Any] = {"x_in": SIDE_IN, "width_in": width - 2 * SIDE_IN}
    write_fitted(
        figure, y_in=height - 0.36, text=clean(plan.name), size=15, least=10, fontweight="bold", **room
    )
    write_fitted(
        figure, y_in=height - 0.8, text=formats.typeset(work_line(work)), size=10.5, least=8.5, lines=2,
        fontweight="bold", **room,
    )  # fmt: skip
    remarks = formats.typeset(" ".join(work_remarks(plan, work)))
    write_fitted(figure, y_in=height - 1.27, text=remarks, size=8.5, least=7, lines=2, **room)
    write_fitted(figure, y_in=0.18, text=style.PREDICTION, size=7.5, least=6, color=style.INK_SOFT, **room)
    return figure


def _looks(work: Work) -> list[Look]:
    shares = look_shares(work.found)
    looks = [
        Look(
            look.name,
            look.rgb,
            look.hatch,
            look.stripe,
            _note(look.key, look.note, work),
            formats.percent(share),
        )
        for look, share in zip(LOOKS, shares, strict=False)
    ]
    unknown = Look(
        "unknown", None, "////", style.HATCH_RGB, "nothing is claimed", formats.percent(shares[-1])
    )
    return [*looks, unknown]


def _note(key: str, note: str, work: Work) -> str:
    return note if key != "no-sky" or work.found.sky_counted else "not counted: the job file has no [sky]"
