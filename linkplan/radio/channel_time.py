"""How long the radio is on the air for so many bytes, and when it gets its turn."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linkplan.errors import RangeError
from linkplan.radio.stream import Framing
from linkplan.ranges import require_range

MOST_REPEATERS = 10
MOST_SLOTS = 100
_ROUNDING_S = 1e-9


@dataclass(frozen=True)
class Burst:
    """What is sent together, on a channel that is free."""

    bytes: int
    packets: int
    keyed_s: float
    """The base's own transmitter on, key-up included."""
    channel_s: float
    """Until the channel is free again: repeaters and gaps included."""
    last_bit_s: float
    """From keying to the last bit, of the last repeater where there are any."""


@dataclass(frozen=True)
class Sending:
    """A burst sent from a stated time on, seconds on the same clock."""

    last_bit_s: float
    free_s: float
    """When the next can begin."""
    turns: int
    """Turns used; each begins with a key-up."""


def check_framing(framing: Framing) -> None:
    """Raise RangeError for a framing that no radio has."""
    require_range("rate_bps", framing.rate_bps, 50.0, 10e6, unit="bit/s")
    require_range("key_up_ms", framing.key_up_ms, 0.0, 10_000.0, unit="ms")
    require_range("preamble_bits", framing.preamble_bits, 0.0, 100_000.0)
    require_range("header_bits", framing.header_bits, 0.0, 100_000.0)
    require_range("packet_bytes", framing.packet_bytes, 1, 100_000)
    require_range("code_rate", framing.code_rate, 0.1, 1.0)
    require_range("gap_ms", framing.gap_ms, 0.0, 10_000.0, unit="ms")
    require_range("repeaters", framing.repeaters, 0, MOST_REPEATERS)
    require_range("slots", framing.slots, 1, MOST_SLOTS)
    require_range("slot", framing.slot, 1, framing.slots)
    if framing.slots > 1:
        require_range("slot_s", framing.slot_s, 0.001, 3600.0, unit="s")


def packet_s(framing: Framing, data_bytes: int) -> float:
    """Seconds of one packet's bits: the preamble as it is, header and data coded."""
    coded_bits = (framing.header_bits + 8.0 * data_bytes) / framing.code_rate
    return (framing.preamble_bits + coded_bits) / framing.rate_bps


def burst_of(framing: Framing, data_bytes: int) -> Burst:
    """So many bytes sent in one run.

    Packets are full but for the last, which is as short as its data. Without a gap the transmitter is
    keyed once, with one before each packet. Each repeater sends the same again after the one before.
    """
    if data_bytes < 1:
        raise RangeError(f"bytes of a burst = {data_bytes}: at least 1")
    packets = math.ceil(data_bytes / framing.packet_bytes)
    last = data_bytes - (packets - 1) * framing.packet_bytes
    bits_s = (packets - 1) * packet_s(framing, framing.packet_bytes) + packet_s(framing, last)
    key_ups = packets if framing.gap_ms > 0.0 else 1
    keyed_s = key_ups * framing.key_up_ms / 1000.0 + bits_s
    gap_s = framing.gap_ms / 1000.0
    channel_s = (1 + framing.repeaters) * (keyed_s + packets * gap_s)
    return Burst(data_bytes, packets, keyed_s, channel_s, channel_s - gap_s)


def send(framing: Framing, burst: Burst, from_s: float) -> Sending | None:
    """Send a burst as soon as the channel is this station's, not before `from_s`.

    With turns, as many packets (each with its repetitions) as fit go into one; the rest waits for the
    next. None when a packet does not fit into a whole turn.
    """
    if framing.slots == 1:
        return Sending(from_s + burst.last_bit_s, from_s + burst.channel_s, 1)
    times = 1 + framing.repeaters
    gap_s = framing.gap_ms / 1000.0
    key_up_s = times * framing.key_up_ms / 1000.0
    each_s = gap_s * times + (key_up_s if gap_s > 0.0 else 0.0)
    once_s = 0.0 if gap_s > 0.0 else key_up_s
    full_s = times * packet_s(framing, framing.packet_bytes) + each_s
    last_bytes = burst.bytes - (burst.packets - 1) * framing.packet_bytes
    last_s = times * packet_s(framing, last_bytes) + each_s
    left, now_s, turns = burst.packets, from_s, 0
    while True:
        begin_s, end_s = _own_turn(framing, now_s)
        at_s, before = begin_s + once_s, left
        while left and at_s + (full_s if left > 1 else last_s) - gap_s <= end_s + _ROUNDING_S:
            at_s += full_s if left > 1 else last_s
            left -= 1
        turns += left < before
        if not left:
            return Sending(at_s - gap_s, at_s, turns)
        if left == before and end_s - begin_s >= framing.slot_s - _ROUNDING_S:
            return None
        now_s = end_s


def _own_turn(framing: Framing, now_s: float) -> tuple[float, float]:
    """What is left of this station's turn, or its next one."""
    cycle_s = framing.slots * framing.slot_s
    into_s = (now_s - (framing.slot - 1) * framing.slot_s) % cycle_s
    if into_s >= cycle_s - _ROUNDING_S:  # a rounding before its own turn
        into_s = 0.0
    if into_s < framing.slot_s - _ROUNDING_S:
        return now_s, now_s - into_s + framing.slot_s
    begin_s = now_s - into_s + cycle_s
    return begin_s, begin_s + framing.slot_s
