"""What each further metre of mast buys, as a figure: coverage over its height at the two best places."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.outputs import canvas, formats, style
from linkplan.outputs.canvas import plain, write_fitted
from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_words import clean, watts
from linkplan.plan.model import Plan
from linkplan.siting.results import HeightCurve, HeightStep, SitingResult
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, HEIGHT_IN = 8.2, 4.9
LEFT_IN, RIGHT_IN, BOTTOM_IN, TOP_IN = 0.8, 0.35, 0.95, 1.3
LEAST_SPAN = 5.0
"""Percent: a curve that is flat looks flat."""
LOOKS: tuple[dict[str, Any], ...] = (
    {"color": style.BASE_FILL, "ls": "-", "marker": "o", "mfc": style.BASE_FILL, "mec": "black"},
    {"color": style.ZONE_LINE, "ls": (0, (5, 2.2)), "marker": "s", "mfc": "white", "mec": "black"},
)
"""Of the best and of the second: apart by colour, dash and marker."""


def write_curve(plan: Plan, result: SitingResult, path: Path) -> Path:
    """Draw the curves as .png or .svg. Raises OutputError."""
    with canvas.house_style():
        return canvas.save(curve_figure(plan, result), path)


def curve_figure(plan: Plan, result: SitingResult) -> Figure:
    """The figure; to be called inside `canvas.house_style()`. At least one curve with a step is needed."""
    show = Formats.of(plan)
    figure = canvas.blank(WIDTH_IN, HEIGHT_IN)
    axes = figure.add_axes(
        (
            LEFT_IN / WIDTH_IN,
            BOTTOM_IN / HEIGHT_IN,
            (WIDTH_IN - LEFT_IN - RIGHT_IN) / WIDTH_IN,
            (HEIGHT_IN - BOTTOM_IN - TOP_IN) / HEIGHT_IN,
        )
    )
    curves = [curve for curve in result.curves if curve.steps]
    _frame(axes, plan, result, show, _range([step for curve in curves for step in curve.steps]))
    for number, curve in enumerate(curves[: len(LOOKS)]):
        _curve(axes, curve, number, result, show)
    axes.legend(
        loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=2, frameon=False, fontsize=9, handlelength=3.2
    )
    room: dict[str, Any] = {"x_in": 0.22, "width_in": WIDTH_IN - 0.44}
    unit = formats.LONG[show.height_unit].removesuffix("s").replace("feet", "foot")
    title = (
        f"What each further {unit} of mast buys; ringed: the mast with which the place stands in the ranking"
    )
    write_fitted(
        figure, y_in=HEIGHT_IN - 0.36, text=clean(plan.name), size=14, least=10, fontweight="bold", **room
    )
    write_fitted(figure, y_in=HEIGHT_IN - 0.72, text=title, size=11, least=8, **room)
    write_fitted(figure, y_in=0.2, text=style.PREDICTION, size=7.5, least=6, color=style.INK_SOFT, **room)
    return figure


def _range(steps: list[HeightStep]) -> tuple[float, float]:
    """Percent that the axis goes over: the steps with room around them."""
    shares = [100.0 * step.outcome.weighted_share for step in steps]
    low, high = min(shares), max(shares)
    room = 0.2 * max(high - low, LEAST_SPAN)
    return max(0.0, low - 2.0 * room), min(100.0, high + room)


def _frame(axes: Axes, plan: Plan, result: SitingResult, show: Formats, between: tuple[float, float]) -> None:
    weighted = ", as weighted" if result.zone_names else ""
    axes.set_ylabel(f"of the job{weighted} (%)")
    axes.set_xlabel(f"radio antenna above ground ({formats.SHORT[show.height_unit]})")
    axes.set_ylim(*between)
    axes.grid(visible=True, color=style.INK_FAINT, lw=0.4, alpha=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    wanted = 100.0 * result.wanted_share
    if not result.zone_names and between[0] < wanted < between[1]:  # it counts without weights
        axes.axhline(wanted, color="black", lw=1.0, ls=(0, (2, 2)))
        axes.annotate(
            "wanted", (1.0, wanted), xycoords=("axes fraction", "data"), xytext=(-2, 3),
            textcoords="offset points", fontsize=8, ha="right",
        )  # fmt: skip
    limit = plan.licence.antenna_height_limit_m if plan.licence is not None else None
    if limit is not None:
        height = limit / METRES_PER_UNIT[show.height_unit]
        axes.axvline(height, color="black", lw=1.0, ls=(0, (6, 2, 1, 2)))
        axes.annotate(
            "licence's limit", (height, 0.0), xycoords=("data", "axes fraction"), xytext=(-4, 4),
            textcoords="offset points", fontsize=8, rotation=90, ha="right", va="bottom",
        )  # fmt: skip


def _curve(axes: Axes, curve: HeightCurve, number: int, result: SitingResult, show: Formats) -> None:
    """The better one lies on top."""
    look, order = LOOKS[number], 3.0 - number
    unit = METRES_PER_UNIT[show.height_unit]
    heights = [step.antenna_height_m / unit for step in curve.steps]
    shares = [100.0 * step.outcome.weighted_share for step in curve.steps]
    ranked = (result.judged[number - 1].candidate for number in result.ranking)
    best = next((one for one in ranked if one.place.name == curve.place_name), None)
    label = clean(curve.place_name) + (f", {watts(best.power_dbm)}" if best is not None else "")
    axes.plot(heights, shares, color="white", lw=4.0, zorder=order - 0.5)
    axes.plot(
        heights, shares, lw=1.8, ms=6.0, mew=0.9, zorder=order, label=plain(label), clip_on=False, **look
    )
    for height, share, step in zip(heights, shares, curve.steps, strict=True):
        if best is not None and abs(step.antenna_height_m - best.antenna_height_m) < 1e-6:
            axes.plot(
                [height],
                [share],
                "o",
                ms=13.0,
                mfc="none",
                mec="black",
                mew=1.3,
                clip_on=False,
                zorder=order + 0.1,
            )
