"""Does what was learned hold on ground that it was not learned from?

Blocks of ground are kept out in turn, never single samples: neighbours of a sample would give it away.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from linkplan.fieldcheck.blocks import (
    Blocks,
    FloatArray,
    effective_number,
    folds_of,
    kept_out_blocks,
    t_quantile,
    weighted_count,
)
from linkplan.fieldcheck.learning_classes import class_offsets
from linkplan.fieldcheck.learning_fit import Point, Prior, chance_in_time, estimate, log_scores, squares_db2
from linkplan.fieldcheck.learning_rows import Rows, chosen
from linkplan.fieldcheck.reliability_table import INTERVAL, Interval

FOLDS = 10
SEED = 20240229


@dataclass(frozen=True)
class OutOfSample:
    """One set of values on ground that was kept out; NaN where nothing of the kind was observed."""

    brier: float
    """Of outcomes at samples without a level, 0 best. Samples are weighed by ground, as in the fit."""
    log_score: float
    """Mean logarithm of the chance, or density per dB, given to what was observed; larger is better."""
    level_rms_db: float


@dataclass(frozen=True)
class Check:
    """Before and after, on ground that was kept out."""

    before: OutOfSample
    after: OutOfSample
    gain: float
    """Of the log score."""
    gain_interval: Interval
    blocks: int
    block_side_m: float
    folds: int

    @property
    def is_better(self) -> bool:
        """Is the gain clear of chance, and no other score worse?

        Where levels stand for some samples and outcomes for the rest, only the log score sees both.
        """
        a, b = self.before, self.after
        mixed = math.isfinite(a.brier) and math.isfinite(a.level_rms_db)
        worse = b.brier > a.brier or b.level_rms_db > a.level_rms_db
        return self.gain_interval.low > 0.0 and (mixed or not worse)


@dataclass(frozen=True)
class Checks:
    """What was held against what."""

    common: Check
    """Offset and sigma against the defaults."""
    classes: Check | None
    """With class offsets against without."""
    whole: Check | None
    """Offset, sigma and class offsets against the defaults."""


@dataclass(frozen=True)
class _Tally:
    """Sums by block."""

    log_score: FloatArray
    brier: float
    square_db2: float


def check(rows: Rows, location_sigma_db: float, prior: Prior, *, with_classes: bool) -> Checks:
    """Hold what is learned on some blocks against what was observed on others, in turn."""
    blocks = kept_out_blocks(rows.tiles)
    folds = min(FOLDS, blocks.count)
    fold_of_tile = folds_of(blocks.count, folds, SEED)[blocks.of_tile]
    plain: list[tuple[Rows, Point]] = []
    classed: list[tuple[Rows, Point]] = []
    for fold in range(folds):
        out = fold_of_tile == fold
        train, test = chosen(rows, ~out), chosen(rows, out)
        point = estimate(train, location_sigma_db, prior)
        plain.append((test, point))
        if with_classes:
            offsets: Mapping[int, float] = {
                c.code: c.offset_db for c in class_offsets(train, point, location_sigma_db, prior)
            }
            classed.append((test, estimate(train, location_sigma_db, prior, offsets)))
    default = [(test, Point(prior.offset_db, prior.sigma_db)) for test, _ in plain]
    before, after = (_tally(pairs, blocks, location_sigma_db) for pairs in (default, plain))
    first = _compared(rows, blocks, folds, before, after)
    if not with_classes:
        return Checks(first, None, None)
    best = _tally(classed, blocks, location_sigma_db)
    beside, whole = (_compared(rows, blocks, folds, one, best) for one in (after, before))
    return Checks(first, beside, whole)


def _tally(pairs: list[tuple[Rows, Point]], blocks: Blocks, location_sigma_db: float) -> _Tally:
    total = np.zeros(blocks.count)
    brier = square = 0.0
    for test, point in pairs:
        level, outcome = log_scores(test, point, location_sigma_db)
        total += weighted_count(blocks.of_tile[test.level_tile], level, blocks.count)
        total += weighted_count(blocks.of_tile[test.outcome_tile], outcome, blocks.count)
        s, _ = point.spread_db(location_sigma_db)
        p = chance_in_time((test.outcome_margin_db + point.offsets_at(test.outcome_class)) / s)
        brier += float((test.in_time * (1.0 - p) ** 2 + test.not_in_time * p * p).sum())
        square += float(squares_db2(test, point).sum())
    return _Tally(total, brier, square)


def _compared(rows: Rows, blocks: Blocks, folds: int, before: _Tally, after: _Tally) -> Check:
    outcome_weight = rows.in_time + rows.not_in_time
    weight = weighted_count(blocks.of_tile[rows.level_tile], rows.level_weight, blocks.count)
    weight = weight + weighted_count(blocks.of_tile[rows.outcome_tile], outcome_weight, blocks.count)
    gain = after.log_score - before.log_score
    return Check(
        before=_scores(rows, before, float(outcome_weight.sum())),
        after=_scores(rows, after, float(outcome_weight.sum())),
        gain=float(gain.sum() / weight.sum()),
        gain_interval=ratio_interval(gain, weight),
        blocks=blocks.count,
        block_side_m=blocks.side_m,
        folds=folds,
    )


def ratio_interval(value: FloatArray, weight: FloatArray) -> Interval:
    """90 % interval of sum(value) / sum(weight), (blocks,) each, the blocks independent."""
    total = float(weight.sum())
    mean = float(value.sum()) / total
    degrees = effective_number(weight) - 1.0
    if degrees < 1.0:
        return Interval(-math.inf, math.inf)
    away = value - mean * weight
    se = math.sqrt(float((away * away).sum()) * (1.0 + 1.0 / degrees)) / total
    half = t_quantile(0.5 + INTERVAL / 2.0, degrees) * se
    return Interval(mean - half, mean + half)


def _scores(rows: Rows, tally: _Tally, outcome_weight: float) -> OutOfSample:
    level_weight = float(rows.level_weight.sum())
    return OutOfSample(
        brier=tally.brier / outcome_weight if outcome_weight > 0.0 else math.nan,
        log_score=float(tally.log_score.sum()) / (outcome_weight + level_weight),
        level_rms_db=math.sqrt(tally.square_db2 / level_weight) if level_weight > 0.0 else math.nan,
    )
