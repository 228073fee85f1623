"""The correction stream as a job plans it: which messages, how often, and how the radio frames them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Message:
    """One RTCM 3 message of the stream."""

    number: int
    """Message number (DF002), 1 to 4095."""
    interval_s: float
    offset_s: float = 0.0
    """When in its interval it is sent; messages of one offset fall together."""
    satellites: int = 0
    """Satellites in it (observations, MSM), or satellites of an ephemeris, one frame each; 0 where it has
    none."""
    signals: int = 0
    """Signals a satellite (MSM); 0 where it has none."""
    texts: tuple[str, ...] = ()
    """Texts in it (antenna and receiver descriptors, serial numbers), in the message's order; where there
    are none though the layout has some, the longest are assumed."""
    biases: int = 0
    """Code-phase biases in a 1230."""
    announcements: int = 0
    """Messages announced in a 1013."""
    payload_bytes: int | None = None
    """Size of the payload where the layout is not known to linkplan; None: from the layout."""


@dataclass(frozen=True)
class Framing:
    """What the radio puts around the data on the air: stated numbers, generic unless the user gives them."""

    name: str
    """Name of the generic preset, or "stated" when every number comes from the job file."""
    rate_bps: float
    """Over-the-air rate."""
    key_up_ms: float
    """From keying the transmitter to the first bit."""
    preamble_bits: float
    """Before each packet, never coded."""
    header_bits: float
    """Of each packet, coded like its data: addresses, length, check sum."""
    packet_bytes: int
    """Largest payload of one packet."""
    code_rate: float
    """Share of the coded bits that are data, above 0 to 1: 1 without forward error correction."""
    gap_ms: float
    """Silence after a packet. Where there is one, the transmitter is keyed anew for each packet; without,
    once for all that is sent together."""
    repeaters: int = 0
    """Each sends everything again."""
    slots: int = 1
    """Stations that take turns on the channel, this one included."""
    slot_s: float = 1.0
    """Length of a turn."""
    slot: int = 1
    """Which turn is this station's, from 1; the first begins with the epoch of second 0."""


@dataclass(frozen=True)
class Supply:
    """What feeds the base's radio."""

    capacity_ah: float
    transmit_a: float
    receive_a: float
    """Current while not transmitting."""
    other_a: float = 0.0
    """Receiver and anything else on the same battery."""
    usable_share: float = 0.8
    """Share of the capacity that may be taken out."""


@dataclass(frozen=True)
class CorrectionStream:
    """Everything the base sends."""

    station_id: int | None
    """Reference station ID (DF003), 0 to 4095; None where the job does not state it."""
    messages: tuple[Message, ...]
    framing: Framing | None
    supply: Supply | None
