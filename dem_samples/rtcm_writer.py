"""RTCM 3 frames from numbers, for invented recordings and for tests; the package pyrtcm closes the frames.

Layouts as in RTCM 10403.3, as implemented by that package. Observations are filled with reproducible noise:
what counts here is which messages, satellites and signals are there.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

SATELLITE_BITS = {1: 10, 2: 10, 3: 10, 4: 18, 5: 36, 6: 18, 7: 36}
CELL_BITS = {1: 15, 2: 27, 3: 42, 4: 48, 5: 63, 6: 65, 7: 80}
_NOISE = random.Random(1)


class Bits:
    """Bits, the first one first."""

    def __init__(self) -> None:
        self._value = self._count = 0

    def put(self, value: int, count: int) -> Bits:
        """Append the lowest `count` bits of `value` (negative ones as two's complement)."""
        self._value = self._value << count | value & ((1 << count) - 1)
        self._count += count
        return self

    def noise(self, count: int) -> Bits:
        """Append bits that mean nothing."""
        return self.put(_NOISE.getrandbits(count), count) if count else self

    def payload(self) -> bytes:
        """The bits, filled up with zeros to whole bytes."""
        fill = -self._count % 8
        return (self._value << fill).to_bytes((self._count + fill) // 8, "big")


def restart_noise() -> None:
    """Make what follows the same each time."""
    _NOISE.seed(1)


def frame(payload: bytes) -> bytes:
    """Header, payload and CRC-24Q."""
    from pyrtcm.rtcmhelpers import crc2bytes, len2bytes

    head = b"\xd3" + bytes(len2bytes(payload)) + payload
    return head + bytes(crc2bytes(head))


def reference_point(
    number: int, station_id: int, xyz_m: Sequence[float], antenna_height_m: float = 0.0
) -> bytes:
    """Payload of a 1005 or 1006."""
    x, y, z = (round(value * 10_000) for value in xyz_m)
    bits = Bits().put(number, 12).put(station_id, 12).put(0, 6).put(0b1110, 4)
    bits.put(x, 38).put(0, 2).put(y, 38).put(0, 2).put(z, 38)
    if number == 1006:
        bits.put(round(antenna_height_m * 10_000), 16)
    return bits.payload()


def antenna(number: int, station_id: int, texts: Sequence[str], setup_id: int = 0) -> bytes:
    """Payload of a 1007 (one text), 1008 (two) or 1033 (five)."""
    bits = Bits().put(number, 12).put(station_id, 12)
    for place, text in enumerate(texts):
        data = text.encode("latin-1")
        bits.put(len(data), 8)
        for byte in data:
            bits.put(byte, 8)
        if place == 0:
            bits.put(setup_id, 8)
    return bits.payload()


def biases(station_id: int, count: int) -> bytes:
    """Payload of a 1230."""
    bits = Bits().put(1230, 12).put(station_id, 12).put(0, 4).put((0b1111 << (4 - count)) & 0b1111, 4)
    for _ in range(count):
        bits.put(0, 16)
    return bits.payload()


def msm(
    number: int, station_id: int, epoch: int, satellites: Sequence[int], signals: Sequence[int],
    cells: Sequence[bool] | None = None,
) -> bytes:  # fmt: skip
    """Payload of an MSM: `epoch` is its field of 30 bits; satellites and signals, places in the masks from 1.

    `cells` tells satellite by satellite which signals are there; without it all are.
    """
    kind = number % 10
    there = [True] * (len(satellites) * len(signals)) if cells is None else list(cells)
    bits = Bits().put(number, 12).put(station_id, 12).put(epoch, 30).put(0, 19)
    bits.put(sum(1 << (64 - place) for place in satellites), 64)
    bits.put(sum(1 << (32 - place) for place in signals), 32)
    for one in there:
        bits.put(int(one), 1)
    bits.noise(len(satellites) * SATELLITE_BITS[kind])
    return bits.noise(sum(there) * CELL_BITS[kind]).payload()


def gps_observations(number: int, station_id: int, time_ms: int, satellites: int) -> bytes:
    """Payload of a 1001 to 1004."""
    size = {1001: 58, 1002: 74, 1003: 101, 1004: 125}[number]
    bits = Bits().put(number, 12).put(station_id, 12).put(time_ms, 30).put(0, 1).put(satellites, 5).put(0, 4)
    return bits.noise(satellites * size).payload()


def glonass_observations(number: int, station_id: int, time_ms: int, satellites: int) -> bytes:
    """Payload of a 1009 to 1012."""
    size = {1009: 64, 1010: 79, 1011: 107, 1012: 130}[number]
    bits = Bits().put(number, 12).put(station_id, 12).put(time_ms, 27).put(0, 1).put(satellites, 5).put(0, 4)
    return bits.noise(satellites * size).payload()
