"""How well land mobile data radios tell channels apart, and how far they bear strong signals.

SOURCE was not read for this project: its limits are quoted from memory, as are those of 47 CFR 90.209.
They are the least that a type-tested radio reaches; a data sheet's own figures go before them, in
[interference] of the job file. What neither document gives is common practice and marked so.
"""

from __future__ import annotations

from dataclasses import dataclass

SOURCE = "ETSI EN 300 113, from memory"
BANDWIDTH_SOURCE = "47 CFR 90.209, from memory"
PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class SpacingLimits:
    """Limits of a radio for one channel spacing, dB."""

    co_channel_protection_db: float
    """Wanted over unwanted on the same channel: the far end of the co-channel rejection range."""
    adjacent_power_db: float
    """Transmitter: power in the adjacent channel below the carrier."""
    adjacent_selectivity_db: float
    """Receiver: unwanted in the adjacent channel over wanted that it bears."""


NARROW = SpacingLimits(12.0, 60.0, 60.0)
"""Channels narrower than `WIDE_FROM_KHZ` [SOURCE: 12.5 kHz, co-channel -12 to 0 dB, both others 60 dB]."""

WIDE = SpacingLimits(8.0, 70.0, 70.0)
"""Channels of `WIDE_FROM_KHZ` and more [SOURCE: 20 and 25 kHz, co-channel -8 to 0 dB, both others 70 dB]."""

WIDE_FROM_KHZ = 20.0

SPURIOUS_REJECTION_DB = 70.0
"""Receiver: unwanted over wanted that it bears beyond the adjacent channel [SOURCE]."""

BLOCKING_DB = 84.0
"""The same from `BLOCKING_FROM_KHZ` away [SOURCE]."""

BLOCKING_FROM_KHZ = 1000.0

FAR_POWER_BELOW_ADJACENT_DB = 10.0
"""Transmitter: beyond the adjacent channel its power falls by this much more [PRACTICE]."""

INTERMODULATION_REJECTION_DB = 65.0
"""Receiver: two equal unwanted signals over wanted whose product it just bears [SOURCE]."""

TRANSMITTER_INTERMODULATION_DB = 40.0
"""Transmitter: its third-order product below the carrier, when the other signal enters its output
`TRANSMITTER_INTERMODULATION_AT_DB` below the carrier [SOURCE]."""

TRANSMITTER_INTERMODULATION_AT_DB = 30.0

OVERLOAD_DBM = -10.0
"""Level at a receiver's input from which it may be deaf to everything [PRACTICE: rovers some 6 m from a
base are known to be]."""

TOGETHER_M = 300.0
"""Transmitters within this distance stand together: their third-order products are looked at
[PRACTICE: farther apart, some 75 dB lie between two antennas at UHF]."""

OTHER_ERP_W = 100.0
"""Radiated power of a foreign transmitter whose power nobody states [PRACTICE: a dispatcher's base]."""

OTHER_ANTENNA_HEIGHT_M = 30.0
"""Antenna height of a foreign transmitter where nobody states it [PRACTICE]."""

OCCUPIED_BANDWIDTH_KHZ = {6.25: 6.0, 12.5: 11.25, 25.0: 20.0}
"""Authorised bandwidth by channel spacing, taken as what an emission fills [BANDWIDTH_SOURCE]."""

OCCUPIED_SHARE = 0.9
"""The same for any other spacing, as a share of it [PRACTICE]."""


def limits_for(spacing_khz: float) -> SpacingLimits:
    """The limits for a channel spacing, kHz."""
    return WIDE if spacing_khz >= WIDE_FROM_KHZ else NARROW


def occupied_bandwidth_khz(spacing_khz: float) -> float:
    """Bandwidth that an emission in channels of this spacing is taken to fill, kHz."""
    return OCCUPIED_BANDWIDTH_KHZ.get(spacing_khz, OCCUPIED_SHARE * spacing_khz)
