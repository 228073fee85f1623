"""How far may a fitted offset and sigma be trusted, when neighbouring ground errs alike?

The fit takes grouped samples as independent, which leaves it unbiased but far too sure of itself. Two views
put that right, and the wider counts: how much the fit moves when blocks of ground are left out, and what
errors that are alike over the distance seen in the data must do to it. Samples then weigh what they are
worth, so that the prior has its due.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from linkplan.fieldcheck.blocks import SIDES, Blocks, FloatArray, effective_number, shifted, t_quantile
from linkplan.fieldcheck.learning_alike import (
    Alike,
    Ground,
    Places,
    alike,
    ground_of,
    hermite_of,
    independent_places,
    places_of,
    score_covariance,
    sum_by,
)
from linkplan.fieldcheck.learning_fit import Pair, Point, Prior, derivatives, estimate, packed_matrix, slopes
from linkplan.fieldcheck.learning_rows import Rows, scaled
from linkplan.fieldcheck.reliability_table import INTERVAL, Interval

ENOUGH_TO_TRUST = 6.0
"""Effective number of blocks below which larger blocks are not asked."""

ROOM_ON_DISTANCE = 1.45
"""The distance over which errors are alike is itself uncertain, and taken this much longer. Set on simulated
fields with distances of 50 to 400 m, so that intervals hold the truth a little more often than they say."""

ROOM_ON_SIGMA = 1.1
"""Sigma's own error rests on fourth moments, which few blocks show badly; set on the same fields."""

LEAST_WORTH = 0.02
"""Share of their weight below which samples are never taken."""


@dataclass(frozen=True)
class Fit:
    """Offset, sigma and how far to trust them."""

    point: Point
    offset_se_db: float
    """Standard error, likeness of neighbours included."""
    log_sigma_se: float
    offset_interval_db: Interval
    sigma_interval_db: Interval
    alike: Alike
    effective_blocks: float
    """Equal blocks of the smallest size that would say as much about the offset."""
    worth: float
    """Share of their weight that the samples' likeness leaves them, for the offset."""
    worth_of_sigma: float
    prior: Prior
    """As weighed: wider in sigma than the one that was given."""


def fit(rows: Rows, location_sigma_db: float, prior: Prior) -> Fit:
    """Most likely offset and sigma, with the prior as one more observation, and their 90 % intervals.

    The second of two passes gives samples the weight that their likeness leaves them.
    """
    ground = ground_of(rows.tiles)
    first = _fit(rows, ground, location_sigma_db, prior, None)
    worth, of_sigma = (min(1.0, max(one, LEAST_WORTH)) for one in (first.worth, first.worth_of_sigma))
    # Weights are those of the offset; squares are less alike than errors, so of sigma the data say more.
    more = max(of_sigma / worth, 1.0)
    eased = replace(prior, sigma_factor=prior.sigma_factor ** math.sqrt(more))
    second = _fit(scaled(rows, worth), ground, location_sigma_db, eased, first.alike)
    # Data that say next to nothing leave what was believed, not less.
    offset_db, log_sigma = t_quantile(0.5 + INTERVAL / 2.0, math.inf) / np.sqrt(np.diag(prior.precision()))
    offset, sigma, point = second.offset_interval_db, second.sigma_interval_db, second.point
    least, most = point.sigma_db * math.exp(-log_sigma), point.sigma_db * math.exp(log_sigma)
    return replace(
        second,
        worth=worth,
        offset_interval_db=Interval(
            max(offset.low, point.offset_db - offset_db), min(offset.high, point.offset_db + offset_db)
        ),
        sigma_interval_db=Interval(max(sigma.low, least), min(sigma.high, most)),
    )


def _fit(rows: Rows, ground: Ground, location_sigma_db: float, prior: Prior, known: Alike | None) -> Fit:
    point = estimate(rows, location_sigma_db, prior)
    scores, information = derivatives(rows, point, location_sigma_db)
    precision = prior.precision()
    left_out = [_left_out(rows, side, scores, information, precision) for side in SIDES]
    trusted = [w for i, w in enumerate(left_out) if i == 0 or w.effective >= ENOUGH_TO_TRUST]
    largest = (point.sigma_db / point.spread_db(location_sigma_db)[0]) ** 2
    places = _places(ground, rows, point, location_sigma_db, scores)
    if known is None:
        share = max(w.se[0] for w in trusted) / point.spread_db(location_sigma_db)[0]
        known = alike(places, largest, float(share) ** 2)
    shared = _shared(places, known.distance_m, largest, information, precision)
    views = (*trusted, shared)
    half = np.max([w.half for w in views], axis=0)
    se = np.max([w.se for w in views], axis=0)
    # Residuals about a fitted offset spread less than about the true one, by the variance of the offset.
    sigma = math.sqrt(point.sigma_db**2 + min(float(shared.se[0]), 0.5 * point.sigma_db) ** 2)
    factor = math.exp(ROOM_ON_SIGMA * float(half[1]))
    return Fit(
        point=Point(point.offset_db, sigma),
        offset_se_db=float(se[0]),
        log_sigma_se=float(se[1]),
        offset_interval_db=Interval(point.offset_db - float(half[0]), point.offset_db + float(half[0])),
        sigma_interval_db=Interval(sigma / factor, sigma * factor),
        alike=known,
        effective_blocks=left_out[0].effective,
        worth=min(float(w.worth[0]) for w in views),
        worth_of_sigma=min(float(w.worth[1]) for w in views),
        prior=prior,
    )


@dataclass(frozen=True)
class _Spread:
    half: FloatArray
    """(2,) half-widths of the intervals, dB and log."""
    se: FloatArray
    effective: float
    worth: FloatArray
    """(2,) Share of the information that is left of what independent samples would hold."""


def _places(ground: Ground, rows: Rows, point: Point, location_sigma_db: float, scores: Pair) -> Places:
    s_db, ds_db = point.spread_db(location_sigma_db)
    z, slope = slopes(rows, point, location_sigma_db)
    return places_of(ground, rows, scores, hermite_of(rows, z, slope, s_db, ds_db))


def _shared(
    places: Places, distance_m: float, largest: float, information: Pair, precision: FloatArray
) -> _Spread:
    """Half-widths from the likeness of errors over the ground."""
    total = packed_matrix(information[0].sum(axis=0) + information[1].sum(axis=0))
    inverse = np.linalg.inv(total + precision)
    covariance = score_covariance(places, ROOM_ON_DISTANCE * distance_m, largest)
    se = np.sqrt(np.diag(inverse @ (covariance + precision) @ inverse))
    effective = independent_places(places, distance_m)
    half = t_quantile(0.5 + INTERVAL / 2.0, effective - 1.0) * se
    return _Spread(half, se, effective, np.diag(total) / np.maximum(np.diag(covariance), 1e-12))


def _left_out(rows: Rows, side: int, scores: Pair, information: Pair, precision: FloatArray) -> _Spread:
    """Half-widths from blocks of one size left out one by one, averaged over shifted grids."""
    parts = [_jackknife(rows, blocks, scores, information, precision) for blocks in shifted(rows.tiles, side)]
    variance = np.mean([p[0] for p in parts], axis=0)
    total = variance + parts[0][1]
    effective = np.mean([p[2] for p in parts], axis=0)
    # Satterthwaite: the prior's share of the variance is known, the blocks' is estimated.
    degrees = np.maximum(effective - 1.0, 0.5) * (total / np.maximum(variance, 1e-12)) ** 2
    t = np.array([t_quantile(0.5 + INTERVAL / 2.0, float(d)) for d in degrees])
    se = np.sqrt(total)
    said = np.diag(packed_matrix(information[0].sum(axis=0) + information[1].sum(axis=0)))
    spread = variance * (said + np.diag(precision)) ** 2
    return _Spread(t * se, se, float(effective[0]), said / np.maximum(spread, 1e-12))


def _jackknife(
    rows: Rows, blocks: Blocks, scores: Pair, information: Pair, precision: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Variance from blocks, variance from the prior, effective number of blocks; (2,) each.

    One Newton step from the whole fit for each block left out. [Bell and McCaffrey 2002]
    """
    at = (blocks.of_tile[rows.level_tile], blocks.of_tile[rows.outcome_tile])
    s = sum_by(at, scores, blocks.count)
    h = packed_matrix(sum_by(at, information, blocks.count))
    whole = h.sum(axis=0) + precision
    moved = np.linalg.solve(whole - h, s[..., None])[..., 0]
    variance = (moved**2).sum(axis=0) * max(blocks.count - 1, 1) / max(blocks.count, 1)
    inverse = np.linalg.inv(whole)
    prior_part = np.diag(inverse @ precision @ inverse)
    share = np.einsum("ij,gji->gi", inverse, h)
    return variance, prior_part, np.array([effective_number(share[:, k]) for k in (0, 1)])
