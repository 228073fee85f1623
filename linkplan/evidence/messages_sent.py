"""Messages that were sent against messages that were planned: which, how often, how large."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from linkplan.errors import RangeError
from linkplan.evidence.findings import Finding, Severity, duration, percent
from linkplan.gnss.rtcm_capture import Capture, MessageSeen
from linkplan.radio.frame_sizes import constellation, is_observation, message_frames, message_name
from linkplan.radio.stream import Message

INTERVAL_TOLERANCE = 0.1
"""An interval is another one when it differs by more than a tenth, and by more than the clock's step."""
BYTES_TOLERANCE = 0.05
"""More bytes than planned by this share are told."""
POINTS, ANTENNAS = frozenset({1005, 1006}), frozenset({1007, 1008, 1033})
BIASES = 1230


@dataclass(frozen=True)
class MessageRow:
    """One message number, planned or seen."""

    number: int
    name: str
    planned: bool
    planned_interval_s: float | None
    planned_bytes: int | None
    """Each time it is due, all frames; None where not planned or of unknown size."""
    planned_bytes_per_s: float | None
    seen: MessageSeen | None
    seen_bytes: float | None
    """The mean each time, all frames."""
    seen_bytes_per_s: float | None


def rows(capture: Capture, planned: Sequence[Message]) -> tuple[MessageRow, ...]:
    """Everything planned or seen, by number."""
    by_number = {message.number: message for message in planned}
    seen = {message.number: message for message in capture.messages}
    return tuple(
        _row(capture, number, by_number.get(number), seen.get(number))
        for number in sorted({*by_number, *seen})
    )


def _row(capture: Capture, number: int, planned: Message | None, seen: MessageSeen | None) -> MessageRow:
    size = planned_size(planned) if planned else None
    usual = capture.epoch_interval_s
    seconds = capture.elapsed_s + usual if usual else None
    return MessageRow(
        number=number,
        name=message_name(number),
        planned=planned is not None,
        planned_interval_s=planned.interval_s if planned else None,
        planned_bytes=size,
        planned_bytes_per_s=size / planned.interval_s if planned and size is not None else None,
        seen=seen,
        seen_bytes=seen.bytes / max(seen.epochs, 1) if seen else None,
        seen_bytes_per_s=seen.bytes / seconds if seen and seconds else None,
    )


def planned_size(message: Message) -> int | None:
    """Bytes each time, or None where the layout is not known."""
    try:
        return sum(message_frames(message))
    except RangeError:
        return None


def known_sum(values: Sequence[float | None]) -> float | None:
    """The sum, or None where there is nothing to add or a part is unknown."""
    known = [value for value in values if value is not None]
    return sum(known) if known and len(known) == len(values) else None


def compare(capture: Capture, planned: Sequence[Message]) -> Iterator[Finding]:
    """Every difference in messages, intervals, satellites, signals, texts and bytes."""
    if not planned:
        yield Finding(
            "note",
            "messages",
            "The job states no messages, so those that were sent could not be judged.",
            "",
            "List what the base is to send in the job: [corrections] with its messages.",
        )  # fmt: skip
        return
    lasted_s = _lasted_s(capture, planned)
    if lasted_s == 0.0:
        yield Finding(
            "weaker", "too short", "The recording is too short to judge any message.",
            "", "Record for a few minutes.",
        )  # fmt: skip
    by_number = {message.number: message for message in planned}
    extra = [one for one in capture.messages if one.number not in by_number]
    replaced: set[int] = set()
    for number, message in by_number.items():
        seen = capture.message(number)
        if seen is None:
            stand_in = next((one for one in extra if _serves_alike(number, one.number)), None)
            if stand_in is not None:
                replaced.add(stand_in.number)
                yield _replaced(message, stand_in)
            else:
                yield _missing(message, capture, lasted_s)
        else:
            yield from _same_number(capture, message, seen)
    for one in extra:
        if one.number not in replaced:
            yield _not_planned(capture, one)
    yield from _texts(capture, planned)
    yield from _bytes(capture, planned)


def _serves_alike(planned: int, sent: int) -> bool:
    if any(planned in group and sent in group for group in (POINTS, ANTENNAS)):
        return True
    return is_observation(planned) and is_observation(sent) and constellation(planned) == constellation(sent)


def _replaced(message: Message, sent: MessageSeen) -> Finding:
    planned = planned_size(message)
    size = sent.bytes / max(sent.epochs, 1)
    more = "" if planned is None else f", {size:.0f} bytes each time in place of {planned}"
    more_air_time = planned is not None and size > planned
    sees = "More air time: on a full channel corrections arrive late." if more_air_time else ""
    severity: Severity = "note" if message.number in POINTS | ANTENNAS else "weaker"
    return Finding(
        severity, "other message",
        f"{_named(sent.number)} is sent in place of the planned {_named(message.number)}{more}.",
        sees,
        f"Set the message in the base's receiver to {message.number}, or plan {sent.number} and look at the "
        "air time.",
    )  # fmt: skip


def _lasted_s(capture: Capture, planned: Sequence[Message]) -> float:
    """How long the recording lasted, at least: by its epochs, or by how often planned messages came."""
    came = ((capture.message(message.number), message.interval_s) for message in planned)
    counted = ((seen.frames - 1) * interval_s for seen, interval_s in came if seen and not seen.own_epoch)
    return max([capture.elapsed_s, *counted])


def _missing(message: Message, capture: Capture, lasted_s: float) -> Finding:
    number, wanted = message.number, _named(message.number)
    if lasted_s < message.interval_s + message.offset_s:
        return Finding(
            "note", "message not seen",
            f"{wanted} was not seen; the recording ({duration(lasted_s)}) is too short to judge: it is "
            f"planned every {message.interval_s:g} s.",
            "", f"Record for {duration(2 * message.interval_s + message.offset_s)} or longer.",
        )  # fmt: skip
    severity: Severity = "weaker"
    if number in POINTS:
        severity, sees = (
            "no link",
            "Rovers receive data but get no fix: they do not know where the base stands.",
        )
    elif number in ANTENNAS:
        severity, sees = (
            "wrong coordinates",
            "Heights may be off by centimetres: the base's antenna is not known.",
        )
    elif number == BIASES:
        sees = "Rovers of another make do without GLONASS, or take long to fix with it."
    elif is_observation(number):
        system = constellation(number)
        others = [one for one in capture.messages if is_observation(one.number)]
        sees = f"Fewer satellites: no {system} corrections, fixes take longer and fail sooner under trees."
        if not others:
            severity, sees = "no link", "The rover gets no observations of the base, so no fix at all."
    else:
        sees = "What depends on it does not work at the rover."
    return Finding(
        severity, "message missing",
        f"{wanted}, planned every {message.interval_s:g} s, was never sent.", sees,
        f"Switch {number} on in the base's receiver, on the port of the radio.",
    )  # fmt: skip


def _same_number(capture: Capture, message: Message, seen: MessageSeen) -> Iterator[Finding]:
    number = message.number
    if seen.interval_s is not None:
        step_s = 0.0 if seen.own_epoch else (capture.epoch_interval_s or 0.0)
        off_s = abs(seen.interval_s - message.interval_s)
        if off_s > max(INTERVAL_TOLERANCE * message.interval_s, step_s) + 1e-9:
            rarer = seen.interval_s > message.interval_s
            yield Finding(
                "weaker", "interval",
                f"{_named(number)} comes every {seen.interval_s:g} s; the job says every "
                f"{message.interval_s:g} s.",
                "Corrections are older than planned." if rarer else "More air time than planned.",
                f"Set the interval of {number} to {message.interval_s:g} s in the base's receiver.",
            )  # fmt: skip
    if seen.malformed:
        yield Finding(
            "weaker",
            "malformed",
            f"{seen.malformed} frames of {_named(number)} pass their check but cannot be read.",
            "Rovers may ignore this message.",
            "Update the base's receiver, or send another message in its place.",
        )  # fmt: skip
    system = seen.system
    if system is None:
        return
    if message.satellites and system.most_satellites * seen_parts(seen) > message.satellites:
        yield Finding(
            "weaker", "satellites",
            f"{_named(number)} held up to {system.most_satellites} satellites; the air time was planned for "
            f"{message.satellites}.",
            "With many satellites up the stream no longer fits: corrections arrive late.",
            f"Plan for {system.most_satellites}, or raise the base's elevation mask.",
        )  # fmt: skip
    if message.signals and system.most_signals != message.signals:
        more = system.most_signals > message.signals
        yield Finding(
            "weaker", "signals",
            f"{_named(number)} holds {system.most_signals} signals "
            f"({', '.join(system.signals) or 'none used'}); the job says {message.signals}.",
            "More air time than planned." if more else "Fixes take longer: a frequency is missing.",
            f"Set the signals of {system.system} in the base's receiver, or change the job.",
        )  # fmt: skip


def seen_parts(seen: MessageSeen) -> int:
    """Messages that one epoch is divided into."""
    return max(1, round(seen.frames / seen.epochs)) if seen.epochs else 1


def _not_planned(capture: Capture, one: MessageSeen) -> Finding:
    share = one.bytes / capture.frame_bytes
    every = "once" if one.interval_s is None else f"every {one.interval_s:g} s"
    return Finding(
        "weaker", "not planned",
        f"{_named(one.number)} is sent ({every}, {percent(share)} of all bytes) and is not in the job.",
        "It takes air time from the others.",
        f"Switch {one.number} off in the base's receiver, or plan it.",
    )  # fmt: skip


def _texts(capture: Capture, planned: Sequence[Message]) -> Iterator[Finding]:
    for message in planned:
        for seen in capture.antennas:
            sent = seen.text.texts
            if seen.text.number != message.number or not message.texts:
                continue
            pairs = list(zip(message.texts, sent, strict=False))
            if any(_folded(mine) != _folded(theirs) for mine, theirs in pairs):
                yield Finding(
                    "wrong coordinates", "antenna",
                    f"{message.number} names {', '.join(repr(one) for one in sent)}; the job says "
                    f"{', '.join(repr(one) for one in message.texts)}.",
                    "Heights are off by millimetres to centimetres: the rover corrects for another antenna.",
                    "Set the antenna in the base's receiver to the one that stands there.",
                )  # fmt: skip


def _bytes(capture: Capture, planned: Sequence[Message]) -> Iterator[Finding]:
    expected = known_sum([row.planned_bytes_per_s for row in rows(capture, planned) if row.planned])
    sent = capture.bytes_per_s
    if expected is None or sent is None or sent <= expected * (1.0 + BYTES_TOLERANCE):
        return
    yield Finding(
        "weaker", "bytes",
        f"{sent:.0f} bytes a second are sent, {percent(sent / expected - 1.0)} more than planned "
        f"({expected:.0f}).",
        "The channel is fuller than planned: corrections arrive late, then not at all.",
        "Bring messages and intervals in line with the job, or look at the air time of what is sent.",
    )  # fmt: skip


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def _named(number: int) -> str:
    name = message_name(number)
    return str(number) if name == "size as stated" else f"{number} ({name})"
