"""Predicted chance against observed share as a figure: intervals, and what they rest on; levels beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.fieldcheck.check import FieldAnswer
from linkplan.fieldcheck.reliability_table import ReliabilityBin
from linkplan.outputs import canvas, fieldcheck_words, formats, style
from linkplan.outputs.canvas import plain, write_fitted
from linkplan.outputs.formats import typeset
from linkplan.outputs.siting_words import clean

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PANEL_IN, COUNTS_IN = 4.0, 1.15
LEFT_IN, RIGHT_IN, BOTTOM_IN, TOP_IN, BETWEEN_IN, APART_IN = 0.85, 0.35, 0.85, 1.35, 0.42, 1.0
FEW_BLOCKS = 5
"""A share of fewer blocks of ground is drawn open: it says little."""
MOST_POINTS = 4000
"""Levels that are drawn, evenly thinned."""


def reliability_figure(answer: FieldAnswer) -> Figure:
    """The figure; to be called inside `canvas.house_style()`. Outcomes on the left, levels on the right."""
    panels = [
        draw
        for draw, there in ((_outcomes, answer.scores.outcomes), (_levels, answer.scores.levels))
        if there
    ]
    count = max(len(panels), 1)
    width = LEFT_IN + count * PANEL_IN + (count - 1) * APART_IN + RIGHT_IN
    height = BOTTOM_IN + COUNTS_IN + BETWEEN_IN + PANEL_IN + TOP_IN
    figure = canvas.blank(width, height)
    for number, draw in enumerate(panels):
        left = LEFT_IN + number * (PANEL_IN + APART_IN)
        upper = figure.add_axes(
            (left / width, (BOTTOM_IN + COUNTS_IN + BETWEEN_IN) / height, PANEL_IN / width, PANEL_IN / height)
        )
        lower = figure.add_axes((left / width, BOTTOM_IN / height, PANEL_IN / width, COUNTS_IN / height))
        draw(upper, lower, answer)
    room: dict[str, Any] = {"x_in": 0.22, "width_in": width - 0.44}
    title = f"Was the prediction true? {clean(answer.plan.name)}"
    write_fitted(figure, y_in=height - 0.36, text=title, size=14, least=9, fontweight="bold", lines=2, **room)
    line = typeset(fieldcheck_words.answer_line(answer))
    write_fitted(figure, y_in=height - 0.84, text=line, size=10, least=8.5, lines=2, **room)
    foot = typeset(
        "Bars: 90 % intervals; they rest on blocks of ground, for neighbouring places err alike. Open signs: "
        f"fewer than {FEW_BLOCKS} blocks."
    )
    write_fitted(figure, y_in=0.18, text=foot, size=7.5, least=6, color=style.INK_SOFT, **room)
    return figure


def _outcomes(upper: Axes, lower: Axes, answer: FieldAnswer) -> None:
    """Bins of chance in steps of equal width: most of a job lies near 100 %, where the finer bins are."""
    bins = answer.scores.table
    edges = [*(one.low for one in bins), bins[-1].high]
    at = np.arange(len(edges), dtype=np.float64)
    names = [f"{100.0 * edge:g}" for edge in edges]
    _frame(upper)
    upper.set_title("Outcomes", fontsize=10.5, fontweight="bold", loc="left")
    upper.set_xlim(at[0], at[-1])
    upper.set_xticks(at, [])
    upper.set_ylim(-2.0, 102.0)
    upper.set_ylabel("observed: places that got corrections (%)")
    fine = np.linspace(at[0], at[-1], 200)
    upper.plot(
        fine, 100.0 * np.interp(fine, at, edges), color=style.INK, lw=1.2, ls=(0, (5, 2.5)), zorder=1.5
    )
    upper.annotate(
        "as predicted", (at[2], 100.0 * edges[2]), xytext=(-6, 10), textcoords="offset points", fontsize=8.5,
        ha="right", va="bottom", color=style.INK_SOFT,
    )  # fmt: skip
    _wanted(upper, answer.plan.goal.chance, at, edges)
    for number, one in enumerate(bins):
        if one.observed.samples:
            _bin(upper, float(np.interp(one.observed.mean_chance, edges, at)), one)
            _bar(lower, number, one)
    _frame(lower)
    lower.set_xlim(at[0], at[-1])
    lower.set_xticks(at, names)
    lower.set_xlabel("predicted chance of corrections (%)")
    lower.set_ylabel("samples")
    most = max(one.observed.samples for one in bins)
    lower.set_ylim(0.0, 1.28 * most)


def _wanted(axes: Axes, chance: float, at: Any, edges: list[float]) -> None:
    """Right of the line the map shows coverage."""
    x = float(np.interp(chance, edges, at))
    axes.axvline(x, color=style.INK, lw=1.0, ls=(0, (1.5, 2)), zorder=1.4)
    axes.annotate(
        "covered", (x, 0.0), xycoords=("data", "axes fraction"), xytext=(4, 5), textcoords="offset points",
        fontsize=8.5, color=style.INK_SOFT,
    )  # fmt: skip


def _bin(axes: Axes, x: float, one: ReliabilityBin) -> None:
    found = one.observed
    share, low, high = (100.0 * part for part in (found.share, found.interval.low, found.interval.high))
    axes.plot([x, x], [low, high], color="white", lw=5.0, solid_capstyle="butt", zorder=2.4)
    axes.plot([x, x], [low, high], color=style.ZONE_LINE, lw=2.0, solid_capstyle="butt", zorder=2.5)
    for end in (low, high):
        axes.plot([x - 0.09, x + 0.09], [end, end], color=style.ZONE_LINE, lw=2.0, zorder=2.5)
    fill = style.BASE_FILL if found.blocks >= FEW_BLOCKS else "white"
    axes.plot([x], [share], "o", ms=8.5, mfc=fill, mec="black", mew=1.2, zorder=3.0, clip_on=False)


def _bar(axes: Axes, number: int, one: ReliabilityBin) -> None:
    found = one.observed
    axes.bar([number + 0.5], [found.samples], width=0.8, color=style.INK_FAINT, ec=style.INK, lw=0.8)
    axes.annotate(
        formats.grouped(found.samples), (number + 0.5, found.samples), xytext=(0, 2),
        textcoords="offset points", fontsize=7.5, ha="center",
    )  # fmt: skip


def _levels(upper: Axes, lower: Axes, answer: FieldAnswer) -> None:
    """Measured against predicted, and how the errors are spread."""
    measured, predicted = answer.samples.level_dbm, answer.predicted.received_dbm
    known = np.flatnonzero(np.isfinite(measured) & np.isfinite(predicted))
    error = measured[known] - predicted[known]
    shown = known[:: max(1, -(-known.size // MOST_POINTS))]
    both = np.concatenate((measured[shown], predicted[shown]))
    low, high = float(both.min()) - 4.0, float(both.max()) + 4.0
    _frame(upper)
    upper.set_title("Levels", fontsize=10.5, fontweight="bold", loc="left")
    upper.set_xlim(low, high)
    upper.set_ylim(low, high)
    upper.set_xlabel("predicted (dBm)", labelpad=1.0)
    upper.set_ylabel("measured (dBm)")
    upper.plot([low, high], [low, high], color=style.INK, lw=1.2, ls=(0, (5, 2.5)), zorder=2.2)
    sight = answer.predicted.line_of_sight[shown] == 1.0
    for which, marker, fill, name in (
        (sight, "o", "white", "in line of sight"),
        (~sight, "v", style.ZONE_LINE, "not in line of sight"),
    ):
        if which.any():
            upper.plot(
                predicted[shown][which], measured[shown][which], ls="none", marker=marker, ms=3.6, mfc=fill,
                mec=style.INK, mew=0.6, alpha=0.75, label=plain(name), zorder=2.0,
            )  # fmt: skip
    upper.legend(loc="upper left", frameon=False, fontsize=8.5, handletextpad=0.2, borderaxespad=0.2)
    _frame(lower)
    reach = max(10.0, float(np.ceil(np.abs(error).max() / 5.0)) * 5.0)
    step = 2.0 if reach <= 40.0 else 5.0
    lower.hist(
        error,
        bins=np.arange(-reach, reach + step, step).tolist(),
        color=style.INK_FAINT,
        ec=style.INK,
        lw=0.8,
    )
    lower.set_ylim(0.0, 1.3 * lower.get_ylim()[1])
    lower.axvline(0.0, color=style.INK, lw=1.2, ls=(0, (5, 2.5)))
    mean = float(error.mean())
    lower.axvline(mean, color=style.BASE_FILL, lw=2.0)
    lower.annotate(
        typeset(f"mean {formats.decibels(mean, signed=True)}"), (mean, 1.0),
        xycoords=("data", "axes fraction"), xytext=(-4 if mean < 0.0 else 4, -2), textcoords="offset points",
        fontsize=8.5,
        ha="right" if mean < 0.0 else "left", va="top",
    )  # fmt: skip
    lower.set_xlim(-reach, reach)
    lower.set_xlabel("measured less predicted (dB)")
    lower.set_ylabel("samples")


def _frame(axes: Axes) -> None:
    axes.grid(visible=True, color=style.INK_FAINT, lw=0.4, alpha=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
