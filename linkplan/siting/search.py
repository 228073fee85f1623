"""The whole search: every place computed (or taken from an earlier run), judged, ranked, and put together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from linkplan.coverage.combined import CombinedCoverage
from linkplan.errors import PlaceError
from linkplan.gnss.baseline import baseline_limit_m
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place, Siting
from linkplan.siting.evaluate import Shared, Task
from linkplan.siting.findings import judge
from linkplan.siting.heights import height_curve, heights_to_try
from linkplan.siting.places import (
    POINTS_OF_ONE,
    POINTS_OF_SEVERAL,
    all_candidates,
    all_places,
    check_points,
    job_points,
    siting_of,
)
from linkplan.siting.ranking import best_of_places, repeat_over_draws
from linkplan.siting.results import HeightCurve, Judged, SitingResult
from linkplan.siting.together import put_together
from linkplan.siting.workload import Effort, Found, run_tasks

CURVES = 2
"""Places, from the best, whose coverage is followed over mast height."""

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Search:
    """The answer, and the map of several set-ups together where they are asked for."""

    result: SitingResult
    plan: Plan
    """The job with the baseline limit that the search worked to."""
    combined: CombinedCoverage | None


def search(plan: Plan, effort: Effort | None = None, progress: Progress | None = None) -> Search:
    """Compare all places of a job.

    Raises PlaceError where the job has no [siting] or no place serves at all; what has been computed by then,
    or before an interrupt, is in the store that `effort` names, and is not computed again.
    """
    effort = effort or Effort()
    tell = progress or (lambda _stage, _share: None)
    siting = siting_of(plan)
    plan = with_limit(plan)
    places = all_places(plan)
    checks = check_points(plan)
    several = siting.mode != "one"
    points = job_points(plan, POINTS_OF_SEVERAL if several else POINTS_OF_ONE)
    shared = Shared(
        plan,
        np.vstack([points, checks.positions]) if several else points,
        near_only=several,
    )
    tasks = _tasks(siting, places)
    found, said = run_tasks(shared, tasks, effort, lambda share: tell("computing places", share))
    tell("judging places", 0.0)
    judged = judge(plan, all_candidates(plan, places), places, points, found)
    ranking = best_of_places(siting, judged, plan.goal.share)
    judged = _ranked(siting, judged, ranking, plan.goal.share)
    if not several:
        judged = repeat_over_draws(plan, judged, points, found)
    curves, again = _curves(shared, siting, judged, ranking, effort, tell)
    together, combined = None, None
    if several:
        together, combined = put_together(plan, judged, points, checks, found, tell)
    result = SitingResult(
        job_name=plan.name,
        mode=siting.mode,
        order=siting.order,
        wanted_chance=plan.goal.chance,
        wanted_share=plan.goal.share,
        baseline_limit_m=plan.goal.baseline_limit_m,
        zone_names=tuple(zone.name for zone in siting.zones),
        judged=judged,
        ranking=ranking,
        curves=curves,
        cases=siting.cases if not several else 0,
        together=together,
        computed=sum(not one.kept for one in [*found, *again]),
        kept=sum(one.kept for one in [*found, *again]),
        notes=(*_notes(plan, siting, found), *said),
    )
    return Search(result, plan, combined)


def with_limit(plan: Plan) -> Plan:
    """The job with the smaller of its baseline limit and the one that its wanted accuracy asks for."""
    rules = siting_of(plan).rules
    if rules.tolerance_m is None:
        return plan
    limit = baseline_limit_m(rules.tolerance_m, rules.accuracy_m, rules.accuracy_ppm)
    stated = plan.goal.baseline_limit_m
    return replace(
        plan, goal=replace(plan.goal, baseline_limit_m=limit if stated is None else min(stated, limit))
    )


def _tasks(siting: Siting, places: Sequence[Place]) -> list[Task]:
    partners = tuple(places) if siting.mode == "repeaters" else ()
    return [
        Task(place, siting.antenna_heights_m, siting.antennas, siting.powers_dbm, partners)
        for place in places
    ]


def _ranked(
    siting: Siting, judged: tuple[Judged, ...], ranking: tuple[int, ...], wanted_share: float
) -> tuple[Judged, ...]:
    """The candidates with their ranks, and with what puts each before the next."""
    from linkplan.siting.rank import decided_by, sort_key

    def key(number: int) -> tuple[int, ...]:
        one = judged[number - 1]
        assert one.outcome is not None
        return sort_key(one.candidate, one.outcome, siting.order, wanted_share)

    changed = list(judged)
    for rank, number in enumerate(ranking, start=1):
        last = rank == len(ranking)
        why = "" if last else decided_by(key(number), key(ranking[rank]), siting.order)
        changed[number - 1] = replace(judged[number - 1], rank=rank, decided_by=why)
    return tuple(changed)


def _curves(
    shared: Shared,
    siting: Siting,
    judged: tuple[Judged, ...],
    ranking: tuple[int, ...],
    effort: Effort,
    tell: Progress,
) -> tuple[tuple[HeightCurve, ...], list[Found]]:
    best = [judged[number - 1].candidate for number in ranking[:CURVES]]
    heights = heights_to_try(shared.plan, siting)
    tasks = [Task(one.place, heights, (one.antenna,), (one.power_dbm,)) for one in best]
    found, _ = run_tasks(
        replace(shared, points=shared.points[:1], near_only=False),
        tasks,
        effort,
        lambda share: tell("following the mast's height", share),
    )
    return tuple(height_curve(task, one) for task, one in zip(tasks, found, strict=True)), found


def _notes(plan: Plan, siting: Siting, found: Sequence[Found]) -> tuple[str, ...]:
    if all(one.numbers.get("unknown") for one in found):
        raise PlaceError(f"no place can be computed; {found[0].numbers['unknown']}")
    notes = list(plan.warnings)
    # places differ by a cell or two in what they say of the same ground
    spoken = next(one for one in found if "unknown" not in one.numbers)
    notes += spoken.numbers["notes"]
    if len(siting.antenna_heights_m) > 1:
        notes.append("The feeder's loss is taken as stated for every mast: a taller one may need more cable.")
    if siting.rules.tolerance_m is not None and plan.goal.baseline_limit_m is not None:
        notes.append(
            f"Accuracy with distance is taken as {siting.rules.accuracy_m * 1e3:g} mm + "
            f"{siting.rules.accuracy_ppm:g} ppm (common practice unless the job states it); put the limit "
            "that follows into goal.baseline_limit, so that other commands keep to it."
        )
    return tuple(notes)


def kept_beside(job_file: Path) -> Path:
    """Where finished places of a job are kept from run to run, unless the user says otherwise."""
    return Path(f"{job_file.stem}-site.kept")
