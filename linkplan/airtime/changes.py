"""Changes to a correction stream that save air time, in the order of what they cost the rover."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from linkplan.radio.frame_sizes import constellation, is_observation, message_frames, msm_kind
from linkplan.radio.stream import CorrectionStream, Message

SLOW_INTERVALS_S = (30.0, 60.0)
EPOCHS_S = (2.0, 5.0)
FEWEST_SIGNALS = 2
"""Two frequencies a satellite: with one, fixing over more than a few kilometres is slow and unsure [common
practice]."""

DROP_ORDER = ("SBAS", "NavIC", "QZSS", "GLONASS", "BeiDou", "Galileo", "GPS")
"""Which constellation goes first: those that add least to RTK [common practice]."""

LONGEST_SPREAD = 5000
"""Epochs over which slow messages are spread; a longer pattern is left as it is."""


@dataclass(frozen=True)
class Change:
    """One change: what is done, and what it costs."""

    family: str
    """Changes of one family exclude each other."""
    rank: int
    """Place of the family: 0 costs the rover least."""
    severity: int
    """Place within the family, from 0."""
    what: str
    cost: str
    """What the rover, or the crew, gives up for it."""
    apply: Callable[[CorrectionStream], CorrectionStream]


def changes_for(
    stream: CorrectionStream,
    channel_spacing_khz: float,
    licensed_spacing_khz: tuple[float, ...] | None = None,
) -> tuple[Change, ...]:
    """The changes that can be made to this stream, cheapest for the rover first.

    `licensed_spacing_khz`: channel spacings that the licence allows, or None where it is not known.
    """
    offered = [
        *_slower(stream),
        *_spread(stream),
        *_shorter_msm(stream),
        *_fewer_signals(stream),
        *_fewer_constellations(stream),
        *_longer_epoch(stream),
        *_faster(stream, channel_spacing_khz, licensed_spacing_khz),
    ]
    return tuple(sorted(offered, key=lambda change: (change.rank, change.severity)))


def epoch_s(messages: tuple[Message, ...]) -> float:
    """Time between epochs of observations (of anything, where there are none)."""
    observed = [message.interval_s for message in messages if is_observation(message.number)]
    return min(observed or [message.interval_s for message in messages])


def slow_messages(messages: tuple[Message, ...]) -> tuple[Message, ...]:
    """Messages other than observations."""
    return tuple(message for message in messages if not is_observation(message.number))


def spread(stream: CorrectionStream) -> CorrectionStream:
    """Each slow message gets an epoch of its own as far as there are any, the largest first.

    The epoch chosen is the one at which the fullest of its moments is emptiest. Where the intervals are no
    multiples of the time between epochs, or their pattern is very long, the stream comes back as it is.
    """
    step_ms = round(1000.0 * epoch_s(stream.messages))
    every = [round(1000.0 * message.interval_s) for message in stream.messages]
    count = math.lcm(*every) // step_ms
    if any(one % step_ms for one in every) or count > LONGEST_SPREAD:
        return stream
    sizes = [sum(message_frames(message)) for message in stream.messages]
    filled = [0] * count
    order = sorted(
        range(len(sizes)), key=lambda one: (not is_observation(stream.messages[one].number), -sizes[one], one)
    )
    spread_out = list(stream.messages)
    for index in order:
        steps = every[index] // step_ms
        message = stream.messages[index]
        place = round(1000.0 * message.offset_s) // step_ms % steps
        if not is_observation(message.number):
            fullest = [max(filled[start::steps]) for start in range(steps)]
            place = min(range(steps), key=lambda start: (fullest[start], start))
            spread_out[index] = replace(message, offset_s=place * step_ms / 1000.0)
        for at in range(place, count, steps):
            filled[at] += sizes[index]
    return replace(stream, messages=tuple(spread_out))


def _spread(stream: CorrectionStream) -> list[Change]:
    if not slow_messages(stream.messages):
        return []
    return [Change("spread", 0, 0, "spread the slow messages over different epochs", "nothing", spread)]


def _slower(stream: CorrectionStream) -> list[Change]:
    found = []
    for severity, wanted_s in enumerate(SLOW_INTERVALS_S):
        if any(message.interval_s < wanted_s for message in slow_messages(stream.messages)):
            what = f"send the slow messages every {wanted_s:g} s"
            cost = f"a rover that is switched on waits up to {wanted_s:g} s for base point and antenna"
            found.append(Change("slow", 1, severity, what, cost, _each(partial(_slow_every, wanted_s))))
    return found


def _slow_every(wanted_s: float, message: Message) -> Message:
    if is_observation(message.number) or message.interval_s >= wanted_s:
        return message
    return replace(message, interval_s=wanted_s)


def _shorter_msm(stream: CorrectionStream) -> list[Change]:
    kinds = {msm_kind(message.number) or 0 for message in stream.messages if message.payload_bytes is None}
    found = []
    for rank, wanted, above, cost in (
        (2, 5, (7,), "ranges in coarser steps, of no weight for RTK"),
        (3, 4, (5, 6, 7), "no Doppler, ranges in coarser steps; RTK works as before"),
    ):
        if kinds.intersection(above):
            names = " and ".join(f"MSM{kind}" for kind in above if kind in kinds)
            what = f"MSM{wanted} in place of {names}"
            found.append(Change("msm", rank, 0, what, cost, _each(partial(_as_msm, wanted, above))))
    return found


def _as_msm(wanted: int, above: tuple[int, ...], message: Message) -> Message:
    if msm_kind(message.number) not in above or message.payload_bytes is not None:
        return message
    return replace(message, number=message.number // 10 * 10 + wanted)


def _fewer_signals(stream: CorrectionStream) -> list[Change]:
    most = max((message.signals for message in stream.messages), default=0)
    cost = "rovers that use the other signals fix more slowly"
    return [
        Change(
            "signals", 4, most - 1 - wanted, f"{wanted} signals a satellite", cost,
            _each(partial(_at_most_signals, wanted)),
        )
        for wanted in range(most - 1, FEWEST_SIGNALS - 1, -1)
    ]  # fmt: skip


def _at_most_signals(wanted: int, message: Message) -> Message:
    return replace(message, signals=min(message.signals, wanted))


def _fewer_constellations(stream: CorrectionStream) -> list[Change]:
    there = {constellation(message.number) for message in stream.messages if is_observation(message.number)}
    order = [name for name in DROP_ORDER if name in there]
    cost = "fewer satellites: weaker beside walls and trees"
    found = []
    for count in range(1, len(order)):
        what = f"leave out {' and '.join(order[:count])}"
        found.append(Change("constellations", 5, count - 1, what, cost, partial(_without, order[:count])))
    return found


def _without(dropped: Sequence[str], stream: CorrectionStream) -> CorrectionStream:
    return replace(
        stream, messages=tuple(one for one in stream.messages if constellation(one.number) not in dropped)
    )


def _longer_epoch(stream: CorrectionStream) -> list[Change]:
    now_s = epoch_s(stream.messages)
    found = []
    for severity, wanted_s in enumerate(EPOCHS_S):
        if wanted_s > now_s:
            cost = f"corrections up to {wanted_s:g} s older; moving machines feel it"
            change = _each(partial(_observe_every, wanted_s))
            found.append(Change("epoch", 6, severity, f"an epoch every {wanted_s:g} s", cost, change))
    return found


def _observe_every(wanted_s: float, message: Message) -> Message:
    if not is_observation(message.number) or message.interval_s >= wanted_s:
        return message
    return replace(message, interval_s=wanted_s, offset_s=0.0)


def _faster(
    stream: CorrectionStream, spacing_khz: float, licensed_khz: tuple[float, ...] | None
) -> list[Change]:
    framing = stream.framing
    if framing is None:
        return []
    if licensed_khz is None:
        how = "a faster mode, or a wider channel if the licence allows one"
    elif max(licensed_khz, default=0.0) > spacing_khz:
        how = f"a faster mode, or a wider channel: the licence allows {max(licensed_khz):g} kHz"
    else:
        how = "a faster mode: the licence allows no wider channel"
    cost = "more signal needed, so less reach; every rover must be set anew"
    return [
        Change(
            "rate", 7, severity, f"{framing.rate_bps * factor:g} bit/s over the air ({how})", cost,
            partial(_at_rate, framing.rate_bps * factor),
        )
        for severity, factor in enumerate((2, 4))
    ]  # fmt: skip


def _at_rate(rate_bps: float, stream: CorrectionStream) -> CorrectionStream:
    if stream.framing is None:
        return stream
    return replace(stream, framing=replace(stream.framing, rate_bps=rate_bps))


def _each(change: Callable[[Message], Message]) -> Callable[[CorrectionStream], CorrectionStream]:
    """Every message changed; offsets stay within their intervals."""

    def apply(stream: CorrectionStream) -> CorrectionStream:
        changed = (change(message) for message in stream.messages)
        kept = tuple(replace(one, offset_s=one.offset_s % one.interval_s) for one in changed)
        return replace(stream, messages=kept)

    return apply
