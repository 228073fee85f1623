"""Almanac and navigation files, whatever they hold, as numbered lines of bounded length; numbers in them."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple, NoReturn

from linkplan.errors import AlmanacError

PIECE_BYTES = 1 << 16
LONGEST_LINE = 400
MOST_LINES = 3_000_000
"""Some weeks of a whole network's navigation files."""
MOST_SETS = 100_000
"""Different sets of one file that are kept, some 80 MB."""
_SHOWN = 24

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[EeDd][+-]?[0-9]{1,3})?", re.ASCII)
_PACKED = {b"\x1f\x9d": "compress (.Z)", b"PK": "zip"}


class Line(NamedTuple):
    """One line without its end."""

    number: int
    """From 1."""
    text: str


def file_pieces(path: str) -> Iterator[bytes]:
    """The bytes of a file, in order; AlmanacError where it cannot be read."""
    try:
        with Path(path).open("rb") as file:
            while piece := file.read(PIECE_BYTES):
                yield piece
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise AlmanacError(f"{path}: the file cannot be read: {reason.lower()}") from error


def read_lines(name: str, pieces: Iterable[bytes]) -> Iterator[Line]:
    """Lines of a file given as bytes cut anywhere, plain or gzip, white space at their ends cut off.

    Raises AlmanacError for a line longer than LONGEST_LINE, for too many of them, and for damaged gzip.
    """
    number, rest = 0, b""
    for piece in _plain(name, pieces):
        *whole, rest = (rest + piece).split(b"\n")
        for raw in whole:
            number += 1
            yield _line(name, number, raw)
        if len(rest) > LONGEST_LINE:
            _line(name, number + 1, rest)
    if rest:
        yield _line(name, number + 1, rest)


def _line(name: str, number: int, raw: bytes) -> Line:
    if len(raw) > LONGEST_LINE:
        fault(name, number, f"is longer than {LONGEST_LINE} characters", "almanacs are text in short lines")
    if number > MOST_LINES:
        fault(name, number, f"is past {MOST_LINES} lines", "give the files of the days that count")
    return Line(number, raw.decode("latin-1").rstrip())


def _plain(name: str, pieces: Iterable[bytes]) -> Iterator[bytes]:
    source = (piece for piece in pieces if piece)
    start = b""
    while len(start) < 3 and (piece := next(source, b"")):
        start += piece
    if (packer := _PACKED.get(start[:2])) is not None:
        raise AlmanacError(
            f"{name}: is packed with {packer}: unpack it first; of packed files only gzip is read"
        )
    if start[:2] == b"\x1f\x8b":
        yield from _unpacked(name, start, source)
        return
    yield start.removeprefix(b"\xef\xbb\xbf")
    yield from source


def _unpacked(name: str, start: bytes, source: Iterator[bytes]) -> Iterator[bytes]:
    unpacker, data = zlib.decompressobj(wbits=31), start
    try:
        while data:
            yield unpacker.decompress(data, PIECE_BYTES)
            data = unpacker.unconsumed_tail
            if unpacker.eof and (data := unpacker.unused_data or next(source, b"")):
                unpacker = zlib.decompressobj(wbits=31)
            elif not data:
                data = next(source, b"")
    except zlib.error as error:
        raise AlmanacError(f"{name}: the gzip file is damaged: fetch it again") from error
    if not unpacker.eof:
        raise AlmanacError(f"{name}: the gzip file ends too early: fetch it again")


def fault(name: str, line: int, problem: str, cure: str) -> NoReturn:
    """Raise the error of one line: file, line number, what is wrong, what would be right."""
    raise AlmanacError(f"{name}: line {line}: {problem}; {cure}")


def shown(text: str) -> str:
    """A piece of a file fit for a message: printable, in quotes, short."""
    plain = "".join(one if one.isascii() and one.isprintable() else "?" for one in text[:_SHOWN])
    return f'"{plain}{"..." if len(text) > _SHOWN else ""}"'


def as_number(text: str) -> float | None:
    """A decimal number, with an exponent E or D or none; None for anything else, "inf" and "nan" included."""
    return float(text.upper().replace("D", "E")) if _NUMBER.fullmatch(text) else None


def number(
    name: str, line: int, what: str, text: str, low: float, high: float, *, whole: bool = False
) -> float:
    """A number in a range, whole where it must be, or the error of its line."""
    value = as_number(text)
    kind = "whole number" if whole else "number"
    cure = f"a {kind} from {low:g} to {high:g} belongs there"
    if value is None:
        fault(name, line, f"{what} is {shown(text)}" if text else f"{what} is empty", cure)
    if not low <= value <= high or (whole and value != int(value)):
        fault(name, line, f"{what} {value:g} is impossible", cure)
    return value
