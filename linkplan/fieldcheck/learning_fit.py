"""Offset and error of the prediction, fitted to measured levels and to outcomes.

The model: a level is predicted + offset + class offset + an error alike over neighbouring ground (sigma) +
scatter within the cell (known). So a level's residual is normal about the offset with variance
sigma^2 + location^2, and an outcome is 1 with chance Phi((margin + offset) / that spread).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from linkplan.fieldcheck.blocks import FloatArray, IntArray
from linkplan.fieldcheck.learning_rows import Rows

LAPSE = 0.002
"""Share of outcomes that have nothing to do with the signal, each way: a stray epoch must not rule a fit."""

MOST_STEPS = 60

Pair = tuple[FloatArray, FloatArray]
"""The same of level rows and of outcome rows."""


@dataclass(frozen=True)
class Prior:
    """What is believed before any log is seen; normal in the offset and in the logarithm of sigma."""

    offset_db: float = 0.0
    offset_sd_db: float = 8.0
    sigma_db: float = 6.0
    sigma_factor: float = 1.6
    """Sigma lies between the default divided and multiplied by this in two cases of three."""
    class_sd_db: float = 3.0
    """Spread of the offsets of clutter classes about the common one."""

    def precision(self) -> FloatArray:
        """(2, 2), of offset and log sigma."""
        return np.diag([self.offset_sd_db**-2.0, math.log(self.sigma_factor) ** -2.0])


@dataclass(frozen=True)
class Point:
    """One set of values of what is fitted."""

    offset_db: float
    sigma_db: float
    class_offsets_db: Mapping[int, float] = field(default_factory=dict)

    def spread_db(self, location_sigma_db: float) -> tuple[float, float]:
        """Whole spread s, and its derivative by log sigma."""
        s = math.hypot(self.sigma_db, location_sigma_db)
        return s, self.sigma_db**2 / s

    def offsets_at(self, codes: IntArray) -> FloatArray:
        """Offset at places of these classes, dB."""
        out = np.full(codes.shape, self.offset_db)
        for code, offset in self.class_offsets_db.items():
            out[codes == code] += offset
        return out


def estimate(
    rows: Rows, location_sigma_db: float, prior: Prior, class_offsets_db: Mapping[int, float] | None = None
) -> Point:
    """Most likely offset and sigma, the prior as one more observation: Fisher scoring, steps halved."""
    classes = class_offsets_db or {}
    centre = np.array([prior.offset_db, math.log(prior.sigma_db)])
    precision = prior.precision()

    def at(theta: FloatArray) -> Point:
        return Point(float(theta[0]), math.exp(float(theta[1])), classes)

    def worth(theta: FloatArray) -> float:
        away = theta - centre
        return log_likelihood(rows, at(theta), location_sigma_db) - 0.5 * float(away @ precision @ away)

    theta = centre.copy()
    value = worth(theta)
    for _ in range(MOST_STEPS):
        scores, information = derivatives(rows, at(theta), location_sigma_db)
        slope = scores[0].sum(axis=0) + scores[1].sum(axis=0) - precision @ (theta - centre)
        curve = packed_matrix(information[0].sum(axis=0) + information[1].sum(axis=0)) + precision
        step = np.linalg.solve(curve, slope)
        step *= min(1.0, 10.0 / max(abs(step[0]), 1e-12), 1.0 / max(abs(step[1]), 1e-12))
        while (ahead := worth(theta + step)) < value and np.abs(step).max() > 1e-9:
            step *= 0.5
        if ahead < value:
            break
        theta, value = theta + step, ahead
        if abs(step[0]) < 1e-5 and abs(step[1]) < 1e-6:
            break
    return at(theta)


def chance_in_time(z: FloatArray) -> FloatArray:
    """Chance of an outcome 1 where the margin is `z` standard deviations, lapses included."""
    from scipy.special import ndtr

    return np.asarray(LAPSE + (1.0 - 2.0 * LAPSE) * ndtr(z))


def squares_db2(rows: Rows, point: Point) -> FloatArray:
    """Weighted sum of squared residuals about the offset, of level rows."""
    off = point.offsets_at(rows.level_class)
    return np.asarray(
        np.maximum(rows.level_square_db2 - 2.0 * off * rows.level_sum_db + off * off * rows.level_weight, 0.0)
    )


def log_scores(rows: Rows, point: Point, location_sigma_db: float) -> Pair:
    """Weighted log-likelihood of the rows."""
    s, _ = point.spread_db(location_sigma_db)
    norm = math.log(s * math.sqrt(2.0 * math.pi))
    level = -norm * rows.level_weight - squares_db2(rows, point) / (2.0 * s * s)
    p = chance_in_time((rows.outcome_margin_db + point.offsets_at(rows.outcome_class)) / s)
    return level, rows.in_time * np.log(p) + rows.not_in_time * np.log1p(-p)


def log_likelihood(rows: Rows, point: Point, location_sigma_db: float) -> float:
    level, outcome = log_scores(rows, point, location_sigma_db)
    return float(level.sum() + outcome.sum())


def slopes(rows: Rows, point: Point, location_sigma_db: float) -> Pair:
    """Margins (outcome rows,) in standard deviations, and (outcome rows, 2) what an outcome of 1 instead of 0
    changes in the slopes of the log-likelihood by offset and log sigma."""
    s, ds = point.spread_db(location_sigma_db)
    z = (rows.outcome_margin_db + point.offsets_at(rows.outcome_class)) / s
    p = chance_in_time(z)
    weight = (rows.in_time + rows.not_in_time) / (p * (1.0 - p))
    return z, weight[:, None] * _by_parameter(z, s, ds)


def derivatives(rows: Rows, point: Point, location_sigma_db: float) -> tuple[Pair, Pair]:
    """Slopes (rows, 2) by offset and log sigma, and expected information (rows, 3): 11, 12, 22."""
    s, ds = point.spread_db(location_sigma_db)
    w = rows.level_weight
    pull = (rows.level_sum_db - point.offsets_at(rows.level_class) * w) / s**2
    level_score = np.stack([pull, ds * (squares_db2(rows, point) / s**3 - w / s)], -1)
    level_information = np.stack([w / s**2, np.zeros_like(w), 2.0 * w * (ds / s) ** 2], -1)

    z = (rows.outcome_margin_db + point.offsets_at(rows.outcome_class)) / s
    p = chance_in_time(z)
    dp = _by_parameter(z, s, ds)
    weight = rows.in_time + rows.not_in_time
    variance = p * (1.0 - p)
    outcome_score = ((rows.in_time - weight * p) / variance)[:, None] * dp
    squares = np.stack([dp[:, 0] ** 2, dp[:, 0] * dp[:, 1], dp[:, 1] ** 2], -1)
    outcome_information = (weight / variance)[:, None] * squares
    return (level_score, outcome_score), (level_information, outcome_information)


def _by_parameter(z: FloatArray, s: float, ds: float) -> FloatArray:
    """Derivative of the chance by offset and log sigma, (rows, 2)."""
    density = (1.0 - 2.0 * LAPSE) * np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return np.stack([density / s, -density * z / s * ds], -1)


def packed_matrix(packed: FloatArray) -> FloatArray:
    """(..., 3) of 11, 12, 22 to (..., 2, 2)."""
    a, b, c = packed[..., 0], packed[..., 1], packed[..., 2]
    return np.stack([np.stack([a, b], -1), np.stack([b, c], -1)], -2)
