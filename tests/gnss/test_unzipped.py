"""Packed recordings: one part or several, cut anywhere, broken off, and small ones that become large."""

from __future__ import annotations

import gzip
import random

import pytest

from linkplan.gnss.unzipped import Unzipped
from tests.gnss.recorded import cut


@pytest.mark.parametrize("seed", range(5))
def test_what_was_packed_comes_out(seed: int) -> None:
    chance = random.Random(seed)
    parts = [chance.randbytes(5000) + bytes(300_000), b"", b"the end"]
    packed = b"".join(map(gzip.compress, parts))
    for data, wanted in ((packed, b"".join(parts)), (packed + bytes(10), b"".join(parts)), (b"$G", b"$G")):
        unzipped = Unzipped(cut(data, chance))
        assert b"".join(unzipped) == wanted
        assert not unzipped.broken


def test_broken_off_or_damaged() -> None:
    chance = random.Random(1)
    plain = bytes(chance.choice(b"0123456789") for _ in range(100_000))
    packed = gzip.compress(plain)
    half = len(packed) // 2
    for data in (packed[:half], packed[:half] + b"\xff" * 1000, packed + b"rubbish"):
        unzipped = Unzipped([data])
        assert plain[:10_000] == b"".join(unzipped)[:10_000]
        assert unzipped.broken


def test_a_large_one_comes_in_pieces() -> None:
    packed = gzip.compress(bytes(50_000_000))
    assert len(packed) < 60_000
    sizes = [len(piece) for piece in Unzipped([packed])]
    assert sum(sizes) == 50_000_000
    assert max(sizes) <= 1 << 18
