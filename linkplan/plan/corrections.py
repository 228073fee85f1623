"""The correction stream of a job: messages against their layouts, framing, power supply."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from linkplan.plan.checking import Section
from linkplan.plan.words import NOTHING, Report, figure
from linkplan.radio.frame_sizes import constellation, is_known, is_observation, message_name, msm_kind
from linkplan.radio.stream import CorrectionStream, Framing, Message, Supply
from linkplan.tables import rtcm3
from linkplan.tables.framing import PRESETS

_SHAPE = ("satellites", "signals", "texts", "biases")
"""Keys that say what is in a message."""

_STATED = ("rate_bps", "key_up_ms", "preamble_bits", "header_bits", "packet_bytes", "code_rate", "gap_ms")
"""Numbers of the framing that a preset gives."""

_WITHOUT_PRESET: Mapping[str, float] = {"code_rate": 1.0, "gap_ms": 0.0}


def read_corrections(sections: Mapping[str, Section | None], report: Report) -> CorrectionStream | None:
    """The stream, or None where the job has none or it is faulty (with the faults noted)."""
    base = sections.get("base")
    framing = _framing(sections.get("framing"), base, report)
    supply = _supply(sections.get("supply"))
    section = sections.get("corrections")
    if section is None:
        for name in ("framing", "supply"):
            if sections.get(name) is not None:
                report.warn(name, "is of no use without [corrections]")
        return None
    if section["messages"] is None:
        return None
    before = len(report.faults)
    messages = [
        _message(one, f"corrections.messages[{place}]", report)
        for place, one in enumerate(section["messages"], start=1)
    ]
    _check_twins(section["messages"], report)
    sound = tuple(message for message in messages if message is not None)
    if len(report.faults) > before or len(sound) < len(messages):
        return None
    _warn(sound, report)
    return CorrectionStream(section["station_id"], _announced(sound), framing, supply)


def _message(section: Section, where: str, report: Report) -> Message | None:
    number, interval_s, offset_s = section["number"], section["interval_s"], section["offset_s"]
    if interval_s is not None:
        _check_times(section, where, report)
    if number is None or interval_s is None:
        return None
    if section["payload_bytes"] is not None:
        for name in _SHAPE:
            if name in section.present:
                problem = "cannot stand beside payload_bytes, which says the size already"
                report.fault(f"{where}.{name}", section.raw(name), problem, "keep one of the two")
    elif is_known(number):
        _check_shape(section, where, number, report)
    elif "payload_bytes" not in section.present:
        problem = f"missing: the layout of message {number} is not known here"
        report.fault(f"{where}.payload_bytes", NOTHING, problem, "add it, such as payload_bytes = 100")
    biases = section["biases"]
    if biases is None:
        biases = rtcm3.MOST_BIASES if number == rtcm3.CODE_PHASE_BIASES else 0
    return Message(
        number=number,
        interval_s=interval_s,
        offset_s=0.0 if offset_s is None else offset_s,
        satellites=section["satellites"] or 0,
        signals=section["signals"] or 0,
        texts=section["texts"] or (),
        biases=biases,
        payload_bytes=section["payload_bytes"],
    )


def _check_times(section: Section, where: str, report: Report) -> None:
    for name in ("interval_s", "offset_s"):
        value_ms = 1000.0 * (section[name] or 0.0)
        if abs(value_ms - round(value_ms)) > 1e-6:
            problem = "finer than a thousandth of a second"
            cure = f"write {name} = {figure(round(value_ms) / 1000.0)}"
            report.fault(f"{where}.{name}", section.raw(name), problem, cure)
    if section["offset_s"] is not None and section["offset_s"] >= section["interval_s"]:
        cure = f"it lies within the interval: give 0 to less than {figure(section['interval_s'])} s"
        report.fault(f"{where}.offset_s", section.raw("offset_s"), "too large", cure)


def _check_shape(section: Section, where: str, number: int, report: Report) -> None:
    """Keys that the message's layout needs are there, and no others."""
    name = f"{number} ({message_name(number)})"
    layout = rtcm3.LAYOUTS.get(number)
    needed = [] if layout is None or not layout.satellite_bits else ["satellites"]
    if msm_kind(number) is not None:
        needed = ["satellites", "signals"]
    allowed = list(needed)
    if layout is not None:
        allowed += ["satellites"] if layout.ephemeris else []
        allowed += ["texts"] if layout.texts else []
        allowed += ["biases"] if number == rtcm3.CODE_PHASE_BIASES else []
    for key in needed:
        if key not in section.present:
            example = {"satellites": 10, "signals": 2}[key]
            cure = f"add, for example, {key} = {example}: {name} has a size by them"
            report.fault(f"{where}.{key}", NOTHING, "missing", cure)
    for key in _SHAPE:
        if key in section.present and key not in allowed:
            report.fault(f"{where}.{key}", section.raw(key), f"message {name} has none", "leave it out")
    if layout is not None and layout.satellite_bits and (section["satellites"] or 0) > layout.most_satellites:
        cure = f"give 1 to {layout.most_satellites}, or use an MSM"
        report.fault(f"{where}.satellites", section.raw("satellites"), f"too many for {name}", cure)
    if layout is not None and layout.texts and section["texts"] is not None:
        _check_texts(section, where, layout.texts, name, report)


def _check_texts(section: Section, where: str, count: int, name: str, report: Report) -> None:
    texts = section["texts"]
    if len(texts) != count:
        cure = f'give {count} in the order of the message, "" for an empty one, or leave the key out'
        report.fault(
            f"{where}.texts", section.raw("texts"), f"{len(texts)} texts, but {name} has {count}", cure
        )
    for place, text in enumerate(texts, start=1):
        if len(text) > rtcm3.LONGEST_TEXT:
            problem = f"{len(text)} characters"
            report.fault(f"{where}.texts[{place}]", text, problem, f"at most {rtcm3.LONGEST_TEXT} fit")


def _check_twins(entries: tuple[Section, ...], report: Report) -> None:
    """No message twice, save those whose size is stated: makers' own messages share a number."""
    first: dict[int, int] = {}
    for place, section in enumerate(entries, start=1):
        number = section["number"]
        if number is None or section["payload_bytes"] is not None:
            continue
        if number in first:
            problem = f"stands in the list already, as message {first[number]} of it"
            report.fault(f"corrections.messages[{place}].number", section.raw("number"), problem, "keep one")
        first.setdefault(number, place)


def _announced(messages: tuple[Message, ...]) -> tuple[Message, ...]:
    """A 1013 announces every other message of the stream."""
    others = len({message.number for message in messages} - {rtcm3.SYSTEM_PARAMETERS})
    count = min(others, rtcm3.MOST_ANNOUNCEMENTS)
    return tuple(
        replace(message, announcements=count) if message.number == rtcm3.SYSTEM_PARAMETERS else message
        for message in messages
    )


def _warn(messages: tuple[Message, ...], report: Report) -> None:
    """Say what looks odd about a stream that can be sent."""
    where = "corrections.messages"
    numbers = {message.number for message in messages}
    if not any(is_observation(number) for number in numbers):
        report.warn(where, "none carries observations (MSM or 1001 to 1012)")
    if not numbers & {1005, 1006, 1032}:
        report.warn(where, "none carries the base's position (1005 or 1006): rovers cannot work without it")
    sent: dict[str, list[int]] = {}
    for number in sorted(numbers):
        if is_observation(number):
            sent.setdefault(constellation(number), []).append(number)
    for name, twice in sent.items():
        if len(twice) > 1:
            report.warn(where, f"{' and '.join(map(str, twice))} both carry observations of {name}")


def _framing(section: Section | None, base: Section | None, report: Report) -> Framing | None:
    if section is None:
        return None
    before = len(report.faults)
    preset = section["preset"]
    values: dict[str, Any] = {**(PRESETS[preset] if preset else _WITHOUT_PRESET)}
    own = [name for name in _STATED if section[name] is not None]
    values.update({name: section[name] for name in own})
    for name in _STATED:
        if name not in values and "preset" not in section.present and name not in section.present:
            cure = "add it from the radio's data sheet, or take a generic preset"
            report.fault(f"framing.{name}", NOTHING, "missing", f'{cure}: preset = "generic-9600"')
    slots = section["slots"] or 1
    if slots > 1 and "slot_s" not in section.present:
        cure = "where stations take turns, add the length of a turn, such as slot_s = 0.5"
        report.fault("framing.slot_s", NOTHING, "missing", cure)
    slot = (base["slot"] if base is not None else None) or 1
    if slot > slots and base is not None:
        report.fault("base.slot", base.raw("slot"), f"framing.slots = {slots}", f"give 1 to {slots}")
    if len(report.faults) > before or not set(_STATED) <= set(values):
        return None
    name = f"{preset} with own {', '.join(own)}" if preset and own else preset or "stated"
    return Framing(
        name=name,
        **{key: values[key] for key in _STATED if key != "packet_bytes"},
        packet_bytes=int(values["packet_bytes"]),
        repeaters=section["repeaters"] or 0,
        slots=slots,
        slot_s=section["slot_s"] or 1.0,
        slot=slot,
    )


def _supply(section: Section | None) -> Supply | None:
    if section is None or None in (section["capacity_ah"], section["transmit_a"], section["receive_a"]):
        return None
    if section["other_a"] is None or section["usable_share"] is None:
        return None
    return Supply(
        capacity_ah=section["capacity_ah"],
        transmit_a=section["transmit_a"],
        receive_a=section["receive_a"],
        other_a=section["other_a"],
        usable_share=section["usable_share"],
    )
