"""Feed the readers of orbit files random and mutated bytes: orbits or one clear line come out, nothing else.

    python -m tests.gnss.fuzz_orbit_files --inputs 100000 [--seed 1]

What is read must also be computable, and the same whole and cut into pieces.
"""

from __future__ import annotations

import argparse
import gzip
import random
import time

import numpy as np

from linkplan.errors import AlmanacError
from linkplan.gnss.orbit_files import orbits_from
from linkplan.gnss.orbit_sets import Orbits
from linkplan.gnss.positions import satellite_positions
from tests.gnss.orbit_samples import DATA, NEAR_S
from tests.gnss.recorded import cut

LONGEST_MESSAGE = 500
_HEADER_LINES = 8
_RECORD_LINES = 8


def seeds() -> list[bytes]:
    """Small files of each kind."""
    day = gzip.decompress((DATA / "broadcast_2018-06-19.rnx.gz").read_bytes()).split(b"\n")
    end = next(number for number, line in enumerate(day) if b"END OF HEADER" in line) + 1
    starts = [number for number in range(end, len(day)) if day[number][:1].strip()]
    records = {day[start][:1]: day[start : start + 12] for start in starts[::-1]}
    lengths = {b"R": 4, b"S": 4}
    small = day[:end]
    for system, lines in records.items():
        small = small + lines[: lengths.get(system, _RECORD_LINES)]
    files = ["made.alm", "made_qzss.alm", "made.al3", "made_version_4.rnx"]
    return [b"\n".join(small) + b"\n", *((DATA / name).read_bytes() for name in files)]


TOKENS = [
    *(
        b"nan",
        b"inf",
        b"-1",
        b"1E999",
        b"1_0",
        b"9" * 30,
        b" ",
        b"",
        b"\x00",
        b"\xff\xfe",
        b"0",
        b"-0.0",
        b"G99",
    ),
    *(b"> EPH", b"> ION", b"*****", b"ID:", b"\t", b"0.5", b"1.D+00", b"2000", b"60", b"E", b"\xe2\x88\x9e"),
]


def mutated(chance: random.Random, samples: list[bytes]) -> bytes:
    """One input: a seed with lines and words changed, dropped, doubled, swapped, cut, or bytes flipped."""
    lines = chance.choice(samples).split(b"\n")
    for _ in range(chance.choice((0, 1, 1, 2, 4, 10))):
        kind, place = chance.randrange(8), chance.randrange(len(lines))
        line = lines[place]
        if kind == 0:
            del lines[place : place + chance.randrange(1, 4)]
            lines = lines or [b""]
        elif kind == 1:
            lines[place:place] = lines[place : place + chance.randrange(1, 12)]
        elif kind == 2:
            other = chance.randrange(len(lines))
            lines[place], lines[other] = lines[other], line
        elif kind in (3, 4):
            at = chance.randrange(len(line) + 1)
            width = chance.choice((0, 1, 19))
            token = chance.choice(TOKENS)
            lines[place] = line[:at] + token + line[at + width :]
        elif kind == 5:
            lines[place] = line[: chance.randrange(len(line) + 1)]
        elif kind == 6 and line:
            changed = bytearray(line)
            changed[chance.randrange(len(changed))] = chance.randrange(256)
            lines[place] = bytes(changed)
        elif kind == 7:
            # a figure of a number
            figures = [at for at, byte in enumerate(line) if 48 <= byte <= 57]
            if figures:
                at = chance.choice(figures)
                lines[place] = line[:at] + str(chance.randrange(10)).encode() + line[at + 1 :]
    data = b"\n".join(lines)
    return data[: chance.randrange(len(data) + 1)] if chance.random() < 0.05 else data


def read(data: bytes, pieces: list[bytes]) -> Orbits | str:
    """The orbits, or the message; any other exception is a defect."""
    try:
        return orbits_from("fuzz.rnx", pieces, NEAR_S)
    except AlmanacError as error:
        message = str(error)
        if not message.startswith("fuzz.rnx: ") or "\n" in message or not message.isprintable():
            raise AssertionError(f"no clear line: {message!r} of {data!r}") from error
        if len(message) > LONGEST_MESSAGE:
            raise AssertionError(f"a message of {len(message)} characters") from error
        return message


def check(data: bytes, chance: random.Random) -> bool:
    """Read one input in two ways and compute what was read; True where it was read."""
    damaged = False
    if chance.random() < 0.1:
        data = gzip.compress(data, 1)
        damaged = chance.random() < 0.3
        if damaged:
            data = data[: chance.randrange(len(data))] + chance.randbytes(chance.randrange(3))
    found = read(data, [data])
    other = read(data, cut(data, chance))
    # of two faults in damaged gzip either may come first
    if found != other and not (damaged and isinstance(found, str) and isinstance(other, str)):
        raise AssertionError("orbits depend on how a file is cut")
    if isinstance(found, str):
        return False
    times = NEAR_S + np.array([0.0, 5000.0])
    with np.errstate(all="raise", under="ignore"):
        positions = satellite_positions(found, times)
    if not np.all(np.isfinite(positions.ecef_m[positions.usable])):
        raise AssertionError("a usable satellite without a position")
    return True


def run(inputs: int, seed: int) -> tuple[int, int]:
    """Check so many inputs; returns how many, and how many of them were read."""
    chance, samples, good = random.Random(seed), seeds(), 0
    for done in range(inputs):
        data = chance.randbytes(chance.randrange(200)) if chance.random() < 0.05 else mutated(chance, samples)
        try:
            good += check(data, chance)
        except BaseException:
            print(f"input {done} of seed {seed}: {data!r}", flush=True)
            raise
        if done % 20_000 == 19_999:
            print(f"{done + 1} inputs", flush=True)
    return inputs, good


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    started = time.monotonic()
    count, read_count = run(options.inputs, options.seed)
    seconds = time.monotonic() - started
    print(f"{count} inputs, seed {options.seed}, {seconds:.0f} s: {read_count} read, else one clear line")
