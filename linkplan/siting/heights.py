"""What each further metre of mast buys at one place."""

from __future__ import annotations

from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Siting
from linkplan.siting.evaluate import Task
from linkplan.siting.results import HeightCurve, HeightStep, Outcome
from linkplan.siting.workload import Found
from linkplan.units import METRES_PER_UNIT

LADDER = {
    "metre": (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0),
    "foot": (6.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0),
}
"""Heights that are usual for tripods and light masts, in the job's unit."""


def heights_to_try(plan: Plan, siting: Siting) -> tuple[float, ...]:
    """Usual heights within the licence's limit, and those of the candidates, ascending, m."""
    limit = plan.licence.antenna_height_limit_m if plan.licence is not None else None
    unit = METRES_PER_UNIT[plan.height_unit]
    ladder = {step * unit for step in LADDER["metre" if plan.height_unit == "metre" else "foot"]}
    usual = {height for height in ladder if limit is None or height <= limit}
    # Equal but for rounding of feet: the candidate's own figure stays.
    own = siting.antenna_heights_m
    return tuple(sorted({h for h in usual if min(abs(h - o) for o in own) > 0.005} | set(own)))


def height_curve(task: Task, found: Found) -> HeightCurve:
    """The curve of a task with one antenna and one power."""
    steps: list[HeightStep] = []
    for mast, height_m in enumerate(task.antenna_heights_m):
        outcome = outcome_of(found, mast, 0, 0)
        if outcome is None:
            continue
        gained = None
        if steps:
            below = steps[-1]
            gained = (outcome.weighted_share - below.outcome.weighted_share) / (
                height_m - below.antenna_height_m
            )
        steps.append(HeightStep(height_m, outcome, gained))
    return HeightCurve(task.place.name, tuple(steps))


def outcome_of(found: Found, mast: int, antenna: int, power: int) -> Outcome | None:
    """One outcome out of what was computed for a place, or None where its ground is unknown."""
    if "unknown" in found.numbers:
        return None
    fields = dict(found.numbers["outcomes"][mast][antenna][power])
    return Outcome(**{**fields, "zone_shares": tuple(fields["zone_shares"])})
