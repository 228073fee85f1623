"""Visits: against the plain rule, epoch by epoch, and independent of how a track is cut."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.fieldcheck.thinning import Thinning, spacing_for

Track = list[tuple[float, float]]


def plainly(track: Track, spacing_m: float, most: int) -> tuple[list[int], list[bool]]:
    """The rule as it is written, one position after the other."""
    begins, kept, counts = [], [], dict[tuple[int, int], int]()
    anchor: tuple[float, float] | None = None
    for index, place in enumerate(track):
        if anchor is None or math.dist(place, anchor) >= spacing_m:
            anchor = place
            square = (math.floor(place[0] / spacing_m), math.floor(place[1] / spacing_m))
            counts[square] = counts.get(square, 0) + 1
            begins.append(index)
            kept.append(counts[square] <= most)
    return begins, kept


def in_blocks(
    track: Track, cuts: list[int], spacing_m: float, most: int
) -> tuple[list[int], list[bool], int]:
    thinning = Thinning(spacing_m, most)
    begins, kept = list[int](), list[bool]()
    edges = [0, *sorted(min(cut, len(track)) for cut in cuts), len(track)]
    for start, end in itertools.pairwise(edges):
        x, y = (np.array([place[axis] for place in track[start:end]], dtype=float) for axis in (0, 1))
        found, which = thinning.visits(x, y)
        begins += [start + int(index) for index in found]
        kept += which.tolist()
    return begins, kept, thinning.left_out


# whole metres: distances of exactly the spacing come up, and are the same in every arithmetic
STEPS = st.lists(st.tuples(st.integers(-12, 12), st.integers(-12, 12)), max_size=120)


@settings(max_examples=60, deadline=None)
@given(
    STEPS, st.lists(st.integers(0, 120), max_size=5), st.sampled_from([5.0, 10.0, 25.0]), st.integers(1, 3)
)
def test_blocks_are_as_the_plain_rule(
    steps: list[tuple[int, int]], cuts: list[int], spacing_m: float, most: int
) -> None:
    track: Track = []
    x = y = 0.0
    for east, north in steps:
        x, y = x + east, y + north
        track.append((x, y))
    begins, kept = plainly(track, spacing_m, most)
    assert in_blocks(track, cuts, spacing_m, most) == (begins, kept, kept.count(False))


def test_a_stop_is_one_visit() -> None:
    chance = np.random.default_rng(1)
    x, y = chance.normal(0.0, 1.0, (2, 10_000))
    begins, kept = Thinning(20.0).visits(x, y)
    assert begins.tolist() == [0]
    assert kept.tolist() == [True]


def test_to_and_fro_gives_four_samples_a_place() -> None:
    # 20 m squares 0, 1, 2 and back, 50 times: a visit every 20 m, of each square 4 are kept
    x = np.array([5.0, 25.0, 45.0, 25.0] * 50)
    thinning = Thinning(20.0, 4)
    begins, kept = thinning.visits(x, np.zeros(200))
    assert begins.size == 200
    assert kept.sum() == 3 * 4
    assert thinning.left_out == 188


@pytest.mark.parametrize(("cell_m", "spacing_m"), [(5.0, 10.0), (10.0, 10.0), (30.0, 30.0)])
def test_spacing_is_a_cell_and_at_least_ten_metres(cell_m: float, spacing_m: float) -> None:
    assert spacing_for(cell_m) == spacing_m


def test_the_share_of_good_samples_is_that_of_good_places() -> None:
    """A rover that rests longer where corrections come: epochs are 0.95 good, places 0.5."""
    chance = np.random.default_rng(2)
    good_place = chance.random(2000) < 0.5
    rests = np.where(good_place, 19, 1)
    x = np.repeat(np.arange(2000) * 20.0, rests)
    good = np.repeat(good_place, rests)
    begins, _ = Thinning(20.0).visits(x, np.zeros(x.size))
    assert good.mean() == pytest.approx(0.95, abs=0.01)
    assert good[begins].mean() == good_place.mean()
