"""Where recorded bytes come from: a file or standard input, in pieces, so that any size fits in memory."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from linkplan.errors import RecordingError

STANDARD_INPUT = "-"
PIECE_BYTES = 1 << 18


def pieces(name: str, piece_bytes: int = PIECE_BYTES) -> Iterator[bytes]:
    """The bytes of the file `name` ("-": standard input) in order, in pieces of at most `piece_bytes`.

    Raises RecordingError where the file cannot be opened or read.
    """
    try:
        if name == STANDARD_INPUT:
            # what is there, without waiting for a full piece
            read = getattr(sys.stdin.buffer, "read1", sys.stdin.buffer.read)
            while piece := read(piece_bytes):
                yield piece
            return
        with Path(name).open("rb") as file:
            while piece := file.read(piece_bytes):
                yield piece
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise RecordingError(f"{name}: the recording cannot be read: {reason.lower()}") from error
