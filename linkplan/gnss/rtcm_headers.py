"""What the first bits of an RTCM 3 payload say: message number, station ID, epoch, satellites, signals.

Bit positions as in RTCM 10403.3, as implemented by the package pyrtcm, against which tests hold them. Only
the bits that are asked for are read, so that gigabytes are counted in reasonable time.
"""

from __future__ import annotations

from dataclasses import dataclass

WEEK_MS = 7 * 86_400_000
DAY_MS = 86_400_000
BEIDOU_BEHIND_GPS_MS = 14_000
"""BeiDou time is behind GPS time by a constant [common practice; from memory]."""
GPS_AHEAD_OF_UTC_MS = 18_000
"""Since 2017-01-01 [the package pyrtcm says so]; used only to set GLONASS beside the other systems."""
GLONASS_AHEAD_OF_UTC_MS = 3 * 3_600_000
UNKNOWN_DAY = 7
"""DF416: the day of the GLONASS week is not known."""

SYSTEMS = ("GPS", "GLONASS", "Galileo", "SBAS", "QZSS", "BeiDou", "NavIC")
"""In the order of their MSM numbers, ten a system from 1071."""
LEGACY_GPS = range(1001, 1005)
LEGACY_GLONASS = range(1009, 1013)
WITH_STATION_ID = frozenset({*range(1001, 1014), 1029, *range(1032, 1036), 1230, *range(1071, 1138)})
"""Messages whose second field is the reference station ID (DF003)."""

_MSM_HEADER_BYTES = 22  # 169 bits
_READ_BYTES = 30  # the header and the largest cell mask: 169 + 64 bits
_MOST_CELLS = 64


@dataclass(frozen=True, slots=True)
class MsmHeader:
    """Which satellites and signals one MSM holds."""

    satellites: int
    """How many."""
    signals: int
    """How many different ones."""
    cells: int
    """Observations: pairs of satellite and signal that are there."""
    signal_mask: int
    """DF395, 32 bits."""
    used_columns: int
    """Which of the mask's signals at least one satellite has, a bit each, the first signal highest."""


def message_number(payload: bytes) -> int | None:
    """DF002, or None where the payload is too short to hold it."""
    return payload[0] << 4 | payload[1] >> 4 if len(payload) >= 2 else None


def station_id(number: int, payload: bytes) -> int | None:
    """DF003, 0 to 4095, or None where the message has none."""
    if number not in WITH_STATION_ID or len(payload) < 3:
        return None
    return (payload[1] & 0x0F) << 8 | payload[2]


def msm_system(number: int) -> str | None:
    """The satellite system of an MSM, or None where the message is no MSM."""
    return SYSTEMS[(number - 1070) // 10] if 1071 <= number <= 1137 and 1 <= number % 10 <= 7 else None


def system_of(number: int) -> str | None:
    """The satellite system whose observations the message carries, or None."""
    if number in LEGACY_GPS:
        return "GPS"
    return "GLONASS" if number in LEGACY_GLONASS else msm_system(number)


@dataclass(frozen=True, slots=True)
class Epoch:
    """When the observations of a message were made, on the scale of GPS time."""

    time_ms: int
    cycle_ms: int
    """After which the count starts again: a week, or a day where the day is not known."""
    glonass: bool
    """Counted from UTC, so the step to GPS time rests on the leap seconds of this edition."""


def epoch(number: int, payload: bytes) -> Epoch | None:
    """The epoch of an observation message; None where it has none, or one that cannot be."""
    system = system_of(number)
    if system is None or len(payload) < 7:
        return None
    bits = int.from_bytes(payload[3:7], "big")
    if system == "GLONASS":
        return _glonass_epoch(number, bits)
    time_ms = bits >> 2
    if time_ms >= WEEK_MS:
        return None
    if system == "BeiDou":
        time_ms += BEIDOU_BEHIND_GPS_MS
    return Epoch(time_ms % WEEK_MS, WEEK_MS, False)


def _glonass_epoch(number: int, bits: int) -> Epoch | None:
    if number in LEGACY_GLONASS:
        day, time_ms = UNKNOWN_DAY, bits >> 5
    else:
        day, time_ms = bits >> 29, bits >> 2 & 0x7FF_FFFF
    if time_ms >= DAY_MS + 1000:  # a leap second may be counted
        return None
    time_ms += GPS_AHEAD_OF_UTC_MS - GLONASS_AHEAD_OF_UTC_MS
    if day == UNKNOWN_DAY:
        return Epoch(time_ms % DAY_MS, DAY_MS, True)
    return Epoch((time_ms + day * DAY_MS) % WEEK_MS, WEEK_MS, True)


def msm_header(payload: bytes) -> MsmHeader | None:
    """Satellites and signals of an MSM; None where the payload is too short or has more than 64 cells."""
    if len(payload) < _MSM_HEADER_BYTES:
        return None
    bits = int.from_bytes(payload[:_READ_BYTES].ljust(_READ_BYTES, b"\0"), "big")
    end = 8 * _READ_BYTES
    satellites = (bits >> (end - 137) & 0xFFFF_FFFF_FFFF_FFFF).bit_count()
    signal_mask = bits >> (end - 169) & 0xFFFF_FFFF
    signals = signal_mask.bit_count()
    size = satellites * signals
    if size > _MOST_CELLS or 8 * len(payload) < 169 + size:
        return None
    cells = bits >> (end - 169 - size) & ((1 << size) - 1)
    used, rest, row = 0, cells, (1 << signals) - 1
    while rest:
        used |= rest & row
        rest >>= signals
    return MsmHeader(satellites, signals, cells.bit_count(), signal_mask, used)


def older_satellites(number: int, payload: bytes) -> int | None:
    """Satellites (DF006, DF035) of a 1001 to 1004 or 1009 to 1012; None where the payload is too short."""
    if len(payload) < 8:
        return None
    bits = int.from_bytes(payload[:8], "big")
    return bits >> (64 - 60 if number in LEGACY_GPS else 64 - 57) & 0x1F


def older_signals(number: int) -> tuple[str, ...]:
    """Frequencies of a 1001 to 1004 or 1009 to 1012."""
    return ("L1",) if number in (1001, 1002, 1009, 1010) else ("L1", "L2")


def signal_positions(signal_mask: int, used_columns: int) -> list[int]:
    """Positions (1 to 32) in the signal mask of those that are used."""
    positions = [place for place in range(1, 33) if signal_mask >> (32 - place) & 1]
    return [
        place for column, place in enumerate(positions) if used_columns >> (len(positions) - 1 - column) & 1
    ]


def signal_names(number: int, positions: list[int]) -> list[str]:
    """Signals as RINEX writes them ("1C", "2W"), by their positions in the mask of MSM `number`."""
    from pyrtcm.rtcmtables import PRNSIGMAP

    _, names = PRNSIGMAP.get(str(number)[:3], ({}, {}))
    return [names[place][1] if place in names else f"signal {place}" for place in positions]
