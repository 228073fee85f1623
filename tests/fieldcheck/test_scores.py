"""Scores by hand, against scipy where it has them, and intervals that neighbours do not narrow."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from linkplan.errors import RangeError
from linkplan.fieldcheck.reliability_table import (
    observed_share,
    reliability_table,
    share_interval,
    widest,
    wilson_interval,
)
from linkplan.fieldcheck.scores import Observed, Scores, brier, level_errors, score

NAN = math.nan


def scored(
    chance: list[float],
    outcome: list[int],
    residual: list[float] | None = None,
    block: list[int] | None = None,
    distance_km: list[float] | None = None,
    sight: list[int] | None = None,
    code: list[int] | None = None,
    wanted: float = 0.9,
) -> Scores:
    n = len(chance)
    return score(
        Observed(
            np.array(chance),
            np.array(outcome, dtype=np.int8),
            np.array(residual or [NAN] * n),
            np.array(block or list(range(n))),
            np.array(distance_km or [1.0] * n),
            np.array(sight or [1] * n, dtype=np.int8),
            np.array(code or [-1] * n),
        ),
        wanted,
    )


def test_what_is_shown_as_covered_by_hand() -> None:
    found = scored([0.95, 0.9, 0.99, 0.89, 0.2, 0.1], [1, 1, 0, 1, 0, 0]).contingency
    assert found is not None
    # Covered from 0.9: the first three, two of them in time.
    assert (found.hits, found.misses, found.false_alarms, found.correct_negatives) == (2, 1, 1, 2)
    assert found.shares == pytest.approx((2 / 6, 1 / 6, 1 / 6, 2 / 6))
    assert found.covered.share == pytest.approx(2 / 3)
    assert found.not_covered.share == pytest.approx(1 / 3)


def test_unknown_ground_never_counts_as_covered() -> None:
    found = scored([NAN, NAN, 0.95], [1, 0, 1])
    assert found.contingency is not None
    assert found.contingency.samples == 1
    assert found.unknown_ground == 2
    assert found.outcomes == 1


def test_brier_score_and_skill_by_hand() -> None:
    found = scored([0.9, 0.8, 0.3, 0.1], [1, 1, 0, 1]).brier
    assert found is not None
    # (0.01 + 0.04 + 0.09 + 0.81) / 4; one of four failed; three quarters in time.
    assert found.score == pytest.approx(0.2375)
    assert found.always_covered == pytest.approx(0.25)
    assert found.observed_share == pytest.approx(0.1875)
    assert found.skill_over_always == pytest.approx(1 - 0.2375 / 0.25)
    assert found.skill_over_share == pytest.approx(1 - 0.2375 / 0.1875)


def test_nothing_failed_leaves_no_skill_to_state() -> None:
    found = scored([0.9, 0.8], [1, 1]).brier
    assert found is not None
    assert math.isnan(found.skill_over_always)
    assert math.isnan(found.skill_over_share)


def test_parts_of_the_score_by_hand() -> None:
    # Ten at 0.2 of which 4 in time, ten at 0.8 of which 7: share 0.55.
    chance = np.repeat([0.2, 0.8], 10)
    outcome = np.array([1] * 4 + [0] * 6 + [1] * 7 + [0] * 3)
    block = np.arange(20)
    found = brier(chance, outcome, block, reliability_table(chance, outcome, block))
    assert found.reliability == pytest.approx(0.5 * 0.2**2 + 0.5 * 0.1**2)
    assert found.resolution == pytest.approx(0.15**2)
    assert found.uncertainty == pytest.approx(0.55 * 0.45)
    assert found.remainder == pytest.approx(0.0, abs=1e-12)
    # Directly: 4 at 0.64, 6 at 0.04, 7 at 0.04, 3 at 0.64.
    assert found.score == pytest.approx((4 * 0.64 + 6 * 0.04 + 7 * 0.04 + 3 * 0.64) / 20)


def test_bins_hold_their_lower_edge_and_the_last_its_upper() -> None:
    chance = np.array([0.0, 0.0999, 0.1, 0.99, 1.0])
    rows = reliability_table(chance, np.ones(5), np.arange(5))
    assert [row.observed.samples for row in rows] == [2, 1, 0, 0, 0, 0, 0, 2]
    assert math.isnan(rows[3].observed.share)
    assert (rows[3].observed.interval.low, rows[3].observed.interval.high) == (0.0, 1.0)


@pytest.mark.parametrize(("good", "of"), [(0, 12), (3, 10), (50, 60), (7, 7)])
def test_score_interval_is_the_published_one(good: int, of: int) -> None:
    reference = stats.binomtest(good, of).proportion_ci(0.90, method="wilson")
    found = wilson_interval(good / of, of, float(stats.norm.ppf(0.95)))
    assert (found.low, found.high) == pytest.approx((reference.low, reference.high), abs=1e-12)


def test_samples_that_repeat_their_block_add_nothing() -> None:
    # 12 blocks, 9 good: n equal outcomes a block have a variance of p (1 - p) / 11 whatever n is.
    good = np.array([1.0] * 9 + [0.0] * 3)
    once, often = share_interval(good, np.ones(12)), share_interval(400.0 * good, np.full(12, 400.0))
    by_hand = wilson_interval(0.75, 11.0, float(stats.t.ppf(0.95, 11)))
    for found in (once, often):
        assert (found.low, found.high) == pytest.approx((by_hand.low, by_hand.high), abs=1e-12)


def test_all_alike_leaves_doubt_and_one_block_says_nothing() -> None:
    alike = share_interval(np.full(9, 50.0), np.full(9, 50.0))
    by_hand = wilson_interval(1.0, 9.0, float(stats.t.ppf(0.95, 8)))
    assert (alike.low, alike.high) == pytest.approx((by_hand.low, by_hand.high))
    one = share_interval(np.array([30.0]), np.array([40.0]))
    assert (one.low, one.high) == (0.0, 1.0)


def test_share_interval_holds_the_truth_where_neighbours_are_alike() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(400):
        # A share of its own for each block, mean 0.8 (beta with a = 1.6, b = 0.4), uneven blocks.
        size = rng.integers(5, 60, 25).astype(float)
        good = rng.binomial(size.astype(int), rng.beta(1.6, 0.4, 25)).astype(float)
        held += share_interval(good, size).holds(0.8)
    # 90 % of 400 is 360; a count three standard deviations (6) below that would be a fault.
    assert held >= 342


def test_level_errors_are_the_textbook_ones() -> None:
    error = np.random.default_rng(3).normal(-2.0, 5.0, 40)
    found = level_errors(error, np.arange(40))
    assert found.mean_db == pytest.approx(error.mean())
    assert found.rms_db == pytest.approx(math.sqrt(np.mean(error**2)))
    assert found.sd_db == pytest.approx(error.std(ddof=1))
    # Left out one by one, a mean's standard error is s / sqrt(n).
    low, high = stats.t.interval(0.90, 39, error.mean(), stats.sem(error))
    assert (found.mean_interval_db.low, found.mean_interval_db.high) == pytest.approx((low, high))
    repeated = level_errors(np.repeat(error, 30), np.repeat(np.arange(40), 30))
    assert repeated.mean_interval_db.low == pytest.approx(low)


def test_interval_of_the_spread_holds_the_truth() -> None:
    rng = np.random.default_rng(8)
    held = sum(
        level_errors(rng.normal(0.0, 6.0, 60), np.arange(60)).sd_interval_db.holds(6.0) for _ in range(400)
    )
    assert held >= 342


def test_one_sample_has_no_spread() -> None:
    found = level_errors(np.array([3.0]), np.array([0]))
    assert (found.mean_db, found.rms_db) == (3.0, 3.0)
    assert math.isnan(found.sd_db)
    assert found.mean_interval_db.high == math.inf


def test_groups_by_distance_sight_and_class() -> None:
    found = scored(
        chance=[0.9, 0.8, 0.7, NAN],
        outcome=[1, 0, -1, 1],
        residual=[NAN, -4.0, 2.0, NAN],
        distance_km=[0.4, 1.5, 1.9, 2.5],
        sight=[1, 0, 0, 1],
        code=[5, 5, 7, 7],
    )
    assert [(band.from_km, band.to_km) for band in found.by_distance] == [(0.0, 0.5), (1.0, 2.0)]
    far = found.by_distance[1].group
    assert far.levels is not None
    assert far.outcomes is not None
    assert (far.levels.samples, far.outcomes.samples) == (2, 1)
    assert far.levels.mean_db == pytest.approx(-1.0)
    assert found.by_line_of_sight[1].levels is None
    assert set(found.by_class) == {5, 7}
    assert found.by_class[7].outcomes is None
    assert found.levels == 2


def test_nothing_to_judge_is_no_fault() -> None:
    found = scored([NAN], [1])
    assert (found.contingency, found.brier, found.level_errors) == (None, None, None)
    assert observed_share([], [], []).samples == 0


def test_wanted_chance_out_of_range() -> None:
    with pytest.raises(RangeError, match="wanted_chance"):
        scored([0.5], [1], wanted=1.5)


def test_intervals_know_errors_that_small_blocks_share() -> None:
    """24 squares of 16 small blocks each, with one error a square. 384 small blocks taken as separate give
    an interval four times too narrow, which holds the truth in 2 Phi(1.645 / 4) - 1 = 32 of 100 cases; for
    the share in 46, when 11 to 13 of the 24 squares are good (binomial)."""
    square = np.repeat(np.arange(24), 16)
    small = np.arange(384)
    rng = np.random.default_rng(3)
    held = {1: 0, 2: 0}
    shares = {1: 0, 2: 0}
    for _ in range(300):
        shared = rng.normal(0.0, 6.0, 24)[square]
        came = (shared > 0.0).astype(np.int8)
        for rows, block in ((1, small), (2, np.stack([small, square]))):
            held[rows] += level_errors(shared, block).mean_interval_db.holds(0.0)
            shares[rows] += observed_share(np.full(384, 0.5), came, block).agrees
    assert 0.25 < held[1] / 300 < 0.40
    assert 0.36 < shares[1] / 300 < 0.56
    assert 0.85 < held[2] / 300 < 0.95
    assert 0.85 < shares[2] / 300 <= 0.97


def test_blocks_are_the_largest_of_which_enough_are_left() -> None:
    """60, 30 and 15 blocks: 30 it is; what is said to be looked at stays the 60."""
    blocks = np.stack([np.arange(60) // times for times in (1, 2, 4)])
    assert widest(blocks).tolist() == blocks[1].tolist()
    assert widest(blocks[:, :20]).tolist() == blocks[0, :20].tolist()
    assert level_errors(np.zeros(60), blocks).blocks == 60
