"""The path profile: ground, what stands on it, the ray and the Fresnel zone around it, the worst obstacle.

The ground is drawn with the earth's bulge added, so that the ray is a straight line and every gap
between ray and ground can be read off upright.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import LinkResult
from linkplan.outputs import canvas, formats, style
from linkplan.outputs.canvas import plain, write_fitted
from linkplan.outputs.formats import SHORT, Formats, typeset
from linkplan.outputs.text import verdict_line
from linkplan.plan.model import Plan
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

WIDTH_IN, HEIGHT_IN = 11.0, 5.9
CLEAR_PART = 0.6
ZONE_POINTS = 181


def profile_figure(plan: Plan, link: LinkResult) -> Figure:
    """Draw one link. To be called inside `canvas.house_style()`."""
    show = Formats.of(plan)
    figure = canvas.blank(WIDTH_IN, HEIGHT_IN)
    axes = figure.add_axes((0.07, 0.19, 0.905, 0.565))
    view = _View(link, show)
    _ground(axes, view)
    _ray(axes, view)
    _antennas(axes, view)
    _frame(axes, view)
    _obstacle(axes, view)
    _lettering(figure, view)
    return figure


class _View:
    """The link in the units of the drawing."""

    def __init__(self, link: LinkResult, show: Formats) -> None:
        self.link, self.show = link, show
        self.metre = 1.0 / METRES_PER_UNIT[show.height_unit]
        if show.metric:
            long = link.distance_m >= 2000.0
            self.along, self.along_unit = (1e-3, "km") if long else (1.0, "m")
        else:
            self.along, self.along_unit = 1.0 / METRES_PER_UNIT[show.length_unit], "ft"
        profile = link.profile
        self.x = profile.distance_m * self.along
        self.bulge = link.bulge_m * self.metre
        self.ground = profile.height_m * self.metre + self.bulge
        self.top = self.ground + profile.clutter_height_m * self.metre
        self.ray = link.ray_m * self.metre
        self.radius = link.fresnel_radius_m * self.metre
        low = float(np.nanmin(np.minimum(self.ground, self.ray - self.radius)))
        high = float(np.nanmax(np.maximum(self.top, self.ray + self.radius)))
        room = max(high - low, 10.0 * self.metre)
        self.bottom, self.ceiling = low - 0.12 * room, high + 0.30 * room

    def zone(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Distance, ray and radius at more points than the profile has: near the ends the zone is round.

        The square of the radius over its half circle changes slowly, and is what lies between two points.
        """
        share = self.x / self.x[-1]
        # as dense towards the ends as a circle asks for, and through every point of the profile
        turn = np.linspace(0.0, np.pi, ZONE_POINTS)
        fine = np.union1d((1.0 - np.cos(turn)) / 2.0, share)
        inner = slice(1, -1)
        form = self.radius[inner] ** 2 / (share[inner] * (1.0 - share[inner]))
        scale = np.interp(fine, share[inner], form) if form.size else np.zeros_like(fine)
        x = fine * self.x[-1]
        return x, np.interp(x, self.x, self.ray), np.sqrt(scale * fine * (1.0 - fine))


def _ground(axes: Axes, view: _View) -> None:
    axes.fill_between(
        view.x, view.bottom, view.ground, color=style.GROUND_FILL, lw=0, label="ground", zorder=2
    )
    axes.plot(view.x, view.ground, color=style.GROUND_LINE, lw=1.2, zorder=3.1)
    standing: NDArray[np.bool_] = view.top > view.ground
    if standing.any():
        axes.fill_between(
            view.x,
            view.ground,
            view.top,
            where=standing,
            facecolor=style.CLUTTER_FILL,
            lw=0.6,
            edgecolor=style.CLUTTER_LINE,
            hatch="||||",
            label="trees and buildings",
            zorder=2.5,
        )
    most = float(view.bulge.max())
    if most > 0.02 * (view.ceiling - view.bottom):
        level = view.bottom + view.bulge
        axes.fill_between(
            view.x, view.bottom, level, color=style.EARTH_FILL, lw=0, label="curve of the earth", zorder=3
        )


def _ray(axes: Axes, view: _View) -> None:
    x, ray, radius = view.zone()
    upper, lower = ray + radius, ray - radius
    axes.fill_between(
        x, lower, upper, color=style.ZONE_FILL, alpha=0.16, lw=0, label="first Fresnel zone", zorder=4
    )
    for edge in (upper, lower):
        axes.plot(x, edge, color=style.ZONE_LINE, lw=0.7, alpha=0.8, zorder=4)
    axes.plot(
        x,
        ray - CLEAR_PART * radius,
        color=style.ZONE_LINE,
        lw=1.0,
        ls=(0, (5, 3)),
        label=f"{CLEAR_PART:g} of the zone",
        zorder=4,
    )
    axes.plot(view.x, view.ray, color=style.RAY, lw=1.5, label="straight ray", zorder=5)


def _antennas(axes: Axes, view: _View) -> None:
    link = view.link
    for end, name, height_m, side in (
        (0, link.from_name, link.antenna_from_m, "left"),
        (-1, link.to_name, link.antenna_to_m, "right"),
    ):
        x, foot, tip = view.x[end], view.ground[end], view.ray[end]
        axes.plot([x, x], [tip, view.ceiling], color=style.INK_FAINT, lw=0.8, zorder=1, clip_on=False)
        axes.plot(
            [x, x], [foot, tip], color=style.INK, lw=2.4, solid_capstyle="butt", zorder=6, clip_on=False
        )
        axes.plot([x], [tip], marker="o", ms=6, mfc=style.RAY, mec="white", mew=1.0, zorder=7, clip_on=False)
        words = f"{name}, antenna {view.show.height(height_m)} above ground"
        axes.annotate(
            plain(words),
            (x, view.ceiling),
            xytext=(0, 4),
            textcoords="offset points",
            ha=side,
            va="bottom",
            fontsize=8.5,
            fontweight="bold",
        )


def _obstacle(axes: Axes, view: _View) -> None:
    spot = view.link.obstacle
    if spot is None:
        return
    x = spot.distance_m * view.along
    ray = float(np.interp(x, view.x, view.ray))
    top = ray - spot.clearance_m * view.metre
    axes.annotate(
        "",
        (x, top),
        (x, ray),
        zorder=8,
        arrowprops={
            "arrowstyle": "<->",
            "color": style.INK,
            "lw": 1.2,
            "shrinkA": 0,
            "shrinkB": 0,
            "mutation_scale": 9,
        },
    )
    clutter = f" and {view.show.height(spot.clutter_m)} on it" if spot.clutter_m > 0 else ""
    how = (
        f"{view.show.height(-spot.clearance_m)} above the ray"
        if spot.clearance_m < 0
        else f"{view.show.height(spot.clearance_m)} under the ray, {spot.clearance_fraction:.2f} of the zone"
    )
    words = (
        f"worst obstacle, {view.show.distance(spot.distance_m)} from {view.link.from_name}\n"
        f"ground {view.show.height(spot.ground_m)}{clutter}; {how}"
    )
    share = x / view.x[-1]
    side, from_box = ("left", 0.05) if share < 0.3 else ("right", 0.95) if share > 0.7 else ("center", 0.5)
    axes.annotate(
        plain(words),
        (x, max(top, ray)),
        xytext=(x, view.ceiling - 0.05 * (view.ceiling - view.bottom)),
        ha=side,
        va="top",
        fontsize=8.5,
        linespacing=1.4,
        zorder=9,
        bbox={"boxstyle": "round,pad=0.45", "fc": "white", "ec": style.INK_FAINT, "lw": 0.8},
        arrowprops={
            "arrowstyle": "-",
            "color": style.INK_SOFT,
            "lw": 0.8,
            "shrinkB": 3,
            "relpos": (from_box, 0.0),
        },
    )


def _frame(axes: Axes, view: _View) -> None:
    axes.set_xlim(0.0, view.x[-1])
    axes.set_ylim(view.bottom, view.ceiling)
    axes.grid(axis="y", color=style.INK_FAINT, lw=0.5, alpha=0.5, zorder=0)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:,g}".replace(",", formats.NARROW_SPACE))
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(length=3, width=0.7)
    axes.set_xlabel(plain(f"distance from {view.link.from_name} ({view.along_unit})"))
    axes.set_ylabel(f"height ({SHORT[view.show.height_unit]})")
    axes.legend(
        loc="upper center",
        bbox_to_anchor=(0.5, -0.125),
        ncol=7,
        frameon=False,
        fontsize=8.5,
        handlelength=1.7,
        columnspacing=1.6,
    )


def _lettering(figure: Figure, view: _View) -> None:
    link, show = view.link, view.show
    room: dict[str, Any] = {"x_in": 0.22, "width_in": WIDTH_IN - 0.44}
    title = f"{link.from_name} to {link.to_name}"
    write_fitted(figure, y_in=HEIGHT_IN - 0.35, text=title, size=16, least=10, fontweight="bold", **room)
    facts = (
        f"{show.distance(link.distance_m)} at azimuth {formats.azimuth(link.azimuth_deg)}, "
        f"{link.frequency_mhz:g} MHz, loss {formats.decibels(link.loss_db)} ({link.model})"
    )
    write_fitted(figure, y_in=HEIGHT_IN - 0.69, text=facts, size=9.5, least=7, color=style.INK_SOFT, **room)
    verdict = typeset(verdict_line(link))
    write_fitted(figure, y_in=HEIGHT_IN - 1.02, text=verdict, size=10.5, least=8, fontweight="bold", **room)
    most = float(link.bulge_m.max())
    bulge = show.height(most) if most > 0.05 else f"under {show.height(0.1)}"
    foot = (
        f"{style.PREDICTION}  The ground is drawn with the bulge of the earth, "
        f"{bulge} at most; heights and distances are not to one scale."
    )
    write_fitted(figure, y_in=0.13, text=foot, size=7.5, least=6, color=style.INK_SOFT, **room)
