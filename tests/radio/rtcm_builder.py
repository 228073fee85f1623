"""Builds RTCM 3 payloads of a wanted shape, field by field, with nothing from linkplan."""

from __future__ import annotations

import random


class Bits:
    """Fields packed one after the other, most significant bit first."""

    def __init__(self) -> None:
        self.value = 0
        self.length = 0

    def put(self, value: int, width: int) -> Bits:
        assert 0 <= value < 1 << width
        self.value = self.value << width | value
        self.length += width
        return self

    def noise(self, width: int, seed: int) -> Bits:
        return self.put(random.Random(seed).getrandbits(width) if width else 0, width)

    def payload(self) -> bytes:
        """The fields, filled up with zeros to a whole byte."""
        spare = -self.length % 8
        return (self.value << spare).to_bytes((self.length + spare) // 8, "big")


def msm(number: int, satellites: int, signals: int, seed: int = 0, station: int = 12, more: int = 0) -> Bits:
    """An MSM with a full cell mask: masks true to their numbers, data fields of random bits."""
    chance = random.Random(seed)
    satellite_mask = sum(1 << bit for bit in chance.sample(range(64), satellites))
    signal_mask = sum(1 << bit for bit in chance.sample(range(32), signals))
    bits = Bits().put(number, 12).put(station, 12).noise(30, seed).put(more, 1).noise(18, seed)
    bits.put(satellite_mask, 64).put(signal_mask, 32)
    cells = satellites * signals
    bits.put((1 << cells) - 1, cells)
    kind = number % 10
    satellite_bits = {4: 18, 5: 36, 6: 18, 7: 36}[kind]
    cell_bits = {4: 48, 5: 63, 6: 65, 7: 80}[kind]
    return bits.noise(satellites * satellite_bits, seed).noise(cells * cell_bits, seed)


def legacy(number: int, satellites: int, seed: int = 0, station: int = 12) -> Bits:
    """1001 to 1004 and 1009 to 1012."""
    glonass = number >= 1009
    each = {1001: 58, 1002: 74, 1003: 101, 1004: 125, 1009: 64, 1010: 79, 1011: 107, 1012: 130}[number]
    bits = Bits().put(number, 12).put(station, 12).noise(27 if glonass else 30, seed).put(1, 1)
    return bits.put(satellites, 5).noise(4, seed).noise(satellites * each, seed)


def texts(number: int, words: list[bytes], station: int = 12) -> Bits:
    """1007, 1008 and 1033: each text after its length; the setup ID after the first."""
    bits = Bits().put(number, 12).put(station, 12)
    for place, word in enumerate(words):
        bits.put(len(word), 8)
        for byte in word:
            bits.put(byte, 8)
        if place == 0:
            bits.put(0, 8)
    return bits


def biases(count: int, station: int = 12) -> Bits:
    """1230 with so many biases."""
    bits = Bits().put(1230, 12).put(station, 12).put(1, 1).put(0, 3)
    for place in range(4):
        bits.put(1 if place < count else 0, 1)
    return bits.noise(16 * count, 5)


def system_parameters(count: int, station: int = 12) -> Bits:
    """1013 with so many announcements."""
    bits = Bits().put(1013, 12).put(station, 12).noise(33, 3).put(count, 5).noise(8, 3)
    return bits.noise(29 * count, 4)


def plain(number: int, width: int, seed: int = 0) -> Bits:
    """A message of fixed size."""
    return Bits().put(number, 12).noise(width - 12, seed)
