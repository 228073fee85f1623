"""The channel decision as plain text for a terminal: the answer first, then who gets what, and why."""

from __future__ import annotations

import math
import textwrap

from linkplan.channels.ratios import ENOUGH_DB
from linkplan.channels.results import BaseChannel, ChannelAnswer, PowerNeed
from linkplan.outputs import formats, style
from linkplan.outputs.calibration_words import calibration_line
from linkplan.outputs.formats import Formats
from linkplan.outputs.text import WIDTH, table
from linkplan.plan.model import Plan

_LEFT, _RIGHT = "<", ">"


def channels_text(plan: Plan, answer: ChannelAnswer) -> str:
    """The whole answer, ready to print."""
    show = Formats.of(plan)
    parts = [
        answer.job_name,
        "",
        *_wrapped(verdict(answer)),
        "",
        *_licence(answer),
        "",
        _assigned(answer),
        *_worst_cells(answer, show),
    ]
    if answer.channels:
        parts += ["", "Channels not used", _channels(answer)]
    parts += ["", "Power", _powers(answer, show), *_power_words(answer, show)]
    parts += ["", *_near(answer, show)]
    closing = [
        textwrap.fill(note, WIDTH, initial_indent="note: ", subsequent_indent="      ")
        for note in (*answer.notes, *filter(None, [calibration_line(plan)]))
    ]
    return "\n".join([*parts, "", *closing, style.PREDICTION])


def verdict(answer: ChannelAnswer) -> str:
    """The answer in one or two sentences."""
    needed = formats.decibels(answer.protection_ratio_db)
    assigned, stated = answer.assigned_ratio_db, answer.stated_ratio_db
    if answer.accepted:
        return (
            f"Accepted: no clause of the licence data is broken, and every base keeps {needed} over unwanted "
            "signals."
        )
    if assigned is None:
        return "NOT accepted: a base has no channel that the licence and the rules leave it."
    why = []
    if not answer.licence_stated:
        why.append("the job has no [licence]")
    if answer.breaches:
        count = len(answer.breaches)
        why.append(f"{count} clause{'s' if count > 1 else ''} of the licence data broken")
    if stated is not None and stated < answer.protection_ratio_db:
        why.append(
            f"the channels as stated leave {_ratio(stated)} at worst where {needed} "
            "over unwanted signals are needed"
        )
    if any(one.station_id_note for one in answer.bases):
        why.append("a station ID is used twice")
    if assigned < answer.protection_ratio_db:
        why.append(f"even the best assignment leaves {_ratio(assigned)} where {needed} are needed")
    cure = ""
    if assigned >= answer.protection_ratio_db and stated is not None and stated < assigned:
        cure = f" The assignment below leaves {_ratio(assigned)}."
    return f"NOT accepted: {'; '.join(why)}.{cure}"


def _licence(answer: ChannelAnswer) -> list[str]:
    if not answer.licence_stated:
        return ["Licence: none stated"]
    until = f", valid to {answer.expires.isoformat()}" if answer.expires else ""
    name = answer.call_sign or "without a call sign"
    lines = [f"Licence {name}{until}; checked for {answer.checked_for.isoformat()}"]
    if not answer.breaches:
        return [*lines, "  no clause of the stated data is broken"]
    rows = [(f"{one.clause} = {one.stands}", one.who, one.problem) for one in answer.breaches]
    return [*lines, table(("clause broken", "by", "how"), rows, (_LEFT, _LEFT, _LEFT))]


def _assigned(answer: ChannelAnswer) -> str:
    if not answer.bases:
        return "No assignment: see the channels below."
    head = ("base", "stated", "worst ratio", "assigned", "MHz", "slot", "station ID", "worst ratio", "kept")
    rows = [
        (
            one.name,
            "-" if one.stated_mhz is None else f"{one.stated_mhz:.10g}",
            "-" if one.stated_ratio_db is None else _ratio(one.stated_ratio_db),
            one.channel,
            f"{one.frequency_mhz:.10g}",
            f"{one.slot} of {answer.slots}",
            f"{one.station_id}" + (f" ({one.station_id_note})" if one.station_id_note else ""),
            "no cell" if one.ratio_db is None else _ratio(one.ratio_db),
            formats.percent(one.protected_share) if one.sampled_cells else "-",
        )
        for one in answer.bases
    ]
    best = "no assignment is better" if answer.proven_best else "the best found in time"
    title = (
        f"Channels: wanted over unwanted, {formats.decibels(answer.protection_ratio_db)} needed "
        f"({best}, to within 0.05 dB)"
    )
    sides = (_LEFT, _LEFT, _RIGHT, _LEFT, _RIGHT, _RIGHT, _LEFT, _RIGHT, _RIGHT)
    return title + "\n" + table(head, rows, sides)


def _worst_cells(answer: ChannelAnswer, show: Formats) -> list[str]:
    return [_worst_cell(one, show) for one in answer.bases if one.worst is not None and one.worst.unwanted]


def _worst_cell(one: BaseChannel, show: Formats) -> str:
    assert one.worst is not None
    worst = one.worst
    return (
        f"  {one.name} at worst: {_ratio(worst.ratio_db)} at {show.position(worst.easting, worst.northing)} "
        f"(wanted {formats.decibels(worst.wanted_dbm, 'dBm')}), {worst.unwanted}"
    )


def _channels(answer: ChannelAnswer) -> str:
    room = WIDTH - 24
    rows = []
    for one in answer.channels:
        first, *rest = textwrap.wrap(one.reason, room) or [""]
        rows.append((one.name, f"{one.frequency_mhz:.10g}", first))
        rows += [("", "", line) for line in rest]
    return table(("channel", "MHz", "why"), rows, (_LEFT, _RIGHT, _LEFT))


def _powers(answer: ChannelAnswer, show: Formats) -> str:
    rows = [
        (
            one.name,
            _watts(one.power_w),
            formats.percent(one.covered_share),
            "more than stated" if one.lowest_w is None else _watts(one.lowest_w, up=True),
            show.area(one.spill_m2),
            "-" if one.spill_at_lowest_m2 is None else show.area(one.spill_at_lowest_m2),
            show.area(one.unknown_m2),
        )
        for one in answer.powers
    ]
    head = ("base", "power", "covers", "would do", "spill", "spill then", "no terrain")
    return table(head, rows, (_LEFT, _RIGHT, _RIGHT, _RIGHT, _RIGHT, _RIGHT, _RIGHT))


def _power_words(answer: ChannelAnswer, show: Formats) -> list[str]:
    text = (
        "covers: share of the cells that the base serves with the wanted chance. would do: least power for "
        "the wanted share of them. spill: area outside the job, up to "
        f"{show.distance(answer.searched_m)} from it, where a rover's receiver would get more than "
        f"{formats.decibels(answer.protected_level_dbm, 'dBm')}; nothing is said where there is no terrain."
    )
    lines = [textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ")]
    weak = [one for one in answer.powers if _too_weak(one, answer)]
    for one in weak:
        lines.append(
            f"  {one.name} with the least power would be left {_ratio(one.ratio_at_lowest_db or 0.0)} over "
            "unwanted signals: keep more"
        )
    return lines


def _too_weak(one: PowerNeed, answer: ChannelAnswer) -> bool:
    ratio_db = one.ratio_at_lowest_db
    return ratio_db is not None and ratio_db < answer.protection_ratio_db


def _near(answer: ChannelAnswer, show: Formats) -> list[str]:
    near = ", ".join(f"{show.distance(math.ceil(one.distance_m))} of {one.name}" for one in answer.overloads)
    text = (
        f"Overload: a rover's radio may go deaf within {near} "
        f"({formats.decibels(answer.overload_dbm, 'dBm')} at its input, free space; a reflection may double "
        "the distance)."
    )
    lines = _wrapped(text)
    if not answer.products:
        return [*lines, "Third-order products: none falls into a channel in use."]
    rows = [
        (" + ".join(one.sources), f"{one.falls_mhz:.4f}", one.base, _ratio(one.ratio_db))
        for one in answer.products[:12]
    ]
    more = f" (the worst 12 of {len(answer.products)})" if len(answer.products) > 12 else ""
    head = ("of", "falls on MHz", "heard by rovers of", "ratio")
    return [
        *lines,
        f"Third-order products of transmitters that stand together{more}",
        table(head, rows, (_LEFT, _RIGHT, _LEFT, _RIGHT)),
    ]


def _ratio(value_db: float) -> str:
    return f"{ENOUGH_DB:g} dB or more" if value_db >= ENOUGH_DB else formats.decibels(value_db)


def _watts(power_w: float, *, up: bool = False) -> str:
    """Two digits below 10 W; `up` rounds so that the figure shown is enough."""
    digits = 0 if power_w >= 10.0 else 1 - math.floor(math.log10(power_w)) if power_w < 1.0 else 1
    step = 10.0**-digits
    shown = math.ceil(power_w / step - 1e-9) * step if up else power_w
    return f"{shown:.{digits}f} W"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH)
