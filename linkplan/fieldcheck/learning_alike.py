"""Over what distance are the prediction's errors alike, and what does that leave of a fit's certainty?

Blocks left out one by one see nothing of what neighbouring blocks share. Here the share is computed instead:
of two samples whose normal errors correlate by r, the slopes of the log-likelihood covary by
sum over k of c_k c'_k r^k / k!, c_k being their Hermite coefficients.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from linkplan.fieldcheck.blocks import TILE_M, FloatArray, IntArray, gather
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
class Places:
    """Slopes and their coefficients, by place."""

    x_m: FloatArray
    y_m: FloatArray
    score: FloatArray
    """(places, 2)."""
    hermite: FloatArray
    """(orders, places, 2)."""
    side_m: float


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
    rows: Rows, scores: tuple[FloatArray, FloatArray], hermite: tuple[FloatArray, FloatArray]
) -> Places:
    """Slopes and coefficients summed by place: a tile, or a block where tiles are too many."""
    tile_x, tile_y = (rows.tiles.column + 0.5) * TILE_M, (rows.tiles.row + 0.5) * TILE_M
    of_tile, count, side = np.arange(len(rows.tiles)), len(rows.tiles), TILE_M
    for side_tiles in 2 ** np.arange(1, 12):
        if count <= MOST_PLACES:
            break
        blocks = gather(rows.tiles, int(side_tiles))
        of_tile, count, side = blocks.of_tile, blocks.count, blocks.side_m
    number = np.maximum(np.bincount(of_tile, minlength=count), 1)
    at = (of_tile[rows.level_tile], of_tile[rows.outcome_tile])
    return Places(
        x_m=np.bincount(of_tile, tile_x, count) / number,
        y_m=np.bincount(of_tile, tile_y, count) / number,
        score=sum_by(at, scores, count),
        hermite=np.stack([sum_by(at, (hermite[0][k], hermite[1][k]), count) for k in range(ORDERS)]),
        side_m=side,
    )


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
    a, b = np.triu_indices(places.x_m.size, 1)
    lag = np.hypot(places.x_m[a] - places.x_m[b], places.y_m[a] - places.y_m[b])
    near = lag < LARGEST_LAG_M
    a, b, lag = a[near], b[near], lag[near]
    c = places.hermite[0, :, 0]
    s = places.score[:, 0]
    kind = (lag / places.side_m).astype(np.int64)
    size = int(LARGEST_LAG_M / places.side_m) + 1
    pairs = np.bincount(kind, minlength=size)
    expected = np.bincount(kind, c[a] * c[b], size)
    seen = np.bincount(kind, s[a] * s[b], size)
    middle = np.bincount(kind, lag, size) / np.maximum(pairs, 1)
    used = expected > 0.0
    correlation = (seen[used] / expected[used] + offset_variance) / largest_correlation
    weight = expected[used] ** 2 / np.maximum(np.bincount(kind, (c[a] * c[b]) ** 2, size)[used], 1e-300)
    # Pairs share places, so they count for less than their number.
    weight = np.sqrt(weight)
    misfit = np.array([(weight * (correlation - np.exp(-middle[used] / d)) ** 2).sum() for d in DISTANCES_M])
    penalty = 0.5 * (np.log(DISTANCES_M / USUAL_M) / math.log(USUAL_FACTOR)) ** 2
    best = float(DISTANCES_M[np.argmin(misfit + penalty)])
    return Alike(best, middle[used], correlation, pairs[used])


def score_covariance(places: Places, distance_m: float, largest_correlation: float) -> FloatArray:
    """Covariance (2, 2) of the summed slopes: within a place as seen, between places as computed."""
    correlation = _correlation(places, distance_m)
    np.fill_diagonal(correlation, 0.0)
    r = largest_correlation * correlation
    total = places.score.T @ places.score
    power = np.ones_like(r)
    for k, c in enumerate(places.hermite, start=1):
        power *= r
        total += c.T @ power @ c / math.factorial(k)
    return total


def independent_places(places: Places, distance_m: float) -> float:
    """How many places far apart would say as much about the offset."""
    c = places.hermite[0, :, 0]
    whole = float(c @ _correlation(places, distance_m) @ c)
    return float(c.sum()) ** 2 / whole if whole > 0.0 else 0.0


def _correlation(places: Places, distance_m: float) -> FloatArray:
    lag = np.hypot(places.x_m[:, None] - places.x_m, places.y_m[:, None] - places.y_m)
    return np.asarray(np.exp(-lag / distance_m))
