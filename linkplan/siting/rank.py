"""Who is first: candidates compared criterion by criterion, in the order that the user set."""

from __future__ import annotations

from collections.abc import Sequence

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
    return key_of(
        order,
        workable_share=outcome.workable_share or 0.0,
        weighted_share=outcome.weighted_share,
        reaches=outcome.covered_share >= wanted_share,
        worst_margin_db=outcome.worst_margin_db,
        longest_baseline_m=outcome.longest_baseline_m,
        candidate=candidate,
    )


def key_of(
    order: Sequence[str],
    *,
    workable_share: float,
    weighted_share: float,
    reaches: bool,
    worst_margin_db: float | None,
    longest_baseline_m: float,
    candidate: Candidate,
) -> tuple[int, ...]:
    """As `sort_key`, from the numbers themselves."""
    value = {
        "goal": -float(reaches),
        "workable": -workable_share,
        "share": -weighted_share,
        "worst": NEVER if worst_margin_db is None else -worst_margin_db,
        "baseline": longest_baseline_m,
        "mast": candidate.antenna_height_m,
        "power": candidate.power_dbm,
    }
    return tuple(round(value[name] / STEP[name]) for name in order)


def decided_by(first: Sequence[int], second: Sequence[int], order: Sequence[str]) -> str:
    """The criterion that puts one before the other, or "tie"."""
    return next((name for name, a, b in zip(order, first, second, strict=True) if a != b), "tie")
