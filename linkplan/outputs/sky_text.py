"""The sky of a working day as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from linkplan.outputs import sky_words as words
from linkplan.outputs import style
from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_words import clean
from linkplan.outputs.text import filled, table
from linkplan.study import SkyStudy


def sky_text(sky: SkyStudy) -> str:
    """Answer first, then base, rovers, what is unknown, accuracy and base position."""
    plan = sky.plan
    show = Formats.of(plan)
    base = plan.base
    height = f", GNSS antenna {show.height(plan.sky.base_gnss_height_m)} above ground" if plan.sky else ""
    head, rows = words.system_table(sky)
    parts = [
        clean(plan.name),
        *_filled([f"Base {clean(base.name)} at {show.position(base.easting, base.northing)}{height}"]),
        "",
        *_filled([words.answer_line(sky)]),
        "",
        *_filled([words.gate_line(sky)]),
        "",
        table(head, rows, ("<", *[">"] * (len(head) - 1))),
        "",
        *_held(sky),
        "",
        "Rovers",
        *_bullets(words.rover_lines(sky)),
        "",
        "What is unknown, and what the orbits are",
        *_bullets([line for line in (words.unknown_line(sky), *words.orbit_lines(sky)) if line]),
        "",
        "Accuracy and baseline",
        *_bullets(words.accuracy_lines(plan)),
    ]
    head, rows = words.limit_table(plan)
    if rows:
        parts += ["", table(head, rows, ("<", "<", ">"))]
    position = words.position_lines(plan)
    if position:
        parts += ["", "Base point", *_bullets(position)]
    closing = [line for line in (words.assumed_line(plan), words.VERIFY, style.PREDICTION) if line]
    return "\n".join([*parts, "", *_filled(closing)])


def _held(sky: SkyStudy) -> list[str]:
    lines = words.held_lines(sky)
    if not lines:
        return ["Corrections are held back at no time."]
    return ["Corrections are held back", *_bullets(lines)]


def _filled(lines: Sequence[str]) -> list[str]:
    return [filled(line) for line in lines]


def _bullets(lines: Sequence[str]) -> list[str]:
    return [filled(line, "  - ", "    ") for line in lines]
