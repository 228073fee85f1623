"""Who is first: candidates compared criterion by criterion, in the order that the user set."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from linkplan.siting.results import Candidate, Outcome

STEP = {
    "goal": 1.0,
    "workable": 0.001,
    "share": 0.001,
    "worst": 0.1,
    "baseline": 1.0,
    "mast": 0.01,
    "power": 0.05,
}
"""Differences below this are none: share of the job, dB, m, m, dB. Else the second criterion would never be
asked."""

NEVER = 1e9
"""Stands for a worst spot that is unknown."""


def sort_key(
    candidate: Candidate, outcome: Outcome, order: Sequence[str], wanted_share: float
) -> tuple[int, ...]:
    """Whole steps in each criterion of `order`, the smaller the better."""
    worst_db = -NEVER if outcome.worst_margin_db is None else outcome.worst_margin_db
    keys = keys_of(
        order,
        workable_share=outcome.workable_share or 0.0,
        weighted_share=np.array([outcome.weighted_share]),
        reaches=np.array([outcome.covered_share >= wanted_share]),
        worst_margin_db=np.array([worst_db]),
        longest_baseline_m=outcome.longest_baseline_m,
        candidate=candidate,
    )
    return tuple(keys[0].tolist())


def keys_of(
    order: Sequence[str],
    *,
    workable_share: float,
    weighted_share: NDArray[np.float64],
    reaches: NDArray[np.bool_],
    worst_margin_db: NDArray[np.float64],
    longest_baseline_m: float,
    candidate: Candidate,
) -> NDArray[np.int64]:
    """As `sort_key`, for many cases at once: (cases, criteria). A worst spot that is unknown is -NEVER."""
    value: dict[str, float | NDArray[np.float64]] = {
        "goal": -reaches.astype(np.float64),
        "workable": -workable_share,
        "share": -weighted_share,
        "worst": -worst_margin_db,
        "baseline": longest_baseline_m,
        "mast": candidate.antenna_height_m,
        "power": candidate.power_dbm,
    }
    keys = np.empty((len(weighted_share), len(order)), dtype=np.int64)
    for column, name in enumerate(order):
        keys[:, column] = np.rint(np.asarray(value[name]) / STEP[name])
    return keys


def decided_by(first: Sequence[int], second: Sequence[int], order: Sequence[str]) -> str:
    """The criterion that puts one before the other, or "tie"."""
    return next((name for name, a, b in zip(order, first, second, strict=True) if a != b), "tie")
