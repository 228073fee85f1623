"""The key of the brief's map: classes with their meaning, and signs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linkplan.coverage.results import CoverageClass
from linkplan.outputs import style
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_board import (
    SIGN_IN,
    Row,
    Sign,
    sign_row,
    text_row,
    title_row,
)
from linkplan.outputs.brief.pictures_tags import GAP, ZONE, ZONE_GAP, tag_sign
from linkplan.outputs.brief.plain import plain as visible
from linkplan.outputs.formats import Formats
from linkplan.outputs.map_frame import LIMIT_LINE
from linkplan.outputs.siting_drawing import LINES
from linkplan.plan.siting_model import MACHINES
from linkplan.study import BriefFacts

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_ZONES = 6
"""Named in the key."""


@dataclass(frozen=True)
class Shown:
    """What is on the map."""

    control: int
    control_named: int
    base: bool
    unnumbered: bool

    @classmethod
    def most(cls) -> Shown:
        """The most that may be, to measure the key by."""
        return cls(2, 1, base=True, unnumbered=True)


def job_key(
    facts: BriefFacts,
    words: PictureWords,
    show: Formats,
    shown: Shown,
    width: float,
    limit_m: float | None,
    saving: int = 0,
) -> list[Row]:
    """Rows of the key, `width` inches wide; what is `shown` changes their words, not their number.

    `saving` 1 leaves out what the classes mean, 2 also gives the names of zones one line each.
    """
    coverage = facts.study.coverage
    rows = [title_row(words.classes_title)]
    rows += [_class_row(one, coverage.classes, words, width, saving) for one in coverage.classes]
    unknown = "" if saving else words.no_data_meaning
    rows.append(_chip_row(_chip((GROUND,) * 3, "", "////"), words.no_data, "", unknown, width))
    rows.append(title_row(words.signs_title, 0.06))
    rows.append(sign_row(base_sign, words.base, width))
    if facts.study.plan.control_points:
        some = shown.control_named < shown.control
        text = words.control_some_named if some else words.control_point
        rows.append(
            sign_row(
                control_sign, text.format(named=shown.control_named, count=shown.control), width, lines=1
            )
        )
    rows.append(sign_row(_boundary, words.boundary, width, lines=1))
    if facts.study.summary.gaps:
        note = words.unnumbered if shown.unnumbered else ""
        rows.append(sign_row(tag_sign(GAP, words.gap_number(1)), words.gap, width, "", note))
    rows += _zones(facts, words, width, saving)
    if facts.safety.mast.lines:
        rows.append(sign_row(line_sign("line"), words.overhead_line, width, lines=1))
    if limit_m is not None:
        rows.append(sign_row(_limit, words.baseline_limit.format(distance=show.distance(limit_m)), width))
    return rows


def _zones(facts: BriefFacts, words: PictureWords, width: float, saving: int) -> list[Row]:
    zones = facts.safety.zones
    if not zones:
        return []
    rows = [sign_row(line_sign("zone"), words.zone, width)]
    for number, zone in enumerate(zones[:MOST_ZONES], start=1):
        text = words.zone_machines if zone.relies == MACHINES else words.zone_people
        sign, lines = tag_sign(ZONE, words.zone_number(number)), 1 if saving > 1 else 2
        rows.append(sign_row(sign, text.format(name=visible(zone.name)), width, lines=lines))
    if len(zones) > MOST_ZONES:
        rows.append(text_row(words.zones_more.format(count=len(zones) - MOST_ZONES), width))
    if any(zone.gaps for zone in zones):
        first = next(number for number, zone in enumerate(zones, start=1) if zone.gaps)
        rows.append(sign_row(tag_sign(ZONE_GAP, words.zone_gap_number(first, 1)), words.zone_gap, width))
    return rows


GROUND = round(255 * style.LEGEND_GREY)


def _class_row(
    one: CoverageClass, classes: tuple[CoverageClass, ...], words: PictureWords, width: float, saving: int
) -> Row:
    rgb = style.on_ground(style.class_rgb(one, classes))
    name = words.class_names.get(one.key, one.name)
    meaning = "" if saving else words.class_meanings.get(one.meaning, one.meaning)
    return _chip_row(_chip(rgb, str(one.index)), name, _chance(one, words), meaning, width)


def _chance(one: CoverageClass, words: PictureWords) -> str:
    low, high = (f"{100 * value:g} %" for value in (one.chance_low, one.chance_high))
    if one.chance_high >= 1.0:
        return words.chance_from.format(low=low)
    if one.chance_low <= 0.0:
        return words.chance_below.format(high=high)
    return words.chance_between.format(low=f"{100 * one.chance_low:g}", high=high)


def _chip_row(sign: Sign, name: str, right: str, meaning: str, width: float) -> Row:
    return sign_row(sign, name, width, right, meaning, bold=True)


def _chip(rgb: style.Rgb, number: str, hatch: str | None = None) -> Sign:
    def draw(axes: Axes, x: float, y: float) -> None:
        from matplotlib.patches import Rectangle

        edge = np.array(style.HATCH_RGB) / 255.0
        chip = Rectangle(
            (x, y - 0.075), SIGN_IN, 0.15, fc=np.array(rgb) / 255.0, ec=edge, lw=0.6, hatch=hatch
        )
        axes.add_patch(chip)
        axes.text(
            x + SIGN_IN / 2, y - 0.005, number, fontsize=7.5, fontstyle="italic", ha="center",
            va="center_baseline", color=style.ink_on(rgb),
        )  # fmt: skip

    return draw


def base_sign(axes: Axes, x: float, y: float) -> None:
    axes.plot([x + SIGN_IN / 2], [y], marker="o", ms=8.0, mfc=style.BASE_FILL, mec="black", mew=1.0)
    axes.plot([x + SIGN_IN / 2], [y], marker="o", ms=2.4, mfc="white", mec="none")


def control_sign(axes: Axes, x: float, y: float) -> None:
    axes.plot([x + SIGN_IN / 2], [y], marker="^", ms=6.5, mfc=style.CONTROL_FILL, mec="black", mew=1.0)


def _boundary(axes: Axes, x: float, y: float) -> None:
    axes.plot([x, x + SIGN_IN], [y, y], color="black", lw=style.BOUNDARY_WIDTH)


def _limit(axes: Axes, x: float, y: float) -> None:
    axes.plot([x, x + SIGN_IN], [y, y], **LIMIT_LINE)


def line_sign(kind: str) -> Sign:
    def draw(axes: Axes, x: float, y: float) -> None:
        for how in LINES[kind]:
            axes.plot([x, x + SIGN_IN], [y, y], **how)

    return draw
