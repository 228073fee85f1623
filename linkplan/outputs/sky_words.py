"""The sky in words: the answer, times in local time and UTC, tables, paragraphs; for text and page."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence

from linkplan.agreement.base_point import base_point
from linkplan.outputs import formats
from linkplan.outputs.formats import Formats
from linkplan.outputs.sheet_base import base_point_paragraphs
from linkplan.outputs.siting_words import clean
from linkplan.plan.model import Plan
from linkplan.sky.results import Stretch, SystemDay, WorkingDay
from linkplan.study import SkyStudy
from linkplan.terrain.surroundings import SKY_KNOWN_M
from linkplan.workable import ToleranceLimit, tolerance_limits

Table = tuple[tuple[str, ...], list[tuple[str, ...]]]
"""Head and rows."""

TYPICAL = "Typical, not for a date"
HELD = "corrections held back"
PRACTICE = "common practice"
VERIFY = (
    "Satellites are taken out of service, and trees, cabs, masts and people hide more of the sky than the "
    "terrain does: look at the receiver's own satellite page on site before work relies on it."
)


def clock(moment: datetime.datetime, of: datetime.date) -> str:
    """Hours and minutes; the day beside them where it is not `of`."""
    day = "" if moment.date() == of else f" on {moment.date()}"
    return f"{moment:%H:%M}{day}"


def day_of(day: WorkingDay) -> datetime.date:
    """The local date on which work begins."""
    return day.local[0].date()


def between(stretch: Stretch, day: WorkingDay) -> str:
    """A stretch in local time, then in UTC."""
    of = day_of(day)
    return (
        f"{clock(stretch.start_local, of)} to {clock(stretch.end_local, of)} {day.time_zone} "
        f"({clock(stretch.start_utc, of)} to {clock(stretch.end_utc, of)} UTC)"
    )


def whole_day(day: WorkingDay) -> Stretch:
    """All of it."""
    return Stretch(day.utc[0], day.utc[-1], day.local[0], day.local[-1])


def moment(day: WorkingDay, index: int) -> str:
    """One of the times, local, then UTC."""
    of = day_of(day)
    return f"{clock(day.local[index], of)} {day.time_zone} ({clock(day.utc[index], of)} UTC)"


def duration(hours: float) -> str:
    """Hours and minutes."""
    minutes = round(60.0 * hours)
    whole, rest = divmod(minutes, 60)
    if minutes == 0:
        return "0 h" if hours <= 0.0 else "under 1 min"
    parts = [f"{whole} h"] if whole else []
    return " ".join([*parts, f"{rest} min"] if rest else parts)


def answer_line(sky: SkyStudy) -> str:
    """The answer in one sentence."""
    day, base, rovers = sky.base.day, sky.base, sky.rovers
    held = base.together.held_back
    when = between(whole_day(day), day)
    date = "" if base.orbits.typical else f"On {day_of(day)} the"
    subject = date or f"{TYPICAL}: the"
    if held.all():
        gate = f"base holds corrections back all the time from {when}"
    elif held.any():
        gate = f"base holds corrections back for {duration(day.hours_of(held))} from {when}"
    else:
        gate = f"base never holds corrections back from {when}"
    goal = "all of it" if sky.plan.goal.share >= 1.0 else f"{100.0 * sky.plan.goal.share:g} % of it"
    return (
        f"{subject} {gate}; {formats.percent(rovers.suffices_share)} of the job has sky enough for rovers in "
        f"{100.0 * rovers.wanted_share:g} % of that time (wanted: {goal})."
    )


def gate_line(sky: SkyStudy) -> str:
    """When the base keeps silent."""
    base = sky.base
    return (
        f"The base sends with {base.least_satellites} satellites or more above {base.mask_deg:g}° and its "
        f"real horizon and a PDOP of {base.greatest_pdop:g} at most; looked at every {_step(base.day)}."
    )


def _step(day: WorkingDay) -> str:
    return f"{day.step_s / 60.0:g} min"


def dilution(value: float | None) -> str:
    """A dilution of precision; "none" where at some time there is none."""
    return "none" if value is None or math.isnan(value) else f"{value:.1f}"


def system_table(sky: SkyStudy) -> Table:
    """A row a system by itself, then all together."""
    head = ("system", "satellites, fewest", "most", "worst PDOP", "HDOP", "VDOP", HELD)
    rows = [_system_row(one, one.name, sky) for one in sky.base.systems]
    return head, [*rows, _system_row(sky.base.together, "together", sky)]


def _system_row(one: SystemDay, name: str, sky: SkyStudy) -> tuple[str, ...]:
    if one.held_back.all():
        held = "all the time"
    else:
        held = duration(sky.base.day.hours_of(one.held_back)) if one.held_back.any() else "never"
    dops = (dilution(value) for value in (one.worst_pdop, one.worst_hdop, one.worst_vdop))
    return (name, str(one.fewest), str(one.most), *dops, held)


def held_lines(sky: SkyStudy) -> list[str]:
    """The stretches in which corrections are held back."""
    day = sky.base.day
    return [
        f"{between(one, day)}: {duration(one.hours)}" for one in day.stretches(sky.base.together.held_back)
    ]


def rover_lines(sky: SkyStudy) -> list[str]:
    """What the rovers have of the sky."""
    rovers, day = sky.rovers, sky.base.day
    show = Formats.of(sky.plan)
    apart = show.distance(rovers.stride * sky.grid.cell_size_m)
    lines = [
        f"A rover needs {rovers.least_common} satellites in common with the base and a PDOP of "
        f"{rovers.greatest_pdop:g} at most; looked at in {formats.grouped(rovers.rows.size)} places of the "
        f"job, one every {apart}.",
        f"Enough all the time: {formats.percent(rovers.all_day_share)} of the job; in "
        f"{100.0 * rovers.wanted_share:g} % of the time or more: {formats.percent(rovers.suffices_share)}.",
        f"Worst time: {moment(day, rovers.worst_time)}: {formats.percent(rovers.enough_at_worst_share)} of "
        f"the job has enough then; fewest in common then {sky.fewest_common_at_worst}, in all the time "
        f"{sky.fewest_common}.",
    ]
    if sky.unknown_ground_share > 0.0:
        lines.append(
            f"{formats.percent(sky.unknown_ground_share)} of these places are on unknown ground and count as "
            "without sky."
        )
    return lines


def unknown_line(sky: SkyStudy) -> str:
    """What is not known of the base's horizon; empty where all is known."""
    shares = {"the base": sky.base.unknown_share, "the rovers": sky.rovers.unknown_share}
    said = [
        f"{formats.percent(share)} of the directions round {who}" for who, share in shares.items() if share
    ]
    if not said:
        return ""
    known = Formats.of(sky.plan).distance(SKY_KNOWN_M)
    return (
        f"Ground is known less far than {known} in {' and in '.join(said)}: hills beyond may stand in the "
        "way, and are not counted."
    )


def orbit_lines(sky: SkyStudy) -> list[str]:
    """Where the satellites' positions come from."""
    orbits = sky.base.orbits
    lines = [f"Orbits: {clean(orbits.source)}"]
    if not orbits.typical:
        lines[0] += f"; up to {orbits.oldest_days:.1f} days from the working day"
        unhealthy = ", ".join(clean(one) for one in orbits.unhealthy) or "none"
        lines.append(f"Unhealthy by these files, and left out: {unhealthy}")
    return [*lines, *(f"{note[:1].upper()}{note[1:]}" for note in map(clean, orbits.notes))]


def accuracy_lines(plan: Plan) -> list[str]:
    """Accuracy over distance."""
    one = plan.accuracy
    flat = _formula(one.horizontal_m, one.horizontal_ppm, one.assumed, "horizontal")
    high = _formula(one.vertical_m, one.vertical_ppm, one.assumed, "vertical")
    return [
        f"Accuracy with distance from the base (standard deviation, open sky): {flat} horizontal, {high} "
        "vertical. An error of the base's own position comes on top."
    ]


def _formula(constant_m: float, ppm: float, assumed: Sequence[str], which: str) -> str:
    some = [f"{which}_{unit}" in assumed for unit in ("mm", "ppm")]
    mark = f" ({PRACTICE})" if all(some) else f" (partly {PRACTICE})" if any(some) else ""
    return f"{1000.0 * constant_m:g} mm + {ppm:g} ppm{mark}"


def limit_table(plan: Plan) -> Table:
    """Baseline limits of the job and its zones; no rows where none is asked for."""
    show = Formats.of(plan)
    head = ("where", "tolerance", "longest baseline")
    return head, [
        ("whole job" if one.zone is None else clean(one.zone), _tolerance(one), _limit(one, show))
        for one in tolerance_limits(plan)
    ]


def _tolerance(one: ToleranceLimit) -> str:
    if one.tolerance_m is None:
        return "stated in the job file"
    return f"{1000.0 * one.tolerance_m:g} mm {one.direction}"


def _limit(one: ToleranceLimit, show: Formats) -> str:
    return "any" if math.isinf(one.limit_m) else show.distance(one.limit_m)


def position_lines(plan: Plan) -> list[str]:
    """What the base's position is worth and how it is measured, as the set-up sheet says it."""
    point = base_point(plan)
    return [] if point is None else base_point_paragraphs(point)


def assumed_line(plan: Plan) -> str:
    """Keys of [sky] that the job leaves to common practice; empty where none."""
    keys = plan.sky.assumed if plan.sky is not None else ()
    return f"Not in the job file, so {PRACTICE}: {', '.join(keys)}." if keys else ""
