"""RTCM 3 frames out of any bytes: what is whole comes out, all else is counted.

A frame starts with the byte 0xD3, six zero bits and ten bits of length, and ends with its CRC-24Q
[RTCM 10403.3, section 4, as implemented by the package pyrtcm]. Where a check fails the search goes on
one byte further, so that a whole frame is never lost behind a damaged one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from linkplan.gnss.crc24q import whole

PREAMBLE = b"\xd3"
OVERHEAD_BYTES = 6
"""Header and check around a payload."""
_BLOCK_BYTES = 1 << 17
_FEWEST, _MOST = 8, 256
"""Frames whose checks are computed together: few where checks fail, many where they hold."""


class Frame(NamedTuple):
    """One whole frame."""

    offset: int
    """Of its first byte in the recording."""
    payload: bytes

    @property
    def size(self) -> int:
        """In the recording, bytes."""
        return len(self.payload) + OVERHEAD_BYTES


class FrameScanner:
    """Takes a recording piece by piece, cut anywhere, and hands back its whole frames in order."""

    def __init__(self, outside: Callable[[bytes], object] | None = None) -> None:
        """`outside` is given all bytes that belong to no whole frame, in order."""
        self.outside_bytes = 0
        """Bytes that belong to no whole frame."""
        self.damaged = 0
        """Frames whose check fails: they start where a frame is due, or another begins right behind."""
        self.cut_short = False
        """The recording ends inside a frame."""
        self._outside = outside
        self._buffer = bytearray()
        self._offset = 0
        self._together = _FEWEST
        self._due = 0
        """Where the next frame is due: the end of the last one, whole or damaged."""

    def feed(self, piece: bytes) -> list[Frame]:
        """Frames that became whole; pieces are gathered, so they come with a delay."""
        self._buffer += piece
        return self._scan(final=False) if len(self._buffer) >= _BLOCK_BYTES else []

    def finish(self) -> list[Frame]:
        """The last frames, after the last piece."""
        return self._scan(final=True)

    def _scan(self, *, final: bool) -> list[Frame]:
        data = bytes(self._buffer)
        numbers = np.frombuffer(data, dtype=np.uint8)
        frames: list[Frame] = []
        position = last = 0
        while True:
            bounds, stopped = self._candidates(data, position, final=final)
            if not bounds:
                break
            checks = whole(numbers, bounds)
            for index, good in enumerate(checks):
                start, end = bounds[2 * index], bounds[2 * index + 1]
                if not good:
                    self._note_damage(data, start, end)
                    position = start + 1
                    self._together = _FEWEST
                    break
                if final and start > (due := self._due - self._offset) >= 0 and _begins_a_frame(data, due):
                    self.damaged += 1  # its length reaches beyond the end, yet whole frames follow
                self._pass_outside(data[last:start])
                frames.append(Frame(self._offset + start, data[start + 3 : end - 3]))
                position = last = end
                self._due = self._offset + end
            else:
                self._together = min(2 * self._together, _MOST)
        if final:
            due = self._due - self._offset
            self.cut_short = due >= 0 and _begins_a_frame(data, due)
        self._pass_outside(data[last:stopped])
        self._offset += stopped
        del self._buffer[:stopped]
        return frames

    def _candidates(self, data: bytes, position: int, *, final: bool) -> tuple[list[int], int]:
        """Bounds of what may be frames, one behind the other, and where there is nothing more to find."""
        bounds: list[int] = []
        behind = 0 if final else 1  # the byte behind a frame tells damage from chance: wait for it
        while len(bounds) < 2 * self._together:
            start = data.find(PREAMBLE, position)
            if start < 0:
                return bounds, len(data)
            if start + 3 > len(data):
                if final:
                    return bounds, len(data)
                return bounds, start
            if data[start + 1] & 0xFC:
                position = start + 1
                continue
            end = start + OVERHEAD_BYTES + (data[start + 1] << 8 | data[start + 2])
            if end + behind > len(data):
                if not final:
                    return bounds, start
                position = start + 1
                continue
            bounds += (start, end)
            position = end
        return bounds, position

    def _note_damage(self, data: bytes, start: int, end: int) -> None:
        at = self._offset + start
        if at < self._due:
            return  # inside a frame that is counted as damaged already
        if at == self._due or end == len(data) or data[end : end + 1] == PREAMBLE:
            self.damaged += 1
            self._due = self._offset + end

    def _pass_outside(self, data: bytes) -> None:
        if data:
            self.outside_bytes += len(data)
            if self._outside is not None:
                self._outside(data)


def _begins_a_frame(data: bytes, start: int) -> bool:
    """Whether a frame begins at `start` and the data end before it does."""
    head = data[start : start + 3]
    if head[:1] != PREAMBLE or (len(head) > 1 and head[1] & 0xFC):
        return False
    return len(head) < 3 or start + OVERHEAD_BYTES + (head[1] << 8 | head[2]) > len(data)
