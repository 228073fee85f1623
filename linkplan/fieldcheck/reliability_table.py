"""Where a chance was predicted, how often did corrections come? Intervals know that neighbours are alike."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from linkplan.fieldcheck.blocks import (
    ENOUGH_BLOCKS,
    FloatArray,
    IntArray,
    effective_number,
    t_quantile,
    weighted_count,
)

INTERVAL = 0.90

CHANCE_EDGES = (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99, 1.0)
"""Bins of predicted chance: finer toward 1, where a job is decided."""


@dataclass(frozen=True)
class Interval:
    """Bounds that hold the truth in 90 of 100 cases."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high

    def moved(self, by: float) -> Interval:
        return Interval(self.low + by, self.high + by)

    def scaled(self, by: float) -> Interval:
        return Interval(self.low * by, self.high * by)


@dataclass(frozen=True)
class ObservedShare:
    """Share of outcomes 1 among samples for which something was predicted."""

    samples: int
    blocks: int
    """Blocks of ground that they lie in, the smallest ones."""
    mean_chance: float
    """Predicted; NaN without samples, as the share."""
    share: float
    interval: Interval

    @property
    def agrees(self) -> bool:
        """Is the mean prediction within the interval?"""
        return self.interval.holds(self.mean_chance)


@dataclass(frozen=True)
class ReliabilityBin:
    """One row of the table: chances from `low` up to, and in the last bin with, `high`."""

    low: float
    high: float
    observed: ObservedShare


def reliability_table(
    chance: ArrayLike, outcome: ArrayLike, block: ArrayLike, edges: tuple[float, ...] = CHANCE_EDGES
) -> tuple[ReliabilityBin, ...]:
    """Observed share by predicted chance; `chance` 0 to 1, `outcome` 0 or 1, (n,) each; `block` as in
    `widest`."""
    p = np.asarray(chance, dtype=np.float64)
    o = np.asarray(outcome)
    b = np.asarray(block, dtype=np.int64)
    at = bin_of(p, edges)
    return tuple(
        ReliabilityBin(low, high, observed_share(p[at == k], o[at == k], b[..., at == k]))
        for k, (low, high) in enumerate(itertools.pairwise(edges))
    )


def bin_of(value: FloatArray, edges: tuple[float, ...]) -> IntArray:
    """Number of the bin of each value; the last bin holds its upper edge too."""
    at = np.searchsorted(np.asarray(edges), value, side="right") - 1
    return np.where(value == edges[-1], len(edges) - 2, at).astype(np.int64)


def observed_share(chance: ArrayLike, outcome: ArrayLike, block: ArrayLike) -> ObservedShare:
    """Share of outcomes 1 with its interval; (n,) each, `block` as in `widest`."""
    o = np.asarray(outcome, dtype=np.float64)
    if o.size == 0:
        return ObservedShare(0, 0, math.nan, math.nan, Interval(0.0, 1.0))
    of_sample, count = numbered(widest(block))
    size = weighted_count(of_sample, np.ones(o.size), count)
    good = weighted_count(of_sample, o, count)
    return ObservedShare(
        samples=int(o.size),
        blocks=smallest_blocks(block),
        mean_chance=float(np.mean(np.asarray(chance, dtype=np.float64))),
        share=float(good.sum() / size.sum()),
        interval=share_interval(good, size),
    )


def share_interval(good: FloatArray, size: FloatArray) -> Interval:
    """90 % interval of a share from the outcomes 1 and the samples of each block, (blocks,) each.

    The score interval [Wilson 1927] with as many samples as, independent, would give the variance that
    blocks show [Kish 1965], and the quantile of Student's t. Where all outcomes are alike a block counts as
    one sample. One block alone says nothing: 0 to 1.
    """
    n = float(size.sum())
    even = effective_number(size)
    if even <= 1.0 + 1e-9:
        return Interval(0.0, 1.0)
    share = float(good.sum()) / n
    away = good - share * size
    variance = float((away * away).sum()) / n**2 * even / (even - 1.0)
    binomial = share * (1.0 - share)
    samples = min(binomial / variance, n) if variance > 0.0 and binomial > 0.0 else (n if binomial else even)
    return wilson_interval(share, samples, t_quantile(0.5 + INTERVAL / 2.0, even - 1.0))


def wilson_interval(share: float, samples: float, quantile: float) -> Interval:
    """Score interval of a share seen in `samples` independent samples; `quantile` 1.96 for 95 %.

    [Wilson 1927]
    """
    z2 = quantile * quantile / samples
    middle = share + z2 / 2.0
    half = math.sqrt(z2 * (share * (1.0 - share) + z2 / 4.0))
    return Interval(max((middle - half) / (1.0 + z2), 0.0), min((middle + half) / (1.0 + z2), 1.0))


def widest(block: ArrayLike) -> IntArray:
    """Blocks that an interval is to rest on, (n,), out of (n,) or, by growing side, (sides, n).

    The largest of which enough are left: errors may be alike over more than the smallest block, and blocks
    that share them seem to say more than they do.
    """
    rows: IntArray = np.atleast_2d(np.asarray(block, dtype=np.int64))
    for row in rows[:0:-1]:
        if np.unique(row).size >= ENOUGH_BLOCKS:
            return np.asarray(row)
    return np.asarray(rows[0])


def smallest_blocks(block: ArrayLike) -> int:
    """Number of the smallest blocks; `block` as in `widest`."""
    return int(np.unique(np.atleast_2d(np.asarray(block))[0]).size)


def numbered(block: ArrayLike) -> tuple[IntArray, int]:
    """Blocks renumbered without gaps, and how many."""
    distinct, of_sample = np.unique(np.asarray(block, dtype=np.int64), return_inverse=True)
    return of_sample.astype(np.int64), int(distinct.size)
