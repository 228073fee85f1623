"""RTCM 3 frames and NMEA 0183 sentences of one recording, in the order in which they stand.

A rover's port, a radio's or a logger's may carry both. Frames come out by their CRC first; what lies between
them is searched for sentences.
"""

from __future__ import annotations

from linkplan.gnss.nmea_sentences import SentenceCounts, SentenceScanner
from linkplan.gnss.rtcm_frames import Frame, FrameScanner


class MixedScanner:
    """Takes a recording piece by piece, cut anywhere, and hands back frames and sentences in order.

    A sentence that a frame cuts in two comes behind that frame. Memory is that of the two scanners.
    """

    def __init__(self) -> None:
        self._between: list[bytes] = []
        self._frames = FrameScanner(self._between.append)
        self._sentences = SentenceScanner()
        self._last = b"\n"
        self._offset = 0
        """Of what was not handed on yet, in the recording."""
        self.total_bytes = 0
        self.frames = 0
        """Whole frames."""

    @property
    def sentences(self) -> SentenceCounts:
        """What there is of sentences, counted."""
        return self._sentences.counts

    @property
    def damaged_frames(self) -> int:
        """Frames whose check fails."""
        return self._frames.damaged

    def feed(self, piece: bytes) -> list[Frame | bytes]:
        """Frames and bodies of good sentences; pieces are gathered, so they come with a delay."""
        self.total_bytes += len(piece)
        return self._ordered(self._frames.feed(piece))

    def finish(self) -> list[Frame | bytes]:
        """The last ones, after the last piece."""
        return [*self._ordered(self._frames.finish()), *self._sentences.finish()]

    def _ordered(self, frames: list[Frame]) -> list[Frame | bytes]:
        found: list[Frame | bytes] = []
        if not self._between and not frames:
            return found
        between = b"".join(self._between)
        self._between.clear()
        position = 0
        for frame in frames:
            size = frame.offset - self._offset
            if size:
                found += self._text(between[position : position + size])
                position += size
            if self._last == b"\n":
                # no sentence is open: what was gathered comes before the frame
                found += self._sentences.finish()
            self._offset = frame.offset + frame.size
            self.frames += 1
            found.append(frame)
        if position < len(between):
            self._offset += len(between) - position
            found += self._text(between[position:])
        return found

    def _text(self, data: bytes) -> list[bytes]:
        self._last = data[-1:]
        return self._sentences.feed(data)
