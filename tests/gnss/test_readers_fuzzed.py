"""No exception leaves the readers, whatever they are given. The long run is fuzz_readers."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from dem_samples.rtcm_writer import frame
from tests.gnss.fuzz_readers import check, run


def test_mutated_inputs() -> None:
    assert run(1500, seed=20260513) == 1500


seeds = st.integers(0, 2**32)


@given(st.binary(max_size=3000), seeds)
@settings(max_examples=100, deadline=None)
def test_random_bytes(data: bytes, seed: int) -> None:
    check(data, random.Random(seed))


numbers = st.one_of(
    st.integers(0, 4095), st.sampled_from([1005, 1006, 1007, 1008, 1012, 1033, 1074, 1087, 1127, 1137])
)


@given(numbers, st.binary(max_size=200), seeds)
@settings(max_examples=300, deadline=None)
def test_any_payload_in_a_whole_frame(number: int, rest: bytes, seed: int) -> None:
    first = rest[0] & 0x0F if rest else 0
    payload = bytes([number >> 4, (number & 0x0F) << 4 | first]) + rest[1:]
    check(frame(payload) * 2, random.Random(seed))
