"""Feed the field check's readers random and mutated bytes: samples or one clear error, however they are cut.

python -m tests.fieldcheck.fuzz_field_logs --inputs 100000 [--seed 1]
"""

from __future__ import annotations

import argparse
import gzip
import random
import time
from collections.abc import Sequence

import numpy as np

from dem_samples.rtcm_writer import frame, msm
from linkplan.errors import RecordingError
from linkplan.fieldcheck.observed_source import Observed
from linkplan.fieldcheck.samples import IN_TIME, NOT_IN_TIME, NOT_OBSERVED
from tests.coverage.conftest import EAST, NORTH
from tests.fieldcheck.field_logs import gga, observed, sentence, small_grid, without
from tests.gnss.fuzz_readers import mutated as mutated_recording
from tests.gnss.recorded import cut

LEVELS = [
    b"x,y,level_dbm,time\n",
    b"latitude;longitude;level_dbm\r\n",
    b"500100,4500000,-90,2026-05-13T10:00:00Z\n",
    b"500200.5,4500000,-1e2\n",
    b"40,65;15,0;-90,5\r\n",
    b"40.65\t15.001\t-90\n",
    b"500000,4500000,<-120\n",
    b'"500,1,-9\n',
    b"\xef\xbb\xbfx,y,level_dbm\n",
    b"NaN,inf,-inf\n",
    b"1e999,-1e999,1e1\n",
    b"500300,4500000,-80,99999-99-99\n",
]
ROVER = [
    *(gga(n, 25.0 * n) for n in range(6)),
    gga(7, 0, age="9.9"),
    gga(8, 60, age="12.5"),
    without(9, 90),
    without(10, 900),
    gga(11, 120, station="77"),
    gga(12, 5000),
    gga(90_000, 30, quality=2, station="120"),
    gga(13, age="99999999999999999"),
    sentence("GNRMC,000001.00,A,,,,,,,130526,,,R,V"),
    sentence("GNZDA,000002.00,31,12,9999,00,00"),
    frame(msm(1074, 31, 18_000, [1, 2], [2])),
    frame(msm(1074, 31, 604_799_000, [1, 2], [2])),
    frame(msm(1084, 31, 7 << 27 | 86_399_999, [1, 2], [2])),
    frame(msm(1074, 77, 20_000, [1, 2], [2])),
]


def _changed(one: bytes, chance: random.Random) -> bytes:
    raw = bytearray(one)
    for _ in range(chance.choice((0, 0, 0, 1, 3))):
        if raw:
            raw[chance.randrange(len(raw))] = chance.randrange(256)
    return bytes(raw)


def _wild(chance: random.Random) -> bytes:
    """An epoch at any time, age and quality near by."""
    return gga(
        chance.choice((chance.uniform(0, 200), chance.randrange(100_000), 50.0)),
        chance.choice((0.0, chance.uniform(-1200, 1200))),
        quality=chance.choice((4, 4, 4, 5, 2, 1, 0)),
        age=chance.choice(("1.0", "", f"{chance.uniform(0, 1000):.2f}", str(chance.randrange(20)))),
        station=chance.choice(("0031", "0031", "31", "77", "", "133")),
    )


def made_up(chance: random.Random) -> bytes:
    """One input."""
    kind = chance.randrange(8)
    if kind == 0:
        data = chance.randbytes(chance.randrange(300))
    elif kind == 1:
        data = mutated_recording(chance)
    elif kind < 4:
        rows = [chance.choice(LEVELS) for _ in range(chance.randrange(1, 30))]
        data = chance.choice(LEVELS[:2]) + b"".join(_changed(row, chance) for row in rows)
    elif kind == 4:
        data = b"".join(_wild(chance) for _ in range(chance.randrange(1, 150)))
    else:
        data = b"".join(_changed(chance.choice(ROVER), chance) for _ in range(chance.randrange(1, 60)))
    if chance.random() < 0.1:
        data = _changed(gzip.compress(data), chance)
    return data


def read(pieces: Sequence[bytes], place: tuple[float, float] | None) -> Observed | str:
    """What comes of an input: samples, or the words of the error."""
    try:
        return observed(pieces=pieces, place=place)
    except RecordingError as error:
        return str(error)


def check(data: bytes, chance: random.Random) -> bool:
    """Read one input whole and cut; an exception is a defect. Returns whether samples came of it."""
    place = (EAST + 100.0, NORTH) if chance.random() < 0.3 else None
    whole, parts = read([data], place), read(cut(data, chance), place)
    if isinstance(whole, str) or isinstance(parts, str):
        assert whole == parts, "an error depends on how the file is cut"
        assert "\n" not in whole
        return False
    assert (whole.facts, whole.spots, whole.notes) == (parts.facts, parts.spots, parts.notes)
    for name, mine in vars(whole.columns).items():
        theirs = getattr(parts.columns, name)
        assert np.array_equal(mine, theirs, equal_nan=mine.dtype.kind == "f"), (
            f"{name} depends on the cutting"
        )
    sound(whole)
    return len(whole.columns) > 0


def sound(found: Observed) -> None:
    """What holds of every result."""
    columns, facts = found.columns, found.facts
    rows, width = small_grid().shape
    assert facts.kept == len(columns) <= facts.judged <= facts.epochs
    assert all(count > 0 for count in facts.left_out.values())
    assert np.isfinite(columns.x_m).all()
    assert np.isfinite(columns.y_m).all()
    assert (
        (columns.row >= 0) & (columns.row < rows) & (columns.column >= 0) & (columns.column < width)
    ).all()
    assert np.isin(columns.outcome, (IN_TIME, NOT_IN_TIME, NOT_OBSERVED)).all()
    assert np.isin(columns.arrived, (IN_TIME, NOT_IN_TIME, NOT_OBSERVED)).all()
    assert ((columns.outcome == NOT_OBSERVED) == np.isfinite(columns.level_dbm)).all()


def run(inputs: int, seed: int, seconds: float = float("inf")) -> tuple[int, int]:
    """Check so many inputs, or as many as the time allows; returns how many, and how many gave samples."""
    chance = random.Random(seed)
    end = time.monotonic() + seconds
    useful = 0
    for done in range(inputs):
        if time.monotonic() > end:
            return done, useful
        data = made_up(chance)
        try:
            useful += check(data, chance)
        except BaseException:
            print(f"input {done} of seed {seed}: {data.hex()}", flush=True)
            raise
    return inputs, useful


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    started = time.monotonic()
    count, with_samples = run(options.inputs, options.seed)
    print(
        f"{count} inputs, seed {options.seed}, {with_samples} of them with samples, "
        f"{time.monotonic() - started:.0f} s: no exception, no difference"
    )
