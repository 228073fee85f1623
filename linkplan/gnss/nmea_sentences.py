"""NMEA 0183 sentences out of any bytes: what passes its checksum comes out, all else is counted.

A sentence is "$" or "!", an address, fields behind commas, "*" and two hexadecimal digits: the XOR of all
characters between [NMEA 0183, as implemented by the package pynmeagps]. The standard allows 82 characters;
receivers exceed it in their own sentences, so up to 1024 are taken.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, fields

LONGEST_BODY = 1024
_REACH = LONGEST_BODY + 40
"""Bytes that decide about a sentence, from its first on."""
_BLOCK_BYTES = 1 << 16
_SENTENCE = re.compile(
    rb"[$!]([A-Z][A-Z0-9]{3,15},[\x20-\x23\x25-\x29\x2b-\x7e]{0,%d})(?:\*([0-9A-Fa-f]{2}))?((?:\r?\n|\r)?)"
    % LONGEST_BODY
)


@dataclass
class SentenceCounts:
    """What a recording holds, counted."""

    good: int = 0
    wrong_checksum: int = 0
    without_checksum: int = 0
    """Whole lines that carry no checksum: nothing vouches for them, so they are not used."""
    unfinished: int = 0
    """Sentences that break off or run on too long."""
    outside_bytes: int = 0
    """Bytes that belong to no sentence, line ends left out."""

    def total(self) -> int:
        """Everything counted, in one number."""
        return sum(getattr(self, one.name) for one in fields(self))


def checksum(body: bytes) -> int:
    """The XOR of all bytes, by halving."""
    value = int.from_bytes(body, "big")
    bits = 8 << max(0, (len(body) - 1).bit_length())
    while bits > 8:
        bits >>= 1
        value = value >> bits ^ value & ((1 << bits) - 1)
    return value


class SentenceScanner:
    """Takes a recording piece by piece, cut anywhere, and hands back good sentences in order."""

    def __init__(self, outside: Callable[[bytes], object] | None = None) -> None:
        """`outside` is given the bytes that belong to no sentence, in order."""
        self.counts = SentenceCounts()
        self._outside = outside
        self._buffer = bytearray()

    def feed(self, piece: bytes) -> list[bytes]:
        """Bodies ("GNGGA,...") of good sentences; pieces are gathered, so they come with a delay."""
        self._buffer += piece
        return self._scan(_REACH) if len(self._buffer) >= _BLOCK_BYTES else []

    def finish(self) -> list[bytes]:
        """The last sentences, after the last piece."""
        return self._scan(0)

    def _scan(self, reach: int) -> list[bytes]:
        """Take all that does not depend on what follows: at least `reach` bytes lie behind its start."""
        data = bytes(self._buffer)
        limit = len(data) - reach
        bodies: list[bytes] = []
        position = 0
        counts = self.counts
        for match in _SENTENCE.finditer(data):
            start, end = match.span()
            if start >= limit:
                break
            if start > position:
                self._pass_outside(data[position:start])
            position = end
            body, check, line_end = match.groups()
            if check is None:
                # a whole line is a sentence of the old kind; anything else is a piece of one
                if line_end:
                    counts.without_checksum += 1
                else:
                    counts.unfinished += 1
            elif checksum(body) == int(check, 16):
                counts.good += 1
                bodies.append(body)
            else:
                counts.wrong_checksum += 1
        if limit > position:
            self._pass_outside(data[position:limit])
            position = limit
        del self._buffer[:position]
        return bodies

    def _pass_outside(self, data: bytes) -> None:
        self.counts.outside_bytes += len(data) - data.count(b"\r") - data.count(b"\n")
        if self._outside is not None:
            self._outside(data)
