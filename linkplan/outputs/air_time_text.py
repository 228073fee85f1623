"""The air time of a correction stream as plain text: the answer first, then message by message."""

from __future__ import annotations

import textwrap

from linkplan.airtime.advice import Advice
from linkplan.airtime.check import AirTimeAnswer
from linkplan.outputs.text import WIDTH, table
from linkplan.radio.air_time import AirTime, MessageLoad
from linkplan.radio.battery import BatteryLife
from linkplan.radio.stream import Framing

CAUTION = (
    "A battery that runs flat takes the corrections away from every rover: plan a spare, and what a guided "
    "machine does then. Charge, carry and connect batteries as their maker and local rules say."
)


def air_time_text(answer: AirTimeAnswer) -> str:
    """The whole answer, ready to print."""
    result = answer.air_time
    station = "not stated" if answer.station_id is None else str(answer.station_id)
    parts = [
        f"{answer.job_name}: air time of the corrections",
        _wrap(f"Station ID {station}; {framing_line(answer.framing)}"),
        "",
        _wrap(verdict_line(result)),
        "",
        _messages(result),
        "",
        *_figures(result),
    ]
    if answer.battery is not None:
        parts += [_item("Battery", battery_line(answer.battery))]
    if answer.advice is not None:
        parts += ["", *_advice(answer.advice)]
    parts += ["", *(_wrap(f"note: {note}", "      ") for note in answer.notes)]
    if answer.battery is not None:
        parts += [_wrap(CAUTION)]
    return "\n".join(parts)


def verdict_line(result: AirTime) -> str:
    """Does it fit, in one sentence."""
    room = f"the {result.epoch_s:g} s between epochs"
    bound = "at most " if result.bounded else ""
    if result.worst_latency_s is not None and result.spare_s is not None:
        took = f"the worst epoch takes {bound}{_seconds(result.worst_latency_s)} of {room}"
        if result.fits:
            return f"Fits: {took}, {_seconds(result.spare_s)} ({_percent(1.0 - result.fill)}) to spare."
        return f"DOES NOT FIT: {took}, {_seconds(-result.spare_s)} too much."
    if result.problem:
        return f"DOES NOT FIT: {result.problem}."
    if result.load > 1.0:
        return (
            f"DOES NOT FIT: the messages take {_percent(result.load)} of the time that there is, so "
            "corrections would lag more and more."
        )
    return f"DOES NOT FIT: the turns are too short to hold {room}, so corrections would lag more and more."


def framing_line(framing: Framing) -> str:
    """The radio's framing in one line."""
    parts = [
        f"framing {framing.name}: {framing.rate_bps:g} bit/s over the air",
        f"key-up {framing.key_up_ms:g} ms",
        f"preamble {framing.preamble_bits:g} and header {framing.header_bits:g} bits a packet",
        f"packets of up to {framing.packet_bytes} bytes",
        "no error correction" if framing.code_rate >= 1.0 else f"code rate {framing.code_rate:g}",
    ]
    if framing.gap_ms > 0.0:
        parts.append(f"gaps of {framing.gap_ms:g} ms")
    if framing.repeaters:
        parts.append(f"{framing.repeaters} repeater{'s' if framing.repeaters > 1 else ''}")
    if framing.slots > 1:
        parts.append(f"turn {framing.slot} of {framing.slots}, {framing.slot_s:g} s each")
    return ", ".join(parts)


def battery_line(battery: BatteryLife) -> str:
    """How long there is power."""
    return (
        f"{battery.hours:.1f} h from {battery.usable_ah:g} Ah usable at {battery.mean_current_a:.2f} A on "
        f"average; {battery.hours_keyed:.1f} h if it were keyed all the time"
    )


def _messages(result: AirTime) -> str:
    rows: list[tuple[str, ...]] = [
        (
            str(load.number), load.name, _shape(load), f"{load.interval_s:g} s",
            f"{load.offset_s:g} s" if load.offset_s else "", str(load.bytes), f"{load.bytes_per_s:.1f}",
            _percent(load.share),
        )
        for load in result.messages
    ]  # fmt: skip
    rows.append(("all", "", "", "", "", "", f"{result.bytes_per_s:.1f}", "100 %"))
    head: tuple[str, ...] = (
        "message",
        "what",
        "satellites x signals",
        "every",
        "after",
        "bytes",
        "bytes/s",
        "share",
    )
    sides = "<<<>>>>>"
    if not any(load.offset_s for load in result.messages):
        at = head.index("after")
        head, sides = head[:at] + head[at + 1 :], sides[:at] + sides[at + 1 :]
        rows = [row[:at] + row[at + 1 :] for row in rows]
    return table(head, rows, sides)


def _shape(load: MessageLoad) -> str:
    if load.signals:
        text = f"{load.satellites} x {load.signals}"
    else:
        text = str(load.satellites) if load.satellites else ""
    return f"{text} in {load.frames} messages" if load.frames > 1 else text


def _figures(result: AirTime) -> list[str]:
    worst = result.worst
    packets = f"{worst.burst.packets} packet{'s' if worst.burst.packets > 1 else ''}"
    together = ", ".join(map(str, worst.messages))
    when = "if all fall together" if result.bounded else f"first at second {worst.time_s:g}"
    lines = [
        _item(
            "Mean epoch",
            f"{result.mean_epoch_bytes:.0f} bytes, {_seconds(result.mean_epoch_air_s)} on the air: "
            f"{result.bytes_per_s:.0f} bytes and {_seconds(result.air_time_per_s)} a second",
        ),
        _item(
            "Worst epoch",
            f"{worst.burst.bytes} bytes in {packets}, {_seconds(worst.burst.channel_s)} on the air, {when}: "
            f"{together}",
        ),
    ]
    if result.worst_latency_s is not None and result.mean_latency_s is not None:
        lines.append(
            _item(
                "Latency",
                f"{_seconds(result.mean_latency_s)} on average from the epoch to its last bit, "
                f"{_seconds(result.worst_latency_s)} at worst",
            )
        )
    return [*lines, _item("Duty cycle", f"transmitter keyed {_percent(result.duty_cycle)} of the time")]


def _advice(advice: Advice) -> list[str]:
    if not advice.singles and not advice.options:
        return [_wrap("No change that linkplan knows makes it fit: send less, or over another radio.")]
    rows = [
        (
            one.what, f"{_percent(one.fill_before)} to {_percent(one.fill_after)}",
            "enough" if one.enough else "not enough", one.cost,
        )
        for one in advice.singles
    ]  # fmt: skip
    lines = [
        _wrap(
            "What would help, cheapest for the rover first. Filled is the share of the time between epochs:"
        ),
        _stack(rows),
        "",
    ]
    if not advice.options:
        return [*lines, "No combination of these is enough: send less, or over another radio."]
    lines.append("The smallest ways that are enough, cheapest for the rover first:")
    for place, option in enumerate(advice.options, start=1):
        spare = "" if option.after.spare_s is None else f", {_seconds(option.after.spare_s)} to spare"
        text = f"{'; '.join(option.changes)}: filled {_percent(option.after.fill)}{spare}"
        moved = [f"{load.number} {load.offset_s:g} s" for load in option.after.messages if load.offset_s]
        if moved:
            text += f" (sent so long after their interval begins: {', '.join(moved)})"
        lines.append(textwrap.fill(text, WIDTH, initial_indent=f"  {place}. ", subsequent_indent="     "))
    return lines


def _stack(rows: list[tuple[str, str, str, str]]) -> str:
    """A change a line with its gain, and under it what it costs."""
    lines = []
    for what, filled, enough, cost in rows:
        lines.append(textwrap.fill(what, WIDTH, initial_indent="  - ", subsequent_indent="    "))
        gain = f"filled {filled}, {enough}; costs: {cost}"
        lines.append(textwrap.fill(gain, WIDTH, initial_indent=" " * 6, subsequent_indent=" " * 6))
    return "\n".join(lines)


def _item(label: str, text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=f"{label:<13}", subsequent_indent=" " * 13)


def _wrap(text: str, indent: str = "") -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent=indent)


def _seconds(value_s: float) -> str:
    return f"{value_s:.2f} s" if abs(value_s) >= 0.01 or value_s == 0.0 else f"{1000.0 * value_s:.1f} ms"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %" if share >= 0.0995 else f"{100.0 * share:.1f} %"
