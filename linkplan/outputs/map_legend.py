"""What stands beside the map: the classes with their numbers and shares, signs, and the main figures."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import CoverageMap, CoverageSummary, Spot
from linkplan.outputs import canvas, formats, style
from linkplan.outputs.calibration_words import calibrated_from
from linkplan.outputs.canvas import plain
from linkplan.outputs.contours import contour_step_m
from linkplan.outputs.formats import Formats, typeset
from linkplan.outputs.map_frame import LIMIT_LINE
from linkplan.outputs.siting_drawing import legend_signs
from linkplan.outputs.siting_marks import Extra
from linkplan.outputs.text import gap_table, gaps_title
from linkplan.plan.model import Plan

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_IN, SIGN_IN, LINE_IN, HEADING_IN = 0.335, 0.235, 0.185, 0.37
PLACES_LISTED = 10
ROW_SIGNS = 42
"""Letters of name and equipment that a row of the list has room for."""
FIGURE_SPACE = "\u2007"
"""As wide as a digit."""
GROUND = round(255 * style.LEGEND_GREY)


@dataclass(frozen=True)
class Job:
    """What the legend tells about."""

    plan: Plan
    coverage: CoverageMap
    summary: CoverageSummary
    show: Formats
    limit_m: float | None
    """Baseline limit, if the map shows it."""
    named: int
    """How many control points have their name on the map."""
    extra: Extra | None = None
    """What a search for places adds."""
    dots: bool = False
    """Some places of the search are drawn without their number."""
    figures_apart: bool = False
    """They stand under the map."""


class _Column:
    """A pen that writes downwards; lengths in inches."""

    def __init__(self, axes: Axes, width_in: float, height_in: float) -> None:
        self.axes, self.width, self.height = canvas.bare(axes), width_in, height_in
        self.y = height_in
        self.shift = 0.0
        axes.set_xlim(0.0, width_in)
        axes.set_ylim(0.0, height_in)

    def write(self, x: float, text: str, size: float = 8.5, dy: float = 0.0, **how: Any) -> None:
        self.axes.text(self.shift + x, self.y + dy, plain(typeset(text)), fontsize=size, va="center", **how)

    def heading(self, text: str, right: str = "") -> None:
        self.y -= 0.1
        self.write(0.0, text, 9.5, fontweight="bold")
        if right:
            self.write(self.width, right, 7.5, ha="right", color=style.INK_SOFT)
        self.y -= HEADING_IN - 0.1


def draw_legend(axes: Axes, job: Job, size_in: tuple[float, float]) -> None:
    """Fill `axes`, which is size_in (width, height) inches large."""
    column = _Column(axes, *size_in)
    column.heading("Chance of corrections", "of the job")
    _classes(column, job.coverage, job.summary, job.extra.last_class if job.extra else "")
    column.heading("Signs")
    for draw, words in _signs(job):
        draw(column)
        column.write(0.5, words)
        column.y -= SIGN_IN
    if job.extra is not None:
        column.heading("Set-ups" if job.extra.several else "Places, best first", job.extra.counted)
        _rows(column, _listed(job.extra))
    if not job.figures_apart:
        column.heading("Figures")
        _rows(column, _figures(job))


def draw_figures(axes: Axes, job: Job, size_in: tuple[float, float]) -> None:
    """The figures in two columns, for the room under a low map."""
    rows = _figures(job)
    half = -(-len(rows) // 2)
    wide = (size_in[0] - 0.35) / 2.0
    for part, x in ((rows[:half], 0.0), (rows[half:], wide + 0.35)):
        column = _Column(axes, wide, size_in[1])
        column.shift = x
        column.heading("Figures" if x == 0.0 else "")
        _rows(column, part)
    axes.set_xlim(0.0, size_in[0])


def figures_height_in(job: Job) -> float:
    """Height that `draw_figures` needs, inches."""
    rows = _figures(job)
    half = -(-len(rows) // 2)
    longest = max(sum(len(lines) for _, lines in part) for part in (rows[:half], rows[half:]))
    return HEADING_IN + longest * LINE_IN


def _rows(column: _Column, rows: list[tuple[str, list[str]]]) -> None:
    for label, lines in rows:
        column.write(0.0, label, 7.5, color=style.INK_SOFT)
        for line in lines:
            column.write(column.width, line, 7.5, ha="right")
            column.y -= LINE_IN


def legend_height_in(job: Job) -> float:
    """Height that the legend needs, inches."""
    blocks = [_listed(job.extra)] if job.extra is not None else []
    blocks += [] if job.figures_apart else [_figures(job)]
    lines = sum(len(lines) for block in blocks for _, lines in block)
    lines += bool(job.extra and job.extra.last_class)
    classes = len(job.coverage.classes) + 1
    return (2 + len(blocks)) * HEADING_IN + classes * ROW_IN + len(_signs(job)) * SIGN_IN + lines * LINE_IN


def _classes(column: _Column, coverage: CoverageMap, summary: CoverageSummary, remark: str) -> None:
    for one, share in zip(coverage.classes, summary.class_shares, strict=True):
        rgb = style.on_ground(style.class_rgb(one, coverage.classes))
        _chip(column, rgb)
        column.write(0.19, str(one.index), 8.5, ha="center", color=style.ink_on(rgb), fontstyle="italic")
        column.write(0.5, one.name, 9, dy=0.075, fontweight="bold")
        column.write(
            0.5, formats.chance_range(one.chance_low, one.chance_high), 7.5, dy=-0.075, color=style.INK_SOFT
        )
        column.write(column.width, formats.percent(share), 9, ha="right")
        column.y -= ROW_IN
    if remark:
        column.write(0.5, remark, 7.5, dy=0.1, color=style.INK_SOFT)
        column.y -= LINE_IN
    _chip(column, (GROUND,) * 3, hatch="////")
    column.write(0.5, style.NO_DATA_NAME, 9, dy=0.075, fontweight="bold")
    column.write(0.5, "nothing is claimed", 7.5, dy=-0.075, color=style.INK_SOFT)
    column.write(column.width, formats.percent(summary.no_data_share), 9, ha="right")
    column.y -= ROW_IN


def _chip(column: _Column, rgb: style.Rgb, hatch: str | None = None) -> None:
    from matplotlib.patches import Rectangle

    edge = np.array(style.HATCH_RGB) / 255.0
    column.axes.add_patch(
        Rectangle((0.0, column.y - 0.12), 0.38, 0.24, fc=np.array(rgb) / 255.0, ec=edge, lw=0.7, hatch=hatch)
    )


def _signs(job: Job) -> list[tuple[Callable[[_Column], object], str]]:
    """Each sign as what draws it and what it means."""
    signs: list[tuple[Callable[[_Column], object], str]] = []
    extra = job.extra
    if extra is None:
        signs.append((_base_sign, "base"))
        control = sum(point.name != job.plan.base.name for point in job.plan.control_points)
    else:
        signs += [(_on_column(draw), words) for draw, words in legend_signs(extra, dots=job.dots)]
        to_local = job.coverage.grid.frame.to_local
        control = sum(not extra.at(*to_local(one.easting, one.northing)) for one in job.plan.control_points)
    if control:
        few = "" if job.named == control else f" ({job.named} of {control} named)"
        signs.append((_control_sign, f"control point{few}"))
    if job.summary.gaps and extra is None:
        signs.append((_gap_sign, "gap, largest first"))
    signs.append((_boundary_sign, "boundary of the job"))
    if job.limit_m is not None:
        signs.append((_limit_sign, f"baseline limit, {job.show.distance(job.limit_m)}"))
    return signs


def _on_column(draw: Callable[[Axes, float], object]) -> Callable[[_Column], object]:
    return lambda column: draw(column.axes, column.y)


def _base_sign(column: _Column) -> None:
    column.axes.plot([0.19], [column.y], marker="o", ms=9, mfc=style.BASE_FILL, mec="black", mew=1.1)
    column.axes.plot([0.19], [column.y], marker="o", ms=2.8, mfc="white", mec="none")


def _control_sign(column: _Column) -> None:
    column.axes.plot([0.19], [column.y], marker="^", ms=7.5, mfc=style.CONTROL_FILL, mec="black", mew=1.1)


def _gap_sign(column: _Column) -> None:
    column.axes.text(
        0.19, column.y, "G1", fontsize=7, fontweight="bold", color="white", ha="center", va="center",
        bbox={"boxstyle": "round,pad=0.28", "fc": "black", "ec": "white", "lw": 0.9},
    )  # fmt: skip


def _boundary_sign(column: _Column) -> None:
    column.axes.plot([0.0, 0.38], [column.y] * 2, color="black", lw=style.BOUNDARY_WIDTH)


def _limit_sign(column: _Column) -> None:
    column.axes.plot([0.0, 0.38], [column.y] * 2, **LIMIT_LINE)


def _figures(job: Job) -> list[tuple[str, list[str]]]:
    plan, coverage, summary, show = job.plan, job.coverage, job.summary, job.show
    step_m = contour_step_m(coverage.grid, show.height_unit)
    radio = plan.transmitter
    rows = [
        ("area of the job", show.area(summary.job_area_m2)),
        ("farthest dependable", _at(summary.farthest_dependable, show)),
        ("worst point", _margin(summary.worst, show)),
        ("base antenna over ground", show.height(plan.base.antenna_height_m)),
        ("rover antenna over ground", show.height(plan.rover.antenna_height_m)),
        ("base radio", f"{radio.frequency_mhz:g} MHz, {formats.number(radio.power_dbm)} dBm"),
        ("weakest usable level", formats.decibels(coverage.weakest_usable_dbm, "dBm")),
        ("prediction spread", formats.decibels(coverage.sigma_db)),
        *_calibrated(plan),
        ("cell of the map", show.distance(coverage.grid.cell_size_m)),
        ("contours every", show.height(step_m, 0 if step_m >= 1 else 2) if step_m else "none: flat ground"),
        ("heights above", coverage.grid.height_datum),
    ]
    if job.extra is not None:
        of_one_base = {"farthest dependable", "worst point", "base antenna over ground"}
        of_one_base |= {"base radio"} if job.extra.several else set()
        rows = [row for row in rows if row[0] not in of_one_base]
    return [(label, textwrap.wrap(value, 27) or [""]) for label, value in rows]


def _calibrated(plan: Plan) -> list[tuple[str, str]]:
    learned = plan.calibration
    return [] if learned is None else [("calibrated from", calibrated_from(learned).partition(" from ")[2])]


def _listed(extra: Extra) -> list[tuple[str, list[str]]]:
    """The first rows of the list of places."""
    listed = [(mark.number, *mark.row) for mark in extra.marks if mark.row is not None]
    wide = len(str(min(len(listed), PLACES_LISTED)))
    rows = [
        (f"{number.rjust(wide, FIGURE_SPACE)}  {_cut(name, ROW_SIGNS - len(kit))}, {kit}", [value])
        for number, name, kit, value in listed
    ]
    rest = len(rows) - PLACES_LISTED
    return rows if rest <= 0 else [*rows[:PLACES_LISTED], (f"and {rest} more", [""])]


def _cut(name: str, most: int) -> str:
    most = max(most, 8)
    return name if len(name) <= most else name[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def draw_gaps(axes: Axes, summary: CoverageSummary, show: Formats, size_in: tuple[float, float]) -> None:
    """The listed gaps as a small table, as many as fit."""
    column = _Column(axes, *size_in)
    column.heading(gaps_title(summary))
    head, rows = gap_table(summary, show)
    stops = (0.0, 0.45, 1.75, 2.85, 3.55, 4.6, 5.65, 7.2)
    scale = size_in[0] / 7.35
    for row in [("", *head[1:]), *((f"G{row[0]}", *row[1:]) for row in rows)]:
        if column.y < 0.08:
            break
        soft: dict[str, Any] = {"color": style.INK_SOFT} if not row[0] else {}
        for i, (cell, stop) in enumerate(zip(row, stops, strict=True)):
            column.write(stop * scale, cell, 7.5, ha="left" if i < 2 else "right", **soft)
        column.y -= LINE_IN


def _at(spot: Spot | None, show: Formats) -> str:
    return (
        "none" if spot is None else f"{show.distance(spot.distance_m)} at {formats.azimuth(spot.azimuth_deg)}"
    )


def _margin(spot: Spot | None, show: Formats) -> str:
    return (
        "unknown" if spot is None else f"{formats.decibels(spot.margin_db, signed=True)}, {_at(spot, show)}"
    )
