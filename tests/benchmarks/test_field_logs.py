"""What reading a rover's log for the field check costs, beside merely parsing it; and its memory.

`pytest tests/benchmarks -s` prints what was measured; LINKPLAN_BENCHMARK=full takes a million epochs for the
time and ten millions, made on the way, for the memory.
"""

from __future__ import annotations

import math
import os
import resource
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

from linkplan.fieldcheck.observed import observe_stream
from linkplan.fieldcheck.observed_ground import Ground
from linkplan.gnss.nmea_fixes import parse_gga
from linkplan.gnss.nmea_sentences import SentenceScanner, checksum
from tests.fieldcheck.field_logs import RULES, degrees, small_grid

FULL = os.environ.get("LINKPLAN_BENCHMARK") == "full"
EPOCHS = 1_000_000 if FULL else 100_000
STREAMED = 10_000_000 if FULL else 300_000
PIECE_BYTES = 1 << 18

HIGHEST_RATIO = 2.0
"""Processor time of judging, placing and thinning beside scanning and parsing alone."""
MOST_MORE_MB = 60.0
"""Resident memory for a log that is streamed, over what the imports take."""

pytestmark = pytest.mark.benchmark


def drive(epochs: int) -> Iterator[bytes]:
    """A rover that drives over the whole map at some metres a second and is late in 40 of 500 epochs."""
    west, south = degrees(0.0, 0.0)
    east, north = degrees(1000.0, 1000.0)
    lines: list[bytes] = []
    for epoch in range(epochs):
        angle, away = epoch / 600.0, 0.9 * math.sin(epoch / 80_000.0)
        longitude = west + (east - west) * away * math.cos(angle)
        latitude = south + (north - south) * away * math.sin(angle)
        late, second = epoch % 500 < 40, epoch % 86_400
        body = b"GNGGA,%02d%02d%02d.00,%02d%09.6f,N,%03d%09.6f,E,%d,18,0.7,302.1,M,45.0,M,%.1f,0031" % (
            second // 3600, second // 60 % 60, second % 60, int(latitude), latitude % 1 * 59.99999,
            int(longitude), longitude % 1 * 59.99999, 5 if late else 4, epoch % 500 + 1 if late else 1,
        )  # fmt: skip
        lines.append(b"$%s*%02X\r\n" % (body, checksum(body)))
        if len(lines) == 3000:
            yield b"".join(lines)
            lines.clear()
    yield b"".join(lines)


def parse_only(pieces: list[bytes]) -> int:
    """Scan and parse, and nothing else."""
    scanner = SentenceScanner()
    count = sum(parse_gga(body) is not None for piece in pieces for body in scanner.feed(piece))
    return count + sum(parse_gga(body) is not None for body in scanner.finish())


def test_a_log_is_read_in_little_more_than_it_is_parsed_in() -> None:
    data = b"".join(drive(EPOCHS))
    pieces = [data[start : start + PIECE_BYTES] for start in range(0, len(data), PIECE_BYTES)]
    ground = Ground(small_grid())
    parsed, read = [], []
    for _ in range(3):
        start = time.process_time()
        assert parse_only(pieces) == EPOCHS
        parsed.append(time.process_time() - start)
        start = time.process_time()
        found = observe_stream("log", iter(pieces), RULES, ground)
        read.append(time.process_time() - start)
        assert found.facts.judged == EPOCHS
    ratio = min(read) / min(parsed)
    print(
        f"\n{EPOCHS} epochs: parsed in {min(parsed):.2f} s, read for the field check in {min(read):.2f} s, "
        f"ratio {ratio:.2f}; {found.facts.kept} samples"
    )
    assert ratio < HIGHEST_RATIO


def resident_mb() -> float:
    """The most that this process had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def streamed(epochs: int) -> None:
    """Print the memory before and after, and the samples."""
    ground = Ground(small_grid())
    # transformations and arrays of the first block stand for the program itself
    observe_stream("log", drive(20_000), RULES, ground)
    before = resident_mb()
    found = observe_stream("log", drive(epochs), RULES, ground)
    print(before, resident_mb(), found.facts.judged, found.facts.kept)


def test_memory_is_flat() -> None:
    code = f"from tests.benchmarks.test_field_logs import streamed; streamed({STREAMED})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    before, after, judged, kept = map(float, done.stdout.split())
    print(
        f"\n{STREAMED} epochs streamed: {after:.0f} MB resident, {after - before:.0f} MB over the start, "
        f"{kept:.0f} samples"
    )
    assert judged == STREAMED
    assert after - before < MOST_MORE_MB
