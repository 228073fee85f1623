"""Does the correction stream fit the channel: bytes, air time, worst epoch, duty cycle, latency.

All that falls due at one moment is sent together, filled into packets in one run; what is not yet sent
when the next falls due goes first. Counted is the time on the air: the receiver's own delay and the cable
between receiver and radio come on top.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linkplan.errors import RangeError
from linkplan.radio.channel_time import Burst, Sending, burst_of, check_framing, send
from linkplan.radio.frame_sizes import is_observation, message_frames, message_name, texts_assumed
from linkplan.radio.stream import Framing, Message
from linkplan.ranges import require_range

MOST_SENDINGS = 20_000
"""Messages followed one by one until their pattern repeats; a longer pattern is bounded from above."""

LONGEST_INTERVAL_S = 86_400.0
ROUNDING_S = 1e-9
"""Times closer than this are equal."""


@dataclass(frozen=True)
class MessageLoad:
    """One message's part of the stream."""

    number: int
    name: str
    interval_s: float
    offset_s: float
    satellites: int
    signals: int
    frames: int
    """Sent at each interval."""
    bytes: int
    """Sent at each interval, all frames."""
    bytes_per_s: float
    share: float
    """Of the stream's bytes, 0 to 1."""
    texts_assumed: bool
    """Its texts are not stated, so the longest are counted."""


@dataclass(frozen=True)
class Epoch:
    """The moment at which most falls due."""

    time_s: float
    """First such moment of the pattern."""
    messages: tuple[int, ...]
    """Numbers of the messages that fall due then."""
    burst: Burst


@dataclass(frozen=True)
class AirTime:
    """The whole stream on the air."""

    messages: tuple[MessageLoad, ...]
    epoch_s: float
    """From one epoch of observations to the next."""
    pattern_s: float
    """After this time the pattern of messages (and turns) repeats."""
    bounded: bool
    """The pattern is too long to follow: every message is taken to fall together, so that the worst epoch and
    all times are upper bounds."""
    bytes_per_s: float
    air_time_per_s: float
    """Seconds a second that the channel is taken, repeaters and gaps included."""
    mean_epoch_bytes: float
    mean_epoch_air_s: float
    worst: Epoch
    available_share: float
    """Of the time, this station's turns."""
    load: float
    """Air time over the time available; above 1 the stream can never be sent."""
    duty_cycle: float
    """Share of the time that the base's own transmitter is keyed, 0 to 1."""
    mean_latency_s: float | None
    """From the moment at which something falls due to its last bit, repeaters and turns counted; None where
    it grows without end."""
    worst_latency_s: float | None
    spare_s: float | None
    """Left of the time between epochs at the worst moment; negative where it overruns."""
    fill: float
    """Worst latency over the time between epochs; where that grows without end, the load, at least 1."""
    fits: bool
    """Whatever falls due is on the air, to its last bit, within the time between epochs."""
    problem: str
    """Why it cannot be sent at all, or ""."""


def air_time(messages: Sequence[Message], framing: Framing) -> AirTime:
    """Put a stream on the air.

    Intervals and offsets are whole milliseconds, intervals 1 ms to a day. One period of the pattern of
    messages and turns is followed after it has settled, so all results are exact for the model above,
    unless the period holds more than 20 000 sendings (then `bounded`). Raises RangeError for numbers
    outside their ranges, and for turns with such a long pattern.
    """
    check_framing(framing)
    if not messages:
        raise RangeError("messages = 0: a stream has at least one message")
    frames = [message_frames(message) for message in messages]
    sizes = [sum(each) for each in frames]
    intervals = [_milliseconds("interval_s", message.interval_s, 0.001) for message in messages]
    offsets = [_milliseconds("offset_s", message.offset_s, 0.0) for message in messages]
    observed = [
        every for every, message in zip(intervals, messages, strict=True) if is_observation(message.number)
    ]
    epoch_ms = min(observed or intervals)
    cycle_ms = framing.slots * _milliseconds("slot_s", framing.slot_s, 0.001) if framing.slots > 1 else 1
    pattern_ms = math.lcm(cycle_ms, *intervals)
    if sum(pattern_ms // every for every in intervals) <= MOST_SENDINGS:
        due = _due(intervals, offsets, pattern_ms)
        bursts = {time: burst_of(framing, sum(sizes[one] for one in which)) for time, which in due.items()}
        followed = _follow(bursts, framing, pattern_ms)
    else:
        if framing.slots > 1:
            raise RangeError(
                "the messages and turns repeat only after a very long time: choose intervals that are "
                "multiples of one another"
            )
        due, bursts, followed = _bound(framing, sizes, intervals, epoch_ms)
        pattern_ms = epoch_ms
    return _result(messages, frames, framing, epoch_ms, pattern_ms, due, bursts, followed)


@dataclass(frozen=True)
class _Followed:
    """Sums over one period, and latencies."""

    keyed_per_s: float
    channel_per_s: float
    latencies_s: tuple[float, ...] | None
    problem: str
    bounded: bool = False


def _milliseconds(name: str, value_s: float, low_s: float) -> int:
    require_range(name, value_s, low_s, LONGEST_INTERVAL_S, unit="s")
    whole = round(value_s * 1000.0)
    if abs(value_s * 1000.0 - whole) > 1e-6:
        raise RangeError(f"{name} = {value_s:g} s is no whole number of milliseconds")
    return whole


def _due(intervals: Sequence[int], offsets: Sequence[int], pattern_ms: int) -> dict[int, list[int]]:
    """Indices of the messages that fall due, by time in ms, in order of time."""
    due: dict[int, list[int]] = {}
    for index, (every, offset) in enumerate(zip(intervals, offsets, strict=True)):
        for time in range(offset % every, pattern_ms, every):
            due.setdefault(time, []).append(index)
    return dict(sorted(due.items()))


def _follow(bursts: Mapping[int, Burst], framing: Framing, pattern_ms: int) -> _Followed:
    """Send one period after another until it has settled: the second is as all later ones.

    What waits at the end of a period is the largest excess of work over time among all spans that end
    there. Where the work of a period fits into it, no span longer than a period is the largest, so the
    first period, begun with nothing waiting, already ends as every later one.
    """
    pattern_s = pattern_ms / 1000.0
    free_s = 0.0
    waiting: list[float] = []
    for turn in (0, 1):
        latencies, sent = [], []
        for time_ms, burst in bursts.items():
            due_s = time_ms / 1000.0 + turn * pattern_s
            one = send(framing, burst, max(due_s, free_s))
            if one is None:
                problem = (
                    f"a packet of {min(framing.packet_bytes, burst.bytes)} bytes takes longer than a turn of "
                    f"{framing.slot_s:g} s"
                )
                return _Followed(*_sums(bursts, framing, pattern_s, ()), None, problem)
            free_s = one.free_s
            latencies.append(one.last_bit_s - due_s)
            sent.append(one)
        waiting.append(max(0.0, free_s - (turn + 1) * pattern_s))
    settled = waiting[1] <= waiting[0] + ROUNDING_S
    return _Followed(*_sums(bursts, framing, pattern_s, sent), tuple(latencies) if settled else None, "")


def _sums(
    bursts: Mapping[int, Burst], framing: Framing, pattern_s: float, sent: Sequence[Sending]
) -> tuple[float, float]:
    """Seconds a second keyed, and seconds a second of channel, with the key-ups of each further turn."""
    again_s = sum(one.turns - 1 for one in sent) * framing.key_up_ms / 1000.0
    keyed_s = sum(burst.keyed_s for burst in bursts.values()) + again_s
    channel_s = sum(burst.channel_s for burst in bursts.values()) + again_s * (1 + framing.repeaters)
    return keyed_s / pattern_s, channel_s / pattern_s


def _bound(
    framing: Framing, sizes: Sequence[int], intervals: Sequence[int], epoch_ms: int
) -> tuple[dict[int, list[int]], dict[int, Burst], _Followed]:
    """Upper bounds: within any time between epochs each message falls due as often as it can, by itself.

    Sent apart, messages take at least as long as sent together. Where all that takes no longer than the
    time between epochs, no more than that ever waits.
    """
    apart = [burst_of(framing, size) for size in sizes]
    times = [-(-epoch_ms // every) for every in intervals]
    channel_s = sum(one.channel_s * count for one, count in zip(apart, times, strict=True))
    whole = Burst(
        bytes=sum(size * count for size, count in zip(sizes, times, strict=True)),
        packets=sum(one.packets * count for one, count in zip(apart, times, strict=True)),
        keyed_s=sum(one.keyed_s * count for one, count in zip(apart, times, strict=True)),
        channel_s=channel_s,
        last_bit_s=channel_s,
    )
    latencies = (channel_s,) if channel_s <= epoch_ms / 1000.0 + ROUNDING_S else None
    problem = "" if latencies else "not shown to fit: the pattern of intervals is too long to follow"
    keyed_per_s = sum(one.keyed_s / every * 1000.0 for one, every in zip(apart, intervals, strict=True))
    channel_per_s = sum(one.channel_s / every * 1000.0 for one, every in zip(apart, intervals, strict=True))
    followed = _Followed(keyed_per_s, channel_per_s, latencies, problem, bounded=True)
    return {0: list(range(len(sizes)))}, {0: whole}, followed


def _result(
    messages: Sequence[Message],
    frames: Sequence[tuple[int, ...]],
    framing: Framing,
    epoch_ms: int,
    pattern_ms: int,
    due: Mapping[int, list[int]],
    bursts: Mapping[int, Burst],
    followed: _Followed,
) -> AirTime:
    loads = _loads(messages, frames)
    bytes_per_s = sum(load.bytes_per_s for load in loads)
    epoch_s = epoch_ms / 1000.0
    available = 1.0 / framing.slots
    load = followed.channel_per_s / available
    worst_ms = max(bursts, key=lambda time: (bursts[time].channel_s, bursts[time].bytes, -time))
    latencies = followed.latencies_s
    worst_latency_s = max(latencies) if latencies else None
    fits = worst_latency_s is not None and worst_latency_s <= epoch_s + ROUNDING_S
    return AirTime(
        messages=loads,
        epoch_s=epoch_s,
        pattern_s=pattern_ms / 1000.0,
        bounded=followed.bounded,
        bytes_per_s=bytes_per_s,
        air_time_per_s=followed.channel_per_s,
        mean_epoch_bytes=bytes_per_s * epoch_s,
        mean_epoch_air_s=followed.channel_per_s * epoch_s,
        worst=Epoch(
            worst_ms / 1000.0, tuple(messages[index].number for index in due[worst_ms]), bursts[worst_ms]
        ),
        available_share=available,
        load=load,
        # an overloaded channel is keyed all of its time
        duty_cycle=followed.keyed_per_s / max(load, 1.0),
        mean_latency_s=sum(latencies) / len(latencies) if latencies else None,
        worst_latency_s=worst_latency_s,
        spare_s=None if worst_latency_s is None else epoch_s - worst_latency_s,
        fill=max(load, 1.0) if worst_latency_s is None else worst_latency_s / epoch_s,
        fits=fits,
        problem=followed.problem,
    )


def _loads(messages: Sequence[Message], frames: Sequence[tuple[int, ...]]) -> tuple[MessageLoad, ...]:
    rates = [sum(each) / message.interval_s for message, each in zip(messages, frames, strict=True)]
    return tuple(
        MessageLoad(
            number=message.number,
            name=message_name(message.number),
            interval_s=message.interval_s,
            offset_s=message.offset_s,
            satellites=message.satellites,
            signals=message.signals,
            frames=len(each),
            bytes=sum(each),
            bytes_per_s=rate,
            share=rate / sum(rates),
            texts_assumed=texts_assumed(message),
        )
        for message, each, rate in zip(messages, frames, rates, strict=True)
    )
