"""Was the prediction true? Outcomes and levels in the field against what was predicted there."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.blocks import FloatArray, IntArray, effective_number, t_quantile, weighted_count
from linkplan.fieldcheck.reliability_table import (
    INTERVAL,
    Interval,
    ObservedShare,
    ReliabilityBin,
    bin_of,
    numbered,
    observed_share,
    reliability_table,
    smallest_blocks,
    widest,
)
from linkplan.ranges import require_range

DISTANCE_EDGES_KM = (0.0, 0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0, 50.0, math.inf)
"""Bands of distance from the base."""


@dataclass(frozen=True)
class Contingency:
    """Shown as covered, or not, against in time, or not, in samples."""

    wanted_chance: float
    hits: int
    """Covered, and in time."""
    misses: int
    """Not covered, yet in time."""
    false_alarms: int
    """Covered, yet not in time."""
    correct_negatives: int
    """Not covered, and not in time."""
    covered: ObservedShare
    """Share in time where the map shows coverage."""
    not_covered: ObservedShare
    """Share in time where it shows none."""

    @property
    def samples(self) -> int:
        return self.hits + self.misses + self.false_alarms + self.correct_negatives

    @property
    def shares(self) -> tuple[float, float, float, float]:
        """Hits, misses, false alarms, correct negatives, of all; NaN without samples."""
        n = self.samples or math.nan
        return self.hits / n, self.misses / n, self.false_alarms / n, self.correct_negatives / n


@dataclass(frozen=True)
class Brier:
    """Mean squared difference of chance and outcome, 0 best [Brier 1950], and what it is made of."""

    score: float
    interval: Interval
    always_covered: float
    """Of a map that shows chance 1 everywhere: the share not in time."""
    observed_share: float
    """Of a map that shows the observed share everywhere."""
    skill_over_always: float
    """1 - score / always_covered: 1 perfect, 0 no better, negative worse; NaN where nothing failed."""
    skill_over_share: float
    reliability: float
    """How far observed shares lie from chances, squared; 0 best [Murphy 1973]."""
    resolution: float
    """How far observed shares of the bins lie from the common one, squared; large is good."""
    uncertainty: float
    """Of the outcomes themselves: share (1 - share)."""
    remainder: float
    """score - (reliability - resolution + uncertainty): chances differ within a bin."""


@dataclass(frozen=True)
class LevelErrors:
    """Measured less predicted level; positive where the signal is stronger than predicted."""

    samples: int
    blocks: int
    mean_db: float
    mean_interval_db: Interval
    rms_db: float
    rms_interval_db: Interval
    sd_db: float
    sd_interval_db: Interval


@dataclass(frozen=True)
class Group:
    """Outcomes and levels of one distance band, line of sight or class; None where there are none."""

    outcomes: ObservedShare | None
    levels: LevelErrors | None


@dataclass(frozen=True)
class Band:
    """A group by distance."""

    from_km: float
    to_km: float
    group: Group


@dataclass(frozen=True)
class Scores:
    """All that a comparison says. Groups without samples are left out."""

    outcomes: int
    """Samples with an outcome and a prediction."""
    levels: int
    """Samples with a level and a prediction."""
    unknown_ground: int
    """Samples with an observation where nothing is predicted: never counted as covered."""
    blocks: int
    contingency: Contingency | None
    table: tuple[ReliabilityBin, ...]
    brier: Brier | None
    level_errors: LevelErrors | None
    by_distance: tuple[Band, ...]
    by_line_of_sight: Mapping[int, Group]
    """1 in sight, 0 not."""
    by_class: Mapping[int, Group]


@dataclass(frozen=True)
class Observed:
    """Predictions and observations, (n,) each."""

    chance: FloatArray
    """Predicted, 0 to 1; NaN where nothing is predicted."""
    outcome: NDArray[np.int8]
    """1 in time, 0 not, -1 not observed."""
    level_residual_db: FloatArray
    """Measured less predicted level; NaN where not measured."""
    block: IntArray
    """Block of ground, any numbers; or (sides, n), blocks of growing side, of which `widest` picks."""
    distance_km: FloatArray
    """From the base; NaN where unknown."""
    line_of_sight: NDArray[np.int8]
    """1 in sight, 0 not, -1 unknown."""
    class_code: IntArray
    """Clutter class; -1 unknown."""


def score(observed: Observed, wanted_chance: float) -> Scores:
    """Every score of a comparison; `wanted_chance` 0 to 1 is the chance from which a place counts as covered.

    Intervals are of 90 % and rest on blocks of ground, so that neighbours do not count as separate evidence.
    Raises RangeError.
    """
    require_range("wanted_chance", wanted_chance, 0.0, 1.0)
    chance = np.asarray(observed.chance, dtype=np.float64)
    outcome = np.asarray(observed.outcome)
    error = np.asarray(observed.level_residual_db, dtype=np.float64)
    known = np.isfinite(chance)
    seen = (outcome == 0) | (outcome == 1)
    judged, measured = seen & known, np.isfinite(error)
    any_use = judged | measured
    block = np.atleast_2d(np.asarray(observed.block, dtype=np.int64))
    p, o, b = chance[judged], outcome[judged], block[:, judged]
    table = reliability_table(p, o, b)

    def group(chosen: NDArray[np.bool_]) -> Group:
        a, c = judged & chosen, measured & chosen
        return Group(
            observed_share(chance[a], outcome[a], block[:, a]) if a.any() else None,
            level_errors(error[c], block[:, c]) if c.any() else None,
        )

    return Scores(
        outcomes=int(np.count_nonzero(judged)),
        levels=int(np.count_nonzero(measured)),
        unknown_ground=int(np.count_nonzero(seen & ~known & ~measured)),
        blocks=int(np.unique(block[0, any_use]).size),
        contingency=contingency(p, o, b, wanted_chance) if p.size else None,
        table=table,
        brier=brier(p, o, b, table) if p.size else None,
        level_errors=level_errors(error[measured], block[:, measured]) if measured.any() else None,
        by_distance=_by_distance(np.asarray(observed.distance_km, dtype=np.float64), any_use, group),
        by_line_of_sight=_by_code(np.asarray(observed.line_of_sight), any_use, group),
        by_class=_by_code(np.asarray(observed.class_code), any_use, group),
    )


def contingency(
    chance: FloatArray, outcome: NDArray[np.int8], block: IntArray, wanted_chance: float
) -> Contingency:
    """Counts where the map says covered, chance at least `wanted_chance`, and where not; (n,) each."""
    covered, good = chance >= wanted_chance, outcome == 1
    return Contingency(
        wanted_chance=wanted_chance,
        hits=int(np.count_nonzero(covered & good)),
        misses=int(np.count_nonzero(~covered & good)),
        false_alarms=int(np.count_nonzero(covered & ~good)),
        correct_negatives=int(np.count_nonzero(~covered & ~good)),
        covered=observed_share(chance[covered], outcome[covered], block[..., covered]),
        not_covered=observed_share(chance[~covered], outcome[~covered], block[..., ~covered]),
    )


def brier(
    chance: FloatArray, outcome: NDArray[np.int8], block: IntArray, table: tuple[ReliabilityBin, ...]
) -> Brier:
    """Brier score, its skill and its parts; (n,) each, at least one."""
    square = (chance - outcome) ** 2
    value = float(square.mean())
    share = float(outcome.mean())
    uncertainty = share * (1.0 - share)
    filled = [row.observed for row in table if row.observed.samples]
    weight = np.array([row.samples for row in filled]) / chance.size
    mean_chance = np.array([row.mean_chance for row in filled])
    bin_share = np.array([row.share for row in filled])
    reliability = float((weight * (mean_chance - bin_share) ** 2).sum())
    resolution = float((weight * (bin_share - share) ** 2).sum())
    return Brier(
        score=value,
        interval=_jackknifed(_sums(block, square), _mean, low=0.0),
        always_covered=1.0 - share,
        observed_share=uncertainty,
        skill_over_always=1.0 - value / (1.0 - share) if share < 1.0 else math.nan,
        skill_over_share=1.0 - value / uncertainty if uncertainty > 0.0 else math.nan,
        reliability=reliability,
        resolution=resolution,
        uncertainty=uncertainty,
        remainder=value - (reliability - resolution + uncertainty),
    )


def level_errors(error_db: FloatArray, block: IntArray) -> LevelErrors:
    """Mean, RMS and standard deviation of errors, (n,), at least one; intervals by blocks left out, which are
    as in `widest`."""
    sums = _sums(block, error_db, error_db**2)
    total = sums.sum(axis=0)
    return LevelErrors(
        samples=int(error_db.size),
        blocks=smallest_blocks(block),
        mean_db=float(_mean(total)),
        mean_interval_db=_jackknifed(sums, _mean),
        rms_db=float(_rms(total)),
        rms_interval_db=_jackknifed(sums, _rms, low=0.0),
        sd_db=float(_sd(total)),
        sd_interval_db=_jackknifed(sums, _sd, low=0.0),
    )


def _mean(sums: FloatArray) -> FloatArray:
    return np.asarray(sums[..., 1] / sums[..., 0])


def _rms(sums: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt(sums[..., 2] / sums[..., 0]))


def _sd(sums: FloatArray) -> FloatArray:
    """With n - 1; NaN for one sample."""
    n = np.where(sums[..., 0] > 1.0, sums[..., 0], np.nan)
    square = sums[..., 2] - sums[..., 1] ** 2 / n
    return np.asarray(np.sqrt(np.maximum(square, 0.0) / (n - 1.0)))


def _sums(block: IntArray, *values: FloatArray) -> FloatArray:
    """(blocks, 1 + values): number of samples and sums."""
    of_sample, count = numbered(widest(block))
    parts = [np.ones(of_sample.size), *values]
    return np.stack([weighted_count(of_sample, part, count) for part in parts], axis=-1)


def _jackknifed(
    sums: FloatArray, of_sums: Callable[[FloatArray], FloatArray], low: float = -math.inf
) -> Interval:
    """90 % interval of a function of sums, from blocks left out one by one; unbounded for one block.

    [Efron and Tibshirani 1993, chapter 11]
    """
    even = effective_number(sums[:, 0])
    if even <= 1.0 + 1e-9:
        return Interval(low, math.inf)
    total = sums.sum(axis=0)
    value = float(of_sums(total))
    rest = of_sums(total - sums)
    rest = np.where(np.isfinite(rest), rest, value)
    variance = float(((rest - value) ** 2).sum()) * (len(sums) - 1) / len(sums)
    half = t_quantile(0.5 + INTERVAL / 2.0, even - 1.0) * math.sqrt(variance)
    return Interval(max(value - half, low), value + half)


def _by_distance(
    distance_km: FloatArray, used: NDArray[np.bool_], group: Callable[[NDArray[np.bool_]], Group]
) -> tuple[Band, ...]:
    at = np.where(np.isfinite(distance_km) & used, bin_of(distance_km, DISTANCE_EDGES_KM), -1)
    edges = itertools.pairwise(DISTANCE_EDGES_KM)
    return tuple(Band(a, b, group(at == k)) for k, (a, b) in enumerate(edges) if (at == k).any())


def _by_code(
    code: IntArray | NDArray[np.int8],
    used: NDArray[np.bool_],
    group: Callable[[NDArray[np.bool_]], Group],
) -> dict[int, Group]:
    return {int(c): group(used & (code == c)) for c in np.unique(code[used]) if c >= 0}
