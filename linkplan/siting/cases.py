"""How sure is the ranking: repeated over draws of the prediction's error.

A prediction is wrong by some decibels, alike over neighbouring ground, and partly alike for all bases, since
what the terrain model does not know (a wood, a wall, wet ground) lies near the rover. In each draw the error
of every path is known, so only the scatter within a cell is left of the spread.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

ALIKE_OVER_M = 300.0
"""Distance over which the error falls to 1/e of its correlation (common practice in open country)."""

COMMON_PART = 0.5
"""Correlation of the errors of two bases at the same rover (common practice)."""

POINTS_AT_ONCE = 64


class ErrorDraws:
    """Draws of the prediction's error at the points of a job, the same for the same seed.

    The common part is drawn once; each base's own part follows from the seed and its number alone, so it
    does not depend on which other bases are asked for.
    """

    def __init__(self, points_m: FloatArray, sigma_db: float, cases: int, seed: int) -> None:
        """`points_m` (n, 2): local metres; `sigma_db`: the prediction's error, dB."""
        apart = np.hypot(*(points_m[:, None, :] - points_m[None, :, :]).transpose(2, 0, 1))
        covariance = np.exp(-apart / ALIKE_OVER_M)
        covariance[np.diag_indices_from(covariance)] += 1e-6  # points may coincide
        self._root = np.linalg.cholesky(covariance).astype(np.float32)
        self._sigma_db = sigma_db
        self._cases = cases
        self._seed = seed
        self._common = self._field(0)

    def of_base(self, number: int) -> NDArray[np.float32]:
        """(cases, points), dB, to add to the margins from base `number` (1 or more)."""
        own = self._field(number)
        total: NDArray[np.float32] = np.float32(self._sigma_db) * (
            np.float32(np.sqrt(COMMON_PART)) * self._common + np.float32(np.sqrt(1.0 - COMMON_PART)) * own
        )
        return total

    def _field(self, number: int) -> NDArray[np.float32]:
        random = np.random.default_rng([self._seed, number])
        white = random.standard_normal((self._cases, len(self._root)), dtype=np.float32)
        field: NDArray[np.float32] = white @ self._root.T
        return field


def shares_in_draws(
    margin_db: NDArray[np.float32],
    error_db: NDArray[np.float32],
    needed_db: float,
    weight: FloatArray,
    within: NDArray[np.bool_],
) -> tuple[FloatArray, FloatArray]:
    """Weighted share that reaches `needed_db` and the worst margin, each (cases,); unknown never counts.

    `margin_db`, `weight`, `within` (points,); `error_db` (cases, points).
    """
    level = margin_db[None, :] + error_db
    reached = (level >= np.float32(needed_db)) & within[None, :]
    known = np.isfinite(margin_db)
    worst = np.fmin.reduce(level, axis=1) if known.any() else np.full(len(error_db), -np.inf)
    return (reached @ weight) / weight.sum(), worst.astype(np.float64)


def firsts(keys: Iterable[tuple[int, NDArray[np.int64]]]) -> dict[int, int]:
    """How often each group holds the smallest key: a group and its keys (cases, criteria) for each candidate.

    The candidate named first wins a tie.
    """
    best, holder = np.empty((0, 0), dtype=np.int64), np.empty(0, dtype=np.int64)
    for group, key in keys:
        if not best.size:
            best, holder = key.copy(), np.full(len(key), group)
            continue
        decides = (key != best).argmax(axis=1)[:, None]  # 0 where none does: then both are the same there
        less = (np.take_along_axis(key, decides, 1) < np.take_along_axis(best, decides, 1))[:, 0]
        best[less], holder[less] = key[less], group
    groups, counts = np.unique(holder, return_counts=True)
    return dict(zip(groups.tolist(), counts.tolist(), strict=True))
