"""Over what distance are the prediction's errors alike, and what does that leave of a fit's certainty?

Blocks left out one by one see nothing of what neighbouring blocks share. Here the share is computed instead:
of two samples whose normal errors correlate by r, the slopes of the log-likelihood covary by
sum over k of c_k c'_k r^k / k!, c_k being their Hermite coefficients.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.blocks import TILE_M, FloatArray, IntArray, Tiles, gather
from linkplan.fieldcheck.learning_rows import Rows

ORDERS = 4
"""Hermite orders that are kept; levels need two."""

MOST_PLACES = 1500
"""Places of which all pairs are taken; more are gathered in larger blocks first."""

DISTANCES_M = np.geomspace(50.0, 1000.0, 14)
"""Distances that are tried."""

USUAL_M, USUAL_FACTOR = 200.0, 2.0
"""Distance believed before any data, and the factor either way (common practice: 50 to 500 m)."""

LARGEST_LAG_M = 1500.0

WITHIN_A_SQUARE = 0.5214
"""Mean distance of two random points in a square, in sides (exact value, known as Robbins' constant)."""


@dataclass(frozen=True)
class Alike:
    """Correlation of the prediction's error over the ground."""

    distance_m: float
    """Where it falls to 1/e, as estimated."""
    lag_m: FloatArray
    """Distances between places, class by class."""
    correlation: FloatArray
    """Seen at those distances."""
    pairs: IntArray
    """Of places."""


@dataclass(frozen=True)
class Ground:
    """Places that hold the samples, tiles or blocks of them, and how far they lie apart."""

    of_tile: IntArray
    """(tiles,) index into the places."""
    lag_m: NDArray[np.float32]
    """(places, places); within a place, the mean distance of two points in a square."""
    side_m: float

    @property
    def count(self) -> int:
        return len(self.lag_m)


@dataclass(frozen=True)
class Places:
    """Slopes of the log-likelihood and their coefficients, by place."""

    ground: Ground
    score: FloatArray
    """(places, 2)."""
    hermite: FloatArray
    """(orders, places, 2)."""


def ground_of(tiles: Tiles) -> Ground:
    """Places of all tiles, in larger blocks where tiles are too many."""
    of_tile, count, side_m = np.arange(len(tiles)), len(tiles), TILE_M
    side = 1
    while count > MOST_PLACES:
        side *= 2
        blocks = gather(tiles, side)
        of_tile, count, side_m = blocks.of_tile, blocks.count, blocks.side_m
    number = np.maximum(np.bincount(of_tile, minlength=count), 1)
    x, y = (
        (TILE_M * np.bincount(of_tile, at, count) / number).astype(np.float32)
        for at in (tiles.column - tiles.column.min(), tiles.row - tiles.row.min())
    )
    lag = np.hypot(x[:, None] - x, y[:, None] - y)
    np.fill_diagonal(lag, WITHIN_A_SQUARE * side_m)
    return Ground(of_tile, lag, side_m)


def hermite_of(
    rows: Rows, z: FloatArray, slope: FloatArray, s_db: float, ds_db: float
) -> tuple[FloatArray, FloatArray]:
    """Hermite coefficients of the slopes, (orders, rows, 2), of levels and of outcomes.

    `z` (outcome rows,) is the margin in standard deviations; `slope` (outcome rows, 2) what an outcome of 1
    instead of 0 changes in the slopes, weights included.
    """
    w = rows.level_weight
    level = np.zeros((ORDERS, w.size, 2))
    level[0, :, 0] = w / s_db
    level[1, :, 1] = w * 2.0 * ds_db / s_db
    # E[1(t > -z) He_k(t)] = density(z) He_(k-1)(-z)
    density = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    he = [np.ones_like(z), -z]
    for k in range(2, ORDERS):
        he.append(-z * he[-1] - (k - 1) * he[-2])
    return level, np.stack([(density * h)[:, None] * slope for h in he])


def places_of(
    ground: Ground,
    rows: Rows,
    scores: tuple[FloatArray, FloatArray],
    hermite: tuple[FloatArray, FloatArray],
) -> Places:
    """Slopes and coefficients of rows, summed by place."""
    at = (ground.of_tile[rows.level_tile], ground.of_tile[rows.outcome_tile])
    each = [sum_by(at, (hermite[0][k], hermite[1][k]), ground.count) for k in range(ORDERS)]
    return Places(ground, sum_by(at, scores, ground.count), np.stack(each))


def sum_by(at: tuple[IntArray, IntArray], parts: tuple[FloatArray, FloatArray], count: int) -> FloatArray:
    """(count, columns): rows of levels and outcomes summed by the number that `at` gives them."""
    columns = range(parts[0].shape[1])
    return np.stack(
        [
            np.bincount(at[0], parts[0][:, j], count) + np.bincount(at[1], parts[1][:, j], count)
            for j in columns
        ],
        axis=-1,
    )


def alike(places: Places, largest_correlation: float, offset_variance: float) -> Alike:
    """Distance over which errors are alike, from products of the slopes of pairs of places.

    `largest_correlation` is that of two samples at one place; `offset_variance` that of the fitted offset
    in units of the whole spread: residuals about a fitted offset look that much less alike than they are.
    """
    side_m = places.ground.side_m
    a, b = np.nonzero(np.triu(places.ground.lag_m < LARGEST_LAG_M, 1))
    lag = places.ground.lag_m[a, b]
    c, s = places.hermite[0, :, 0], places.score[:, 0]
    kind = (lag / side_m).astype(np.int64)
    size = int(LARGEST_LAG_M / side_m) + 1
    together = c[a] * c[b]
    pairs = np.bincount(kind, minlength=size)
    expected = np.bincount(kind, together, size)
    seen = np.bincount(kind, s[a] * s[b], size)
    middle = np.bincount(kind, lag, size) / np.maximum(pairs, 1)
    used = expected > 0.0
    correlation = (seen[used] / expected[used] + offset_variance) / largest_correlation
    weight = expected[used] ** 2 / np.maximum(np.bincount(kind, together**2, size)[used], 1e-300)
    # Pairs share places, so they count for less than their number.
    weight = np.sqrt(weight)
    misfit = np.array([(weight * (correlation - np.exp(-middle[used] / d)) ** 2).sum() for d in DISTANCES_M])
    penalty = 0.5 * (np.log(DISTANCES_M / USUAL_M) / math.log(USUAL_FACTOR)) ** 2
    best = float(DISTANCES_M[np.argmin(misfit + penalty)])
    return Alike(best, middle[used], correlation, pairs[used])


def score_covariance(places: Places, distance_m: float, largest_correlation: float) -> FloatArray:
    """Covariance (2, 2) of the summed slopes: within a place as seen, between places as computed."""
    r = largest_correlation * _correlation(places.ground, distance_m)
    np.fill_diagonal(r, 0.0)
    total = places.score.T @ places.score
    power = r.copy()
    for k, c in enumerate(places.hermite, start=1):
        if k > 1:
            power *= r
        if c.any():
            total += c.T @ (power @ c.astype(np.float32)) / math.factorial(k)
    return np.asarray(total)


def independent_places(places: Places, distance_m: float) -> float:
    """How many places far apart would say as much about the offset."""
    c = places.hermite[0, :, 0].astype(np.float32)
    whole = float(c @ (_correlation(places.ground, distance_m) @ c))
    return float(c.sum()) ** 2 / whole if whole > 0.0 else 0.0


def _correlation(ground: Ground, distance_m: float) -> NDArray[np.float32]:
    return np.asarray(np.exp(ground.lag_m * np.float32(-1.0 / distance_m)))
