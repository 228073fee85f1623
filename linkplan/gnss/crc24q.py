"""The check at the end of every RTCM 3 frame, CRC-24Q, for many frames at once.

A frame is whole when its bytes, read as one polynomial over GF(2), are divisible by the generator. Each
byte adds its own remainder, so the remainders of all bytes are looked up in one pass and joined by XOR.
The generator has a constant term, so x can be divided by: multiplied by a power of x a remainder stays
zero or stays not zero. That lets a byte's place be counted from the frame's start, before its length is
known.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

GENERATOR = 0x1864CFB
"""CRC-24Q [RTCM 10403.3, section 4, as implemented by the package pyrtcm]."""

LONGEST_FRAME = 3 + 1023 + 3
"""Preamble, reserved bits and length; the largest payload; the check."""


@cache
def _remainders() -> NDArray[np.uint32]:
    """(LONGEST_FRAME * 256,): what a byte adds, by its place from the frame's start and its value."""
    power, powers = 1, []
    for _ in range(LONGEST_FRAME):
        powers.append(power)
        for _ in range(8):
            power = (power ^ GENERATOR) >> 1 if power & 1 else power >> 1
    column = np.array(powers, dtype=np.uint32)
    table = np.zeros((LONGEST_FRAME, 256), dtype=np.uint32)
    for bit in range(8):
        table[:, 1 << bit : 2 << bit] = table[:, : 1 << bit] ^ column[:, np.newaxis]
        column = column << np.uint32(1)
        column = np.where(column >> np.uint32(24), column ^ np.uint32(GENERATOR), column)
    return table.ravel()


def whole(data: NDArray[np.uint8], bounds: list[int]) -> list[bool]:
    """Whether each frame of `data` passes its check.

    `bounds` holds start and end of each frame, in order, without overlap: [start, end, start, end, ...];
    a frame is its header, payload and check, 6 to LONGEST_FRAME bytes.
    """
    edges = np.array(bounds, dtype=np.int32)
    starts = edges[:-1] - edges[0]
    places = np.arange(edges[-1] - edges[0], dtype=np.int32)
    places -= np.repeat(starts, np.diff(edges))
    # between frames there may be anything; it is looked up too, within the table, and not used
    np.minimum(places, LONGEST_FRAME - 1, out=places)
    places <<= 8
    places |= data[edges[0] : edges[-1]]
    joined = np.bitwise_xor.reduceat(_remainders().take(places), starts)
    passed: list[bool] = (joined[::2] == 0).tolist()
    return passed
