"""Recordings packed with gzip, unpacked on the way: memory stays flat however small they were packed."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator

MAGIC = b"\x1f\x8b\x08"
_MOST_AT_ONCE = 1 << 18
_PACKED_BYTES = 4096
_GZIP = 16 + zlib.MAX_WBITS


class Unzipped:
    """The bytes of a recording in order, packed or not, told from its first three bytes."""

    def __init__(self, pieces: Iterable[bytes]) -> None:
        self._pieces = (piece for piece in pieces if piece)
        self.broken = False
        """The packed data are damaged or break off: what came before is used."""

    def __iter__(self) -> Iterator[bytes]:
        head = b""
        for piece in self._pieces:
            head += piece
            if len(head) >= len(MAGIC):
                break
        if head[: len(MAGIC)] == MAGIC:
            yield from self._unpacked(head)
        else:
            if head:
                yield head
            yield from self._pieces

    def _unpacked(self, head: bytes) -> Iterator[bytes]:
        engine = zlib.decompressobj(_GZIP)
        # damage costs what its block holds: blocks of one size, however the pieces come in
        blocks = _even(head, self._pieces)
        data = next(blocks)
        while True:
            try:
                out = engine.decompress(data, _MOST_AT_ONCE)
            except zlib.error:
                self.broken = True
                return
            if out:
                yield out
            if engine.eof:
                # several packed files one behind the other are one
                data = engine.unused_data or next(blocks, b"")
                if not data.strip(b"\0"):
                    return
                engine = zlib.decompressobj(_GZIP)
                continue
            data = engine.unconsumed_tail
            if not data and len(out) < _MOST_AT_ONCE:
                data = next(blocks, b"")
                if not data:
                    self.broken = True
                    return


def _even(head: bytes, pieces: Iterator[bytes]) -> Iterator[bytes]:
    rest = head
    for piece in pieces:
        whole = len(rest) - len(rest) % _PACKED_BYTES
        yield from (rest[start : start + _PACKED_BYTES] for start in range(0, whole, _PACKED_BYTES))
        rest = rest[whole:] + piece
    yield from (rest[start : start + _PACKED_BYTES] for start in range(0, len(rest), _PACKED_BYTES))
