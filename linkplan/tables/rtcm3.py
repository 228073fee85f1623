"""Sizes in bits of RTCM 3 messages, and what each number means.

Source: RTCM 10403.3, whose text was not read; the layouts are those that the package pyrtcm 1.2.1
implements, and tests compare every number here with it [RTCM 10403.3].
"""

from __future__ import annotations

from dataclasses import dataclass

FRAME_OVERHEAD_BYTES = 6
"""Preamble, reserved bits and length (3 bytes) before the payload, CRC-24Q (3 bytes) after it."""

LONGEST_PAYLOAD_BYTES = 1023
"""The length field has 10 bits."""

HIGHEST_NUMBER = 4095
"""DF002 has 12 bits."""

HIGHEST_STATION_ID = 4095
"""DF003 has 12 bits."""

LONGEST_TEXT = 31
"""Characters of a descriptor or serial number (DF030, DF033, DF228, DF230, DF232), a byte each."""

BIAS_BITS = 16
"""One code-phase bias of a 1230 (DF423 to DF426)."""
MOST_BIASES = 4

ANNOUNCEMENT_BITS = 29
"""One message announced in a 1013 (DF055 to DF057)."""
MOST_ANNOUNCEMENTS = 31
"""DF053 has 5 bits."""


@dataclass(frozen=True)
class Layout:
    """Size of a message that is no MSM."""

    name: str
    fixed_bits: int
    """Everything that comes once; the counters of texts and lists are in it."""
    constellation: str = ""
    satellite_bits: int = 0
    """Of each satellite in the message."""
    most_satellites: int = 0
    texts: int = 0
    """Texts in it, 8 bits a character."""
    ephemeris: bool = False
    """A message for each satellite."""


_STATION = "reference point"
_ANTENNA = "antenna"

LAYOUTS = {
    1001: Layout("L1 observations", 64, "GPS", 58, 31),
    1002: Layout("L1 observations, extended", 64, "GPS", 74, 31),
    1003: Layout("L1 and L2 observations", 64, "GPS", 101, 31),
    1004: Layout("L1 and L2 observations, extended", 64, "GPS", 125, 31),
    1005: Layout(_STATION, 152),
    1006: Layout(f"{_STATION} and antenna height", 168),
    1007: Layout(_ANTENNA, 40, texts=1),
    1008: Layout(f"{_ANTENNA} and serial number", 48, texts=2),
    1009: Layout("L1 observations", 61, "GLONASS", 64, 31),
    1010: Layout("L1 observations, extended", 61, "GLONASS", 79, 31),
    1011: Layout("L1 and L2 observations", 61, "GLONASS", 107, 31),
    1012: Layout("L1 and L2 observations, extended", 61, "GLONASS", 130, 31),
    1013: Layout("system parameters", 70),
    1019: Layout("ephemeris", 488, "GPS", ephemeris=True),
    1020: Layout("ephemeris", 360, "GLONASS", ephemeris=True),
    1032: Layout("physical reference station", 156),
    1033: Layout("antenna and receiver", 72, texts=5),
    1041: Layout("ephemeris", 482, "NavIC", ephemeris=True),
    1042: Layout("ephemeris", 511, "BeiDou", ephemeris=True),
    1044: Layout("ephemeris", 485, "QZSS", ephemeris=True),
    1045: Layout("ephemeris F/NAV", 496, "Galileo", ephemeris=True),
    1046: Layout("ephemeris I/NAV", 504, "Galileo", ephemeris=True),
    1230: Layout("code-phase biases", 32, "GLONASS"),
}
"""Messages by number, MSM apart."""

SYSTEM_PARAMETERS = 1013
CODE_PHASE_BIASES = 1230

MSM_CONSTELLATIONS = {
    107: "GPS",
    108: "GLONASS",
    109: "Galileo",
    110: "SBAS",
    111: "QZSS",
    112: "BeiDou",
    113: "NavIC",
}
"""First three figures of an MSM's number; the fourth, 1 to 7, is its kind."""

MSM_HEADER_BITS = 169
"""With the satellite mask of 64 bits and the signal mask of 32 bits, without the cell mask."""

MSM_SATELLITE_BITS = {4: 18, 5: 36, 6: 18, 7: 36}
"""Of each satellite, by kind of MSM. Kinds 1 to 3, rare on a radio, are left out: the library that the others
are held to does not read all of them."""

MSM_CELL_BITS = {4: 48, 5: 63, 6: 65, 7: 80}
"""Of each cell (a signal of a satellite), by kind of MSM."""

MSM_MOST_CELLS = 64
"""The cell mask, satellites times signals, holds no more (DF396)."""
MSM_MOST_SATELLITES = 64
MSM_MOST_SIGNALS = 32
