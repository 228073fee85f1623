"""The draws of the prediction's error: their spread and likeness, and what they say of a ranking."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from linkplan.plan.model import Plan
from linkplan.siting.cases import ALIKE_OVER_M, COMMON_PART, ErrorDraws, firsts, shares_in_draws
from linkplan.siting.search import search

MakeJob = Callable[..., Plan]


def test_draws_have_the_stated_spread_and_likeness() -> None:
    points_m = np.array([[0.0, 0.0], [150.0, 0.0], [0.0, 900.0]])
    draws = ErrorDraws(points_m, sigma_db=6.0, cases=20_000, seed=3)
    one, other = draws.of_base(1), draws.of_base(2)
    # of 20 000 draws the spread is known to 6/sqrt(2 x 20 000) = 0.03 dB, a correlation to 0.007
    assert one.std(axis=0) == pytest.approx(6.0, abs=0.13)
    assert np.abs(one.mean(axis=0)).max() < 0.18
    likeness = np.corrcoef(one.T)
    assert likeness[0, 1] == pytest.approx(math.exp(-150.0 / ALIKE_OVER_M), abs=0.03)
    assert likeness[0, 2] == pytest.approx(math.exp(-900.0 / ALIKE_OVER_M), abs=0.03)
    assert np.corrcoef(one[:, 0], other[:, 0])[0, 1] == pytest.approx(COMMON_PART, abs=0.03)
    assert np.array_equal(ErrorDraws(points_m, 6.0, 20_000, 3).of_base(2), other)
    assert not np.array_equal(ErrorDraws(points_m, 6.0, 20_000, 4).of_base(2), other)


def test_shares_count_only_what_is_known_and_within() -> None:
    margin = np.array([5.0, 5.0, np.nan, 5.0], dtype=np.float32)
    error = np.array([[0.0, -10.0, 0.0, 0.0], [-3.0, 1.0, 50.0, 0.0]], dtype=np.float32)
    weight, within = np.array([1.0, 2.0, 1.0, 4.0]), np.array([True, True, True, False])
    shares, worst = shares_in_draws(margin, error, 4.0, weight, within)
    # first draw: point 1 alone, 1 of 8; second: point 2 alone, 2 of 8; the last lies beyond the limit
    assert shares == pytest.approx([1 / 8, 2 / 8])
    assert worst == pytest.approx([-5.0, 2.0])


def test_the_first_named_wins_a_tie() -> None:
    keys = [
        np.array(one)
        for one in ([(1, 0), (2, 0), (1, 1)], [(1, 0), (1, 0), (1, 0)], [(3, 0), (0, 9), (1, 0)])
    ]
    assert firsts(zip([0, 0, 1], keys, strict=True)) == {0: 2, 1: 1}
    assert firsts(zip([7, 8], [keys[0], keys[2]], strict=True)) == {7: 1, 8: 2}
    assert firsts([]) == {}


def test_firsts_are_those_of_plain_tuples() -> None:
    keys = np.random.default_rng(1).integers(0, 3, (12, 500, 3))
    groups = [one // 3 for one in range(12)]
    plain = [groups[min(range(12), key=lambda one: tuple(keys[one, case]))] for case in range(500)]
    assert firsts(zip(groups, keys, strict=True)) == {one: plain.count(one) for one in set(plain)}


def test_wins_add_up_and_follow_what_is_clear(make_job: MakeJob) -> None:
    # C4 lies far off behind ridges: it never wins against places in the middle
    result = search(make_job("antenna_heights = [3.0, 8.0]\ncases = 60\nseed = 5\n")).result
    wins = {
        result.judged[number - 1].candidate.place.name: result.judged[number - 1].best_cases
        for number in result.ranking
    }
    assert sum(wins.values()) == 60
    assert wins["C4"] == 0
    assert result.winner is not None
    assert wins[result.winner.candidate.place.name] == max(wins.values())
    again = search(make_job("antenna_heights = [3.0, 8.0]\ncases = 60\nseed = 5\n")).result
    assert again == result


def test_a_prediction_without_error_always_ranks_alike(make_job: MakeJob) -> None:
    sure = ("[goal]", "[environment]\nprediction_sigma_db = 0.5\n[goal]")
    result = search(make_job("antenna_heights = [3.0]\ncases = 40\n", sure)).result
    first = result.winner
    assert first is not None
    unsure = search(make_job("antenna_heights = [3.0]\ncases = 40\n")).result
    assert first.best_cases >= max(one.best_cases for one in unsure.judged)
