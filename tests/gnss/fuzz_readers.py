"""Feed the readers random and mutated bytes: nothing may leave them but a summary, and no byte may be lost.

    python -m tests.gnss.fuzz_readers --inputs 1000000 [--seed 1]

Each input is read twice by each reader, whole and cut into pieces, and both summaries must be equal.
"""

from __future__ import annotations

import argparse
import random
import time

from dem_samples.rtcm_writer import antenna, biases, frame, glonass_observations, msm, reference_point
from linkplan.gnss.rover_log import read_log
from linkplan.gnss.rtcm_capture import read_capture
from tests.gnss.recorded import BASE_ECEF_M, REAL_FRAMES, cut, gga, gns, rmc, sentence

SEEDS = [
    *REAL_FRAMES.values(),
    frame(reference_point(1006, 31, BASE_ECEF_M, 1.8)),
    frame(antenna(1033, 31, ["A", "B", "C", "D", "E"])),
    frame(biases(31, 4)),
    frame(msm(1074, 31, 5000, [1, 2, 3], [2, 16])),
    frame(msm(1084, 31, 7 << 27 | 86_399_999, [1, 2], [2])),
    frame(glonass_observations(1012, 31, 86_400_500, 3)),
    gga(86_399.0), gga(0.0), gga(100, 1, "", ""), gga(101, 5, "30.0", "0077"), gns(102), rmc(0, "010100"),
    rmc(103, "130526"), sentence("GPZDA,120000.00,13,05,2026,00,00"), sentence("PDEMO,1,2,3"),
]  # fmt: skip
TOKENS = [
    b"\xd3",
    b"\xd3\x00",
    b"\xd3\x03\xff",
    b"$",
    b"!",
    b"*",
    b",",
    b"\r\n",
    b"$GNGGA,",
    b"\x00",
    b"\xff",
]


def reseal(raw: bytes) -> bytes:
    """A mutated frame or sentence with a check that holds, so that what is inside gets read."""
    if raw[:1] == b"\xd3" and len(raw) > 6:
        return frame(raw[3:-3][:1023])
    return sentence(raw[1:-5].replace(b"*", b"").replace(b"$", b"")) if raw[:1] == b"$" else raw


def mutated(chance: random.Random) -> bytes:
    """One input: seeds changed, cut, doubled, joined, with rubbish in between."""
    parts: list[bytes] = []
    for _ in range(chance.choice((1, 1, 2, 3, 6))):
        one = bytearray(chance.choice(SEEDS))
        for _ in range(chance.choice((0, 0, 1, 2, 8))):
            kind, place = chance.randrange(5), chance.randrange(len(one)) if one else 0
            if kind == 0 and one:
                one[place] ^= 1 << chance.randrange(8)
            elif kind == 1 and one:
                one[place] = chance.randrange(256)
            elif kind == 2:
                del one[place : place + chance.randrange(1, 20)]
            elif kind == 3:
                one[place:place] = chance.choice(TOKENS)
            else:
                one[place:place] = one[: chance.randrange(0, 30)]
        raw = bytes(one)
        parts.append(reseal(raw) if chance.random() < 0.5 else raw)
        if chance.random() < 0.2:
            parts.append(chance.randbytes(chance.randrange(40)))
    return b"".join(parts)


def check(data: bytes, chance: random.Random) -> None:
    """Read one input in every way; AssertionError or any other exception is a defect."""
    pieces = cut(data, chance)
    capture = read_capture("fuzz", [data])
    if capture.frame_bytes + capture.outside_bytes != len(data):
        raise AssertionError("bytes were lost")
    if capture != read_capture("fuzz", pieces):
        raise AssertionError("a capture depends on how it is cut")
    log = read_log("fuzz", [data])
    if log != read_log("fuzz", pieces):
        raise AssertionError("a log depends on how it is cut")


def run(inputs: int, seed: int, seconds: float = float("inf")) -> int:
    """Check so many inputs, or as many as the time allows; returns how many."""
    chance = random.Random(seed)
    end = time.monotonic() + seconds
    for done in range(inputs):
        if time.monotonic() > end:
            return done
        data = chance.randbytes(chance.randrange(200)) if chance.random() < 0.1 else mutated(chance)
        try:
            check(data, chance)
        except BaseException:
            print(f"input {done} of seed {seed}: {data.hex()}", flush=True)
            raise
        if done % 50_000 == 49_999:
            print(f"{done + 1} inputs", flush=True)
    return inputs


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    started = time.monotonic()
    count = run(options.inputs, options.seed)
    print(
        f"{count} inputs, seed {options.seed}, {time.monotonic() - started:.0f} s: no exception, no "
        "difference"
    )
