"""The working day as a figure: satellites in view of each system, PDOP below, held-back hours shaded."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.outputs import canvas, style
from linkplan.outputs import sky_words as words
from linkplan.outputs.canvas import write_fitted
from linkplan.outputs.siting_words import clean
from linkplan.outputs.sky_style import HELD_FILL, look_of
from linkplan.sky.results import BaseSky, WorkingDay
from linkplan.study import SkyStudy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, HEIGHT_IN = 9.0, 5.9
LEFT, RIGHT = 0.085, 0.975
MOST_TICKS = 12
LEAST_HOURS = 1e-3
"""Width of the axis where a single time was looked at."""
PDOP_ROOM = 1.5
"""The axis of PDOP reaches this many times the gate, so that a spike does not flatten the rest."""


def timeline(sky: SkyStudy) -> Figure:
    """The figure; to be called inside `canvas.house_style()`."""
    base, day = sky.base, sky.base.day
    figure = canvas.blank(WIDTH_IN, HEIGHT_IN)
    upper = figure.add_axes((LEFT, 0.475, RIGHT - LEFT, 0.27))
    lower = figure.add_axes((LEFT, 0.215, RIGHT - LEFT, 0.2))
    x = hours_from_start(day)
    _counts(upper, base, x)
    _pdop(lower, base, x)
    for axes in (upper, lower):
        _held(axes, base)
        axes.set_xlim(0.0, max(float(x[-1]), LEAST_HOURS))
        axes.grid(visible=True, color=style.INK_FAINT, lw=0.4, alpha=0.5)
        axes.set_axisbelow(True)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    _time_axes(upper, lower, day)
    _legend(figure, upper, lower)
    room: dict[str, Any] = {"x_in": 0.22, "width_in": WIDTH_IN - 0.44}
    title = f"Working day of the base {clean(sky.plan.base.name)}, {clean(sky.plan.name)}"
    write_fitted(figure, y_in=HEIGHT_IN - 0.34, text=title, size=14, least=9, fontweight="bold", **room)
    write_fitted(
        figure, y_in=HEIGHT_IN - 0.7, text=words.answer_line(sky), size=9.5, least=7.5, lines=2, **room
    )
    write_fitted(figure, y_in=0.17, text=words.VERIFY, size=7, least=5.5, color=style.INK_SOFT, **room)
    return figure


def hours_from_start(day: WorkingDay) -> Any:
    """(T,) hours since the first time."""
    return np.array([(one - day.utc[0]).total_seconds() / 3600.0 for one in day.utc])


def _wide(x: Any) -> Any:
    """The times; of a single one, two that span the axis."""
    return x if x.size > 1 else np.array([0.0, LEAST_HOURS])


def _twice(values: Any) -> Any:
    """The values; a single one at both ends of the axis."""
    return values if values.size > 1 else np.repeat(values, 2)


def _counts(axes: Axes, base: BaseSky, x: Any) -> None:
    """Stacked counts of the systems."""
    drawn = _wide(x)
    foot = np.zeros(drawn.size)
    for system in base.systems:
        look = look_of(system.name)
        top = foot + _twice(system.satellites)
        axes.fill_between(
            drawn, foot, top, fc=look.colour, ec="white", hatch=look.hatch, lw=0.6, alpha=0.92, step="mid",
            label=system.name, zorder=2,
        )  # fmt: skip
        foot = top
    axes.step(drawn, _twice(base.together.satellites), where="mid", color=style.INK, lw=1.0, zorder=2.5)
    axes.axhline(
        base.least_satellites, color="black", lw=1.4, ls=(0, (4.0, 2.0)), zorder=3.2,
        label=f"least to send: {base.least_satellites}",
    )  # fmt: skip
    axes.set_ylim(0.0, max(1.08 * float(foot.max(initial=0)), base.least_satellites + 1.0))
    axes.set_ylabel("satellites in view")


def _pdop(axes: Axes, base: BaseSky, x: Any) -> None:
    pdop = base.together.pdop
    top = PDOP_ROOM * base.greatest_pdop
    axes.step(
        _wide(x), _twice(np.minimum(pdop, top)), where="mid", color=style.INK, lw=1.5, label="PDOP", zorder=3
    )
    over = np.isnan(pdop) | (pdop > top)
    if over.any():
        axes.plot(
            x[over], np.full(int(over.sum()), top), ls="", marker="^", ms=6, mfc=HELD_FILL, mec="black",
            mew=0.6, clip_on=False, zorder=4, label="above the axis, or none",
        )  # fmt: skip
    axes.axhline(
        base.greatest_pdop, color="black", lw=1.4, ls=(0, (1.0, 1.5)), zorder=2.5,
        label=f"greatest to send: {base.greatest_pdop:g}",
    )  # fmt: skip
    axes.set_ylim(0.0, top)
    axes.set_ylabel("PDOP")


def _held(axes: Axes, base: BaseSky) -> None:
    """Shade the stretches in which corrections are held back."""
    day = base.day
    for number, one in enumerate(day.stretches(base.together.held_back)):
        start, end = ((at - day.utc[0]).total_seconds() / 3600.0 for at in (one.start_utc, one.end_utc))
        axes.axvspan(start, end, fc=HELD_FILL, ec="none", alpha=0.25, zorder=1)
        axes.axvspan(
            start, end, fc="none", ec=HELD_FILL, hatch="////", lw=0.8, zorder=3,
            label=words.HELD if number == 0 else None,
        )  # fmt: skip


def _time_axes(upper: Axes, lower: Axes, day: WorkingDay) -> None:
    """Local time under the lower axes, UTC under that; ticks stand at whole local hours."""
    ticks = local_ticks(day)
    places = [(one - day.utc[0]).total_seconds() / 3600.0 for one in ticks]
    zone = day.local[0].tzinfo
    for axes in (upper, lower):
        axes.set_xticks(places)
    upper.set_xticklabels([])
    lower.set_xticklabels([f"{one.astimezone(zone):%H:%M}" for one in ticks])
    lower.set_xlabel(f"local time, {day.time_zone}", fontsize=8.5, labelpad=2)
    below = lower.secondary_xaxis(-0.42)
    below.set_xticks(places)
    below.set_xticklabels([f"{one:%H:%M}" for one in ticks])
    below.set_xlabel("UTC", fontsize=8.5, labelpad=2)


def local_ticks(day: WorkingDay) -> list[datetime.datetime]:
    """Moments (UTC) at whole local hours, or parts of them on a short day; not more than fit."""
    zone = day.local[0].tzinfo
    span = day.hours
    minutes = next((one for one in (15, 30, 60, 120, 180, 240) if span * 60.0 / one <= MOST_TICKS), 360)
    found = []
    at = day.utc[0].replace(minute=0, second=0, microsecond=0)
    while at <= day.utc[-1]:
        local = at.astimezone(zone)
        if at >= day.utc[0] and (60 * local.hour + local.minute) % minutes == 0:
            found.append(at)
        at += datetime.timedelta(minutes=15)
    return found or [day.utc[0]]


def _legend(figure: Figure, upper: Axes, lower: Axes) -> None:
    handles, labels = upper.get_legend_handles_labels()
    more = [(h, label) for h, label in zip(*lower.get_legend_handles_labels(), strict=True)
            if label not in labels]  # fmt: skip
    handles += [handle for handle, _ in more]
    labels += [label for _, label in more]
    figure.legend(
        handles, labels, loc="upper left", bbox_to_anchor=(LEFT - 0.01, 0.835), ncols=5, frameon=False,
        fontsize=8, handlelength=2.2, columnspacing=1.4,
    )  # fmt: skip
