"""Orbits or one clear line come out of the readers, whatever goes in. The long run is fuzz_orbit_files."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.gnss.fuzz_orbit_files import check, run


def test_mutated_files() -> None:
    inputs, read = run(600, seed=20180619)
    assert inputs == 600
    # neither all whole nor all broken
    assert 100 < read < 400


LINE_STARTS = [
    "",
    "ID: 1",
    "*",
    "1 X",
    " 1 0",
    "G01 2018 06 18 20 00 00",
    "> EPH G01 LNAV",
    "    ",
    "week: 5",
    "1",
]
HEADER_LINES = [
    f"     3.03           {'N: GNSS NAV DATA':<20}M{'':<19}RINEX VERSION / TYPE",
    f"     4.00           {'NAVIGATION DATA':<20}M{'':<19}RINEX VERSION / TYPE",
    f"{'':60}END OF HEADER",
]
lines = st.lists(
    st.builds(str.__add__, st.sampled_from(LINE_STARTS + HEADER_LINES), st.text(max_size=90)), max_size=30
)


@given(lines, st.integers(0, 2**32))
@settings(max_examples=150, deadline=None)
def test_lines_that_look_like_some(several: list[str], seed: int) -> None:
    check("\n".join(several).encode("utf-8", "surrogatepass"), random.Random(seed))


@given(st.binary(max_size=2000), st.integers(0, 2**32))
@settings(max_examples=100, deadline=None)
def test_random_bytes(data: bytes, seed: int) -> None:
    check(data, random.Random(seed))
